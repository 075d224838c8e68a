"""Today: ten to fifteen minutes made of what this learner needs."""

from collections.abc import Container, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from larvasight.practice import drills
from larvasight.practice.drills import PICK_FROM_PATCH, TAKE_OR_LEAVE
from larvasight.practice.measuring import BLOCK_CELLS
from larvasight.practice.ordering import N_ROWS
from larvasight.practice.pace import RIGHT_SHARE_LEAST
from larvasight.practice.readiness import CHECK_PICKS, DAY_PICKS_MOST, TryState
from larvasight.practice.spacing import N_REFRESH, Due, DueKind, due_today
from larvasight.practice.staircase import N_PAIRS
from larvasight.stats import EdgePosterior, wilson_interval

# Keys of what has no declaration in ``drills``; those that are stored never change.
LOOK_FOR = "look-for"
NAME_THE_STAGE = drills.NAME_THE_STAGE.key
YOUNGER_OF_TWO = drills.YOUNGER_OF_TWO.key
PUT_IN_ORDER = drills.PUT_IN_ORDER.key
FIND_YOUR_EDGES = drills.FIND_YOUR_EDGES.key
AGAINST_THE_CLOCK = "against-the-clock"
CHECK = "check-without-warm-up"
SCREEN_TEST = "screen-test"

MINUTES_LEAST, MINUTES_MOST = 10.0, 15.0
# Seconds that one cell, pair, row or pick takes with what is told of it: judgement.
_SECONDS = {
    LOOK_FOR: 12.0,
    NAME_THE_STAGE: 7.0,
    YOUNGER_OF_TWO: 9.0,
    PUT_IN_ORDER: 30.0,
    TAKE_OR_LEAVE.key: 8.0,
    FIND_YOUR_EDGES: 6.0,
    PICK_FROM_PATCH.key: 8.0,
    AGAINST_THE_CLOCK: 6.0,
    CHECK: 6.0,
    SCREEN_TEST: 8.0,
}
# The drill that fills up the time, in rounds of ten as it is asked.
_FILLS, _FILL_STEP = TAKE_OR_LEAVE.key, 10

_N_LOOK_FOR, _N_STAGES, _N_CLOCK, _N_PICKS = 8, 20, 20, 20
# Stages count as known at 36 of the last 40 right.
_STAGES_SEEN, _STAGES_RIGHT = 40, 36
# As many in 40 leave no less than this share, which picks show as well as names.
_PICKS_SHOW = 0.77
_MEASURE_AFTER_DAYS = 7
# Edges more gradual than this have the whole scale of ages trained.
_GRADUAL_H = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What is known of one learner when today is put together.

    Attributes
    ----------
    n_cells_ever : int
        Cells judged so far.
    stages_right : sequence of bool
        Answers in "Name the stage", the latest last.
    n_right, n_picks : int
        Counted picks of late, and how many of them were right.
    edges : EdgePosterior or None
        What the last measuring told; None before the first.
    measured_on : date or None
        Day of the last measuring.
    dues : sequence of Due
        What is due and when.
    test : TryState or None
        Where an open try at the screen test stands.
    has_pace : bool
        Whether the usual time for a right answer is known: without it there is no clock.
    """

    n_cells_ever: int = 0
    stages_right: Sequence[bool] = ()
    n_right: int = 0
    n_picks: int = 0
    edges: EdgePosterior | None = None
    measured_on: date | None = None
    dues: Sequence[Due] = ()
    test: TryState | None = None
    has_pace: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """One part of today: a drill's key, how many cells, pairs, rows or picks, and why."""

    key: str
    n: int
    why: str

    @property
    def minutes(self) -> float:
        """About how long it takes."""
        return self.n * _SECONDS[self.key] / 60.0


def plan_today(
    needs: Needs, today: date, known: Container[str] | None = None
) -> tuple[Planned, ...]:
    """Put together ten to fifteen minutes.

    What measures comes first, without warm-up and before anything is told; then what teaches.

    Parameters
    ----------
    needs : Needs
        What is known of the learner.
    today : date
        The learner's own day.
    known : container of str, optional
        Keys of what there is; without it all is.

    Returns
    -------
    tuple of Planned
        In the order of doing.
    """
    parts = [*_measuring(needs, today), *_teaching(needs)]
    return _fitted([part for part in parts if known is None or part.key in known])


def _measuring(needs: Needs, today: date) -> list[Planned]:
    due = {one.kind for one in due_today(needs.dues, today)}
    if needs.test is TryState.CHECKING:
        why = "The check that ends the screen test: without warm-up."
        return [Planned(key=SCREEN_TEST, n=CHECK_PICKS, why=why)]
    if needs.test is TryState.PICKING:
        why = "Your screen test is open: up to 60 picks count today."
        return [Planned(key=SCREEN_TEST, n=DAY_PICKS_MOST, why=why)]
    if DueKind.GRAFT_CHECK in due:
        why = "You graft soon: see first how steady your eye is today."
        return [Planned(key=CHECK, n=N_REFRESH, why=why)]
    if needs.test is TryState.MEASURING:
        why = "Your screen test is open: the oldest you take is measured next."
        return [Planned(key=SCREEN_TEST, n=BLOCK_CELLS, why=why)]
    if _wants_measuring(needs, today):
        why = "See where you draw the line: nothing is told until the end."
        return [Planned(key=FIND_YOUR_EDGES, n=BLOCK_CELLS, why=why)]
    return []


def _wants_measuring(needs: Needs, today: date) -> bool:
    if not _knows_stages(needs):
        return False
    old = needs.measured_on is None or today - needs.measured_on >= timedelta(
        days=_MEASURE_AFTER_DAYS
    )
    return old or needs.edges is None


def _teaching(needs: Needs) -> list[Planned]:
    if needs.n_cells_ever == 0:
        return [
            Planned(key=LOOK_FOR, n=_N_LOOK_FOR, why="See first what changes with age."),
            Planned(key=NAME_THE_STAGE, n=2 * _N_STAGES, why="Learn the stages by name."),
            Planned(key=_FILLS, n=_FILL_STEP, why="Try it: take or leave."),
        ]
    take = Planned(key=_FILLS, n=4 * _FILL_STEP, why="Ages near your own line teach most.")
    pick = Planned(key=PICK_FROM_PATCH.key, n=_N_PICKS, why="Pick as on a real comb.")
    if not _knows_stages(needs):
        why = "The stages are not yet sure: name them once more."
        stages = Planned(key=NAME_THE_STAGE, n=_N_STAGES, why=why)
        return [stages, _pairs(), replace(take, n=3 * _FILL_STEP), pick]
    if _is_sure(needs) and needs.has_pace:
        why = "You pick well: now keep it up at your own pace."
        return [Planned(key=AGAINST_THE_CLOCK, n=_N_CLOCK, why=why), take, pick]
    if needs.edges is not None and needs.edges.spread_h.value > _GRADUAL_H:
        why = "Your line is still gradual: see the whole row of ages."
        return [Planned(key=PUT_IN_ORDER, n=N_ROWS, why=why), take, pick]
    return [_pairs(), take, pick]


def _pairs() -> Planned:
    return Planned(key=YOUNGER_OF_TWO, n=N_PAIRS, why="Pairs sharpen the eye for small steps.")


def _knows_stages(needs: Needs) -> bool:
    last = needs.stages_right[-_STAGES_SEEN:]
    if not last:  # who picks as well as that need not learn names first
        right = wilson_interval(needs.n_right, needs.n_picks)
        return right is not None and right.lo >= _PICKS_SHOW
    return len(last) == _STAGES_SEEN and sum(last) >= _STAGES_RIGHT


def _is_sure(needs: Needs) -> bool:
    right = wilson_interval(needs.n_right, needs.n_picks)
    return right is not None and right.lo >= RIGHT_SHARE_LEAST


def _fitted(parts: list[Planned]) -> tuple[Planned, ...]:
    """Return parts that fill ten to fifteen minutes: the last go first where there are too many."""
    kept: list[Planned] = []
    for part in parts:
        room_s = 60.0 * (MINUTES_MOST - _minutes(kept))
        n = min(part.n, int(room_s / _SECONDS[part.key]))
        if part.key == _FILLS:
            n -= n % _FILL_STEP
        # A torso of a drill is not worth the change: half of it or nothing.
        if 2 * n >= part.n:
            kept.append(replace(part, n=n))
    while _minutes(kept) < MINUTES_LEAST:
        kept = _with_more(kept)
    return tuple(kept)


def _with_more(parts: list[Planned]) -> list[Planned]:
    more = [replace(p, n=p.n + _FILL_STEP) if p.key == _FILLS else p for p in parts]
    if more != parts:
        return more
    return [*parts, Planned(key=_FILLS, n=_FILL_STEP, why="Ages near your own line teach most.")]


def _minutes(parts: Sequence[Planned]) -> float:
    return sum(part.minutes for part in parts)
