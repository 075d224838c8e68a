"""Cells put before a learner question by question, every answer kept before it is told."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

import numpy as np

from larvasight import __version__
from larvasight.desk.eye_cells import EyeCells
from larvasight.grading import Limits
from larvasight.practice import Answer, Drill, Given, ShownCell
from larvasight.render.tiles import Tile

if TYPE_CHECKING:
    from larvasight.desk.keeping import Keeper
    from larvasight.records.store import Store
    from larvasight.records.types import KeptRound

# One that was broken off longer ago begins anew.
_OPEN_FOR = timedelta(hours=12)
_BOUT = "bout"
_SIXTHS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class BoutSoFar:
    """A bout that was broken off: its id, and the questions answered in it, oldest first."""

    id: str
    answered: "tuple[KeptRound, ...]"


def kept_bouts(store: "Store", learner_id: UUID, drill: Drill, n_latest: int) -> "list[KeptRound]":
    """Return the latest questions of a drill that were answered, oldest first.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    kept = store.kept_rounds(learner_id, [drill.key], n_latest=n_latest)
    return [one for one in kept if all(answer is not None for answer in one.answers)]


def bout_so_far(kept: "Sequence[KeptRound]", n_questions: int, now: datetime) -> BoutSoFar | None:
    """Return the bout to go on with, None where the last one was done or lies too far back."""
    if not kept or now - kept[-1].shown_at_utc > _OPEN_FOR:
        return None
    name = kept[-1].recipe.get(_BOUT)
    answered = tuple(one for one in kept if one.recipe.get(_BOUT) == name)
    if not isinstance(name, str) or len(answered) >= n_questions:
        return None
    return BoutSoFar(id=name, answered=answered)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sitting:
    """What questions are put with.

    Attributes
    ----------
    cells : EyeCells
        What can be shown.
    keeper : Keeper
        Stores what happens.
    learner_id : UUID
        Who practises.
    limits : Limits
        The teacher's spans now.
    now : callable
        The clock, UTC.
    rng : numpy.random.Generator
        Chooses cells.
    seen : set of str
        Tiles shown in this sitting; those shown from now on are added.
    failed : callable or None
        Gets one plain sentence when something is given up by the keeper.
    """

    cells: EyeCells
    keeper: "Keeper"
    learner_id: UUID
    limits: Limits
    now: Callable[[], datetime]
    rng: np.random.Generator
    seen: set[str]
    failed: Callable[[str], None] | None = None


class EyeBout:
    """Questions of one drill before one learner.

    Parameters
    ----------
    drill : Drill
        What is asked.
    sitting : Sitting
        What it is asked with.
    so_far : BoutSoFar or None
        What was broken off and is gone on with.
    """

    def __init__(self, drill: Drill, sitting: Sitting, so_far: BoutSoFar | None) -> None:
        self.limits = sitting.limits
        self.tiles: tuple[Tile, ...] = ()
        self.turn_deg = 0.0
        self.n_done = 0 if so_far is None else len(so_far.answered)
        self._id = str(uuid4()) if so_far is None else so_far.id
        self._drill, self._sitting = drill, sitting
        self._cells, self._rng, self._seen = sitting.cells, sitting.rng, sitting.seen
        self._open: tuple[UUID, tuple[UUID, ...]] | None = None
        self._since = sitting.now()

    @property
    def is_open(self) -> bool:
        """Whether a question waits for its answer."""
        return self._open is not None

    def put_away(self) -> None:
        """End a question that waits without an answer."""
        if self._open is not None:
            round_id, now = self._open[0], self._sitting.now()
            self._open = None
            self._hand(lambda store: store.end_round(round_id, (), now=now), None)

    def _show(self, tiles: Sequence[Tile], state: dict[str, Any]) -> None:
        """Keep that cells are shown; the time to the answer runs from now."""
        from larvasight.records.types import ShownRound

        self.put_away()
        cells = tuple(_shown_cell(tile, col) for col, tile in enumerate(tiles))
        self.tiles, self._since = tuple(tiles), self._sitting.now()
        self.turn_deg = 360.0 / _SIXTHS * int(self._rng.integers(_SIXTHS))
        self._seen.update(tile.id for tile in tiles)
        kept = ShownRound(
            id=uuid4(),
            learner_id=self._sitting.learner_id,
            drill=self._drill,
            cells=cells,
            limits=self.limits,
            recipe={
                "drawn_by": __version__,
                "tiles": [tile.id for tile in tiles],
                "turn_deg": self.turn_deg,
                _BOUT: self._id,
                **state,
            },
            kind="drawn",
            shown_at_utc=self._since,
        )
        self._open = (kept.id, tuple(cell.id for cell in cells))
        self._hand(lambda store: store.show_round(kept), None)

    def _answer(self, answers: Sequence[Answer], stored: Callable[[], None]) -> None:
        """Keep one answer for each cell shown; ``stored`` is called once that is done."""
        if self._open is None:
            msg = "an answer needs a question that waits for it"
            raise ValueError(msg)
        now = self._sitting.now()
        round_id, ids = self._open
        response_ms = max(0, round((now - self._since).total_seconds() * 1000.0))
        givens = tuple(
            Given(cell_id=cell_id, answer=answer, response_ms=response_ms, is_final=True)
            for cell_id, answer in zip(ids, answers, strict=True)
        )
        self._open = None
        self.n_done += 1
        self._hand(lambda store: store.end_round(round_id, givens, now=now), stored)

    def _hand(self, write: "Callable[[Store], object]", stored: Callable[[], None] | None) -> None:
        self._sitting.keeper.hand(write, stored, self._sitting.failed)


def _shown_cell(tile: Tile, col: int) -> ShownCell:
    return ShownCell(
        id=uuid4(),
        row=0,
        col=col,
        content=tile.content,
        age_h=tile.age_h,
        looks_age_h=tile.looks_age_h,
        length_mm=tile.length_mm,
        curl_deg=tile.curl_deg,
        jelly=tile.jelly,
        tile_id=tile.id,
    )
