"""Put a patch of comb together whose cells hold larvae of wanted ages, in no order of laying."""

from __future__ import annotations

from typing import TYPE_CHECKING

from larvasight.geometry import fold_row_angle_deg, hexagon_corners
from larvasight.render.composer import (
    ComposedComb,
    centres_px,
    choose_tiles,
    compose,
    drawn_setting,
    is_inside,
)
from larvasight.render.lens import sample_lens
from larvasight.render.patch import patch_scene
from larvasight.sheet import Content, Flag

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

    from larvasight.render.scene import CombScene
    from larvasight.render.tiles import Tile, TileLibrary

_HIDDEN = {Flag.HIDDEN_BY_WALL, Flag.CUT_BY_FRAME}


def compose_planned(
    rng: np.random.Generator,
    library: TileLibrary,
    *,
    ages_h: Sequence[float],
    size_px: tuple[int, int],
    n_cells: int = 30,
    avoid: frozenset[str] = frozenset(),
    name: str = "",
) -> ComposedComb:
    """Compose a patch with wanted ages, strewn over it so that no neighbour tells an age.

    From the same chance and its ``laid_ids`` ``compose_patch`` composes it again.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    library : TileLibrary
        Where tiles come from.
    ages_h : sequence of float
        Ages that larvae should look, h, below 0 an egg of whatever age; the last are left out
        where the patch has fewer whole cells.
    size_px : tuple of int
        Width and height of the picture.
    n_cells : int
        About how many cells it holds whole.
    avoid : frozenset of str
        Tiles seen already, used only where nothing else is left.
    name : str
        Name of the picture in its sheet.
    """
    setting = drawn_setting(rng, library)
    scene = patch_scene(rng, size_px=size_px, n_cells=n_cells, tilt_deg=0.0)
    lens = sample_lens(rng)
    tiles = library.of(setting)
    places = rng.permutation(whole_cells(scene)).tolist()[: len(ages_h)]
    planned = dict(zip(places, tiles_of_ages(tiles, ages_h, avoid), strict=False))
    others = [k for k in range(len(scene.cells)) if k not in planned]
    seen = avoid | {tile.id for tile in planned.values()}
    laid = choose_tiles([scene.cells[k] for k in others], tiles, rng, seen)
    planned |= dict(zip(others, laid, strict=True))
    ordered = [planned[k] for k in range(len(scene.cells))]
    return compose(library, scene, ordered, lens=lens, name=name)


def tiles_of_ages(
    tiles: Sequence[Tile], ages_h: Sequence[float], avoid: frozenset[str] = frozenset()
) -> list[Tile]:
    """Return the tile that looks nearest to each age; eggs for ages below 0.

    Parameters
    ----------
    tiles : sequence of Tile
        What can be used; those half hidden by a wall are not.
    ages_h : sequence of float
        Ages wanted, h.
    avoid : frozenset of str
        Tiles seen already, used only where no other of their kind is left.

    Returns
    -------
    list of Tile
        One for each age, none twice; fewer where there are not enough.
    """
    plain = [tile for tile in tiles if not _HIDDEN & set(tile.flags)]
    free = {
        is_egg: sorted(
            (tile for tile in plain if tile.content is content), key=lambda tile: tile.id in avoid
        )
        for is_egg, content in ((True, Content.EGG), (False, Content.LARVA))
    }
    chosen = []
    for age_h in ages_h:
        left = free[age_h < 0.0] or free[age_h >= 0.0]
        if not left:
            break
        n_new = sum(tile.id not in avoid for tile in left) or len(left)
        at = min(range(n_new), key=lambda k: abs(_looks_h(left[k]) - age_h)) if age_h >= 0.0 else 0
        chosen.append(left.pop(at))
    return chosen


def _looks_h(tile: Tile) -> float:
    looks_h = tile.age_h if tile.looks_age_h is None else tile.looks_age_h
    return 0.0 if looks_h is None else looks_h


def whole_cells(scene: CombScene) -> list[int]:
    """Return which of a scene's cells lie inside its picture with all their rims."""
    angle_deg = fold_row_angle_deg(scene.comb.row_angle_deg)
    corners = hexagon_corners(scene.camera.pitch_px, angle_deg)
    size_px = scene.camera.size_px
    return [
        k
        for k, centre in enumerate(centres_px(scene))
        if all(is_inside((float(x), float(y)), size_px) for x, y in corners + centre)
    ]
