"""Lattices put right or laid by hand: moved, turned, slanted, or begun from two cells."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import LatticeUnusableError, NoCombError
from larvasight.geometry import (
    NEIGHBOUR_STEPS_QR,
    axial_to_offset,
    fold_row_angle_deg,
    lattice_vectors,
    offset_to_axial,
)
from larvasight.vision.lattice import PITCH_MIN_PX, FoundCell, FoundLattice, find_lattice
from larvasight.vision.lattice_judge import squeeze_deg
from larvasight.vision.scale import NamedPlace

# A person who lays a lattice sees that cells are there, but not that each of them is one.
HAND_CONFIDENCE: Final = 0.9
CELLS_MOST: Final = 6000
# A lattice found with the pitch that two clicks give is theirs if both lie this near to a cell
# of it, in pitches, and these are neighbours.
_CLICK_REACH: Final = 0.3
_NEIGHBOUR_REACH: Final = 1.25
# No comb that can be measured is squeezed or stretched more than this, one way against the other.
_SQUEEZE_MOST: Final = 3.0

Floats = NDArray[np.float64]
# Row, column, x and y of the middle, and the steps along the row and the row turned by 60 degrees.
PlacedCell: TypeAlias = tuple[int, int, float, float, float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """What handles do to places in a picture: ``p`` becomes ``matrix @ p + offset_xy_px``."""

    matrix: tuple[tuple[float, float], tuple[float, float]]
    offset_xy_px: tuple[float, float]

    def of(self, places_xy_px: Floats) -> Floats:
        """Return where places lie then, shape (N, 2)."""
        return np.asarray(places_xy_px @ np.array(self.matrix).T + np.array(self.offset_xy_px))


def shift_between(before_xy_px: Floats, after_xy_px: Floats) -> Shift:
    """Return what brings three points to where they are wanted.

    Parameters
    ----------
    before_xy_px, after_xy_px : ndarray of shape (3, 2)
        The points; neither three lie in one line.

    Raises
    ------
    LatticeUnusableError
        If they do.
    """
    before, after = np.asarray(before_xy_px), np.asarray(after_xy_px)
    sides = (before[1:] - before[0]).T
    wanted = (after[1:] - after[0]).T
    if abs(np.linalg.det(sides)) < 1.0 or np.linalg.det(wanted) * np.linalg.det(sides) <= 1.0:
        msg = "The three points lie in one line, so no comb fits them."
        raise LatticeUnusableError(msg)
    matrix = wanted @ np.linalg.inv(sides)
    offset = after[0] - matrix @ before[0]
    (a, b), (c, d) = matrix.tolist()
    return Shift(matrix=((a, b), (c, d)), offset_xy_px=(float(offset[0]), float(offset[1])))


def lattice_of(cells: Sequence[NamedPlace]) -> FoundLattice:
    """Return the lattice of cells of which only names and places are known, as of a sheet.

    Steps are those to the neighbours that are there, else those of the whole lattice.

    Raises
    ------
    LatticeUnusableError
        If there are too few cells to tell a lattice.
    """
    axial = np.array([offset_to_axial(cell.row, cell.col) for cell in cells]).reshape(-1, 2)
    places = np.array([cell.centre_xy_px for cell in cells], dtype=np.float64).reshape(-1, 2)
    whole = _whole_steps(axial, places)
    there = {(int(q), int(r)): k for k, (q, r) in enumerate(axial)}
    steps = np.repeat(whole[None], len(places), axis=0)
    for k, (q, r) in enumerate(axial.tolist()):
        near = [(dq, dr, there.get((q + dq, r + dr))) for dq, dr in NEIGHBOUR_STEPS_QR]
        known = [(dq, dr, j) for dq, dr, j in near if j is not None]
        names = np.array([(dq, dr) for dq, dr, _ in known], dtype=np.float64).reshape(-1, 2)
        if len(known) < 3 or np.linalg.matrix_rank(names) < 2:
            continue
        ways = places[[j for _, _, j in known]] - places[k]
        steps[k] = np.linalg.lstsq(names, ways, rcond=None)[0]
    found = [
        _cell(cell.row, cell.col, place, step, cell.confidence or HAND_CONFIDENCE)
        for cell, place, step in zip(cells, places, steps, strict=True)
    ]
    return _lattice(found)


def placed_cells(lattice: FoundLattice) -> tuple[PlacedCell, ...]:
    """Return the cells of a lattice as numbers: names, places and steps."""
    return tuple(
        (cell.row, cell.col, *cell.centre_xy_px, *cell.steps_xy_px[0], *cell.steps_xy_px[1])
        for cell in lattice.cells
    )


def placed_lattice(cells: Sequence[PlacedCell]) -> FoundLattice:
    """Return the lattice of cells given as numbers.

    Raises
    ------
    LatticeUnusableError
        If there is none, or they cannot be those of a comb.
    """
    found = [
        _cell(row, col, np.array([x, y]), np.array([[ax, ay], [bx, by]]))
        for row, col, x, y, ax, ay, bx, by in cells
    ]
    return require_usable(_lattice(found))


def moved(lattice: FoundLattice, shift: Shift) -> FoundLattice:
    """Return a lattice moved, turned, sized or slanted, also cells that leave the picture.

    Parameters
    ----------
    lattice : FoundLattice
        The cells as they lay.
    shift : Shift
        What was done with them.

    Raises
    ------
    LatticeUnusableError
        If cells become too small or too slanted to be comb.
    """
    places = shift.of(np.array([cell.centre_xy_px for cell in lattice.cells]))
    matrix = np.array(shift.matrix)
    cells = [
        _cell(cell.row, cell.col, place, np.array(cell.steps_xy_px) @ matrix.T, HAND_CONFIDENCE)
        for cell, place in zip(lattice.cells, places, strict=True)
    ]
    return require_usable(_lattice(cells))


def within(lattice: FoundLattice, size_px: tuple[int, int]) -> FoundLattice:
    """Return the part of a lattice whose cells have their middle in a picture of this size.

    Raises
    ------
    LatticeUnusableError
        If there is none.
    """
    inside = [cell for cell in lattice.cells if _is_inside(cell.centre_xy_px, size_px)]
    return lattice if len(inside) == len(lattice.cells) else _lattice(inside)


def laid(
    first_xy_px: tuple[float, float], second_xy_px: tuple[float, float], size_px: tuple[int, int]
) -> FoundLattice:
    """Return the regular lattice in which two places are neighbouring cells.

    Parameters
    ----------
    first_xy_px, second_xy_px : tuple of float
        Middles of two neighbouring cells.
    size_px : tuple of int
        Width and height of the picture, which is filled with cells.

    Raises
    ------
    LatticeUnusableError
        If the places lie too close together, or so close that the picture would hold too many.
    """
    way = np.array(second_xy_px) - np.array(first_xy_px)
    pitch_px = float(np.hypot(*way))
    if pitch_px < PITCH_MIN_PX:
        msg = (
            "The two cells lie too close together; in this picture cells must be at least "
            f"{PITCH_MIN_PX:.0f} picture points wide."
        )
        raise LatticeUnusableError(msg)
    angle_deg = fold_row_angle_deg(math.degrees(math.atan2(way[1], way[0])))
    steps = lattice_vectors(pitch_px, angle_deg)
    reach = math.ceil(2.0 * math.hypot(*size_px) / pitch_px)
    axial = np.stack(np.meshgrid(*(2 * (np.arange(-reach, reach + 1),))), axis=-1).reshape(-1, 2)
    places = np.array(first_xy_px) + axial @ steps
    inside = ((places >= 0.0) & (places <= np.array(size_px) - 1.0)).all(axis=1)
    axial, places = axial[inside], places[inside]
    if len(axial) > CELLS_MOST:
        msg = f"The picture would hold {len(axial)} such cells; up to {CELLS_MOST} are measured."
        raise LatticeUnusableError(msg)
    first_row = int(axial[:, 1].min())
    first_col = min(axial_to_offset(int(q), int(r) - first_row)[1] for q, r in axial)
    cells = [
        _cell(*axial_to_offset(int(q) - first_col, int(r) - first_row), place, steps)
        for (q, r), place in zip(axial, places, strict=True)
    ]
    cells.sort(key=lambda cell: (cell.row, cell.col))
    return _lattice(cells)


def found_between(
    pixels: NDArray[np.uint8],
    first_xy_px: tuple[float, float],
    second_xy_px: tuple[float, float],
) -> FoundLattice | None:
    """Look once more for comb, with the pitch that two neighbouring cells tell.

    Returns
    -------
    FoundLattice or None
        None where nothing is found in which both places are neighbouring cells.
    """
    pitch_px = math.dist(first_xy_px, second_xy_px)
    try:
        lattice = find_lattice(pixels, pitch_hint_px=pitch_px)
    except (NoCombError, ValueError):
        return None
    places = np.array([cell.centre_xy_px for cell in lattice.cells])
    nearest = []
    for click in (first_xy_px, second_xy_px):
        away = np.hypot(*(places - np.array(click)).T)
        nearest.append(int(away.argmin()))
        if away.min() > _CLICK_REACH * pitch_px:
            return None
    apart_px = math.dist(*(lattice.cells[k].centre_xy_px for k in nearest))
    is_next = nearest[0] != nearest[1] and apart_px <= _NEIGHBOUR_REACH * pitch_px
    return lattice if is_next else None


def require_usable(lattice: FoundLattice) -> FoundLattice:
    """Return a lattice whose cells can be those of a comb.

    Raises
    ------
    LatticeUnusableError
        If they are too small, or squeezed more than any view of comb squeezes them.
    """
    if lattice.pitch_px < PITCH_MIN_PX:
        msg = "The cells have become too small to be measured."
        raise LatticeUnusableError(msg)
    steps = np.mean([cell.steps_xy_px for cell in lattice.cells], axis=0)
    square = np.linalg.inv(lattice_vectors(1.0)) @ steps
    sizes = np.linalg.svd(square, compute_uv=False)
    if sizes[0] > _SQUEEZE_MOST * sizes[1]:
        msg = "The cells have become too slanted: no comb looks like that."
        raise LatticeUnusableError(msg)
    return lattice


def _whole_steps(axial: NDArray[np.int64], places: Floats) -> Floats:
    """Return the mean steps of a lattice, shape (2, 2)."""
    design = np.column_stack([axial, np.ones(len(axial))]).astype(np.float64)
    if len(axial) < 3 or np.linalg.matrix_rank(design) < 3:
        msg = "Too few cells are there to be moved together; lay the cells by hand."
        raise LatticeUnusableError(msg)
    return np.asarray(np.linalg.lstsq(design, places, rcond=None)[0][:2], dtype=np.float64)


def _is_inside(place_xy_px: tuple[float, float], size_px: tuple[int, int]) -> bool:
    return all(0.0 <= at <= side - 1.0 for at, side in zip(place_xy_px, size_px, strict=True))


def _lattice(cells: Sequence[FoundCell]) -> FoundLattice:
    if not cells:
        msg = "No cell is left in the picture."
        raise LatticeUnusableError(msg)
    steps = np.array([cell.steps_xy_px for cell in cells])
    sides = np.concatenate([steps, steps[:, 1:] - steps[:, :1]], axis=1)
    basis_px = steps.mean(axis=0)
    return FoundLattice(
        cells=tuple(cells),
        pitch_px=float(np.hypot(sides[..., 0], sides[..., 1]).mean()),
        row_angle_deg=fold_row_angle_deg(math.degrees(math.atan2(*basis_px[0, ::-1]))),
        residual_px=math.nan,
        tilt_deg=squeeze_deg(basis_px),
        rim_strength=math.nan,
    )


def _cell(
    row: int, col: int, place: Floats, steps: Floats, confidence: float = HAND_CONFIDENCE
) -> FoundCell:
    (ax, ay), (bx, by) = np.asarray(steps).tolist()
    return FoundCell(
        row=row,
        col=col,
        centre_xy_px=(float(place[0]), float(place[1])),
        steps_xy_px=((ax, ay), (bx, by)),
        residual_px=math.nan,
        confidence=confidence,
    )
