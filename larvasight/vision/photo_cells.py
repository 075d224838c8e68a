"""From a photo to a sheet of measured cells."""

import math
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.errors import NoCombError
from larvasight.sheet import Cell, Flag, LatticeByHand, LatticeInfo, PhotoInfo, Scale, Sheet
from larvasight.vision.lattice import FoundLattice, enlarged, find_lattice
from larvasight.vision.lattice_by_hand import within
from larvasight.vision.parsed import CellParser
from larvasight.vision.photo import Photo
from larvasight.vision.reader import CellReader
from larvasight.vision.rectify import Pyramid
from larvasight.vision.scale import ScaleGuess, is_pitch_doubtful
from larvasight.vision.sight import sight_of
from larvasight.vision.symmetry import (
    every_third_share,
    finer_pitch_share,
    rim_breadth,
    six_sidedness,
)

# Larvae are measured up to 10 degrees from the cell's axis, but real comb is not built evenly:
# seen squarely its squeezing reads as up to some 15 degrees. Walls hiding bodies are told apart.
_TILT_MOST_DEG = 18.0
# Below this likeness to itself turned by a sixth, a pattern is no comb. Torn rims lit from one
# side look less alike the fewer there are, but stand out clearly in all three directions.
_SIX_SIDED_LEAST = 0.14
_CLEAR_RIMS_WEIGHT = 0.8
# Brighter inside of the rims than this, a pattern is holes in a plate.
_RIM_BREADTH_MOST = 0.48
_RIM_BREADTH_FEW_MOST = 0.6
_FEW_CELLS = 15
# So much of the differences between cells never goes with every third of them in comb.
_EVERY_THIRD_MOST = 0.85
# Found cells this far off their lattice, as a share of the pitch, are not cells: even torn and
# bent comb stays below .05.
_RESIDUAL_MOST_SHARE = 0.07
# Judgement: how far the cell size may be off, as a share, where a person moved the lattice or
# began it from two cells.
_BY_HAND_SD_SHARE = {LatticeByHand.MOVED: 0.01, LatticeByHand.LAID: 0.03}
# Pictures are first searched halved until they have fewer px than four times this, and what is
# found there is taken if its cells are no smaller than the second.
_SEARCHED_LEAST_PX = 700_000
_PITCH_LEAST_PX = 24.0
# Full size is searched last, of huge pictures a quarter of it; then once more a smaller one, with
# sides of this many px at least.
_HALVINGS_MOST = 2
_SIDE_LEAST_PX = 500
# What spreads less, grey levels, needs no further search.
_BLANK_SPREAD = 2.0
_NOTHING = "No regular pattern of comb cells was found in this picture."


def measure_photo(
    photo: Photo,
    parser: CellParser,
    guess: ScaleGuess | None = None,
    by_hand: tuple[LatticeByHand, FoundLattice] | None = None,
) -> Sheet:
    """Find and measure every cell of a photo.

    Parameters
    ----------
    photo : Photo
        The upright picture; its own camera distance is used where ``guess`` has none.
    parser : CellParser
        Reads rectified cells.
    guess : ScaleGuess, optional
        Cell size and camera distance.
    by_hand : tuple, optional
        Where a person says that the cells lie; they are searched without it.

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
    kind, lattice = by_hand or (None, find_comb(pyramid))
    if kind is not None:
        lattice = within(lattice, (photo.width_px, photo.height_px))
    sight = sight_of(pyramid, lattice, guess, photo.focal_px)
    cells = CellReader(pyramid, parser, guess, sight).read(lattice.cells)
    if kind is not None:
        cells = [_less_sure(cell, _BY_HAND_SD_SHARE[kind]) for cell in cells]
    flags = [Flag.DISTANCE_ASSUMED] if guess.distance_mm is None else []
    if lattice.tilt_deg > _TILT_MOST_DEG:
        flags.append(Flag.TILTED)
    if is_pitch_doubtful(guess, lattice.pitch_px, photo.focal_px):
        flags.append(Flag.PITCH_DOUBTFUL)
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
        lattice=replace(_lattice_info(lattice, flags), by_hand=kind),
        cells=tuple(cells),
    )


def find_comb(pyramid: Pyramid) -> FoundLattice:
    """Find the cells of a comb at their finest pitch and make sure that they are six-sided.

    Parameters
    ----------
    pyramid : Pyramid
        The picture.

    Returns
    -------
    FoundLattice
        The cells with their names and places.

    Raises
    ------
    NoCombError
        If no pattern of cells is found, or one that is no comb.
    """
    refusal: NoCombError | None = None
    for level in _levels(pyramid):
        try:
            lattice = _found_at(pyramid, level)
            if lattice is not None:
                _require_comb(pyramid, lattice)
                return lattice
        except NoCombError as error:
            refusal = error
            if _is_blank(pyramid.level(level)):
                break
    raise refusal or NoCombError(_NOTHING)


def _is_blank(pixels: NDArray[np.uint8]) -> bool:
    """Return whether a picture in which nothing was found is the same all over."""
    _, spread = cv2.meanStdDev(pixels)
    return float(np.max(spread)) < _BLANK_SPREAD


def _levels(pyramid: Pyramid) -> list[int]:
    """Return the halvings to search, the coarsest first: fine wax grain hides rims close by."""
    width_px, height_px = pyramid.size_px
    coarsest = max(0, math.floor(math.log(width_px * height_px / _SEARCHED_LEAST_PX, 4.0)))
    levels = list(range(coarsest, max(coarsest - _HALVINGS_MOST, 0) - 1, -1))
    smallest_px = min(width_px, height_px) / 2.0 ** (coarsest + 1)
    return [*levels, coarsest + 1] if smallest_px >= _SIDE_LEAST_PX else levels


def _found_at(pyramid: Pyramid, level: int) -> FoundLattice | None:
    """Return the lattice found in a halved picture, None where a larger one shows it better."""
    zoom = 2.0**level
    lattice = enlarged(find_lattice(pyramid.level(level)), zoom)
    share = finer_pitch_share(pyramid, lattice.cells)
    pitch_px = lattice.pitch_px * (share or 1.0)
    if level > 0 and pitch_px < _PITCH_LEAST_PX * zoom:
        return None
    if share is None:
        return lattice
    return enlarged(find_lattice(pyramid.level(level), pitch_hint_px=pitch_px / zoom), zoom)


def _require_comb(pyramid: Pyramid, lattice: FoundLattice) -> None:
    """Raise NoCombError where a lattice lies on something else."""
    clear_rims = _CLEAR_RIMS_WEIGHT * (lattice.rim_strength - 1.0)
    if six_sidedness(pyramid, lattice.cells) + clear_rims < _SIX_SIDED_LEAST:
        msg = "The pattern in this picture is not made of six-sided cells."
        raise NoCombError(msg)
    few = len(lattice.cells) < _FEW_CELLS
    most = _RIM_BREADTH_FEW_MOST if few else _RIM_BREADTH_MOST
    if (
        rim_breadth(pyramid, lattice.cells) > most
        or every_third_share(pyramid, lattice.cells) > _EVERY_THIRD_MOST
    ):
        msg = "The pattern in this picture is one of holes with much between them, not of cells."
        raise NoCombError(msg)
    if lattice.residual_px > _RESIDUAL_MOST_SHARE * lattice.pitch_px:
        msg = "The cells in this picture could not be told apart surely; look straight down them."
        raise NoCombError(msg)


def _less_sure(cell: Cell, share: float) -> Cell:
    """Return a cell whose length may be off by a further share."""
    if cell.length_mm is None or cell.length_mm_sd is None:
        return cell
    return replace(cell, length_mm_sd=math.hypot(cell.length_mm_sd, cell.length_mm * share))


def _lattice_info(lattice: FoundLattice, flags: list[Flag]) -> LatticeInfo:
    return LatticeInfo(
        row_angle_deg=lattice.row_angle_deg,
        n_cells=len(lattice.cells),
        residual_px=0.0 if math.isnan(lattice.residual_px) else lattice.residual_px,
        flags=tuple(flags),
    )
