"""Draw combs into files, each with its truth beside it."""

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from larvasight.desk.files import make_folder, write_sheet
from larvasight.render import CombScene, paint, random_scene, save_picture, truth_sheet
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


def practice_scene(
    rng: np.random.Generator, *, n_cells: int = N_CELLS_DEFAULT, pitch_px: float | None = None
) -> CombScene:
    """Return a comb of about ``n_cells`` cells, 1000 px wide or ``pitch_px`` to a cell."""
    if pitch_px is None:
        width_px = _WIDTH_DEFAULT_PX
    else:
        width_px = max(64, round(pitch_px * math.sqrt(n_cells * _CELL_AREA * _ASPECT)))
    size_px = (width_px, round(width_px / _ASPECT))
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
