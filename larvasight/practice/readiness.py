"""The screen test: whether a learner picks well enough on screen to go on to live comb.

It is no licence and says nothing about live work: it says that somebody passed the screen test.

One try has four parts, and all must be met:

* Picks: 120 counted picks on combs of test tiles, which are never practised on, with nothing
  told before the end. At most 60 count on one day and 20 on one comb, so that a try takes two
  days and six combs. Wrong may be 6 of them, and 4 on one day.
* Too old: of these picks 1 may be too old, the costly mistake.
* The line: the old edge, measured in this try by one block or two, is known to within 3 h
  each way, and its interval ends no later than 3 h past the teacher's limit.
* The check: 7 days or more after the last of the 120 picks, 40 more without any warm-up, with 2
  wrong at most. What was only learnt for the day is gone by then.

A try may be begun once a week, and tries are counted.

Some things are set so that the test does what it is for (``tools/screen_test_curve.py`` prints
how often whom it lets pass). Picks alone let 3 in 100 of those pass who pick 9 in 10 right, and
within three tries 1 in 10. With the check, which they pass less than 1 time in 4, it is 2 in 100
within three tries whatever kind their mistakes are, and 1 in 100 where a quarter are too old.
The interval of the old edge may end 3 h past the limit, as larvae up to there are never counted as
wrong: held to the limit itself, the line would have to lie 2 to 3 h under it, and only 81 in 100
of those who pick 99 in 100 right would pass a try, instead of 95. A second block is there since one
leaves 1 in 8 of them unmeasured.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from uuid import UUID

from larvasight.grading import NOT_COUNTED_H, Limits
from larvasight.practice.measuring import KNOWN_TO_H
from larvasight.practice.scoring import Outcome
from larvasight.stats import EdgePosterior, Interval, clopper_pearson_interval

N_PICKS = 120
DAY_PICKS_MOST = 60
COMB_PICKS_MOST = 20
WRONG_MOST = 6
DAY_WRONG_MOST = 4
TOO_OLD_MOST = 1
BLOCKS_MOST = 2
CHECK_PICKS = 40
CHECK_WRONG_MOST = 2
CHECK_AFTER_DAYS = 7
TRY_EVERY_DAYS = 7

_RIGHT = frozenset({Outcome.RIGHT, Outcome.VERY_YOUNG})
_WRONG = frozenset({Outcome.TOO_OLD, Outcome.EGG, Outcome.NO_LARVA})
# Two-sided confidence whose lower limit alone holds with 95 %.
_ONE_SIDED = 0.9


class TryState(StrEnum):
    """What comes next in one try."""

    PICKING = "picking"
    MEASURING = "measuring"
    WAITING = "waiting"
    CHECKING = "checking"
    PASSED = "passed"
    NOT_PASSED = "not-passed"


class Part(StrEnum):
    """The parts of the test."""

    PICKS = "picks"
    TOO_OLD = "too-old"
    LINE = "line"
    CHECK = "check"


@dataclass(frozen=True, slots=True, kw_only=True)
class FreshPick:
    """One cell taken in the test: the learner's own day, the comb, and what the pick was."""

    day: date
    comb_id: UUID
    outcome: Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenTry:
    """One try at the screen test, as far as it has gone.

    ``picks`` and ``check`` stand in the order of picking; more than are counted do no harm.
    ``edges`` rests on all cells of the ``n_blocks`` measuring blocks ended in this try, and on no
    others; None before the first.
    """

    begun_on: date
    picks: tuple[FreshPick, ...] = ()
    edges: EdgePosterior | None = None
    n_blocks: int = 0
    check: tuple[FreshPick, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TryResult:
    """What one try has come to.

    Attributes
    ----------
    state : TryState
        What comes next.
    not_met : tuple of Part
        Parts that can no longer be met; empty unless ``state`` is ``NOT_PASSED``.
    n_picks, n_wrong, n_too_old, n_days, n_combs : int
        Counted picks of the first part, and where they come from.
    right_at_least : float or None
        Share of right picks that the learner surely has, by the exact one-sided 95 % limit; None
        without picks.
    n_check, n_check_wrong : int
        Counted picks of the check.
    check_from : date or None
        First day of the check, once all else is met.
    sentence : str
        One plain sentence on where the learner stands.
    """

    state: TryState
    not_met: tuple[Part, ...]
    n_picks: int
    n_wrong: int
    n_too_old: int
    n_days: int
    n_combs: int
    right_at_least: float | None
    n_check: int
    n_check_wrong: int
    check_from: date | None
    sentence: str


def judge_try(attempt: ScreenTry, limits: Limits, today: date) -> TryResult:
    """Say where one try stands.

    Parameters
    ----------
    attempt : ScreenTry
        The try.
    limits : Limits
        The teacher's spans.
    today : date
        The learner's own day.

    Raises
    ------
    ValueError
        If picks stand out of order, or a pick of the check came earlier than it may.
    """
    picks = counted_picks(attempt.picks, N_PICKS)
    is_full = len(picks) == N_PICKS
    check_from = picks[-1].day + timedelta(days=CHECK_AFTER_DAYS) if is_full else None
    check = _counted_check(attempt.check, check_from)
    n_check_wrong = sum(pick.outcome in _WRONG for pick in check)
    is_line = attempt.edges is not None and is_line_met(attempt.edges, limits)
    not_met = _picks_not_met(picks)
    if not is_line and attempt.n_blocks >= BLOCKS_MOST:
        not_met.append(Part.LINE)
    if n_check_wrong > CHECK_WRONG_MOST:
        not_met.append(Part.CHECK)
    state = TryState.NOT_PASSED
    if not not_met:
        state = _state(
            len(picks), is_line=is_line, n_check=len(check), is_due=_is_due(check_from, today)
        )
    n_wrong = sum(pick.outcome in _WRONG for pick in picks)
    surely = clopper_pearson_interval(len(picks) - n_wrong, len(picks), confidence=_ONE_SIDED)
    waits = state in (TryState.WAITING, TryState.CHECKING, TryState.PASSED)
    return TryResult(
        state=state,
        not_met=tuple(not_met),
        n_picks=len(picks),
        n_wrong=n_wrong,
        n_too_old=sum(pick.outcome is Outcome.TOO_OLD for pick in picks),
        n_days=len({pick.day for pick in picks}),
        n_combs=len({pick.comb_id for pick in picks}),
        right_at_least=_lower(surely),
        n_check=len(check),
        n_check_wrong=n_check_wrong,
        check_from=check_from if waits else None,
        sentence=_sentence(state, not_met, len(picks), len(check), check_from),
    )


def counted_picks(picks: Sequence[FreshPick], n_most: int) -> list[FreshPick]:
    """Return the picks that count: the first of each day and comb, up to ``n_most``.

    Raises
    ------
    ValueError
        If a pick stands after one of a later day.
    """
    per_day: Counter[date] = Counter()
    per_comb: Counter[UUID] = Counter()
    counted: list[FreshPick] = []
    last = date.min
    for pick in picks:
        if pick.day < last:
            msg = f"picks must stand in the order of their days, got {pick.day} after {last}"
            raise ValueError(msg)
        last = pick.day
        is_free = per_day[pick.day] < DAY_PICKS_MOST and per_comb[pick.comb_id] < COMB_PICKS_MOST
        if is_free and pick.outcome in _RIGHT | _WRONG and len(counted) < n_most:
            counted.append(pick)
            per_day[pick.day] += 1
            per_comb[pick.comb_id] += 1
    return counted


def is_line_met(edges: EdgePosterior, limits: Limits) -> bool:
    """Return whether the old edge is known well enough and lies early enough."""
    old = edges.old_edge_h
    return old.half_width <= KNOWN_TO_H and old.hi <= limits.old_h + NOT_COUNTED_H


def try_from(tries: Sequence[ScreenTry]) -> date | None:
    """Return the first day on which another try may be begun; None for at once.

    Only one try goes on at a time; whether the last one has ended, ``judge_try`` says.
    """
    if not tries:
        return None
    return max(one.begun_on for one in tries) + timedelta(days=TRY_EVERY_DAYS)


def _counted_check(check: Sequence[FreshPick], check_from: date | None) -> list[FreshPick]:
    if check and (check_from is None or check[0].day < check_from):
        msg = f"check must begin on {check_from} or later, got {check[0].day}"
        raise ValueError(msg)
    return counted_picks(check, CHECK_PICKS)


def _picks_not_met(picks: Sequence[FreshPick]) -> list[Part]:
    wrong = Counter(pick.day for pick in picks if pick.outcome in _WRONG)
    not_met = []
    if wrong.total() > WRONG_MOST or max(wrong.values(), default=0) > DAY_WRONG_MOST:
        not_met.append(Part.PICKS)
    if sum(pick.outcome is Outcome.TOO_OLD for pick in picks) > TOO_OLD_MOST:
        not_met.append(Part.TOO_OLD)
    return not_met


def _state(n_picks: int, *, is_line: bool, n_check: int, is_due: bool) -> TryState:
    if n_picks < N_PICKS:
        return TryState.PICKING
    if not is_line:
        return TryState.MEASURING
    if n_check == CHECK_PICKS:
        return TryState.PASSED
    return TryState.CHECKING if is_due else TryState.WAITING


def _is_due(check_from: date | None, today: date) -> bool:
    return check_from is not None and today >= check_from


_NOT_MET_WORDS: dict[Part, str] = {
    Part.PICKS: f"more than {WRONG_MOST} picks were wrong, or {DAY_WRONG_MOST} on one day",
    Part.TOO_OLD: f"more than {TOO_OLD_MOST} pick was too old",
    Part.LINE: "the oldest you take lies too near the limit or is not yet steady",
    Part.CHECK: f"more than {CHECK_WRONG_MOST} picks of the check were wrong",
}


def _sentence(
    state: TryState,
    not_met: Sequence[Part],
    n_picks: int,
    n_check: int,
    check_from: date | None,
) -> str:
    if state is TryState.NOT_PASSED:
        return f"Not passed this time: {' and '.join(_NOT_MET_WORDS[part] for part in not_met)}."
    if state is TryState.PICKING:
        return f"{N_PICKS - n_picks} of {N_PICKS} picks are still to come."
    if state is TryState.MEASURING:
        return "The picks are done: find your edges next."
    if state is TryState.WAITING:
        return f"Nearly: the check without warm-up may begin on {check_from}."
    if state is TryState.CHECKING:
        return f"{CHECK_PICKS - n_check} of {CHECK_PICKS} picks of the check are still to come."
    return "Passed the screen test."


def _lower(interval: Interval | None) -> float | None:
    return interval.lo if interval is not None else None
