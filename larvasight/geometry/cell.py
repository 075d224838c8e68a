"""The shape of one cell: depth, three-rhombus floor and scale at depth."""

import math

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import require_positive

# Centre to centre of worker cells. Natural and foundation comb of European bees 5.2-5.4 mm
# (Seeley & Morse 1976 as quoted; Spivak in Costa Rica 1984); users set 4.6-5.6 mm.
PITCH_DEFAULT_MM = 5.3
PITCH_MIN_MM = 4.6
PITCH_MAX_MM = 5.6

# Worker brood comb is 21-24 mm thick over both sides (Seeley & Morse 1976 as quoted),
# so a cell is 10.5-12 mm deep: derived.
CELL_DEPTH_MM = 11.0

# Rim to the plane in which larvae lie. A cell of 11 mm less the jelly under the body: derived.
LARVA_DEPTH_MM = 10.0


def rhombus_floor_z(xy: NDArray[np.float64], *, first_ridge_deg: float = 90.0) -> NDArray[np.float64]:
    """Return the height of a three-rhombus cell floor above its deepest point.

    Three planes meet at the axis, each leaning so that the rhombi have apex angles of
    109 deg 28' and neighbouring planes meet at 120 deg.

    Parameters
    ----------
    xy : ndarray of shape (..., 2)
        Points about the cell's axis, any unit.
    first_ridge_deg : float
        Direction in which one rhombus rises steepest, degrees.

    Returns
    -------
    ndarray of shape (...)
        Height in the unit of ``xy``, >= 0.
    """
    directions_rad = np.radians(first_ridge_deg + np.array([0.0, 120.0, 240.0]))
    rise = [xy[..., 0] * math.cos(a) + xy[..., 1] * math.sin(a) for a in directions_rad]
    return np.maximum.reduce(rise) / math.sqrt(2.0)


def depth_scale(distance_mm: float, depth_mm: float = LARVA_DEPTH_MM) -> float:
    """Return how much smaller things look at a depth than in the rim plane.

    Parameters
    ----------
    distance_mm : float
        Camera to rim plane, mm; > 0.
    depth_mm : float
        Depth below the rim plane, mm.

    Returns
    -------
    float
        Factor by which a length measured with the rim-plane scale is to be multiplied.
    """
    return 1.0 + depth_mm / require_positive("distance_mm", distance_mm)
