"""Length and swept angle of a body's midline; one function each for truth and measurement."""

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry.curves import (
    CURL_MAX_DEG,
    fit_circles,
    line_lengths,
    resample_lines,
    swept_angles_deg,
)

__all__ = ["CURL_MAX_DEG", "fit_circle", "midline_length", "resample", "swept_angle_deg"]


def midline_length(midline_xy: NDArray[np.float64]) -> float:
    """Return the arc length of a line from its first to its last point.

    Parameters
    ----------
    midline_xy : ndarray of shape (N, 2)
        Points along the line, ``(x, y)``, any unit; N >= 2.

    Returns
    -------
    float
        Length in the unit of the points.

    Raises
    ------
    ValueError
        If fewer than two points are given.
    """
    points = _points(midline_xy, at_least=2)
    return float(line_lengths(points[None])[0])


def fit_circle(points_xy: NDArray[np.float64]) -> tuple[tuple[float, float], float]:
    """Return centre and radius of the least-squares circle through points.

    The algebraic fit of Kasa, followed by Gauss-Newton steps on the distances.

    Parameters
    ----------
    points_xy : ndarray of shape (N, 2)
        Points ``(x, y)``; N >= 3.

    Returns
    -------
    centre_xy : tuple of float
        Centre; infinite coordinates for points on a straight line.
    radius : float
        Radius; infinite for points on a straight line.

    Raises
    ------
    ValueError
        If fewer than three points are given.

    References
    ----------
    .. [1] I. Kasa, "A circle fitting procedure and its error analysis", IEEE Trans.
       Instrum. Meas. 25 (1976) 8-14.
    """
    centres, radii = fit_circles(_points(points_xy, at_least=3)[None])
    return (float(centres[0, 0]), float(centres[0, 1])), float(radii[0])


def swept_angle_deg(midline_xy: NDArray[np.float64]) -> float:
    """Return the curl: the angle a midline spans seen from its least-squares circle's centre.

    Unwrapped along the body, so a spiral of more than a turn counts past 360; 0 is
    straight, 180 a half ring, 270 a C, 360 closed.

    Parameters
    ----------
    midline_xy : ndarray of shape (N, 2)
        Points along the midline from tip to tip, ``(x, y)``, any unit; N >= 3. The
        points are spaced evenly along the line before the circle is fitted.

    Returns
    -------
    float
        Swept angle in degrees, in [0, 400].

    Raises
    ------
    ValueError
        If fewer than three points are given.
    """
    return float(swept_angles_deg(_points(midline_xy, at_least=3)[None])[0])


def resample(line_xy: NDArray[np.float64], n_points: int) -> NDArray[np.float64]:
    """Return ``n_points`` spaced evenly along a line.

    Parameters
    ----------
    line_xy : ndarray of shape (N, 2)
        Points along the line; N >= 2.
    n_points : int
        Number of points wanted; >= 2.

    Returns
    -------
    ndarray of shape (n_points, 2), float64
        Points from the first to the last point of the line.
    """
    return np.asarray(resample_lines(_points(line_xy, at_least=2)[None], n_points)[0])


def _points(points_xy: NDArray[np.float64], *, at_least: int) -> NDArray[np.float64]:
    points = np.asarray(points_xy, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < at_least:
        msg = f"points must have shape (N >= {at_least}, 2), got {points.shape}"
        raise ValueError(msg)
    return points
