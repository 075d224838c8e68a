"""Name the stage: which stage comes next, and every name kept before it is told."""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from larvasight.desk.eye_bouts import BoutSoFar, EyeBout, Sitting, bout_so_far, kept_bouts
from larvasight.practice.drills import NAME_THE_STAGE
from larvasight.practice.stages import (
    ANSWER_STAGES,
    N_CELLS,
    STAGE_ANSWERS,
    Stage,
    StageCourse,
    StageTable,
    next_mixed,
    stage_of,
    stage_table,
)

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import KeptRound

_ROUNDS_READ = 60
# Stages confused within so many cells come more often.
_LATEST = 20
# Confusions are told of the latest cells only: an eye learns.
_CELLS_TOLD = 200
_STAGES = "stages"


@dataclass(frozen=True, slots=True, kw_only=True)
class StageStanding:
    """Which stages are asked of a learner, the latest names, and the bout to go on with.

    ``latest`` holds the true stage and the name given of the latest cells, oldest first.
    """

    course: StageCourse
    latest: tuple[tuple[Stage, Stage], ...] = ()
    so_far: BoutSoFar | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedStage:
    """What a name was: the true stage, the name given, ages in h, the course before and after."""

    true: Stage
    named: Stage
    age_h: float
    looks_age_h: float | None
    before: StageCourse
    after: StageCourse

    @property
    def is_right(self) -> bool:
        """Whether the name was right."""
        return self.true is self.named


def standing_of(store: "Store", learner_id: UUID, *, now: datetime) -> StageStanding:
    """Return how far a learner has come, from the names that are kept.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    kept = kept_bouts(store, learner_id, NAME_THE_STAGE, _ROUNDS_READ)
    latest = [pair for one in kept[-_LATEST:] if (pair := _named(one)) is not None]
    return StageStanding(
        course=_course(kept), latest=tuple(latest), so_far=bout_so_far(kept, N_CELLS, now)
    )


def stages_named(
    store: "Store", learner_id: UUID, *, before: datetime | None = None, n_latest: int = _CELLS_TOLD
) -> tuple[tuple[Stage, Stage], ...]:
    """Return the true stage and the name given of a learner's latest cells, oldest first.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    found = store.named_answers(learner_id, NAME_THE_STAGE.key, before=before, n_latest=n_latest)
    return tuple(
        (stage_of(one.age_h, one.limits), ANSWER_STAGES[one.answer])
        for one in found
        if one.age_h is not None and one.answer in ANSWER_STAGES
    )


def stage_table_of(store: "Store", learner_id: UUID) -> StageTable:
    """Return which stages a learner takes for which, by the latest cells.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    found = stages_named(store, learner_id)
    return stage_table([true for true, _ in found], [named for _, named in found])


class StageBout(EyeBout):
    """Twenty cells to be named.

    Parameters
    ----------
    sitting : Sitting
        What it is asked with.
    standing : StageStanding
        How far the learner has come.
    """

    def __init__(self, sitting: Sitting, standing: StageStanding) -> None:
        super().__init__(NAME_THE_STAGE, sitting, standing.so_far)
        self.course = standing.course
        self.named: list[tuple[Stage, Stage]] = []
        if standing.so_far is not None:
            self.named = [pair for one in standing.so_far.answered if (pair := _named(one))]
        self._latest = deque(standing.latest, maxlen=_LATEST)
        self._next: list[Stage] = []

    @property
    def is_done(self) -> bool:
        """Whether all cells are named."""
        return self.n_done >= N_CELLS

    def ask(self) -> None:
        """Show the next cell, as the course wants it."""
        if self.course.is_mixed:
            self._next = [next_mixed(self._latest, self._rng)]
        elif not self._next:
            self._next = list(self.course.next_stages(N_CELLS - self.n_done, self._rng))
        tile = self._cells.one(self._next[0], self.limits, self._rng, self._seen)
        stages = [int(stage) for stage in self.course.stages]
        self._show([tile], {_STAGES: stages})
        del self._next[0]

    def name(self, stage: Stage, stored: Callable[[NamedStage], None]) -> None:
        """Name the cell shown; ``stored`` gets what that was once it is kept."""
        tile, before = self.tiles[0], self.course
        age_h = tile.age_h or 0.0
        true = stage_of(age_h, self.limits)
        after = before.after(is_right=true is stage)
        told = NamedStage(
            true=true,
            named=stage,
            age_h=age_h,
            looks_age_h=tile.looks_age_h,
            before=before,
            after=after,
        )
        self._answer([STAGE_ANSWERS[stage]], lambda: stored(told))
        self.named.append((true, stage))
        self._latest.append((true, stage))
        self.course = after
        if after.stages != before.stages:
            self._next = []


def _named(kept: "KeptRound") -> tuple[Stage, Stage] | None:
    answer, age_h = kept.answers[0], kept.cells[0].age_h
    if answer not in ANSWER_STAGES or age_h is None:
        return None
    return stage_of(age_h, kept.limits), ANSWER_STAGES[answer]


def _course(kept: "list[KeptRound]") -> StageCourse:
    """Return the course after the answers that are kept: those since its stages last changed."""
    stages = _stages_of(kept[-1]) if kept else None
    if stages is None:
        return StageCourse()
    course = StageCourse(stages=stages)
    since: list[KeptRound] = []
    for one in reversed(kept):
        if _stages_of(one) != stages:
            break
        since.append(one)
    for one in reversed(since):
        pair = _named(one)
        if pair is not None and course.stages == stages:
            course = course.after(is_right=pair[0] is pair[1])
    return course


def _stages_of(kept: "KeptRound") -> tuple[Stage, ...] | None:
    found = kept.recipe.get(_STAGES)
    if not isinstance(found, list) or not all(type(k) is int and k in list(Stage) for k in found):
        return None
    try:
        return StageCourse(stages=tuple(Stage(k) for k in found)).stages
    except ValueError:  # not neighbours: written by something else
        return None
