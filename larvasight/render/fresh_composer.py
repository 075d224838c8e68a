"""Put a patch of comb together for a test: each of its whole cells from a tile of its own.

Tiles set apart for tests are few, so nothing of them is spent where it is not asked: cells that the
picture's edge cuts, and whole ones for which no fresh tile is left, are filled from the tiles that
are practised on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from larvasight.render.composer import ComposedComb, choose_tiles, compose
from larvasight.render.lens import sample_lens
from larvasight.render.patch import patch_scene
from larvasight.render.planned_composer import whole_cells
from larvasight.sheet import Flag

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

    from larvasight.render.scene import CombScene, SceneCell
    from larvasight.render.tiles import Tile, TileLibrary


@dataclass(frozen=True, slots=True, kw_only=True)
class FreshTiles:
    """What a test's comb is made of, all of one setting.

    ``asked`` are tiles that the learner has not seen in this test, those to be used first in
    front; ``others`` fill what is not asked.
    """

    asked: Sequence[Tile]
    others: Sequence[Tile]


def is_plain(tile: Tile) -> bool:
    """Return whether enough of a tile's cell is seen for it to be asked."""
    return Flag.HIDDEN_BY_WALL not in tile.flags


def compose_fresh(
    rng: np.random.Generator,
    library: TileLibrary,
    fresh: FreshTiles,
    *,
    size_px: tuple[int, int],
    n_cells: int,
    name: str = "",
) -> ComposedComb:
    """Compose a patch whose whole cells show each fresh tile once, older brood by older brood.

    From the same chance and its ``laid_ids`` ``compose_laid`` composes it again.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    library : TileLibrary
        Where pictures of both kinds of tiles come from.
    fresh : FreshTiles
        What it is made of.
    size_px : tuple of int
        Width and height of the picture.
    n_cells : int
        About how many cells it holds whole.
    name : str
        Name of the picture in its sheet.
    """
    scene = patch_scene(rng, size_px=size_px, n_cells=n_cells, tilt_deg=0.0)
    lens = sample_lens(rng)
    whole = whole_cells(scene)
    places = [whole[int(k)] for k in rng.permutation(len(whole))]
    laid = _laid_by_age(scene, places, fresh.asked[: len(places)], rng)
    others = [k for k in range(len(scene.cells)) if k not in laid]
    filling = choose_tiles([scene.cells[k] for k in others], fresh.others, rng)
    laid |= dict(zip(others, filling, strict=True))
    ordered = [laid[k] for k in range(len(scene.cells))]
    return compose(library, scene, ordered, lens=lens, name=name)


def compose_laid(
    rng: np.random.Generator,
    library: TileLibrary,
    tiles: Sequence[Tile],
    *,
    size_px: tuple[int, int],
    n_cells: int,
    name: str = "",
) -> ComposedComb:
    """Compose a comb of ``compose_fresh`` again, from the same chance and all of its tiles.

    Raises
    ------
    ValueError
        If there is not one tile for each cell.
    """
    scene = patch_scene(rng, size_px=size_px, n_cells=n_cells, tilt_deg=0.0)
    return compose(library, scene, tiles, lens=sample_lens(rng), name=name)


def _laid_by_age(
    scene: CombScene, places: Sequence[int], tiles: Sequence[Tile], rng: np.random.Generator
) -> dict[int, Tile]:
    """Return which tile lies where: brood in the order of the scene's ages, the rest beside it."""
    cells = scene.cells
    free = list(places)
    laid: dict[int, Tile] = {}
    for tile in (tile for tile in tiles if tile.age_h is None):
        # Where the scene has no brood, as far as there is such a place.
        bare = [k for k in free if _age_of(cells[k]) is None] or free
        at = bare[int(rng.integers(len(bare)))]
        free.remove(at)
        laid[at] = tile
    brood = sorted((tile for tile in tiles if tile.age_h is not None), key=lambda t: t.age_h or 0.0)
    # Places with brood first: those without are ones that the queen missed.
    free.sort(key=lambda k: _age_of(cells[k]) is None)
    chosen = free[: len(brood)]
    chosen.sort(key=lambda k: _age_of(cells[k]) or 0.0)
    return laid | dict(zip(chosen, brood, strict=True))


def _age_of(cell: SceneCell) -> float | None:
    if cell.larva is not None:
        return cell.larva.age_h
    return cell.egg.age_h if cell.egg is not None else None
