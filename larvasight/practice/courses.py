"""Courses: which cell of a comb is asked next, by what was answered before."""

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from larvasight.practice.cells import Answer, ShownCell
from larvasight.practice.drills import FIND_YOUR_EDGES, Drill
from larvasight.practice.measuring import MeasuringBlock
from larvasight.practice.planning import nearest_to, seen_age_h
from larvasight.stats import EdgePosterior


class Course(Protocol):
    """Chooses cell after cell within one comb."""

    @property
    def edges(self) -> EdgePosterior | None:
        """What the answers tell of the learner's edges; None where that is not measured."""

    def next_of(self, left: Sequence[ShownCell]) -> ShownCell | None:
        """Return which of the cells not asked yet is asked next; None ends the comb."""

    def take_in(self, cell: ShownCell, answer: Answer) -> None:
        """Take in the answer to one cell."""


class MeasuringCourse:
    """Asks the cells that tell most of both edges.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance, for the easy cells.
    """

    def __init__(self, rng: np.random.Generator) -> None:
        self._block = MeasuringBlock(rng)

    @property
    def edges(self) -> EdgePosterior:
        """What the answers of this comb tell of the learner's edges."""
        return self._block.posterior

    def next_of(self, left: Sequence[ShownCell]) -> ShownCell | None:
        """Return the cell nearest to the age that tells most."""
        seen = [(age_h, cell) for cell in left if (age_h := seen_age_h(cell)) is not None]
        if not seen or (wanted_h := self._block.next_age_h()) is None:
            return None
        return seen[nearest_to(wanted_h, [age_h for age_h, _ in seen])][1]

    def take_in(self, cell: ShownCell, answer: Answer) -> None:
        """Take in the answer to one cell; one in which no age is seen says nothing."""
        age_h = seen_age_h(cell)
        if age_h is not None and not self._block.is_ended:
            self._block.answer(age_h, answer is Answer.TAKE)


def course_for(drill: Drill, rng: np.random.Generator) -> Course | None:
    """Return the course of a drill; None where cells are asked in their given order."""
    return MeasuringCourse(rng) if drill == FIND_YOUR_EDGES else None
