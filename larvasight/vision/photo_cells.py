"""From a photo to a sheet of measured cells."""

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import NoCombError
from larvasight.sheet import Flag, LatticeInfo, PhotoInfo, Scale, Sheet
from larvasight.vision.lattice import FoundLattice, find_lattice
from larvasight.vision.parsed import CellParser
from larvasight.vision.photo import Photo
from larvasight.vision.reader import CellReader
from larvasight.vision.rectify import Pyramid
from larvasight.vision.scale import ScaleGuess
from larvasight.vision.symmetry import finer_pitch_share, six_sidedness

# Larvae are measured up to 10 degrees from the cell's axis, but real comb is not built evenly:
# seen squarely its squeezing reads as up to some 15 degrees. Walls hiding bodies are told apart.
_TILT_MOST_DEG = 18.0
# Below this likeness to itself turned by a sixth, a pattern is no comb.
_SIX_SIDED_LEAST = 0.2
# Found cells this far off their lattice, as a share of the pitch, are not cells: even torn and
# bent comb stays below .05.
_RESIDUAL_MOST_SHARE = 0.07
# Pictures from this size up are searched again at half of it where nothing was found.
_HALVED_LEAST_PX = 1200


def measure_photo(photo: Photo, parser: CellParser, guess: ScaleGuess | None = None) -> Sheet:
    """Find and measure every cell of a photo.

    Parameters
    ----------
    photo : Photo
        The upright picture; its own camera distance is used where ``guess`` has none.
    parser : CellParser
        Reads rectified cells.
    guess : ScaleGuess, optional
        Cell size and camera distance.

    Returns
    -------
    Sheet
        Measured sheet without ages and grades; what could not be measured is None.

    Raises
    ------
    NoCombError
        If no pattern of cells is found.
    """
    guess = guess or ScaleGuess()
    if guess.distance_mm is None and photo.distance_mm is not None:
        guess = ScaleGuess(
            pitch_mm=guess.pitch_mm, distance_mm=photo.distance_mm, source=guess.source
        )
    pyramid = Pyramid(photo.pixels)
    lattice = _finest_lattice(photo, pyramid)
    if six_sidedness(pyramid, lattice.cells) < _SIX_SIDED_LEAST:
        msg = "The pattern in this picture is not made of six-sided cells."
        raise NoCombError(msg)
    if lattice.residual_px > _RESIDUAL_MOST_SHARE * lattice.pitch_px:
        msg = "The cells in this picture could not be told apart surely; look straight down them."
        raise NoCombError(msg)
    cells = CellReader(pyramid, parser, guess).read(lattice.cells)
    flags = [Flag.DISTANCE_ASSUMED] if guess.distance_mm is None else []
    if lattice.tilt_deg > _TILT_MOST_DEG:
        flags.append(Flag.TILTED)
    return Sheet(
        truth=False,
        photo=PhotoInfo(
            name=photo.name, width_px=photo.width_px, height_px=photo.height_px, sha256=photo.sha256
        ),
        scale=Scale(
            pitch_px=lattice.pitch_px,
            pitch_mm=guess.pitch_mm,
            px_per_mm=lattice.pitch_px / guess.pitch_mm,
            distance_mm=guess.distance_mm,
            source=guess.source,
        ),
        lattice=_lattice_info(lattice, flags),
        cells=tuple(cells),
    )


def _finest_lattice(photo: Photo, pyramid: Pyramid) -> FoundLattice:
    lattice = _some_lattice(photo.pixels, pyramid)
    share = finer_pitch_share(pyramid, lattice.cells)
    if share is None:
        return lattice
    return find_lattice(photo.pixels, pitch_hint_px=lattice.pitch_px * share)


def _some_lattice(pixels: NDArray[np.uint8], pyramid: Pyramid) -> FoundLattice:
    try:
        return find_lattice(pixels)
    except NoCombError:
        if min(pyramid.size_px) < _HALVED_LEAST_PX:
            raise
        # Fine wax grain close by hides the rims from a search that a smaller picture leads.
        coarse = find_lattice(pyramid.level(1))
        return find_lattice(pixels, pitch_hint_px=2.0 * coarse.pitch_px)


def _lattice_info(lattice: FoundLattice, flags: list[Flag]) -> LatticeInfo:
    return LatticeInfo(
        row_angle_deg=lattice.row_angle_deg,
        n_cells=len(lattice.cells),
        residual_px=lattice.residual_px,
        flags=tuple(flags),
    )
