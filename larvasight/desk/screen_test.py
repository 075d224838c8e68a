"""The screen test of one learner, read from stored answers: what stands, what comes next, when."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo
from enum import StrEnum
from typing import TYPE_CHECKING
from uuid import UUID

from larvasight.desk.fresh_combs import SeenTiles
from larvasight.desk.kept_answers import outcomes_of, table_of
from larvasight.desk.recipes import DAY_MARK, STEP_MARK, TRY_MARK
from larvasight.grading import Limits
from larvasight.practice import ShownCell
from larvasight.practice.drills import CHECK, COURSE_DAY_TEST, SCREEN_TEST
from larvasight.practice.measuring import edges_of
from larvasight.practice.readiness import (
    DAY_PICKS_MOST,
    N_PICKS,
    FreshPick,
    ScreenTry,
    TryResult,
    TryState,
    counted_picks,
    judge_try,
    try_from,
)
from larvasight.practice.scoring import Outcome

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import KeptRound, UnfinishedRound

_ENDED = (TryState.PASSED, TryState.NOT_PASSED)
_WRONG = frozenset({Outcome.TOO_OLD, Outcome.EGG, Outcome.NO_LARVA})
_TAKEN = _WRONG | {Outcome.RIGHT, Outcome.VERY_YOUNG, Outcome.JUST_PAST}


class Step(StrEnum):
    """The steps of a try in which combs are shown."""

    PICKS = "picks"
    LINE = "line"
    CHECK = "check"


class Now(StrEnum):
    """What the learner can do in the test today."""

    BEGIN = "begin"
    PICK = "pick"
    MEASURE = "measure"
    CHECK = "check"
    WAIT = "wait"
    WARMED_UP = "warmed-up"


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongPick:
    """One wrong pick of a try that has ended."""

    day: date
    cell: ShownCell
    outcome: Outcome


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeptTry:
    """One try as the records hold it.

    ``n_today`` counts picks of today, ``spent`` names the tiles it has shown, ``broken_off`` is
    the round to go on with. ``is_given_up`` is True where another try was begun before its end.
    """

    id: UUID
    attempt: ScreenTry
    result: TryResult
    limits: Limits
    last_day: date
    n_today: int
    spent: frozenset[str]
    wrong: tuple[WrongPick, ...]
    broken_off: "KeptRound | None"
    is_given_up: bool = False

    @property
    def is_open(self) -> bool:
        """Whether it goes on."""
        return self.result.state not in _ENDED and not self.is_given_up


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScreenTest:
    """Where a learner stands with the screen test.

    ``tries`` stand oldest first, ``now`` is what can be done today, ``from_day`` the day on which
    what comes next can be done.
    """

    tries: tuple[KeptTry, ...]
    now: Now
    from_day: date
    today: date
    times: Counter[str]

    @property
    def latest(self) -> KeptTry | None:
        """The try that goes on or was the last, None before the first."""
        return self.tries[-1] if self.tries else None

    @property
    def open_try(self) -> KeptTry | None:
        """The try that goes on, None where there is none."""
        latest = self.latest
        return latest if latest is not None and latest.is_open else None

    @property
    def passed_on(self) -> date | None:
        """The day on which the test was last passed, None where it never was."""
        passed = [one.last_day for one in self.tries if one.result.state is TryState.PASSED]
        return passed[-1] if passed else None

    @property
    def seen(self) -> SeenTiles:
        """Which test tiles the next comb of the test must not show."""
        going_on = self.open_try
        spent = frozenset() if going_on is None else going_on.spent
        return SeenTiles(spent=spent, times=self.times)

    @property
    def may_begin_anew(self) -> bool:
        """Whether another try may be begun in the place of the one that goes on."""
        first = try_from([one.attempt for one in self.tries])
        return first is None or self.today >= first


def marks_of(try_id: UUID, step: Step, day: date) -> dict[str, str]:
    """Return what the recipe of a comb tells of the try that it belongs to, and of its day."""
    return {TRY_MARK: str(try_id), STEP_MARK: step.value, DAY_MARK: day.isoformat()}


def screen_test_of(
    store: "Store",
    learner_id: UUID,
    limits: Limits,
    *,
    now: datetime,
    tz: tzinfo,
    until: datetime | None = None,
) -> ScreenTest:
    """Return where a learner stands with the screen test.

    Parameters
    ----------
    store : Store
        The open records.
    learner_id : UUID
        Who takes it.
    limits : Limits
        The teacher's spans now; tries are judged by those in force when they were last worked on.
    now : datetime
        The time, UTC.
    tz : tzinfo
        The learner's time zone.
    until : datetime, optional
        Only combs shown before count; without it all do.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    today = now.astimezone(tz).date()
    rounds = store.kept_rounds(
        learner_id, [SCREEN_TEST.key, CHECK.key, COURSE_DAY_TEST.key], mark=TRY_MARK
    )
    if until is not None:
        rounds = [kept for kept in rounds if kept.shown_at_utc < until]
    times = Counter(
        cell.tile_id
        for kept in rounds
        if kept.recipe.get(STEP_MARK) != Step.LINE
        for cell in kept.cells
        if cell.tile_id is not None
    )
    by_try: dict[UUID, list[KeptRound]] = {}
    for kept in rounds:
        mark = _mark_of(kept)
        if mark is not None:
            by_try.setdefault(mark, []).append(kept)
    tries = tuple(
        _try_of(mark, own, limits, today, tz, is_last=k == len(by_try) - 1)
        for k, (mark, own) in enumerate(by_try.items())
    )
    is_warm = any(
        count.drill != SCREEN_TEST.key
        for count in store.count_answers(learner_id, since=midnight(today, tz))
    )
    what, day = _next_of(tries, today, is_warm=is_warm)
    return ScreenTest(tries=tries, now=what, from_day=day, today=today, times=times)


def _mark_of(kept: "KeptRound") -> UUID | None:
    """Return the try that a round belongs to; records may be anyone's."""
    mark = kept.recipe.get(TRY_MARK)
    try:
        return UUID(mark) if isinstance(mark, str) else None
    except ValueError:
        return None


def midnight(day: date, tz: tzinfo) -> datetime:
    """Return the beginning of a day in a zone."""
    return datetime.combine(day, datetime.min.time(), tzinfo=tz)


def _try_of(
    id_: UUID,
    rounds: "Sequence[KeptRound]",
    limits: Limits,
    today: date,
    tz: tzinfo,
    *,
    is_last: bool,
) -> KeptTry:
    steps: dict[Step, list[KeptRound]] = {step: [] for step in Step}
    for kept in rounds:
        step = kept.recipe.get(STEP_MARK)
        if step in list(Step):
            steps[Step(step)].append(kept)
    days = [_day_of(kept, tz) for kept in rounds]
    line = [kept for kept in steps[Step.LINE] if any(kept.answers)]
    attempt = ScreenTry(
        begun_on=days[0],
        picks=_picks(steps[Step.PICKS], tz),
        edges=edges_of(table_of(line)) if line else None,
        n_blocks=sum(kept.ended_at_utc is not None for kept in line),
        check=_picks(steps[Step.CHECK], tz),
    )
    held = rounds[-1].limits if rounds else limits
    not_ended = [kept for kept in rounds if kept.ended_at_utc is None]
    counted = counted_picks(attempt.picks, N_PICKS)
    return KeptTry(
        id=id_,
        attempt=attempt,
        result=_judged(attempt, held, today),
        limits=held,
        last_day=max(days),
        n_today=sum(pick.day == today for pick in counted),
        spent=frozenset(cell.tile_id for kept in rounds for cell in kept.cells if cell.tile_id),
        wrong=_wrong([*steps[Step.PICKS], *steps[Step.CHECK]], tz),
        broken_off=not_ended[-1] if not_ended else None,
        is_given_up=not is_last,
    )


def _next_of(tries: Sequence[KeptTry], today: date, *, is_warm: bool) -> tuple[Now, date]:
    """Return what can be done today, and from which day on what comes next can be done."""
    again_from = max(try_from([one.attempt for one in tries]) or today, today)
    going_on = tries[-1] if tries and tries[-1].is_open else None
    if going_on is None:
        return (Now.BEGIN if again_from == today else Now.WAIT), again_from
    state = going_on.result.state
    check_from = going_on.result.check_from or today
    if state is TryState.WAITING:
        return Now.WAIT, check_from
    if state is TryState.MEASURING:
        return Now.MEASURE, today
    if state is TryState.CHECKING:
        if is_warm and not going_on.attempt.check:
            return Now.WARMED_UP, today + timedelta(days=1)
        return Now.CHECK, today
    if going_on.n_today >= DAY_PICKS_MOST:
        return Now.WAIT, today + timedelta(days=1)
    return Now.PICK, today


def _judged(attempt: ScreenTry, limits: Limits, today: date) -> TryResult:
    """Judge a try; a check that cannot be, as in records that somebody changed, counts nothing."""
    try:
        return judge_try(attempt, limits, today)
    except ValueError:
        return judge_try(replace(attempt, check=()), limits, today)


def _day_of(kept: "KeptRound", tz: tzinfo) -> date:
    """Return the learner's own day of a comb."""
    told = kept.recipe.get(DAY_MARK)
    try:
        return date.fromisoformat(told) if isinstance(told, str) else _local_day(kept, tz)
    except ValueError:
        return _local_day(kept, tz)


def _local_day(kept: "KeptRound", tz: tzinfo) -> date:
    return kept.shown_at_utc.astimezone(tz).date()


def _picks(rounds: "Sequence[KeptRound]", tz: tzinfo) -> tuple[FreshPick, ...]:
    """Return the picks of combs that were ended, in the order of their days."""
    found = []
    ended = [kept for kept in rounds if kept.ended_at_utc is not None]
    for kept in sorted(ended, key=lambda each: (_day_of(each, tz), each.shown_at_utc)):
        taken = [outcome for _, outcome in outcomes_of(kept) if outcome in _TAKEN]
        day = _day_of(kept, tz)
        found += [FreshPick(day=day, comb_id=kept.id, outcome=outcome) for outcome in taken]
    return tuple(found)


def _wrong(rounds: "Sequence[KeptRound]", tz: tzinfo) -> tuple[WrongPick, ...]:
    return tuple(
        WrongPick(day=_day_of(kept, tz), cell=cell, outcome=outcome)
        for kept in rounds
        if kept.ended_at_utc is not None
        for cell, outcome in outcomes_of(kept)
        if outcome in _WRONG
    )


def unfinished_of(kept: "KeptRound", learner_id: UUID) -> "UnfinishedRound":
    """Return a round of the test that was broken off, to go on with it."""
    from larvasight.records.types import UnfinishedRound

    return UnfinishedRound(
        id=kept.id,
        learner_id=learner_id,
        drill=kept.drill,
        cells=kept.cells,
        givens=tuple(given for given in kept.givens if given is not None),
        limits=kept.limits,
        recipe=kept.recipe,
        kind="drawn",
        shown_at_utc=kept.shown_at_utc,
        model_version=None,
    )
