"""Name the stage: five names in order of age, first in blocks, then mixed."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import require_between
from larvasight.geometry.facts import Fact, Label
from larvasight.grading import Limits
from larvasight.practice.cells import Answer
from larvasight.stats import Agreement, agreement

CLOSED_C_H = Fact(
    name="age at which a closed C is called far too old",
    value=48.0,
    unit="h",
    label=Label.DERIVED,
    source="judgement: on the second day's end the mean larva lies as a nearly closed ring",
)
FACTS: tuple[Fact, ...] = (CLOSED_C_H,)

N_CELLS = 20
# Stages of a beginner's first block; a neighbour is added when 8 of the last 10 are right.
_FIRST_STAGES = 2
_LAST_SEEN = 10
_RIGHT_TO_ADD = 8
# Once all are asked, this share of cells is of stages that were taken for each other of late.
_MIXED_UP_SHARE = 0.4


class Stage(IntEnum):
    """Names that a learner can give, in order of age."""

    EGG = 0
    JUST_HATCHED = 1
    RIGHT_AGE = 2
    CLOSED_C = 3
    TOO_OLD = 4


STAGE_WORDS: dict[Stage, str] = {
    Stage.EGG: "egg",
    Stage.JUST_HATCHED: "just hatched",
    Stage.RIGHT_AGE: "right age",
    Stage.CLOSED_C: "closed C",
    Stage.TOO_OLD: "far too old",
}
# What is kept of a name that was given.
STAGE_ANSWERS: dict[Stage, Answer] = {
    Stage.EGG: Answer.EGG,
    Stage.JUST_HATCHED: Answer.JUST_HATCHED,
    Stage.RIGHT_AGE: Answer.RIGHT_AGE,
    Stage.CLOSED_C: Answer.CLOSED_C,
    Stage.TOO_OLD: Answer.TOO_OLD,
}
ANSWER_STAGES: dict[Answer, Stage] = {answer: stage for stage, answer in STAGE_ANSWERS.items()}


def stage_of(age_h: float, limits: Limits) -> Stage:
    """Return the stage of an egg or larva.

    Parameters
    ----------
    age_h : float
        True age, h; below 0 an egg.
    limits : Limits
        The teacher's spans.

    Raises
    ------
    ValueError
        If the age is not a number.
    """
    require_between("age_h", age_h, -float("inf"), float("inf"))
    if age_h < 0.0:
        return Stage.EGG
    if age_h < limits.young_h:
        return Stage.JUST_HATCHED
    if age_h <= limits.old_h:
        return Stage.RIGHT_AGE
    # A wide span may reach as far: the closed C then stays as long as usual past it.
    closed_to_h = max(CLOSED_C_H.value, limits.old_h + CLOSED_C_H.value - Limits().old_h)
    return Stage.CLOSED_C if age_h < closed_to_h else Stage.TOO_OLD


@dataclass(frozen=True, slots=True, kw_only=True)
class StageCourse:
    """Which stages are asked: two neighbours first, one more whenever those are known.

    ``stages`` are neighbours in order of age. ``last_right`` holds the answers since the last
    stage was added, the latest last, ten at most.
    """

    stages: tuple[Stage, ...] = (Stage.RIGHT_AGE, Stage.CLOSED_C)
    last_right: tuple[bool, ...] = ()

    def __post_init__(self) -> None:
        """Refuse stages that are not neighbours in order."""
        order = tuple(range(self.stages[0], self.stages[-1] + 1)) if self.stages else ()
        if len(self.stages) < _FIRST_STAGES or tuple(self.stages) != order:
            msg = f"stages must be two neighbours or more in order, got {self.stages}"
            raise ValueError(msg)

    @property
    def is_mixed(self) -> bool:
        """Whether stages come in any order; until all are known of, they come in blocks."""
        return len(self.stages) == len(Stage)

    def after(self, *, is_right: bool) -> "StageCourse":
        """Return the course after one answer."""
        last = (*self.last_right, is_right)[-_LAST_SEEN:]
        is_known = len(last) == _LAST_SEEN and sum(last) >= _RIGHT_TO_ADD
        if is_known and not self.is_mixed:
            return StageCourse(stages=_with_neighbour(self.stages))
        return StageCourse(stages=self.stages, last_right=last)

    def next_stages(self, n: int, rng: np.random.Generator) -> tuple[Stage, ...]:
        """Return the stages of the next cells.

        Parameters
        ----------
        n : int
            How many cells; 0 or more.
        rng : numpy.random.Generator
            Source of chance.

        Returns
        -------
        tuple of Stage
            In blocks of two to four of a stage, neighbours in age next to each other; mixed once
            all stages are asked.
        """
        require_between("n", n, 0, float("inf"))
        if self.is_mixed:
            return tuple(self.stages[k] for k in rng.integers(len(self.stages), size=n).tolist())
        shown: list[Stage] = []
        at, way = 0, 1
        while len(shown) < n:
            shown += [self.stages[at]] * int(rng.integers(2, 5))
            if not 0 <= at + way < len(self.stages):
                way = -way
            at += way
        return tuple(shown[:n])


def next_mixed(named: Sequence[tuple[Stage, Stage]], rng: np.random.Generator) -> Stage:
    """Return the stage of the next cell where all come in any order.

    Parameters
    ----------
    named : sequence of (Stage, Stage)
        The latest cells: the true stage and the name given. Stages taken for each other come
        more often.
    rng : numpy.random.Generator
        Source of chance.
    """
    mixed_up = [stage for pair in named if pair[0] is not pair[1] for stage in pair]
    if mixed_up and rng.random() < _MIXED_UP_SHARE:
        return mixed_up[int(rng.integers(len(mixed_up)))]
    return Stage(int(rng.integers(len(Stage))))


@dataclass(frozen=True, slots=True, kw_only=True)
class StageTable:
    """Which stages are taken for which.

    ``counts`` has shape (5, 5): row the true stage, column the name given. ``agreement`` counts a
    neighbour's name as less grave than a far one (squared steps); None without answers or where
    all are of one stage. ``most_mixed`` is the commonest mistake, true stage first; None without.
    """

    counts: NDArray[np.int64]
    agreement: Agreement | None
    most_mixed: tuple[Stage, Stage] | None


def stage_table(true: Sequence[Stage], named: Sequence[Stage]) -> StageTable:
    """Return which stages a learner takes for which.

    Parameters
    ----------
    true, named : sequence of Stage
        What each cell held and what it was called.

    Raises
    ------
    ValueError
        If the lengths differ.
    """
    if len(true) != len(named):
        msg = f"true and named must have one length, got {len(true)} and {len(named)}"
        raise ValueError(msg)
    counts = np.zeros((len(Stage), len(Stage)), dtype=np.int64)
    np.add.at(counts, (np.array(true, dtype=np.intp), np.array(named, dtype=np.intp)), 1)
    wrong = counts - np.diag(np.diag(counts))
    row, column = divmod(int(wrong.argmax()), len(Stage))
    return StageTable(
        counts=counts,
        agreement=agreement(counts, weights="quadratic"),
        most_mixed=(Stage(row), Stage(column)) if wrong.any() else None,
    )


def _with_neighbour(stages: tuple[Stage, ...]) -> tuple[Stage, ...]:
    """Return stages with one more, the younger and the older neighbour in turn."""
    if len(stages) % 2 == 0 and stages[0] > Stage.EGG:
        return (Stage(stages[0] - 1), *stages)
    if stages[-1] < Stage.TOO_OLD:
        return (*stages, Stage(stages[-1] + 1))
    return (Stage(stages[0] - 1), *stages)
