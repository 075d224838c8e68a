"""The hexagon lattice of a comb and the row and column names of its cells.

Cells lie in rows; along a row neighbours are one pitch apart, the next row is
shifted by half a pitch. ``row`` and ``col`` count so that column ``c`` of an odd
row stands half a pitch further along the row than column ``c`` of an even row.
"""

import math

import numpy as np
from numpy.typing import NDArray

SQRT3 = math.sqrt(3.0)

# The six neighbours of a cell, axial steps (q along the row, r along the row turned by 60 deg).
NEIGHBOUR_STEPS_QR: tuple[tuple[int, int], ...] = (
    (1, 0),
    (0, 1),
    (-1, 1),
    (-1, 0),
    (0, -1),
    (1, -1),
)


def axial_to_offset(q: int, r: int) -> tuple[int, int]:
    """Return ``(row, col)`` of the cell at axial position ``(q, r)``."""
    return r, q + (r - (r & 1)) // 2


def offset_to_axial(row: int, col: int) -> tuple[int, int]:
    """Return axial ``(q, r)`` of the cell named ``(row, col)``."""
    return col - (row - (row & 1)) // 2, row


def hexagon_corners(pitch: float, row_angle_deg: float = 0.0) -> NDArray[np.float64]:
    """Return the corners of one cell about its centre.

    Parameters
    ----------
    pitch : float
        Centre to centre of neighbouring cells, any unit.
    row_angle_deg : float
        Direction of the rows, degrees, x right and y down.

    Returns
    -------
    ndarray of shape (6, 2), float64
        Corners ``(x, y)`` in the unit of ``pitch``; two sides stand square to the row.
    """
    angles_rad = np.radians(30.0 + 60.0 * np.arange(6) + row_angle_deg)
    return pitch / SQRT3 * np.column_stack([np.cos(angles_rad), np.sin(angles_rad)])


def lattice_vectors(pitch: float, row_angle_deg: float = 0.0) -> NDArray[np.float64]:
    """Return the two axial basis vectors of a regular lattice.

    Returns
    -------
    ndarray of shape (2, 2), float64
        Row 0 the step along the row, row 1 that step turned by 60 degrees (x right,
        y down), in the unit of ``pitch``.
    """
    angles_rad = np.radians(np.array([0.0, 60.0]) + row_angle_deg)
    return pitch * np.column_stack([np.cos(angles_rad), np.sin(angles_rad)])


def fold_row_angle_deg(angle_deg: float) -> float:
    """Return the same row direction in (-30, 30], since rows repeat every 60 degrees."""
    folded_deg = 30.0 - (30.0 - angle_deg) % 60.0
    # A remainder just below 60 rounds to 60 itself.
    return folded_deg if folded_deg > -30.0 else 30.0


def cells_per_dm2(pitch_mm: float) -> float:
    """Return the number of cells on one side of a square decimetre of comb.

    Parameters
    ----------
    pitch_mm : float
        Centre to centre of neighbouring cells, mm.

    Returns
    -------
    float
        Cells per dm2 of one side: 10,000 mm2 over the hexagon's area.
    """
    return 10_000.0 / (SQRT3 / 2.0 * pitch_mm**2)
