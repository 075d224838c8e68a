"""Names of cells stay with their places when the cells of a photo are found or laid anew."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import axial_to_offset, offset_to_axial
from larvasight.sheet import Sheet

# Cells are the same whose middles lie no further apart, in pitches.
_SAME_PITCHES = 0.35
_PAIRS_LEAST = 4
# Of the cells at the same places so many must agree on how the names are turned and shifted.
_AGREE_LEAST = 0.8

Names = NDArray[np.int64]


def named_as(sheet: Sheet, former: Sheet) -> Sheet:
    """Return a sheet whose cells have the names that cells at their places have in another.

    Found or laid anew, a lattice may count its cells from elsewhere or along other rows. What is
    kept by name, as which half of a set a cell belongs to, must stay with the place.

    Parameters
    ----------
    sheet : Sheet
        Measured anew.
    former : Sheet
        The same photo as it was measured before.

    Returns
    -------
    Sheet
        Unchanged where hardly any cell lies where one lay, as after a wrong cell size.
    """
    pairs = _pairs(sheet, former)
    if len(pairs) < _PAIRS_LEAST:
        return sheet
    new, old = _names(sheet), _names(former)
    found = _turn_and_shift(new[pairs[:, 0]], old[pairs[:, 1]])
    if found is None:
        return sheet
    turn, shift = found
    names = (axial_to_offset(int(q), int(r)) for q, r in new @ turn + shift)
    cells = tuple(
        replace(cell, row=row, col=col) for cell, (row, col) in zip(sheet.cells, names, strict=True)
    )
    return replace(sheet, cells=cells)


def _pairs(sheet: Sheet, former: Sheet) -> Names:
    """Return indices of cells at the same places in both, shape (N, 2)."""
    from scipy.spatial import cKDTree

    if not sheet.cells or not former.cells:
        return np.empty((0, 2), np.int64)
    tree = cKDTree([cell.centre_xy_px for cell in former.cells])
    reach_px = _SAME_PITCHES * min(sheet.scale.pitch_px, former.scale.pitch_px)
    away_px, nearest = tree.query([cell.centre_xy_px for cell in sheet.cells])
    near = np.flatnonzero(away_px <= reach_px)
    return np.column_stack([near, nearest[near]]).astype(np.int64)


def _names(sheet: Sheet) -> Names:
    """Return the names of a sheet's cells along two even directions, shape (N, 2)."""
    return np.array([offset_to_axial(cell.row, cell.col) for cell in sheet.cells], dtype=np.int64)


def _turn_and_shift(new: Names, old: Names) -> tuple[Names, Names] | None:
    """Return the whole-numbered map from new names to old ones on which most pairs agree."""
    columns = np.column_stack([new, np.ones(len(new))])
    fitted = np.linalg.lstsq(columns, old, rcond=None)[0]
    turn = np.rint(fitted[:2]).astype(np.int64)
    if abs(turn[0, 0] * turn[1, 1] - turn[0, 1] * turn[1, 0]) != 1:
        return None
    left = old - new @ turn
    shift = np.rint(np.median(left, axis=0)).astype(np.int64)
    if (left == shift).all(axis=1).mean() < _AGREE_LEAST:
        return None
    return turn, shift
