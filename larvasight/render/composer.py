"""Put a new comb together from tiles of one setting, as a queen lays it, and photograph it.

Neighbouring tiles show the same rim each in its own way; they are blended along it. All tiles
of a setting were seen from one direction under one lamp, so a comb may be turned as a whole.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import require_between
from larvasight.geometry import axial_to_offset, fold_row_angle_deg, hexagon_corners
from larvasight.render.lens import Lens, develop, sample_lens
from larvasight.render.patch import patch_scene
from larvasight.render.stamping import Canvas, Stamp
from larvasight.render.view import cell_centre, make_view
from larvasight.sheet import (
    Cell,
    Content,
    Flag,
    LatticeInfo,
    PhotoInfo,
    PointsXY,
    Scale,
    ScaleSource,
    Sheet,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from larvasight.render.scene import CombScene, SceneCell
    from larvasight.render.tiles import Tile, TileLibrary

Floats = NDArray[np.float64]

# Tiles were drawn without perspective, as from far away.
SEEN_FROM_MM = 2000.0
# Settings with fewer tiles repeat themselves within a comb and are not chosen by chance.
_TILES_LEAST = 120
# Among tiles about as near in age one is taken by chance.
_NEAR_H = 1.5
_NEAR_MOST = 4
_RING_SHARE = 0.9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ComposedComb:
    """A comb from tiles: ``pixels`` (H, W, 3) uint8 RGB and its truth.

    ``tile_ids`` names the tile behind each cell of the sheet, ``laid_ids`` those behind all cells
    of the scene, also the ones cut by the edge, in the scene's order: with them the same comb
    can be composed again.
    """

    pixels: NDArray[np.uint8]
    sheet: Sheet
    setting: str
    tile_ids: tuple[str, ...]
    laid_ids: tuple[str, ...]


def compose_patch(
    rng: np.random.Generator,
    library: TileLibrary,
    *,
    size_px: tuple[int, int],
    n_cells: int = 30,
    setting: str | None = None,
    avoid: frozenset[str] = frozenset(),
    laid_ids: Sequence[str] | None = None,
    name: str = "",
) -> ComposedComb:
    """Compose a patch of brood to practise on.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    library : TileLibrary
        Where tiles come from.
    size_px : tuple of int
        Width and height of the picture.
    n_cells : int
        About how many cells it holds whole.
    setting : str, optional
        One of the library's settings; drawn by chance without it.
    avoid : frozenset of str
        Tiles seen already, used only where nothing else is left.
    laid_ids : sequence of str, optional
        The tiles of an earlier comb from the same chance, to compose that one again.
    name : str
        Name of the picture in its sheet.

    Raises
    ------
    ValueError
        If the setting, or one of ``laid_ids``, is not in the library.
    """
    drawn = drawn_setting(rng, library)
    chosen = setting or drawn
    scene = patch_scene(rng, size_px=size_px, n_cells=n_cells, tilt_deg=0.0)
    lens = sample_lens(rng)
    if laid_ids is None:
        tiles = choose_tiles(scene.cells, library.of(chosen), rng, avoid)
    else:
        tiles = [library.tile(tile_id) for tile_id in laid_ids]
    return compose(library, scene, tiles, lens=lens, name=name)


def drawn_setting(rng: np.random.Generator, library: TileLibrary) -> str:
    """Draw a setting that has tiles enough for a comb."""
    rich = [name for name in library.settings if len(library.of(name)) >= _TILES_LEAST]
    usual = rich or library.settings
    return usual[int(rng.integers(len(usual)))]


def compose(
    library: TileLibrary,
    scene: CombScene,
    tiles: Sequence[Tile],
    *,
    lens: Lens | None = None,
    name: str = "",
) -> ComposedComb:
    """Compose a comb: a scene's lattice and camera, the tiles' contents and light.

    Parameters
    ----------
    library : TileLibrary
        Where the tiles' pictures come from.
    scene : CombScene
        Where the cells lie and how large the picture is.
    tiles : sequence of Tile
        One for each of the scene's cells, all of one setting.
    lens : Lens, optional
        The camera; an ideal one without it.
    name : str
        Name of the picture in its sheet.

    Raises
    ------
    ValueError
        If there is not one tile for each cell.
    """
    if len(tiles) != len(scene.cells) or not tiles:
        msg = f"tiles must be one for each of {len(scene.cells)} cells, got {len(tiles)}"
        raise ValueError(msg)
    pitch_px = scene.camera.pitch_px
    angle_deg = fold_row_angle_deg(scene.comb.row_angle_deg)
    size_px = scene.camera.size_px
    stamp = Stamp(tiles[0].side_px, pitch_px / tiles[0].pitch_px, angle_deg, tiles[0].pitch_px)
    canvas = Canvas(size_px)
    centres = centres_px(scene)
    placed = []
    for cell, tile, centre in zip(scene.cells, tiles, centres, strict=True):
        middle = canvas.lay(stamp, library.pixels(tile), centre)
        placed.append((cell, tile, middle))
    pixels = develop(canvas.picture(), lens or Lens())
    shown = [
        (true_cell((cell.q, cell.r), tile, middle, stamp, size_px), tile.id)
        for cell, tile, middle in placed
        if is_inside(middle, size_px)
    ]
    shown.sort(key=lambda pair: (pair[0].row, pair[0].col))
    sheet = composed_sheet(tuple(cell for cell, _ in shown), name, size_px, pitch_px, angle_deg)
    return ComposedComb(
        pixels=pixels,
        sheet=sheet,
        setting=tiles[0].setting,
        tile_ids=tuple(tile_id for _, tile_id in shown),
        laid_ids=tuple(tile.id for tile in tiles),
    )


def choose_tiles(
    cells: Sequence[SceneCell],
    tiles: Sequence[Tile],
    rng: np.random.Generator,
    avoid: frozenset[str] = frozenset(),
) -> list[Tile]:
    """Return a tile for each cell, no tile twice while others of its kind are left."""
    by_kind: dict[str, list[Tile]] = {}
    for tile in tiles:
        by_kind.setdefault(tile.kind, []).append(tile)
    used = Counter(avoid)
    chosen: list[Tile | None] = [None] * len(cells)
    for place in rng.permutation(len(cells)):
        cell = cells[int(place)]
        kind = cell.stores.kind.value if cell.stores is not None else cell.content.value
        fitting = by_kind.get(kind) or by_kind.get(Content.EMPTY.value) or list(tiles)
        least = min(used[tile.id] for tile in fitting)
        free = [tile for tile in fitting if used[tile.id] == least]
        tile = _nearest(free, _age_of(cell), rng)
        used[tile.id] += 1
        chosen[int(place)] = tile
    return [tile for tile in chosen if tile is not None]


def _nearest(tiles: Sequence[Tile], age_h: float | None, rng: np.random.Generator) -> Tile:
    if age_h is None:
        return tiles[int(rng.integers(len(tiles)))]
    away_h = np.array([abs((tile.age_h or 0.0) - age_h) for tile in tiles])
    order = np.argsort(away_h, kind="stable")[:_NEAR_MOST]
    near = [int(k) for k in order if away_h[k] <= max(_NEAR_H, away_h[order[0]])]
    return tiles[near[int(rng.integers(len(near)))]]


def _age_of(cell: SceneCell) -> float | None:
    if cell.larva is not None:
        return cell.larva.age_h
    return cell.egg.age_h if cell.egg is not None else None


def centres_px(scene: CombScene) -> Floats:
    """Return where the middles of a scene's cells lie in its picture, shape (N, 2)."""
    view = make_view(scene.camera, scene.comb.pitch_mm)
    centres = np.array([cell_centre(scene, cell.q, cell.r) for cell in scene.cells])
    return view.project(np.column_stack([centres, np.zeros(len(centres))]))


def is_inside(middle: tuple[float, float], size_px: tuple[int, int]) -> bool:
    """Return whether a point lies in a picture."""
    return 0.0 <= middle[0] <= size_px[0] - 1.0 and 0.0 <= middle[1] <= size_px[1] - 1.0


def true_cell(
    place_qr: tuple[int, int],
    tile: Tile,
    middle: tuple[float, float],
    stamp: Stamp,
    size_px: tuple[int, int],
) -> Cell:
    """Return what is true of a tile laid at a place of the lattice, about the point ``middle``."""
    row, col = axial_to_offset(*place_qr)
    corners = hexagon_corners(stamp.pitch_px * _RING_SHARE, stamp.angle_deg) + middle
    is_cut = not all(is_inside((float(x), float(y)), size_px) for x, y in corners)
    return Cell(
        row=row,
        col=col,
        centre_xy_px=middle,
        px_per_mm=stamp.pitch_px / tile.pitch_mm,
        content=tile.content,
        visible_share=tile.visible_share,
        jelly=tile.jelly,
        length_mm=tile.length_mm,
        width_mm=tile.width_mm,
        area_mm2=tile.area_mm2,
        curl_deg=tile.curl_deg,
        midline_xy_px=_moved(tile.midline_xy_px, stamp, middle),
        outline_xy_px=_moved(tile.outline_xy_px, stamp, middle),
        age_h=tile.age_h,
        looks_age_h=tile.looks_age_h,
        flags=(*tile.flags, Flag.CUT_BY_FRAME) if is_cut else tile.flags,
    )


def _moved(points: PointsXY | None, stamp: Stamp, middle: tuple[float, float]) -> PointsXY | None:
    if points is None:
        return None
    moved = np.array(points) @ stamp.linear.T + middle
    return tuple((float(x), float(y)) for x, y in moved)


def composed_sheet(
    cells: tuple[Cell, ...],
    name: str,
    size_px: tuple[int, int],
    pitch_px: float,
    angle_deg: float,
) -> Sheet:
    """Return the truth sheet of a comb composed of tiles."""
    require_between("pitch_px", pitch_px, 6.0, 4000.0)
    pitch_mm = pitch_px / cells[0].px_per_mm if cells else 5.3
    return Sheet(
        truth=True,
        photo=PhotoInfo(name=name, width_px=size_px[0], height_px=size_px[1], sha256=""),
        scale=Scale(
            pitch_px=pitch_px,
            pitch_mm=pitch_mm,
            px_per_mm=pitch_px / pitch_mm,
            distance_mm=SEEN_FROM_MM,
            source=ScaleSource.GIVEN,
        ),
        lattice=LatticeInfo(row_angle_deg=angle_deg, n_cells=len(cells), residual_px=0.5),
        cells=cells,
    )
