"""Draw combs into files, each with its truth beside it."""

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from larvasight.desk.files import make_folder, write_sheet
from larvasight.render import CombScene, paint, random_scene, save_picture, truth_sheet
from larvasight.render.composer import SEEN_FROM_MM, compose_patch
from larvasight.render.patch import patch_pitch_px
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Sheet

N_CELLS_DEFAULT = 24
_WIDTH_DEFAULT_PX = 1000
_ASPECT = 4.0 / 3.0
_CELL_AREA = math.sqrt(3.0) / 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnComb:
    """One drawn comb: where its picture lies and what is true of it."""

    picture: Path
    sheet: Sheet


def picture_size_px(n_cells: int, pitch_px: float | None) -> tuple[int, int]:
    """Return a size for about ``n_cells`` cells, 1000 px wide or ``pitch_px`` to a cell."""
    width_px = _WIDTH_DEFAULT_PX
    if pitch_px is not None:
        width_px = max(64, round(pitch_px * math.sqrt(n_cells * _CELL_AREA * _ASPECT)))
    return width_px, round(width_px / _ASPECT)


def practice_scene(
    rng: np.random.Generator, *, n_cells: int = N_CELLS_DEFAULT, pitch_px: float | None = None
) -> CombScene:
    """Return a comb of about ``n_cells`` cells, 1000 px wide or ``pitch_px`` to a cell."""
    size_px = picture_size_px(n_cells, pitch_px)
    pitch = pitch_px or math.sqrt(size_px[0] * size_px[1] / (n_cells * _CELL_AREA))
    tilt_deg = float(rng.uniform(0.0, 6.0))
    return random_scene(rng, size_px=size_px, pitch_px=pitch, tilt_deg=tilt_deg)


def draw_comb(scene: CombScene, folder: Path, name: str) -> DrawnComb:
    """Paint a scene into ``NAME.png`` and its truth into ``NAME.json``.

    Raises
    ------
    OutputFolderError
        If the files cannot be written.
    """
    make_folder(folder)
    picture = folder / f"{name}.png"
    sha256 = save_picture(picture, paint(scene), scene.camera.distance_mm)
    sheet = truth_sheet(scene, name=picture.name, sha256=sha256)
    write_sheet(folder / f"{name}.json", sheet)
    return DrawnComb(picture=picture, sheet=sheet)


def compose_comb(
    rng: np.random.Generator,
    library: TileLibrary,
    folder: Path,
    name: str,
    *,
    n_cells: int = N_CELLS_DEFAULT,
    pitch_px: float | None = None,
) -> DrawnComb:
    """Compose a comb of tiles into ``NAME.png`` and its truth into ``NAME.json``.

    Raises
    ------
    OutputFolderError
        If the files cannot be written.
    """
    make_folder(folder)
    picture = folder / f"{name}.png"
    width_px, height_px = picture_size_px(n_cells, None)
    if pitch_px is not None:
        zoom = pitch_px / patch_pitch_px((width_px, height_px), n_cells)
        width_px, height_px = max(64, round(width_px * zoom)), max(48, round(height_px * zoom))
    size_px = (width_px, height_px)
    comb = compose_patch(rng, library, size_px=size_px, n_cells=n_cells, name=picture.name)
    sha256 = save_picture(picture, comb.pixels, SEEN_FROM_MM)
    sheet = replace(comb.sheet, photo=replace(comb.sheet.photo, sha256=sha256))
    write_sheet(folder / f"{name}.json", sheet)
    return DrawnComb(picture=picture, sheet=sheet)
