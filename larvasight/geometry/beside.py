"""Where a point lies beside a curved body: how far along it, how far off, at its back or not."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry.curve import fit_circle

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A point beside a line, in the line's unit.

    ``along_share`` runs from 0 at the line's first point to 1 at its last; ``off`` is the
    distance to the line. ``is_behind`` says that it lies on the outer side of the curve;
    ``inward_xy`` is the unit vector at the nearest place that leads from there to the inner one.
    """

    along_share: float
    off: float
    is_behind: bool
    inward_xy: tuple[float, float]


def beside(line_xy: Floats, point_xy: tuple[float, float]) -> Beside:
    """Return where a point lies beside a curved line.

    Parameters
    ----------
    line_xy : ndarray of shape (N, 2)
        Points along the line, any unit; N >= 3.
    point_xy : tuple of float
        The point.

    Raises
    ------
    ValueError
        If fewer than three points are given, or they lie on a straight line, which has no back.
    """
    inward = inward_vectors(line_xy)
    here = np.array(point_xy, dtype=np.float64)
    starts, ways = line_xy[:-1], np.diff(line_xy, axis=0)
    lengths = np.hypot(ways[:, 0], ways[:, 1])
    squares = np.maximum(lengths**2, 1e-12)
    shares = np.clip(((here - starts) * ways).sum(axis=1) / squares, 0.0, 1.0)
    nearest = starts + shares[:, None] * ways
    offs = np.hypot(*(here - nearest).T)
    k = int(offs.argmin())
    turned = (1.0 - shares[k]) * inward[k] + shares[k] * inward[k + 1]
    x, y = (float(v) for v in turned / np.hypot(*turned))
    is_behind = float((here - nearest[k]) @ (x, y)) < 0.0
    along = float(lengths[:k].sum() + shares[k] * lengths[k])
    return Beside(
        along_share=along / float(lengths.sum()),
        off=float(offs[k]),
        is_behind=is_behind,
        inward_xy=(x, y),
    )


def inward_vectors(line_xy: Floats) -> Floats:
    """Return at each point of a curved line the unit vector across it to its inner side.

    Parameters
    ----------
    line_xy : ndarray of shape (N, 2)
        Points along the line; N >= 3.

    Returns
    -------
    ndarray of shape (N, 2)
        Square to the line, on the side where the centre of its circle lies.

    Raises
    ------
    ValueError
        If fewer than three points are given, or they lie on a straight line.
    """
    centre, radius = fit_circle(line_xy)
    if not math.isfinite(radius):
        msg = "line_xy must be a curve, got a straight line"
        raise ValueError(msg)
    tangents = np.gradient(line_xy, axis=0)
    across = np.column_stack([-tangents[:, 1], tangents[:, 0]])
    across /= np.maximum(np.hypot(across[:, 0], across[:, 1]), 1e-12)[:, None]
    # The body's middle tells the side: a tip may bend past the circle.
    middle = len(line_xy) // 2
    is_inward = float((np.array(centre) - line_xy[middle]) @ across[middle]) > 0.0
    return np.asarray(across if is_inward else -across, dtype=np.float64)


def room_in_hexagon(
    points_xy: Floats, apothem: float, row_angle_deg: float = 0.0
) -> NDArray[np.float64]:
    """Return how far points lie inside a hexagon about the origin.

    Parameters
    ----------
    points_xy : ndarray of shape (N, 2)
        Points, any unit.
    apothem : float
        From the middle to each side.
    row_angle_deg : float
        Direction in which one side lies, degrees, x right and y down.

    Returns
    -------
    ndarray of shape (N,)
        Distance to the line of the nearest side, below 0 outside.
    """
    angles_rad = np.radians(row_angle_deg + 60.0 * np.arange(6))
    normals = np.column_stack([np.cos(angles_rad), np.sin(angles_rad)])
    return np.asarray(apothem - (points_xy @ normals.T).max(axis=1), dtype=np.float64)
