"""What each answer was, and what many answers come to."""

import math
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from larvasight.grading import NOT_COUNTED_H, Limits
from larvasight.practice.cells import Answer, ShownCell
from larvasight.practice.table import CONTENT_CODES, AnswerTable
from larvasight.sheet import Content
from larvasight.stats import Detection, Interval, detection, wilson_bounds


class Outcome(IntEnum):
    """What an answer was: seven ways of taking or leaving, and three that say nothing.

    ``JUST_PAST``, ``LEFT_OPEN`` and ``HIDDEN`` are counted neither for nor against.
    """

    RIGHT = 0
    VERY_YOUNG = 1
    JUST_PAST = 2
    TOO_OLD = 3
    EGG = 4
    NO_LARVA = 5
    MISSED = 6
    LEFT = 7
    LEFT_OPEN = 8
    HIDDEN = 9


OUTCOME_WORDS: dict[Outcome, str] = {
    Outcome.RIGHT: "right",
    Outcome.VERY_YOUNG: "very young: good, hard to lift",
    Outcome.JUST_PAST: "just past the limit: not counted",
    Outcome.TOO_OLD: "too old",
    Outcome.EGG: "an egg",
    Outcome.NO_LARVA: "no larva there",
    Outcome.MISSED: "a right one you left",
    Outcome.LEFT: "rightly left",
    Outcome.LEFT_OPEN: "left, which is fine: not counted",
    Outcome.HIDDEN: "cannot be told here: not counted",
}

_RIGHT_KINDS = [Outcome.RIGHT, Outcome.VERY_YOUNG]
_WRONG_KINDS = [Outcome.TOO_OLD, Outcome.EGG, Outcome.NO_LARVA]
# Situations, in this order: a larva very young, usable, just past, too old; then the others.
_EGG, _NO_LARVA, _HIDDEN = 4, 5, 6
# Row: situation; column: left, taken.
_OUTCOMES = np.array(
    [
        (Outcome.LEFT_OPEN, Outcome.VERY_YOUNG),
        (Outcome.MISSED, Outcome.RIGHT),
        (Outcome.LEFT_OPEN, Outcome.JUST_PAST),
        (Outcome.LEFT, Outcome.TOO_OLD),
        (Outcome.LEFT, Outcome.EGG),
        (Outcome.LEFT, Outcome.NO_LARVA),
        (Outcome.HIDDEN, Outcome.HIDDEN),
    ],
    dtype=np.int8,
)
_LARVA_CODE = CONTENT_CODES.index(Content.LARVA)
_SITUATION_OF_CONTENT: dict[Content, int] = {
    Content.EGG: _EGG,
    Content.COVERED: _HIDDEN,
    Content.UNCLEAR: _HIDDEN,
}
_SITUATIONS = np.array(
    [_SITUATION_OF_CONTENT.get(content, _NO_LARVA) for content in CONTENT_CODES], dtype=np.int8
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """What many answers come to.

    Attributes
    ----------
    n_answers : int
        Every cell shown, counted or not.
    n_picks : int
        Counted picks: right, very young, too old, eggs, no larva.
    n_right : int
        Right or very young picks.
    right : Interval or None
        Wilson interval of ``n_right`` among ``n_picks``: however many cells are left, it does
        not change. None without picks.
    n_too_old, n_egg, n_no_larva : int
        Wrong picks by kind.
    n_missed, n_good : int
        Larvae within the usable span that were left, and all of them.
    n_not_counted : int
        Answers that say nothing for or against: just past the limit, hidden, or very young
        and left. What remains of ``n_answers`` was rightly left.
    pace_ms : float
        Median response of the touched cells; NaN if none was touched.
    """

    n_answers: int
    n_picks: int
    n_right: int
    right: Interval | None
    n_too_old: int
    n_egg: int
    n_no_larva: int
    n_missed: int
    n_good: int
    n_not_counted: int
    pace_ms: float


def outcomes(table: AnswerTable) -> NDArray[np.int8]:
    """Return what each answer was.

    A larva just past is older than the limit by at most ``NOT_COUNTED_H``; both ends of the
    usable span belong to it.

    Parameters
    ----------
    table : AnswerTable
        N answers, each with the usable span in force when it was given.

    Returns
    -------
    ndarray, int8
        Values of ``Outcome``, shape (N,).
    """
    age_h, is_larva = table.age_h, table.content == _LARVA_CODE
    at_age = (age_h >= table.young_h).view(np.int8) + (age_h > table.old_h).view(np.int8)
    at_age += age_h > table.old_h + NOT_COUNTED_H
    situations = np.where(is_larva, at_age, _SITUATIONS[table.content])
    situations[~table.is_plain | (is_larva & np.isnan(age_h))] = _HIDDEN
    found: NDArray[np.int8] = _OUTCOMES[situations, table.taken.view(np.int8)]
    return found


def outcome_of(cell: ShownCell, answer: Answer, limits: Limits) -> Outcome:
    """Return what one answer was, by the rules of ``outcomes``."""
    table = AnswerTable(
        answered_utc_ms=np.zeros(1, dtype=np.int64),
        content=np.array([CONTENT_CODES.index(cell.content)], dtype=np.int8),
        age_h=_column(cell.age_h),
        looks_age_h=_column(cell.looks_age_h),
        is_plain=np.array([cell.is_plain]),
        taken=np.array([answer is Answer.TAKE]),
        response_ms=_column(None),
        young_h=_column(limits.young_h),
        old_h=_column(limits.old_h),
    )
    return Outcome(int(outcomes(table)[0]))


def score(outcomes: NDArray[np.int8], response_ms: NDArray[np.float64]) -> Score:
    """Return what answers come to.

    Parameters
    ----------
    outcomes : ndarray, int8
        Values of ``Outcome``, shape (N,).
    response_ms : ndarray, float64
        NaN for a cell that was never touched, shape (N,).

    Raises
    ------
    ValueError
        If the columns differ in length.
    """
    return scores_by_group(outcomes, response_ms, np.zeros(len(outcomes), dtype=np.int64), 1)[0]


def scores_by_group(
    outcomes: NDArray[np.int8],
    response_ms: NDArray[np.float64],
    group: NDArray[np.int64],
    n_groups: int,
) -> list[Score]:
    """Return ``score`` of each group of answers.

    Parameters
    ----------
    outcomes, response_ms : ndarray
        As for ``score``.
    group : ndarray, int64
        Which group each answer belongs to, 0 to ``n_groups`` - 1, shape (N,).
    n_groups : int
        How many groups there are; one without answers has a score of zeros.

    Raises
    ------
    ValueError
        If the columns differ in length.
    """
    lengths = (len(outcomes), len(response_ms), len(group))
    if len(set(lengths)) > 1:
        msg = f"outcomes, response_ms and group must have one length, got {lengths}"
        raise ValueError(msg)
    n_kinds = len(Outcome)
    counts = np.bincount(group * n_kinds + outcomes, minlength=n_groups * n_kinds)
    counts = counts.reshape(n_groups, n_kinds)
    n_right = counts[:, _RIGHT_KINDS].sum(axis=1)
    n_picks = n_right + counts[:, _WRONG_KINDS].sum(axis=1)
    lows, highs = (bounds.tolist() for bounds in wilson_bounds(n_right, n_picks))
    paces_ms = _medians(response_ms, group, n_groups).tolist()
    return [
        _score(n, Interval(lo=low, hi=high), pace_ms)
        for n, low, high, pace_ms in zip(counts.tolist(), lows, highs, paces_ms, strict=True)
    ]


def detection_of(table: AnswerTable) -> Detection | None:
    """Return how well larvae within the span are told from everything else countable.

    Very young larvae and those just past are neither good nor bad here. For the teacher's
    export; a learner is told shares only.

    Parameters
    ----------
    table : AnswerTable
        Answers of one learner.

    Returns
    -------
    Detection or None
        None without a good cell or without a bad one.
    """
    n = np.bincount(outcomes(table), minlength=len(Outcome)).tolist()
    hits = n[Outcome.RIGHT]
    false_picks = n[Outcome.TOO_OLD] + n[Outcome.EGG] + n[Outcome.NO_LARVA]
    return detection(hits, hits + n[Outcome.MISSED], false_picks, false_picks + n[Outcome.LEFT])


def _column(value: float | None) -> NDArray[np.float64]:
    return np.array([math.nan if value is None else value], dtype=np.float64)


def _score(counts: list[int], right: Interval, pace_ms: float) -> Score:
    """Return the score of answers counted in the order of ``Outcome``."""
    rights, young, past, old, eggs, no_larva, missed, left, left_open, hidden = counts
    n_right = rights + young
    n_picks = n_right + old + eggs + no_larva
    n_not_counted = past + left_open + hidden
    return Score(
        n_answers=n_picks + missed + left + n_not_counted,
        n_picks=n_picks,
        n_right=n_right,
        right=right if n_picks else None,
        n_too_old=old,
        n_egg=eggs,
        n_no_larva=no_larva,
        n_missed=missed,
        n_good=rights + missed,
        n_not_counted=n_not_counted,
        pace_ms=pace_ms,
    )


def _medians(
    values: NDArray[np.float64], group: NDArray[np.int64], n_groups: int
) -> NDArray[np.float64]:
    """Return the median of each group's values other than NaN; NaN where there are none."""
    known = ~np.isnan(values)
    group, values = group[known], values[known]
    values = values[np.lexsort((values, group))]
    ends = np.cumsum(np.bincount(group, minlength=n_groups))
    starts = np.concatenate([[0], ends[:-1]])
    medians = np.full(n_groups, math.nan)
    full = ends > starts
    low, high = (starts + ends - 1)[full] // 2, (starts + ends)[full] // 2
    medians[full] = (values[low] + values[high]) / 2.0
    return medians
