"""A comb side that is laid as hard to search as wanted."""

from dataclasses import dataclass, replace
from typing import Any
from uuid import uuid4

import numpy as np
from numpy.typing import NDArray

from larvasight import __version__
from larvasight.desk.practising import PreparedComb
from larvasight.grading import Limits
from larvasight.practice import Answer, Outcome, ShownCell, outcome_of, shown_cell
from larvasight.practice.drills import SEARCH_A_SIDE
from larvasight.practice.searching import N_CUPS, SearchLevel, start_of
from larvasight.render.comb_side import Ground
from larvasight.render.side_composer import compose_side
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Content, Flag

LEVEL_MARK = "search_level"
# So many more to take than there are cups, or another side is laid.
_TAKEABLE_LEAST = 2 * N_CUPS
_SIDES_MOST = 4
_BEGIN_MARGIN_MM = 18.0
# How the brood lies on each level; its middle is off to either side by chance.
_GROUNDS: dict[SearchLevel, Ground] = {
    SearchLevel.BROAD: Ground(
        ring_h=2.8, hatching_share=0.75, centre_share=0.05, missed_share=0.04, n_patches=0
    ),
    SearchLevel.SOME_WAY_OFF: Ground(
        ring_h=5.0, hatching_share=0.8, centre_share=0.16, missed_share=0.07, n_patches=1
    ),
    SearchLevel.NARROW: Ground(
        ring_h=8.0, hatching_share=0.8, centre_share=0.28, missed_share=0.1, n_patches=2
    ),
    SearchLevel.MIXED: Ground(
        ring_h=10.5, hatching_share=0.8, centre_share=0.3, missed_share=0.28, n_patches=4
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SearchSide:
    """A comb side to be searched.

    ``begin_xy_px`` is where the field lies first; ``takeable`` holds the indices of the cells
    asked that would be right to take.
    """

    comb: PreparedComb
    level: SearchLevel
    begin_xy_px: tuple[float, float]
    takeable: tuple[int, ...]

    @property
    def middles_xy_px(self) -> NDArray[np.float64]:
        """Middle of each cell asked, shape (N, 2)."""
        cells = [self.comb.sheet.cells[place] for place in self.comb.places]
        return np.array([cell.centre_xy_px for cell in cells], dtype=np.float64)


def prepare_search(
    level: SearchLevel,
    seed: int,
    *,
    limits: Limits,
    library: TileLibrary,
    n_cells: int = SEARCH_A_SIDE.n_cells,
) -> SearchSide:
    """Lay a comb side as hard to search as wanted.

    Parameters
    ----------
    level : SearchLevel
        How hard.
    seed : int
        Source of chance.
    limits : Limits
        The teacher's spans.
    library : TileLibrary
        What it is laid of.
    n_cells : int
        About how many cells it holds.
    """
    made = _prepare(level, seed, 0, limits=limits, library=library, n_cells=n_cells)
    for number in range(1, _SIDES_MOST):
        if len(made.takeable) >= _TAKEABLE_LEAST:
            break
        other = _prepare(level, seed, number, limits=limits, library=library, n_cells=n_cells)
        made = max(made, other, key=lambda side: len(side.takeable))
    return made


def _prepare(
    level: SearchLevel,
    seed: int,
    number: int,
    *,
    limits: Limits,
    library: TileLibrary,
    n_cells: int,
) -> SearchSide:
    rng = np.random.default_rng([seed, 5, number])
    ground = _GROUNDS[level]
    if rng.random() < 0.5:
        ground = replace(ground, centre_share=-ground.centre_share)
    made = compose_side(rng, library, n_cells=n_cells, ground=ground, name=f"drawn-{seed}")
    sheet = made.sheet
    places = [k for k, cell in enumerate(sheet.cells) if Flag.CUT_BY_FRAME not in cell.flags]
    asked = tuple(
        replace(shown_cell(sheet.cells[place], uuid4()), tile_id=made.tile_ids[place])
        for place in places
    )
    recipe: dict[str, Any] = {
        "seed": seed,
        "size_px": [sheet.photo.width_px, sheet.photo.height_px],
        "drawn_by": __version__,
        "tiles": list(made.laid_ids),
        LEVEL_MARK: int(level),
    }
    comb = PreparedComb(
        drill=SEARCH_A_SIDE,
        recipe=recipe,
        pixels=made.pixels,
        sheet=sheet,
        asked=asked,
        places=tuple(places),
    )
    takeable = tuple(k for k, cell in enumerate(asked) if _is_takeable(cell, limits))
    px_per_mm = sheet.scale.px_per_mm
    middles_mm = np.array([sheet.cells[place].centre_xy_px for place in places]) / px_per_mm
    x, y = start_of(
        (sheet.photo.width_px / px_per_mm, sheet.photo.height_px / px_per_mm),
        middles_mm[list(takeable)],
        level,
        _BEGIN_MARGIN_MM,
    )
    return SearchSide(
        comb=comb, level=level, begin_xy_px=(x * px_per_mm, y * px_per_mm), takeable=takeable
    )


def _is_takeable(cell: ShownCell, limits: Limits) -> bool:
    is_larva = cell.content is Content.LARVA and cell.is_plain
    return is_larva and outcome_of(cell, Answer.TAKE, limits) is Outcome.RIGHT
