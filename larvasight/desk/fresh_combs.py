"""Combs of test tiles, which are never practised on: drawn for tests and checks only."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import numpy as np

from larvasight import __version__
from larvasight.desk.practising import PreparedComb
from larvasight.desk.recipes import can_be_drawn
from larvasight.errors import AssetMissingError
from larvasight.practice import Drill, ShownCell, Shows, shown_cell
from larvasight.render.composer import ComposedComb
from larvasight.render.fresh_composer import FreshTiles, compose_fresh, compose_laid, is_plain
from larvasight.render.tiles import Tile, TileLibrary

if TYPE_CHECKING:
    from larvasight.records.types import UnfinishedRound

N_CELLS = 24
# With fewer fresh cells of one light a comb is not worth looking at.
N_CELLS_LEAST = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class SetApartTiles:
    """The tiles set apart for tests, and those practised on, which fill what is not asked."""

    tests: TileLibrary
    others: TileLibrary

    def tile(self, tile_id: str) -> Tile | None:
        """Return the tile of this name, None for an unknown one."""
        for library in (self.tests, self.others):
            if library.has([tile_id]):
                return library.tile(tile_id)
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenTiles:
    """What a learner has seen of the test tiles.

    ``spent`` are never shown again in this test; ``times`` counts how often each was shown in all
    tests and checks: those shown least come first.
    """

    spent: frozenset[str] = frozenset()
    times: Mapping[str, int]


@cache
def shipped_set_apart() -> SetApartTiles | None:
    """Return the tiles that come with the program, read once; None where there are none."""
    try:
        tests, others = TileLibrary.load(for_tests=True), TileLibrary.load()
    except AssetMissingError:
        return None
    return SetApartTiles(tests=tests, others=others)


def fresh_of(
    tiles: SetApartTiles, seen: SeenTiles, n_cells: int, rng: np.random.Generator
) -> FreshTiles | None:
    """Choose the tiles of the next comb, all in one light; None where too few are left.

    Parameters
    ----------
    tiles : SetApartTiles
        All that there are.
    seen : SeenTiles
        What the learner has seen of them.
    n_cells : int
        How many are wanted.
    rng : numpy.random.Generator
        Source of chance.
    """
    free = {name: _free(tiles.tests.of(name), seen, rng) for name in tiles.tests.settings}
    most = max((len(found) for found in free.values()), default=0)
    if most < N_CELLS_LEAST:
        return None
    wanted = min(n_cells, most)
    n_spent = Counter(
        tile.setting for name in free for tile in tiles.tests.of(name) if tile.id in seen.spent
    )
    # Least seen in other tests first, then the light that this test has shown least.
    ranks = {
        name: (sum(seen.times.get(tile.id, 0) for tile in found[:wanted]), n_spent[name])
        for name, found in free.items()
        if len(found) >= wanted
    }
    least = min(ranks.values())
    alike = sorted(name for name, rank in ranks.items() if rank == least)
    setting = alike[int(rng.integers(len(alike)))]
    others = (
        tiles.others.of(setting) if setting in tiles.others.settings else tiles.tests.of(setting)
    )
    return FreshTiles(asked=free[setting][:wanted], others=others)


def prepare_fresh(
    drill: Drill,
    seed: int,
    *,
    size_px: tuple[int, int],
    tiles: SetApartTiles,
    seen: SeenTiles,
    marks: Mapping[str, str] | None = None,
    n_cells: int = N_CELLS,
) -> PreparedComb | None:
    """Compose the next comb of a test; None where no fresh one is left.

    Parameters
    ----------
    drill : Drill
        What it is for; where it asks one cell at a time, ``n_asked`` of them, by chance.
    seed : int
        Source of chance.
    size_px : tuple of int
        Width and height of the picture.
    tiles : SetApartTiles
        What it is made of.
    seen : SeenTiles
        What the learner has seen of them.
    marks : mapping of str to str, optional
        What its recipe tells besides: to which test it belongs.
    n_cells : int
        About how many cells are asked or chosen from.
    """
    rng = np.random.default_rng([seed, 4])
    fresh = fresh_of(tiles, seen, n_cells, rng)
    if fresh is None:
        return None
    # Room for every one of them: the whole cells of a picture vary in number.
    n_drawn = len(fresh.asked) + 2
    composed = compose_fresh(
        *(np.random.default_rng(seed), tiles.tests, fresh),
        size_px=size_px,
        n_cells=n_drawn,
        name=f"drawn-{seed}",
    )
    recipe: dict[str, Any] = {
        "seed": seed,
        "size_px": list(size_px),
        "n_cells": n_drawn,
        "drawn_by": __version__,
        "tiles": list(composed.laid_ids),
        **(marks or {}),
    }
    asked = {tile.id for tile in fresh.asked}
    cells = _cells_of(composed, asked)
    if drill.shows is Shows.ONE_CELL:
        order = rng.permutation(len(cells))[: drill.n_asked or len(cells)]
        cells = [cells[int(k)] for k in order]
    return PreparedComb(
        drill=drill,
        recipe=recipe,
        pixels=composed.pixels,
        sheet=composed.sheet,
        asked=tuple(cell for cell, _ in cells),
        places=tuple(place for _, place in cells),
    )


def prepare_fresh_again(
    drill: Drill, unfinished: "UnfinishedRound", tiles: SetApartTiles
) -> PreparedComb | None:
    """Compose the comb of a test that was broken off; None when it cannot be drawn alike."""
    recipe = unfinished.recipe
    n_cells = recipe.get("n_cells")
    if recipe.get("drawn_by") != __version__ or not can_be_drawn(recipe):
        return None
    if type(n_cells) is not int or not N_CELLS_LEAST <= n_cells <= 2 * N_CELLS:
        return None
    laid = [tiles.tile(tile_id) for tile_id in recipe.get("tiles", ())]
    known = [tile for tile in laid if tile is not None]
    width_px, height_px = recipe["size_px"]
    try:
        composed = compose_laid(
            *(np.random.default_rng(recipe["seed"]), tiles.tests, known),
            size_px=(width_px, height_px),
            n_cells=n_cells,
            name=f"drawn-{recipe['seed']}",
        )
    except ValueError:  # not one tile for each cell
        return None
    there = {(cell.row, cell.col): place for place, cell in enumerate(composed.sheet.cells)}
    places = [there.get((cell.row, cell.col), -1) for cell in unfinished.cells]
    shown = zip(places, unfinished.cells, strict=True)
    if any(at < 0 or composed.tile_ids[at] != cell.tile_id for at, cell in shown):
        return None
    return PreparedComb(
        drill=drill,
        recipe=recipe,
        pixels=composed.pixels,
        sheet=composed.sheet,
        asked=unfinished.cells,
        places=tuple(places),
    )


def _free(tiles: tuple[Tile, ...], seen: SeenTiles, rng: np.random.Generator) -> list[Tile]:
    """Return what is left of a setting, by chance, those seen least often in front."""
    left = [tile for tile in tiles if is_plain(tile) and tile.id not in seen.spent]
    mixed = [left[int(k)] for k in rng.permutation(len(left))]
    return sorted(mixed, key=lambda tile: seen.times.get(tile.id, 0))


def _cells_of(composed: ComposedComb, asked: set[str]) -> list[tuple[ShownCell, int]]:
    """Return the cells that are asked, each with its place in the sheet."""
    return [
        (replace(shown_cell(cell, uuid4()), tile_id=composed.tile_ids[place]), place)
        for place, cell in enumerate(composed.sheet.cells)
        if composed.tile_ids[place] in asked
    ]
