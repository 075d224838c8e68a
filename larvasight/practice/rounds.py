"""The shared runner: one comb put before a learner, from the first look to the last answer."""

import math
from collections.abc import Sequence
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from larvasight.practice.cells import Answer, Given, ShownCell
from larvasight.practice.courses import Course
from larvasight.practice.drills import Drill, Shows
from larvasight.stats import EdgePosterior


class Round:
    """One comb in one drill; keeps what was answered and says what is to be stored.

    It knows no clock and no store: times come in, answers go out.

    Parameters
    ----------
    drill : Drill
        What is asked and when the learner is told.
    cells : sequence of ShownCell
        The cells asked, in the order of asking; with a course, those it chooses from.
    course : Course, optional
        Chooses each next cell by the answers before it.

    Raises
    ------
    ValueError
        If there is no cell.
    """

    def __init__(
        self, drill: Drill, cells: Sequence[ShownCell], course: Course | None = None
    ) -> None:
        if not cells:
            msg = "cells must hold at least one cell, got none"
            raise ValueError(msg)
        self.drill = drill
        self.cells = tuple(cells)
        self._answers: dict[UUID, Given] = {}
        self._course = course
        self._at = 0
        self._ended = False
        self._choose()

    @property
    def is_ended(self) -> bool:
        """Whether every cell has its final answer."""
        return self._ended

    @property
    def current(self) -> ShownCell | None:
        """The cell that is asked now; None where all are asked at once or none is left."""
        if self.drill.shows is not Shows.ONE_CELL or self._ended:
            return None
        return self.cells[self._at]

    @property
    def n_to_ask(self) -> int:
        """How many cells are asked; with a course, at most."""
        if self._course is None:
            return len(self.cells)
        return min(self.drill.n_asked or len(self.cells), len(self.cells))

    @property
    def edges(self) -> EdgePosterior | None:
        """What the answers tell of the learner's edges; None where that is not measured."""
        return None if self._course is None else self._course.edges

    @property
    def n_answered(self) -> int:
        """How many cells have an answer that was not taken back."""
        return sum(given.answer is not None for given in self._answers.values())

    @property
    def n_marked(self) -> int:
        """How many cells are marked to be taken."""
        return sum(given.answer is Answer.TAKE for given in self._answers.values())

    @property
    def latest_mark(self) -> UUID | None:
        """The cell marked last whose mark stands, None when there is none."""
        marked = [id_ for id_, given in self._answers.items() if given.answer is Answer.TAKE]
        return marked[-1] if marked and not self._ended else None

    def resume(self, givens: Sequence[Given]) -> None:
        """Go on where an earlier sitting broke off: its answers stand, the next cell is asked.

        Raises
        ------
        ValueError
            If an answer belongs to no cell of this round.
        """
        for given in givens:
            self._require_open(given.cell_id, any_kind=True)
            self._answers[given.cell_id] = given
        if self.drill.shows is Shows.ONE_CELL:
            for cell in self.cells:
                self._take_in(cell)
            self._choose()

    def answer_of(self, cell_id: UUID) -> Answer | None:
        """Return what was answered for a cell, None when nothing was or it was taken back."""
        given = self._answers.get(cell_id)
        return given.answer if given is not None else None

    def responses_ms(self) -> NDArray[np.float64]:
        """Return the response to each cell in ms, shape (N,); NaN for one never touched."""
        given = [self._answers.get(cell.id) for cell in self.cells]
        times = [None if one is None else one.response_ms for one in given]
        return np.array([math.nan if ms is None else ms for ms in times], dtype=np.float64)

    def toggle(self, cell_id: UUID, *, response_ms: int) -> Given:
        """Mark a cell of a patch, or take its mark back.

        Returns
        -------
        Given
            To be stored before the mark is shown as kept.

        Raises
        ------
        ValueError
            If the cell is not asked here or the round has ended.
        """
        self._require_open(cell_id)
        answer = None if self.answer_of(cell_id) is Answer.TAKE else Answer.TAKE
        given = Given(cell_id=cell_id, answer=answer, response_ms=response_ms, is_final=False)
        self._answers.pop(cell_id, None)  # the latest mark stands last
        self._answers[cell_id] = given
        return given

    def answer(self, answer: Answer, *, response_ms: int) -> Given:
        """Answer the current cell for good and go on to the next with ``advance``.

        Raises
        ------
        ValueError
            If no single cell is asked, or it is answered already.
        """
        cell = self.current
        if cell is None or cell.id in self._answers:
            msg = "answer needs a current cell without an answer"
            raise ValueError(msg)
        given = Given(cell_id=cell.id, answer=answer, response_ms=response_ms, is_final=True)
        self._answers[cell.id] = given
        self._take_in(cell)
        return given

    def advance(self) -> ShownCell | None:
        """Go on to the next cell after an answer; None, and the end, when there is none."""
        cell = self.current
        if cell is None or cell.id not in self._answers:
            msg = "advance needs an answered current cell"
            raise ValueError(msg)
        self._choose()
        return self.current

    def enter(self) -> tuple[Given, ...]:
        """End a patch: marked cells are taken, all others left.

        Returns
        -------
        tuple of Given
            One final answer for each cell, to be stored together before anything is told.

        Raises
        ------
        ValueError
            If the round has ended or asks one cell at a time.
        """
        if self._ended or self.drill.shows is not Shows.PATCH:
            msg = "enter needs a patch that has not ended"
            raise ValueError(msg)
        for cell in self.cells:
            before = self._answers.get(cell.id)
            taken = before is not None and before.answer is Answer.TAKE
            self._answers[cell.id] = Given(
                cell_id=cell.id,
                answer=Answer.TAKE if taken else Answer.LEAVE,
                response_ms=before.response_ms if before is not None else None,
                is_final=True,
            )
        self._ended = True
        return tuple(self._answers[cell.id] for cell in self.cells)

    def _take_in(self, cell: ShownCell) -> None:
        answer = self.answer_of(cell.id)
        if self._course is not None and answer is not None:
            self._course.take_in(cell, answer)

    def _choose(self) -> None:
        """Go to the cell that is asked next; without one the round has ended."""
        if self.drill.shows is not Shows.ONE_CELL:
            return
        left = [k for k, cell in enumerate(self.cells) if cell.id not in self._answers]
        if self._course is not None and left:
            found = self._course.next_of([self.cells[k] for k in left])
            left = [] if found is None else [k for k in left if self.cells[k].id == found.id]
        self._ended = not left or self.n_answered >= self.n_to_ask
        self._at = left[0] if left else len(self.cells) - 1

    def _require_open(self, cell_id: UUID, *, any_kind: bool = False) -> None:
        if self._ended or (self.drill.shows is not Shows.PATCH and not any_kind):
            msg = "toggle needs a patch that has not ended"
            raise ValueError(msg)
        if all(cell.id != cell_id for cell in self.cells):
            msg = f"cell_id must be one of this round's cells, got {cell_id}"
            raise ValueError(msg)
