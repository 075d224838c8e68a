"""Put in order: which row comes next, and every order kept before it is told."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

import numpy as np

from larvasight.desk.eye_bouts import BoutSoFar, EyeBout, Sitting, bout_so_far, kept_bouts
from larvasight.practice import Answer
from larvasight.practice.drills import PUT_IN_ORDER
from larvasight.practice.ordering import N_ROWS, ROW_CELLS, STEPS_H, next_step, order_score
from larvasight.render.tiles import Tile

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import KeptRound

PLACES = (Answer.PLACE_1, Answer.PLACE_2, Answer.PLACE_3, Answer.PLACE_4, Answer.PLACE_5)
N_ROW_PAIRS = ROW_CELLS * (ROW_CELLS - 1) // 2
_STEP = "step"


@dataclass(frozen=True, slots=True, kw_only=True)
class RowStanding:
    """How far apart in age the next row is, and the bout to go on with."""

    step: int
    so_far: BoutSoFar | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderedRow:
    """What an order was.

    ``tiles`` stand in the true order; ``places`` says for each, counted from 0, where the learner
    put it. ``n_right`` of the ten pairs stood the right way round, and ``step`` became ``after``.
    """

    tiles: tuple[Tile, ...]
    places: tuple[int, ...]
    n_right: int
    step: int
    after: int

    @property
    def is_right(self) -> bool:
        """Whether all stood in order."""
        return self.n_right == N_ROW_PAIRS


def standing_of(store: "Store", learner_id: UUID, *, now: datetime) -> RowStanding:
    """Return how far a learner has come, from the rows that are kept.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    kept = kept_bouts(store, learner_id, PUT_IN_ORDER, N_ROWS)
    last = kept[-1] if kept else None
    step = None if last is None else last.recipe.get(_STEP)
    if last is None or type(step) is not int or not 0 <= step < len(STEPS_H):
        return RowStanding(step=0)
    after = next_step(step, order_score(_ages_in_order(last)))
    return RowStanding(step=after, so_far=bout_so_far(kept, N_ROWS, now))


class RowBout(EyeBout):
    """Four rows of five.

    Parameters
    ----------
    sitting : Sitting
        What it is asked with.
    standing : RowStanding
        How far the learner has come.
    """

    def __init__(self, sitting: Sitting, standing: RowStanding) -> None:
        super().__init__(PUT_IN_ORDER, sitting, standing.so_far)
        self.step = standing.step
        answered = () if standing.so_far is None else standing.so_far.answered
        self.n_rights = [_n_right(order_score(_ages_in_order(one))) for one in answered]

    @property
    def is_done(self) -> bool:
        """Whether all rows are told."""
        return self.n_done >= N_ROWS

    def ask(self) -> None:
        """Show the next row, mixed."""
        row = self._cells.row(STEPS_H[self.step], self.limits, self._rng, self._seen)
        self._show([row[k] for k in _mixed(self._rng)], {_STEP: self.step})

    def put(self, order: Sequence[int], stored: Callable[[OrderedRow], None]) -> None:
        """Say in which order the cells shown are, youngest first.

        Parameters
        ----------
        order : sequence of int
            Indices into ``tiles``, each once.
        stored : callable
            Gets what that was once it is kept.

        Raises
        ------
        ValueError
            If ``order`` does not name each cell once.
        """
        if sorted(order) != list(range(len(self.tiles))):
            msg = f"order must name each cell once, got {list(order)}"
            raise ValueError(msg)
        place_of = {index: place for place, index in enumerate(order)}
        ages_h = [tile.age_h or 0.0 for tile in self.tiles]
        score = order_score([ages_h[index] for index in order])
        true = sorted(range(len(ages_h)), key=lambda index: ages_h[index])
        told = OrderedRow(
            tiles=tuple(self.tiles[index] for index in true),
            places=tuple(place_of[index] for index in true),
            n_right=_n_right(score),
            step=self.step,
            after=next_step(self.step, score),
        )
        answers = [PLACES[place_of[index]] for index in range(len(self.tiles))]
        self._answer(answers, lambda: stored(told))
        self.step = told.after
        self.n_rights.append(told.n_right)


def _mixed(rng: np.random.Generator) -> list[int]:
    """Return an order by chance that is not the right one."""
    while True:
        order: list[int] = rng.permutation(ROW_CELLS).tolist()
        if order != list(range(ROW_CELLS)):
            return order


def _n_right(score: float) -> int:
    """Return how many of ten pairs stand the right way round, from Kendall's tau."""
    return round(N_ROW_PAIRS * (1.0 + score) / 2.0)


def _ages_in_order(kept: "KeptRound") -> list[float]:
    ages = {
        answer: cell.age_h or 0.0 for answer, cell in zip(kept.answers, kept.cells, strict=True)
    }
    return [ages[place] for place in PLACES if place in ages]
