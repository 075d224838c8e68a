"""From the found body to its midline, carried on to the tips along the body's circle."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import fit_circle, resample

# The maps are read at this many times their size, so that the skeleton's grid is fine.
_ZOOM = 2
_INSIDE = 0.5
# Tips are carried on a little into the unsure edge: where a body ends, its chance fades early.
_TIP = 0.3
_LINE_SURE = 0.5
_LINE_FAINT = 0.1
_LINE_LEAST_PX = 5
_SMOOTH_DEGREE = 3
_END_SHARE = 0.35
N_MIDLINE = 33


@dataclass(frozen=True, slots=True, kw_only=True)
class Midline:
    """A body's midline in crop px.

    ``points_xy_px`` has shape (N_MIDLINE, 2), tip to tip. ``is_closed`` means that the line
    runs into itself: no gap between the ends could be seen.
    """

    points_xy_px: NDArray[np.float64]
    is_closed: bool


def find_midline(body: NDArray[np.float32], line: NDArray[np.float32]) -> Midline | None:
    """Return the midline of one body.

    The middle of the line map is thinned to a path, smoothed as a radius about the body's
    circle, and carried on along the circle until it leaves the body at both tips: a thinned
    line alone ends short of blunt tips and misses about 20 degrees of a young larva's curl.

    Parameters
    ----------
    body : ndarray of shape (H, W), float32
        Chance that a point belongs to the body, 0-1.
    line : ndarray of shape (H, W), float32
        Chance that a point lies on the middle of the body, 0-1.

    Returns
    -------
    Midline or None
        None when no line of at least a few px is found.
    """
    path, is_closed = _thin_path(body, line)
    if path is None or len(path) < _LINE_LEAST_PX * _ZOOM:
        return None
    smooth = _smooth(path)
    whole = smooth if is_closed else _carry_on(smooth, body)
    return Midline(points_xy_px=resample(whole, N_MIDLINE), is_closed=is_closed)


def sample_map(values: NDArray[np.float32], points_xy: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a map's bilinear values at points of shape (N, 2), px; 0 outside."""
    xy = points_xy.astype(np.float32)
    out = cv2.remap(
        values,
        xy[:, 0].reshape(-1, 1),
        xy[:, 1].reshape(-1, 1),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
    )
    return np.asarray(out, dtype=np.float64).ravel()


def _thin_path(
    body: NDArray[np.float32], line: NDArray[np.float32]
) -> tuple[NDArray[np.float64] | None, bool]:
    from skimage.morphology import skeletonize  # heavy: only when first needed

    inside = line * (body > _INSIDE)
    top = float(inside.max(initial=0.0))
    rows, cols = np.nonzero(inside > _LINE_FAINT)
    if top < _LINE_FAINT or len(rows) < _LINE_LEAST_PX:
        return None, False
    row, col = max(int(rows.min()) - 2, 0), max(int(cols.min()) - 2, 0)
    window = inside[row : int(rows.max()) + 3, col : int(cols.max()) + 3]
    size = (window.shape[1] * _ZOOM, window.shape[0] * _ZOOM)
    fine = cv2.resize(window, size, interpolation=cv2.INTER_LINEAR)
    sure = (fine > min(_LINE_SURE, 0.6 * top)).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(sure, connectivity=8)
    part = labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    thin = np.asarray(skeletonize(part), dtype=bool)
    path = _longest_path(thin)
    is_closed = _has_hole(part)
    if not is_closed:
        path = _trimmed(path, part)
    xy = (path[:, ::-1] + 0.5) / _ZOOM - 0.5
    return xy + np.array([col, row]), is_closed


def _trimmed(path_rc: NDArray[np.float64], part: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return a thinned path without its ends, which run into corners of a broad line."""
    depth = np.asarray(cv2.distanceTransform(part.astype(np.uint8), cv2.DIST_L2, 5))
    half_px = float(np.median(depth[path_rc[:, 0].astype(int), path_rc[:, 1].astype(int)]))
    cut = min(round(half_px), (len(path_rc) - _LINE_LEAST_PX) // 2)
    return path_rc[cut : len(path_rc) - cut] if cut > 0 else path_rc


def _has_hole(part: NDArray[np.bool_]) -> bool:
    outside = np.pad(~part, 1, constant_values=True).astype(np.uint8)
    return int(cv2.connectedComponents(outside, connectivity=4)[0]) > 2


def _longest_path(thin: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the longest of the shortest ways along a thinned line, shape (N, 2) as (row, col)."""
    from scipy.sparse import coo_matrix  # heavy: only when first needed
    from scipy.sparse.csgraph import dijkstra

    rows, cols = np.nonzero(thin)
    index = np.full(thin.shape, -1, dtype=np.int64)
    index[rows, cols] = np.arange(len(rows))
    starts, ends, lengths = [], [], []
    for d_row, d_col in ((0, 1), (1, 0), (1, 1), (1, -1)):
        r, c = rows + d_row, cols + d_col
        ok = (r < thin.shape[0]) & (c >= 0) & (c < thin.shape[1])
        other = np.where(
            ok, index[np.minimum(r, thin.shape[0] - 1), np.clip(c, 0, thin.shape[1] - 1)], -1
        )
        hit = other >= 0
        starts.append(np.nonzero(hit)[0])
        ends.append(other[hit])
        lengths.append(np.full(int(hit.sum()), math.hypot(d_row, d_col)))
    graph = coo_matrix(
        (np.concatenate(lengths), (np.concatenate(starts), np.concatenate(ends))),
        shape=(len(rows), len(rows)),
    ).tocsr()
    first = _farthest(dijkstra(graph, directed=False, indices=0))
    away, before = dijkstra(graph, directed=False, indices=first, return_predecessors=True)
    at, way = _farthest(away), []
    while at >= 0:
        way.append(at)
        at = int(before[at])
    return np.column_stack([rows[way], cols[way]]).astype(np.float64)


def _farthest(distances: NDArray[np.float64]) -> int:
    return int(np.argmax(np.where(np.isfinite(distances), distances, -1.0)))


def _smooth(path_xy: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the path as a cubic radius about its circle, or as it is when nearly straight."""
    points = resample(path_xy, 48)
    centre, radius = fit_circle(points)
    if not math.isfinite(radius) or radius > 10.0 * float(np.ptp(points, axis=0).max() + 1.0):
        return _smooth_straight(points)
    local = points - np.asarray(centre)
    angles = np.unwrap(np.arctan2(local[:, 1], local[:, 0]))
    if np.any(np.diff(angles) * np.sign(angles[-1] - angles[0]) <= 0.0):
        order = np.linspace(angles[0], angles[-1], len(angles))
    else:
        order = angles
    span = (order - order.mean()) / max(float(np.ptp(order)), 1e-6)
    radii = np.polyval(np.polyfit(span, np.hypot(*local.T), _SMOOTH_DEGREE), span)
    circle = np.column_stack([np.cos(order), np.sin(order)])
    return np.asarray(np.asarray(centre) + radii[:, None] * circle)


def _smooth_straight(points: NDArray[np.float64]) -> NDArray[np.float64]:
    along = np.linspace(-1.0, 1.0, len(points))
    return np.column_stack(
        [np.polyval(np.polyfit(along, points[:, axis], _SMOOTH_DEGREE), along) for axis in (0, 1)]
    )


def _carry_on(line_xy: NDArray[np.float64], body: NDArray[np.float32]) -> NDArray[np.float64]:
    head = _run_out(line_xy[::-1], body)
    tail = _run_out(line_xy, body)
    return np.concatenate([head[::-1], line_xy, tail])


def _run_out(line_xy: NDArray[np.float64], body: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return points from the end of a line on along the circle of its last part, to the tip."""
    points = resample(line_xy, 48)
    end = points[-max(8, int(len(points) * _END_SHARE)) :]
    steps = np.diff(end, axis=0)
    headings = np.unwrap(np.arctan2(steps[:, 1], steps[:, 0]))
    spacing = float(np.hypot(*steps.T).mean())
    turn = float(np.polyfit(np.arange(len(headings)) * spacing, headings, 1)[0])
    heading = float(headings.mean() + turn * spacing * (len(headings) - 1) / 2.0)
    step_px, reach = 0.25, int(0.5 * body.shape[0] / 0.25)
    along = step_px * np.arange(1, reach + 1)
    mid = heading + turn * (along - step_px / 2.0)
    track = points[-1] + step_px * np.cumsum(np.column_stack([np.cos(mid), np.sin(mid)]), axis=0)
    inside = sample_map(body, track) > _TIP
    n_inside = int(np.argmin(inside)) if not inside.all() else 0
    return np.asarray(track[:n_inside])
