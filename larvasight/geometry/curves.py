"""Length, circle and swept angle of many lines at once, all of the same number of points."""

import numpy as np
from numpy.typing import NDArray

Lines = NDArray[np.float64]

CURL_MAX_DEG = 400.0

_SWEEP_POINTS = 64
_ROUNDS_MOST = 20
_STEP_LEAST = 1e-10
_DISTANCE_LEAST = 1e-12
# Points are flat to this share of their spread, squared, where no circle is fitted; radii beyond
# the second, in units of the spread, are not made finer.
_FLAT_SHARE2 = 1e-15
_RADIUS_MOST = 1e3
# Keeps a step defined where all points lie in one direction from the centre.
_STEP_HOLD = 1e-12


def line_lengths(lines_xy: Lines) -> NDArray[np.float64]:
    """Return the arc lengths of lines of shape (B, N, 2), shape (B,), unit of the points."""
    return np.asarray(_norms(np.diff(lines_xy, axis=1)).sum(axis=1))


def resample_lines(lines_xy: Lines, n_points: int) -> Lines:
    """Return ``n_points`` spaced evenly along each line.

    Parameters
    ----------
    lines_xy : ndarray of shape (B, N, 2)
        Points along the lines; a shorter line repeats its last point.
    n_points : int
        Number of points wanted; >= 2.

    Returns
    -------
    ndarray of shape (B, n_points, 2), float64
        Points from the first to the last point of each line.
    """
    n_lines, n = lines_xy.shape[:2]
    along = np.zeros((n_lines, n))
    np.cumsum(_norms(np.diff(lines_xy, axis=1)), axis=1, out=along[:, 1:])
    total = along[:, -1:]
    wanted = total * np.linspace(0.0, 1.0, n_points)
    # One search for all lines: each is moved beyond the end of the one before it.
    apart = np.arange(n_lines)[:, None] * (2.0 * float(total.max(initial=0.0)) + 1.0)
    after = np.searchsorted((along + apart).ravel(), (wanted + apart).ravel(), side="right")
    begins = n * np.arange(n_lines)[:, None]
    first = begins + np.clip(after.reshape(wanted.shape) - begins - 1, 0, n - 2)
    start = along.ravel()[first]
    length = along.ravel()[first + 1] - start
    share = np.clip((wanted - start) / np.where(length > 0.0, length, 1.0), 0.0, 1.0)
    flat = lines_xy.reshape(-1, 2)
    low = flat[first]
    points = low + share[..., None] * (flat[first + 1] - low)
    points[:, -1] = lines_xy[:, -1]
    return np.asarray(points)


def _norms(steps: Lines) -> Lines:
    """Return lengths of steps (..., 2); a third of the time of numpy's hypot."""
    x, y = steps[..., 0], steps[..., 1]
    return np.sqrt(x * x + y * y)


def fit_circles(lines_xy: Lines) -> tuple[Lines, NDArray[np.float64]]:
    """Return centres (B, 2) and radii (B,) of the least-squares circles through each line's points.

    The algebraic fit of Kasa, followed by Gauss-Newton steps on the distances.

    Parameters
    ----------
    lines_xy : ndarray of shape (B, N, 2)
        Points ``(x, y)``; N >= 3.

    Returns
    -------
    centres_xy : ndarray of shape (B, 2)
        Infinite for points on a straight line.
    radii : ndarray of shape (B,)
        Infinite for points on a straight line, 0 where all points are one.

    References
    ----------
    .. [1] I. Kasa, "A circle fitting procedure and its error analysis", IEEE Trans.
       Instrum. Meas. 25 (1976) 8-14.
    """
    mean = lines_xy.mean(axis=1)
    scale = np.abs(lines_xy - mean[:, None]).max(axis=(1, 2))
    local = (lines_xy - mean[:, None]) / np.where(scale > 0.0, scale, 1.0)[:, None, None]
    design = np.concatenate([2.0 * local, np.ones((*local.shape[:2], 1))], axis=2)
    normal = design.transpose(0, 2, 1) @ design
    spread = np.linalg.eigvalsh(normal)
    is_flat = spread[:, 0] <= _FLAT_SHARE2 * spread[:, -1]
    normal[is_flat] = np.eye(3)
    right = design.transpose(0, 2, 1) @ (local**2).sum(axis=2)[..., None]
    solution = np.linalg.solve(normal, right)[..., 0]
    centres = solution[:, :2]
    radii = np.sqrt(np.maximum(solution[:, 2] + (centres**2).sum(axis=1), 0.0))
    _make_finer(local, centres, radii, ~is_flat)
    centres = centres * scale[:, None] + mean
    radii = radii * scale
    centres[is_flat], radii[is_flat] = np.inf, np.inf
    is_point = scale == 0.0
    centres[is_point], radii[is_point] = mean[is_point], 0.0
    return centres, radii


def _make_finer(
    local: Lines, centres: Lines, radii: NDArray[np.float64], wanted: NDArray[np.bool_]
) -> None:
    """Change centres and radii to those with the least squares of the distances."""
    active = np.nonzero(wanted)[0]
    for _ in range(_ROUNDS_MOST):
        offset = local[active] - centres[active, None]
        distance = _norms(offset)
        good = (distance.min(axis=1, initial=np.inf) >= _DISTANCE_LEAST) & (
            radii[active] <= _RADIUS_MOST
        )
        active, offset, distance = active[good], offset[good], distance[good]
        if not len(active):
            return
        jacobian = np.concatenate(
            [-offset / distance[..., None], -np.ones((*distance.shape, 1))], axis=2
        )
        turned = jacobian.transpose(0, 2, 1)
        apart = radii[active, None] - distance
        normal = turned @ jacobian + _STEP_HOLD * np.eye(3)
        step = np.linalg.solve(normal, turned @ apart[..., None])[..., 0]
        centres[active] += step[:, :2]
        radii[active] += step[:, 2]
        active = active[np.abs(step).max(axis=1) >= _STEP_LEAST]


def unwrapped_rad(angles_rad: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return angles (B, N) along rows with whole turns added so that none jumps by over a half.

    This is numpy's unwrap in less than half of its time.
    """
    turns = np.rint(np.diff(angles_rad, axis=1) / (2.0 * np.pi))
    whole = angles_rad.copy()
    whole[:, 1:] -= 2.0 * np.pi * np.cumsum(turns, axis=1)
    return whole


def swept_angles_deg(lines_xy: Lines) -> NDArray[np.float64]:
    """Return the angle that each line spans seen from its least-squares circle's centre.

    Parameters
    ----------
    lines_xy : ndarray of shape (B, N, 2)
        Points along the lines from tip to tip; N >= 3.

    Returns
    -------
    ndarray of shape (B,)
        Degrees, in [0, 400].
    """
    points = resample_lines(lines_xy, _SWEEP_POINTS)
    centres, radii = fit_circles(points)
    is_bent = np.isfinite(radii) & (radii > 0.0)
    offset = points - np.where(is_bent[:, None], centres, 0.0)[:, None]
    angles_rad = unwrapped_rad(np.arctan2(offset[..., 1], offset[..., 0]))
    swept_deg = np.minimum(np.abs(np.degrees(angles_rad[:, -1] - angles_rad[:, 0])), CURL_MAX_DEG)
    return np.where(is_bent, swept_deg, 0.0)
