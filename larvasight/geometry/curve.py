"""Length and swept angle of a body's midline; one function each for truth and measurement."""

import numpy as np
from numpy.typing import NDArray

CURL_MAX_DEG = 400.0


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
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


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
    points = _points(points_xy, at_least=3)
    mean = points.mean(axis=0)
    scale = float(np.abs(points - mean).max())
    if scale == 0.0:
        return (float(mean[0]), float(mean[1])), 0.0
    local = (points - mean) / scale
    design = np.column_stack([2.0 * local, np.ones(len(local))])
    solution, _, rank, singular = np.linalg.lstsq(design, (local**2).sum(axis=1), rcond=None)
    if rank < 3 or singular[-1] < 1e-9 * singular[0]:
        return (np.inf, np.inf), np.inf
    centre = solution[:2]
    radius = float(np.sqrt(solution[2] + centre @ centre))
    for _ in range(20):
        offset = local - centre
        distance = np.hypot(*offset.T)
        if distance.min() < 1e-12 or radius > 1e6:
            break
        jacobian = np.column_stack([-offset / distance[:, None], -np.ones(len(local))])
        step = np.linalg.lstsq(jacobian, -(distance - radius), rcond=None)[0]
        centre, radius = centre + step[:2], radius + float(step[2])
        if np.abs(step).max() < 1e-10:
            break
    centre_xy = centre * scale + mean
    return (float(centre_xy[0]), float(centre_xy[1])), radius * scale


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
    points = resample(_points(midline_xy, at_least=3), 64)
    centre, radius = fit_circle(points)
    if not np.isfinite(radius) or radius == 0.0:
        return 0.0
    angles_rad = np.unwrap(np.arctan2(points[:, 1] - centre[1], points[:, 0] - centre[0]))
    return float(min(abs(np.degrees(angles_rad[-1] - angles_rad[0])), CURL_MAX_DEG))


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
    points = _points(line_xy, at_least=2)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    wanted = np.linspace(0.0, along[-1], n_points)
    return np.column_stack([np.interp(wanted, along, points[:, axis]) for axis in (0, 1)])


def _points(points_xy: NDArray[np.float64], *, at_least: int) -> NDArray[np.float64]:
    points = np.asarray(points_xy, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < at_least:
        msg = f"points must have shape (N >= {at_least}, 2), got {points.shape}"
        raise ValueError(msg)
    return points
