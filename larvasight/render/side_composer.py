"""Put a whole side of comb together from tiles of one setting, band by band."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from larvasight.geometry import PITCH_DEFAULT_MM
from larvasight.render.comb_side import side_cells, side_size_mm
from larvasight.render.composer import (
    ComposedComb,
    composed_sheet,
    drawn_setting,
    is_inside,
    true_cell,
)
from larvasight.render.far_apart import choose_far_apart
from larvasight.render.lens import Lens, develop, sample_lens
from larvasight.render.stamping import Canvas, Stamp

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from larvasight.render.comb_side import Ground, WantedCell
    from larvasight.render.tiles import Tile, TileLibrary

N_CELLS_SIDE = 600
# A band this high is composed at a time, so that little memory is needed.
_BAND_PX = 512
# Somebody who goes over a comb sees each part of it about as sharp and as bright.
_NOISE_MOST = 1.2


def compose_side(
    rng: np.random.Generator,
    library: TileLibrary,
    *,
    n_cells: int = N_CELLS_SIDE,
    setting: str | None = None,
    laid_ids: Sequence[str] | None = None,
    ground: Ground | None = None,
    name: str = "",
) -> ComposedComb:
    """Compose a side of comb, its rows level, at the full size of the tiles.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    library : TileLibrary
        Where tiles come from.
    n_cells : int
        About how many cells it holds whole, 100-1000.
    setting : str, optional
        One of the library's settings; drawn by chance without it.
    laid_ids : sequence of str, optional
        The tiles of an earlier side from the same chance, to compose that one again.
    ground : Ground, optional
        How hard the right ages are to find; by chance without it.
    name : str
        Name of the picture in its sheet.

    Raises
    ------
    ValueError
        If an argument is out of range, or a setting or tile is not in the library.
    """
    drawn = drawn_setting(rng, library)
    size_mm = side_size_mm(n_cells)
    cells = side_cells(rng, size_mm, ground)
    lens = replace(_steady(sample_lens(rng)), seed=int(rng.integers(1 << 31)))
    if laid_ids is None:
        tiles = choose_far_apart(cells, library.of(setting or drawn), rng)
    else:
        tiles = [library.tile(tile_id) for tile_id in laid_ids]
    if len(tiles) != len(cells):
        msg = f"laid_ids must be one for each of {len(cells)} cells, got {len(tiles)}"
        raise ValueError(msg)
    stamp = Stamp(tiles[0].side_px, 1.0, 0.0, tiles[0].pitch_px)
    width_px, height_px = (round(mm / PITCH_DEFAULT_MM * stamp.pitch_px) for mm in size_mm)
    size_px = (width_px, height_px)
    pixels, middles = _lay(library, cells, tiles, stamp, size_px, lens)
    shown = [
        (true_cell((cell.q, cell.r), tile, middle, stamp, size_px), tile.id)
        for cell, tile, middle in zip(cells, tiles, middles, strict=True)
        if is_inside(middle, size_px)
    ]
    shown.sort(key=lambda pair: (pair[0].row, pair[0].col))
    true_cells = tuple(cell for cell, _ in shown)
    return ComposedComb(
        pixels=pixels,
        sheet=composed_sheet(true_cells, name, size_px, stamp.pitch_px, 0.0),
        setting=tiles[0].setting,
        tile_ids=tuple(tile_id for _, tile_id in shown),
        laid_ids=tuple(tile.id for tile in tiles),
    )


def _steady(lens: Lens) -> Lens:
    """Return a lens that does the same to every part of the picture."""
    noise_sd = min(lens.noise_sd, _NOISE_MOST)
    return replace(lens, vignetting=0.0, blur_px=0.0, noise_sd=noise_sd, jpeg_quality=None)


def _lay(
    library: TileLibrary,
    cells: Sequence[WantedCell],
    tiles: Sequence[Tile],
    stamp: Stamp,
    size_px: tuple[int, int],
    lens: Lens,
) -> tuple[NDArray[np.uint8], list[tuple[float, float]]]:
    """Return the developed picture and where the middle of each tile really lies."""
    width_px, height_px = size_px
    per_mm = stamp.pitch_px / PITCH_DEFAULT_MM
    corner = np.array([(width_px - 1) / 2.0, (height_px - 1) / 2.0])
    centres = np.array([cell.centre_xy_mm for cell in cells]) * per_mm + corner
    # A band's rows differ by whole pixels from the picture's, so that tiles meet across bands.
    middles = [stamp.middle_of(centre) for centre in centres]
    pixels = np.empty((height_px, width_px, 3), dtype=np.uint8)
    for number, top_px in enumerate(range(0, height_px, _BAND_PX)):
        bottom_px = min(top_px + _BAND_PX, height_px)
        canvas = Canvas((width_px, bottom_px - top_px), top_px)
        for tile, middle in zip(tiles, middles, strict=True):
            if top_px - stamp.side_px < middle[1] < bottom_px + stamp.side_px:
                canvas.lay(stamp, library.pixels(tile), middle)
        band_lens = replace(lens, seed=lens.seed + number)
        pixels[top_px:bottom_px] = develop(canvas.picture(), band_lens)
    return pixels, middles
