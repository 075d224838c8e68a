"""How a learner comes along: by day, by the age that larvae look, and what to do next."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from larvasight.practice.scoring import Outcome, Score, outcomes, score, scores_by_group
from larvasight.practice.table import CONTENT_CODES, AnswerTable
from larvasight.sheet import Content
from larvasight.stats import Interval, wilson_bounds, wilson_interval

# Answers below which nothing but their count is told.
TOO_FEW = 40
BIN_H = 4.0
BINS_END_H = 72.0

_N_BINS = round(BINS_END_H / BIN_H)
_DAY_MS = 86_400_000
_EPOCH_DAY = date(1970, 1, 1).toordinal()
_LARVA_CODE = CONTENT_CODES.index(Content.LARVA)
_EGG_CODE = CONTENT_CODES.index(Content.EGG)
# Mistakes of a kind before it is spoken of; fewer may be chance.
_FEW = 5
# Wrong among picks, missed among right ones, from which it is spoken of.
_WRONG = 0.1
_MISSED = 0.25
# Picks among the counted cells from which a learner takes nearly everything.
_ALL = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class DayScore:
    """What the answers of one day in the learner's own time zone come to."""

    day: date
    score: Score


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenShare:
    """How many of some cells were taken; ``taken`` is the Wilson interval, None without cells."""

    n: int
    n_taken: int
    taken: Interval | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeShare(TakenShare):
    """How many of the larvae that look ``low_h`` up to, not including, ``high_h`` were taken."""

    low_h: float
    high_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """Everything told about one learner's answers.

    ``days`` holds the days with answers, oldest first, and ``ages`` every bin of 0-72 h, also
    those without larvae. Where ``is_enough`` is False, only ``score.n_answers`` is to be told.
    """

    score: Score
    days: tuple[DayScore, ...]
    ages: tuple[AgeShare, ...]
    eggs: TakenShare
    is_enough: bool


def summarise(table: AnswerTable, tz: tzinfo) -> Progress:
    """Return how a learner comes along.

    Parameters
    ----------
    table : AnswerTable
        All answers of one learner.
    tz : tzinfo
        The learner's own time zone: at its midnight a new day begins.

    Returns
    -------
    Progress
        Ages count larvae by the age they look (by true age where that is unknown); larvae
        beyond 72 h and cells that are never counted stand in no bin.
    """
    found = outcomes(table)
    counted = np.where(table.is_measuring, np.int8(Outcome.HIDDEN), found)
    overall = score(counted, table.response_ms)
    return Progress(
        score=overall,
        days=_days(counted, table, tz),
        ages=_ages(found, table),
        eggs=_eggs(found, table),
        is_enough=overall.n_answers >= TOO_FEW,
    )


def say_next(progress: Progress) -> str:
    """Return one plain sentence: what to do next."""
    total = progress.score
    if not progress.is_enough:
        return (
            f"Practise more: {TOO_FEW} cells are needed before anything can be told; "
            f"you have {total.n_answers}."
        )
    if total.n_picks == 0:
        return _say_no_picks(total)
    n_wrong = total.n_picks - total.n_right
    wrong = n_wrong / total.n_picks if n_wrong >= _FEW else 0.0
    missed = total.n_missed / total.n_good if total.n_missed >= _FEW else 0.0
    if wrong >= _WRONG and wrong >= missed:
        return _say_wrong(total)
    if missed >= _MISSED:
        return (
            f"You left {total.n_missed} of {total.n_good} larvae of the right age: "
            "look once more at the small ones before you leave them."
        )
    if wrong >= _WRONG:
        return _say_wrong(total)
    return "No kind of mistake stands out: practise on to see whether it stays so."


def _say_no_picks(total: Score) -> str:
    if total.n_good == 0:
        return (
            "Nothing can be told yet: no cell that counts held a larva of the right age; "
            "practise more."
        )
    return (
        f"You took no larva of the right age ({total.n_good} shown): "
        "take those that you would graft."
    )


def _say_wrong(total: Score) -> str:
    n_wrong = total.n_picks - total.n_right
    if total.n_picks >= _ALL * (total.n_answers - total.n_not_counted):
        return "Nearly every cell was taken: take only those that you would graft."
    if 2 * total.n_too_old > n_wrong:
        return "Most wrong picks were too old: look for the gap between head and tail closing."
    if 2 * total.n_egg > n_wrong:
        return (
            "Most wrong picks were eggs: an egg is an almost straight rod, "
            "a larva lies bent in its food."
        )
    if 2 * total.n_no_larva > n_wrong:
        return "Most wrong picks held no larva: look down to the cell's floor before you take."
    return (
        "Wrong picks were of several kinds: find the larva first, then look how far it is curled."
    )


def _days(found: NDArray[np.int8], table: AnswerTable, tz: tzinfo) -> tuple[DayScore, ...]:
    if not len(table):
        return ()
    ordinals = local_days(table.answered_utc_ms, tz)
    first = int(ordinals.min())
    present = np.bincount(ordinals - first) > 0
    group = (np.cumsum(present) - 1)[ordinals - first]
    days = np.flatnonzero(present) + first
    scores = scores_by_group(found, table.response_ms, group, len(days))
    return tuple(
        DayScore(day=date.fromordinal(day), score=day_score)
        for day, day_score in zip(days.tolist(), scores, strict=True)
    )


def local_days(utc_ms: NDArray[np.int64], tz: tzinfo) -> NDArray[np.int64]:
    """Return the proleptic ordinal of the local day of each time, shape (N,).

    Only midnights are converted: those next to a day in UTC on which something happened. Where
    clocks skip midnight the day begins with the first instant after it, where they repeat it
    with the first of the two.
    """
    utc_days = np.unique(utc_ms // _DAY_MS) + _EPOCH_DAY
    ordinals = np.unique(utc_days[:, None] + np.array([-1, 0, 1]))
    begins_ms = np.array([_midnight_utc_ms(day, tz) for day in ordinals.tolist()], dtype=np.int64)
    at: NDArray[np.int64] = ordinals[np.searchsorted(begins_ms, utc_ms, side="right") - 1]
    return at


@lru_cache(maxsize=20_000)
def _midnight_utc_ms(ordinal: int, tz: tzinfo) -> int:
    midnight = datetime.combine(date.fromordinal(ordinal), datetime.min.time(), tzinfo=tz)
    return (midnight - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)


def _ages(found: NDArray[np.int8], table: AnswerTable) -> tuple[AgeShare, ...]:
    age_h = np.where(np.isnan(table.looks_age_h), table.age_h, table.looks_age_h)
    told = (table.content == _LARVA_CODE) & (found != Outcome.HIDDEN)
    told &= (age_h >= 0.0) & (age_h < BINS_END_H)
    bins = (age_h[told] / BIN_H).astype(np.int64)
    n = np.bincount(bins, minlength=_N_BINS)
    n_taken = np.bincount(bins[table.taken[told]], minlength=_N_BINS)
    lows, highs = wilson_bounds(n_taken, n)
    return tuple(
        AgeShare(
            low_h=i * BIN_H,
            high_h=(i + 1) * BIN_H,
            n=int(n[i]),
            n_taken=int(n_taken[i]),
            taken=Interval(lo=float(lows[i]), hi=float(highs[i])) if n[i] else None,
        )
        for i in range(_N_BINS)
    )


def _eggs(found: NDArray[np.int8], table: AnswerTable) -> TakenShare:
    is_egg = (table.content == _EGG_CODE) & (found != Outcome.HIDDEN)
    n, n_taken = int(is_egg.sum()), int((is_egg & table.taken).sum())
    return TakenShare(n=n, n_taken=n_taken, taken=wilson_interval(n_taken, n))
