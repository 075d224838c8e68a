"""From found bodies to their midlines, carried on to the tips along each body's circle."""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry.curves import fit_circles, resample_lines, unwrapped_rad
from larvasight.vision.parsed import INSIDE
from larvasight.vision.thinning import Mask, thin_paths

Map = NDArray[np.float32]
Points = NDArray[np.float64]
Counts = NDArray[np.int64]

# The maps are read at this many times their size, so that the skeleton's grid is fine.
_ZOOM = 2
# Tips are carried on a little into the unsure edge: where a body ends, its chance fades early.
_TIP = 0.3
_LINE_SURE = 0.5
_LINE_FAINT = 0.1
_LINE_LEAST_PX = 5
_PATH_POINTS = 48
# The last part of a line, points of it, tells how it goes on: 35 % of them.
_END_POINTS = 16
_STEP_PX = 0.25
# So many steps carry nearly all lines to their tips; the others are given more.
_STEPS_FEW = 64
_STEPS_MOST = 256
# A line is straight where its circle's radius is this many times its extent.
_STRAIGHT_RADII = 10.0
N_MIDLINE = 33


@dataclass(frozen=True, slots=True, kw_only=True)
class Midline:
    """A body's midline in crop px.

    ``points_xy_px`` has shape (N_MIDLINE, 2), tip to tip. ``is_closed`` means that the line
    runs into itself: no gap between the ends could be seen.
    """

    points_xy_px: Points
    is_closed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Broad:
    """The sure part of a line map, enlarged, and where its corner lies, crop px."""

    mask: Mask
    corner_xy: tuple[float, float]
    is_closed: bool


def begin_midlines(
    bodies: Sequence[Map], lines: Sequence[Map], pool: Executor
) -> Callable[[], list[Midline | None]]:
    """Begin to find the midlines of several bodies; what is returned ends it.

    The middle of each line map is thinned to a path, smoothed as a radius about the body's
    circle, and carried on along the circle until it leaves the body at both tips: a thinned
    line alone ends short of blunt tips and misses about 20 degrees of a young larva's curl.

    Parameters
    ----------
    bodies : sequence of ndarray of shape (H, W), float32
        Chance that a point belongs to the body, 0-1.
    lines : sequence of ndarray of shape (H, W), float32
        Chance that a point lies on the middle of the body, 0-1.
    pool : Executor
        Its threads thin the lines meanwhile.

    Returns
    -------
    callable
        Waits for the thinning and returns the midlines, each px of its map; None where no line
        of at least a few px is found.
    """
    broad = [_broad_line(body, line) for body, line in zip(bodies, lines, strict=True)]
    thin = pool.submit(thin_paths, [one.mask for one in broad if one is not None])
    return lambda: _midlines(bodies, broad, thin.result())


def _midlines(
    bodies: Sequence[Map], broad: Sequence[_Broad | None], thin: Sequence[NDArray[np.int64]]
) -> list[Midline | None]:
    found: list[Midline | None] = [None] * len(bodies)
    paths = _paths(broad, thin)
    kept = [i for i, path in enumerate(paths) if path is not None]
    if not kept:
        return found
    smooth = _smooth(resample_lines(_padded([p for p in paths if p is not None]), _PATH_POINTS))
    is_closed = np.array([one is not None and one.is_closed for one in broad])[kept]
    whole = list(smooth)
    is_open = np.flatnonzero(~is_closed)
    carried = _carried_on(smooth[is_open], [bodies[kept[k]] for k in is_open])
    for k, line in zip(is_open.tolist(), carried, strict=True):
        whole[k] = line
    for k, points in enumerate(resample_lines(_padded(whole), N_MIDLINE)):
        found[kept[k]] = Midline(points_xy_px=points, is_closed=bool(is_closed[k]))
    return found


def sample_map(values: Map, x: NDArray[np.floating], y: NDArray[np.floating]) -> Map:
    """Return a map's bilinear values at places ``x, y``, px, shape (M, N); 0 outside."""
    x, y = np.ascontiguousarray(x, np.float32), np.ascontiguousarray(y, np.float32)
    out = cv2.remap(values, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    return np.asarray(out, dtype=np.float32)


def count_inside(body: Map, x: NDArray[np.float32], y: NDArray[np.float32], level: float) -> Counts:
    """Return how many points of each track lie inside of a body before the first that does not.

    Parameters
    ----------
    body : ndarray of shape (H, W), float32
        Chance that a point belongs to the body, 0-1.
    x, y : ndarray of shape (..., N), float32
        Tracks of N points, px.
    level : float
        Chance above which a point is inside.

    Returns
    -------
    ndarray of shape (...), int64
        0 to N.
    """
    n = x.shape[-1]
    chance = sample_map(body, x.reshape(-1, n), y.reshape(-1, n))
    inside = chance.reshape(x.shape) > level
    first_out = inside.argmin(axis=-1)
    return np.asarray(np.where(inside[..., 0] & (first_out == 0), n, first_out), np.int64)


def _broad_line(body: Map, line: Map) -> _Broad | None:
    inside = line * (body > INSIDE)
    top = float(inside.max(initial=0.0))
    shows = (inside > _LINE_FAINT).view(np.uint8)
    if top < _LINE_FAINT or cv2.countNonZero(shows) < _LINE_LEAST_PX:
        return None
    left, upper, width, height = cv2.boundingRect(shows)
    left, width = max(left - 2, 0), width + 2 + min(left, 2)
    upper, height = max(upper - 2, 0), height + 2 + min(upper, 2)
    window = inside[upper : upper + height, left : left + width]
    size = (window.shape[1] * _ZOOM, window.shape[0] * _ZOOM)
    fine = cv2.resize(window, size, interpolation=cv2.INTER_LINEAR)
    sure = (fine > min(_LINE_SURE, 0.6 * top)).view(np.uint8)
    mask, corner_xy = _boxed(sure.view(bool), cv2.boundingRect(sure))
    outlines, nested = cv2.findContours(sure, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    if not outlines:
        return None
    # Those without a parent go round a part, the others round a hole.
    if len(outlines) > 1 and int((nested[0, :, 3] < 0).sum()) > 1:
        mask, corner_xy = _largest(sure)
        outlines, _ = cv2.findContours(
            mask.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE
        )
    x0, y0 = corner_xy
    return _Broad(
        mask=mask,
        corner_xy=(left + (x0 + 0.5) / _ZOOM - 0.5, upper + (y0 + 0.5) / _ZOOM - 0.5),
        is_closed=len(outlines) > 1,
    )


def _largest(sure: NDArray[np.uint8]) -> tuple[Mask, tuple[int, int]]:
    """Return the largest connected part with a px around it, and its corner, (x, y)."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(sure, connectivity=8)
    largest = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    return _boxed(labels == largest, stats[largest, : cv2.CC_STAT_AREA].tolist())


def _boxed(mask: Mask, box: Sequence[int]) -> tuple[Mask, tuple[int, int]]:
    """Return what lies in a box (x, y, width, height) and 1 px around it, and its corner (x, y)."""
    x, y, wide, high = box
    x0, y0 = max(x - 1, 0), max(y - 1, 0)
    return mask[y0 : y + high + 1, x0 : x + wide + 1], (x0, y0)


def _paths(
    broad: Sequence[_Broad | None], thin: Sequence[NDArray[np.int64]]
) -> list[Points | None]:
    """Return the middle of each broad line, crop px; None where it is too short."""
    thinned = iter(thin)
    paths: list[Points | None] = []
    for one in broad:
        path = None if one is None else _trimmed(next(thinned), one)
        if one is None or path is None or len(path) < _LINE_LEAST_PX * _ZOOM:
            paths.append(None)
        else:
            paths.append(path[:, ::-1] / _ZOOM + np.array(one.corner_xy))
    return paths


def _trimmed(path_rc: NDArray[np.int64], line: _Broad) -> NDArray[np.int64]:
    """Return a thinned path without its ends, which run into corners of a broad line."""
    if line.is_closed:
        return path_rc
    depth = cv2.distanceTransform(line.mask.view(np.uint8), cv2.DIST_L2, 5)
    half_px = _median(np.asarray(depth, np.float32)[path_rc[:, 0], path_rc[:, 1]])
    cut = min(round(half_px), (len(path_rc) - _LINE_LEAST_PX) // 2)
    return path_rc[cut : len(path_rc) - cut] if cut > 0 else path_rc


def _median(values: NDArray[np.float32]) -> float:
    """Return the median; for a few hundred values this takes half of the time of numpy's."""
    middle = [(len(values) - 1) // 2, len(values) // 2]
    return float(np.partition(values, middle)[middle].mean(dtype=np.float64))


def _padded(lines: Sequence[Points]) -> Points:
    """Return lines of any length as one array, the last point of shorter ones repeated."""
    most = max(len(line) for line in lines)
    padded = np.empty((len(lines), most, 2))
    for row, line in zip(padded, lines, strict=True):
        row[: len(line)] = line
        row[len(line) :] = line[-1]
    return padded


def _smooth(points: Points) -> Points:
    """Return paths (B, N, 2) as a cubic radius about each one's circle, or as a cubic."""
    centres, radii = fit_circles(points)
    is_straight = ~(radii <= _STRAIGHT_RADII * (np.ptp(points, axis=1).max(axis=1) + 1.0))
    local = points - np.where(is_straight[:, None], 0.0, centres)[:, None]
    angles = unwrapped_rad(np.arctan2(local[..., 1], local[..., 0]))
    first, last = angles[:, :1], angles[:, -1:]
    turns_back = np.any(np.diff(angles, axis=1) * np.sign(last - first) <= 0.0, axis=1)
    even = first + (last - first) * np.linspace(0.0, 1.0, points.shape[1])
    order = np.where(turns_back[:, None], even, angles)
    reach = np.maximum(np.ptp(order, axis=1), 1e-6)[:, None]
    span = (order - order.mean(axis=1, keepdims=True)) / reach
    reach_px = _cubic(span, np.hypot(local[..., 0], local[..., 1])[..., None])
    bent = centres[:, None] + reach_px * np.stack([np.cos(order), np.sin(order)], axis=2)
    along = np.broadcast_to(np.linspace(-0.5, 0.5, points.shape[1]), span.shape)
    return np.where(is_straight[:, None, None], _cubic(along, points), bent)


def _cubic(at: Points, values: Points) -> Points:
    """Return values (B, N, K) evened out by a cubic of ``at`` (B, N)."""
    powers = np.stack([np.ones_like(at), at, at * at, at * at * at], axis=2)
    turned = powers.transpose(0, 2, 1)
    normal = turned @ powers + 1e-13 * np.eye(4)
    return np.asarray(powers @ np.linalg.solve(normal, turned @ values))


def _carried_on(lines_xy: Points, bodies: Sequence[Map]) -> list[Points]:
    """Return lines (B, N, 2) carried on at both ends to the tips of their bodies."""
    if not bodies:
        return []
    tips = _tips(lines_xy, bodies, _STEPS_FEW)
    far = [i for i, tip in enumerate(tips) if max(map(len, tip)) == _STEPS_FEW]
    if far:
        farther = _tips(lines_xy[far], [bodies[i] for i in far], _STEPS_MOST)
        for i, tip in zip(far, farther, strict=True):
            # A line that never leaves its body goes round a ring: no tip was found.
            tips[i] = [end[:0] if len(end) == _STEPS_MOST else end for end in tip]
    return [
        np.concatenate([head[::-1], line, tail])
        for line, (head, tail) in zip(lines_xy, tips, strict=True)
    ]


def _tips(lines_xy: Points, bodies: Sequence[Map], reach: int) -> list[list[Points]]:
    """Return what lies inside of each body beyond the first and the last point of its line."""
    tracks = np.stack([_tracks(lines_xy[:, ::-1], reach), _tracks(lines_xy, reach)], axis=1)
    x, y = (np.ascontiguousarray(tracks[..., axis], np.float32) for axis in (0, 1))
    tips = []
    for both, body, at_x, at_y in zip(tracks, bodies, x, y, strict=True):
        counts = count_inside(body, at_x, at_y, _TIP).tolist()
        tips.append([track[:count] for track, count in zip(both, counts, strict=True)])
    return tips


def _tracks(lines_xy: Points, reach: int) -> Points:
    """Return points (B, reach, 2) from each line's end on along the circle of its last part."""
    end = resample_lines(lines_xy, _PATH_POINTS)[:, -_END_POINTS:]
    steps = np.diff(end, axis=1)
    headings = unwrapped_rad(np.arctan2(steps[..., 1], steps[..., 0]))
    spacing = np.hypot(steps[..., 0], steps[..., 1]).mean(axis=1)
    middle = (headings.shape[1] - 1) / 2.0
    away = np.arange(headings.shape[1]) - middle
    mean = headings.mean(axis=1)
    turn = ((headings - mean[:, None]) @ away) / (away @ away * spacing)
    heading = mean + turn * spacing * middle
    along = _STEP_PX * (np.arange(1, reach + 1) - 0.5)
    mid = heading[:, None] + turn[:, None] * along
    steps = _STEP_PX * np.stack([np.cos(mid), np.sin(mid)], axis=2)
    return np.asarray(end[:, -1:] + np.cumsum(steps, axis=1))
