"""Practise: combs drawn ahead, one comb put before a learner, every answer kept."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

import numpy as np
from numpy.typing import NDArray

from larvasight import __version__
from larvasight.desk.own_told import OwnTold, why_own
from larvasight.desk.recipes import (
    PICTURE_PX,
    SEED_BELOW,
    compose_for,
    kind_of,
)
from larvasight.desk.why import Why, why_true
from larvasight.errors import AssetMissingError
from larvasight.grading import Limits
from larvasight.practice import (
    Answer,
    Drill,
    Given,
    Round,
    ShownCell,
    Shows,
    shown_cell,
)
from larvasight.practice.choosing import choose_cells
from larvasight.practice.courses import course_for
from larvasight.practice.planning import choose_near
from larvasight.practice.scoring import Outcome, Score, outcome_of, score
from larvasight.render import paint, truth_sheet
from larvasight.render.patch import patch_scene
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Cell, Flag, Sheet

if TYPE_CHECKING:
    from larvasight.desk.keeping import Keeper
    from larvasight.records.types import UnfinishedRound

_ASPECTS = (0.75, 2.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PreparedComb:
    """A comb drawn ahead: ``pixels`` (H, W, 3) uint8 RGB, its truth, the cells that are asked.

    ``places`` gives the index in ``sheet.cells`` of each of ``asked``; ``recipe`` draws the same
    comb again.
    """

    drill: Drill
    recipe: dict[str, Any]
    pixels: NDArray[np.uint8]
    sheet: Sheet
    asked: tuple[ShownCell, ...]
    places: tuple[int, ...]
    # What is told of each cell asked of an own photo; empty for drawn comb.
    own: tuple[OwnTold, ...] = ()

    def cell_of(self, index: int) -> Cell:
        """Return the true cell behind ``asked[index]``."""
        return self.sheet.cells[self.places[index]]


@cache
def shipped_tiles() -> TileLibrary | None:
    """Return the tiles that come with the program, read once; None where there are none."""
    try:
        return TileLibrary.load()
    except AssetMissingError:
        return None


def picture_size_px(aspect: float) -> tuple[int, int]:
    """Return the size of a picture that fills a view of this width over height."""
    held = min(max(aspect, _ASPECTS[0]), _ASPECTS[1])
    width_px = round(math.sqrt(PICTURE_PX * held) / 8.0) * 8
    return width_px, round(width_px / held / 8.0) * 8


def new_seed(rng: np.random.Generator) -> int:
    """Return a seed for a comb that nobody has seen."""
    return int(rng.integers(SEED_BELOW))


def prepare_comb(
    drill: Drill,
    seed: int,
    *,
    size_px: tuple[int, int],
    limits: Limits,
    library: TileLibrary | None = None,
    avoid: frozenset[str] = frozenset(),
    laid_ids: Sequence[str] | None = None,
    ages_h: Sequence[float] = (),
) -> PreparedComb:
    """Draw a comb for a drill; the same seed draws the same comb and asks the same cells.

    Parameters
    ----------
    drill : Drill
        What it is for.
    seed : int
        Source of chance.
    size_px : tuple of int
        Width and height of the picture; a whole comb side has its own.
    limits : Limits
        The teacher's spans, for choosing cells that are asked one at a time.
    library : TileLibrary, optional
        Path-traced tiles to compose the comb from; it is painted without them.
    avoid : frozenset of str
        Tiles that were shown already.
    laid_ids : sequence of str, optional
        The tiles of an earlier comb from the same seed, to compose that one again.
    ages_h : sequence of float
        Ages that the cells asked should look, h, below 0 eggs; without them cells are chosen
        from a comb as a queen lays it.

    Raises
    ------
    AssetMissingError
        If a whole comb side is wanted without tiles.
    """
    rng = np.random.default_rng(seed)
    name = f"drawn-{seed}"
    recipe: dict[str, Any] = {"seed": seed, "size_px": list(size_px), "drawn_by": __version__}
    if ages_h:
        recipe["ages_h"] = list(ages_h)
    tile_ids: Sequence[str | None]
    if library is None and drill.is_side:
        msg = "The pictures for a whole comb side are missing; install larvasight again."
        raise AssetMissingError(msg)
    if library is None:
        scene = patch_scene(rng, size_px=size_px, n_cells=drill.n_cells)
        sheet, pixels = truth_sheet(scene, name=name, sha256=""), paint(scene)
        tile_ids = [None] * len(sheet.cells)
    else:
        composed = compose_for(
            *(drill, rng, library),
            size_px=size_px,
            avoid=avoid,
            laid_ids=laid_ids,
            ages_h=ages_h,
            name=name,
        )
        sheet, pixels, tile_ids = composed.sheet, composed.pixels, composed.tile_ids
        recipe["tiles"] = list(composed.laid_ids)
        if drill.is_side:
            recipe |= {"is_side": True, "size_px": list(pixels.shape[1::-1])}
        rng = np.random.default_rng([seed, 1])  # whichever tiles were left to choose from
    whole = {
        UUID(int=int(rng.integers(1 << 62)), version=4): place
        for place, cell in enumerate(sheet.cells)
        if Flag.CUT_BY_FRAME not in cell.flags
    }
    cells = tuple(
        replace(shown_cell(sheet.cells[place], name), tile_id=tile_ids[place])
        for name, place in whole.items()
    )
    course = course_for(drill, np.random.default_rng(seed))
    if course is not None:
        course.next_of(cells)  # what the first question needs is worked out before it is asked
    if ages_h:
        cells = choose_near(cells, ages_h)
    elif drill.shows is Shows.ONE_CELL:
        cells = choose_cells(cells, drill.n_asked or len(cells), limits, rng)
    return PreparedComb(
        drill=drill,
        recipe=recipe,
        pixels=pixels,
        sheet=sheet,
        asked=tuple(replace(cell, id=uuid4()) for cell in cells),
        places=tuple(whole[cell.id] for cell in cells),
    )


def with_marks(comb: PreparedComb, marks: Mapping[str, str]) -> PreparedComb:
    """Return a comb whose recipe tells more: to which test it belongs."""
    return replace(comb, recipe={**comb.recipe, **marks})


class Session:
    """One comb in front of one learner, its answers handed to the keeper as they come.

    Parameters
    ----------
    comb : PreparedComb
        What is shown.
    keeper : Keeper
        Stores answers, one after the other, and calls back when each is stored.
    learner_id : UUID
        Who answers.
    limits : Limits
        The teacher's spans now.
    now : callable
        The clock, UTC.
    failed : callable, optional
        Gets one plain sentence when something of this comb is given up by the keeper.
    """

    def __init__(
        self,
        comb: PreparedComb,
        keeper: "Keeper",
        *,
        learner_id: UUID,
        limits: Limits,
        now: Callable[[], datetime],
        failed: Callable[[str], None] | None = None,
    ) -> None:
        self.comb = comb
        self.limits = limits
        course = course_for(comb.drill, np.random.default_rng([comb.recipe["seed"], 2]))
        self.round = Round(comb.drill, comb.asked, course)
        self.round_id = uuid4()
        self._keeper = keeper
        self._learner_id = learner_id
        self._now = now
        self._failed = failed
        self._since = now()
        self._index = {cell.id: k for k, cell in enumerate(comb.asked)}

    def begin(self, magnification: float | None = None) -> None:
        """Keep that these cells are shown; the clock of the first answer starts.

        ``magnification`` is that of the loupe in hand, None without one.
        """
        from larvasight.records.types import ShownRound

        recipe = self.comb.recipe
        if magnification is not None:
            recipe = {**recipe, "magnification": magnification}
        self._since = self._now()
        shown = ShownRound(
            id=self.round_id,
            learner_id=self._learner_id,
            drill=self.comb.drill,
            cells=self.comb.asked,
            limits=self.limits,
            recipe=recipe,
            kind=kind_of(recipe),
            model_version=recipe.get("measured_by"),
            shown_at_utc=self._since,
        )
        self._keeper.hand(lambda store: store.show_round(shown), None, self._failed)

    def go_on(self, unfinished: "UnfinishedRound") -> None:
        """Go on with a round that was broken off, its marks where they were."""
        self.round_id = unfinished.id
        self._since = self._now()
        self.round.resume(unfinished.givens)

    def toggle(self, index: int, stored: Callable[[], None]) -> Given:
        """Mark a cell of a patch or take its mark back; ``stored`` is called once it is kept."""
        given = self.round.toggle(self.comb.asked[index].id, response_ms=self._elapsed_ms())
        self._keep(given, stored)
        return given

    def take_back(self, stored: Callable[[], None]) -> int | None:
        """Take back the latest mark; return its cell's index, None when there is none."""
        latest = self.round.latest_mark
        if latest is None:
            return None
        index = self._index[latest]
        self.toggle(index, stored)
        return index

    def answer(self, answer: Answer, stored: Callable[[], None]) -> None:
        """Answer the one cell asked now; ``stored`` is called once it is kept."""
        self._keep(self.round.answer(answer, response_ms=self._elapsed_ms()), stored)

    def advance(self) -> int | None:
        """Go on to the next cell; return its index, None when the comb is done."""
        cell = self.round.advance()
        if cell is None:
            self._end((), _nothing)
            return None
        self._since = self._now()
        return self._index[cell.id]

    def enter(self, stored: Callable[[], None]) -> None:
        """End a patch; ``stored`` is called once all its answers are kept."""
        self._end(self.round.enter(), stored)

    @property
    def current_index(self) -> int | None:
        """Index of the one cell asked now."""
        cell = self.round.current
        return None if cell is None else self._index[cell.id]

    def outcome(self, index: int) -> Outcome:
        """Return what the answer to a cell was; a cell never touched was left."""
        cell = self.comb.asked[index]
        return outcome_of(cell, self.round.answer_of(cell.id) or Answer.LEAVE, self.limits)

    def score(self) -> Score:
        """Return what the answers to this comb come to."""
        found = [self.outcome(index) for index in range(len(self.comb.asked))]
        return score(np.array(found, dtype=np.int8), self.round.responses_ms())

    def why(self, index: int) -> Why:
        """Return what is shown of a cell once its answer is told."""
        if self.comb.own:
            cell, told = self.comb.cell_of(index), self.comb.own[index]
            return why_own(told, cell, self.comb.sheet, self.limits)
        return why_true(self.comb.cell_of(index), self.comb.sheet, self.limits)

    def _elapsed_ms(self) -> int:
        """Return the time since the cells were shown or the answer before this one."""
        now = self._now()
        since, self._since = self._since, now
        return max(0, round((now - since).total_seconds() * 1000.0))

    def _keep(self, given: Given, stored: Callable[[], None]) -> None:
        now = self._now()
        self._keeper.hand(lambda store: store.keep([given], now=now), stored, self._failed)

    def _end(self, givens: tuple[Given, ...], stored: Callable[[], None]) -> None:
        now = self._now()
        round_id = self.round_id
        self._keeper.hand(
            lambda store: store.end_round(round_id, givens, now=now), stored, self._failed
        )


def _nothing() -> None:
    return None
