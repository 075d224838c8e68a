"""Where rays meet a bent tube: its outline, height, surface slope and place along the body."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from larvasight.render.bodies import Tube

# Points compared at once: few enough for the cache, and for the matrix product to stay on one
# thread, since waking the others costs more than the product.
_CHUNK = 2048
# A tube whose axis rises by less than this lies flat.
_LEVEL_MOST_MM = 1e-6

Floats = NDArray[np.float64]
Plane = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class TubeField:
    """What rays see of a tube; every plane has the shape of the points asked for.

    ``inside_mm`` is the distance to the outline, positive inside; ``height_mm`` the
    height of the surface over the tube's plane and ``thick_mm`` half of what a ray
    passes through; ``nx, ny`` the unit normal's share across
    (away from the midline); ``tx, ty`` the direction along the body; ``along`` the place
    from head to tail; ``across`` -1 to 1 from one edge to the other.
    """

    inside_mm: Plane
    height_mm: Plane
    nx: Plane
    ny: Plane
    tx: Plane
    ty: Plane
    along: Plane
    across: Plane
    in_fill: NDArray[np.bool_]
    thick_mm: Plane


def squeeze(slope_xy: Floats) -> Floats:
    """Return the matrix that turns plane points into distances square to rays of a slope.

    A sphere seen along a slanting ray covers an ellipse of a plane of constant depth;
    after this matrix it is a circle again. Shape (2, 2).
    """
    square = float(slope_xy @ slope_xy)
    if square < 1e-12:
        return np.eye(2)
    shrink = 1.0 - 1.0 / np.sqrt(1.0 + square)
    return np.asarray(np.eye(2) - shrink * np.outer(slope_xy, slope_xy) / square)


def flat_midline(tube: Tube, slope_xy: Floats) -> Floats:
    """Return the midline moved along rays of a slope into the tube's plane, shape (N, 2)."""
    points = tube.midline_xyz_mm
    return np.asarray(points[:, :2] - (points[:, 2:3] - tube.depth_mm) * slope_xy)


def tube_field(tube: Tube, x: Plane, y: Plane, slope_xy: Floats) -> TubeField:
    """Return what rays see of a tube.

    Parameters
    ----------
    tube : Tube
        The body, in its cell's frame.
    x, y : ndarray, float32
        Where the rays cross the tube's plane, mm; any shape.
    slope_xy : ndarray of shape (2,)
        Slope of the rays, taken as the same for all of them.
    """
    matrix = squeeze(slope_xy)
    midline = (flat_midline(tube, slope_xy) @ matrix).astype(np.float32)
    m = matrix.astype(np.float32)
    u, v = (x * m[0, 0] + y * m[0, 1]).ravel(), (x * m[1, 0] + y * m[1, 1]).ravel()
    if np.ptp(tube.midline_xyz_mm[:, 2]) > _LEVEL_MOST_MM:
        planes = _balls(tube, matrix, slope_xy, u, v)
    elif tube.split:
        half = len(midline) // 2
        parts = [
            _part(tube, midline, u, v, slice(0, half + 1)),
            _part(tube, midline, u, v, slice(half, len(midline))),
        ]
        nearer = parts[1][0] > parts[0][0]
        planes = [np.where(nearer, b, a) for a, b in zip(*parts, strict=True)]
    else:
        planes = _part(tube, midline, u, v, slice(0, len(midline)))
    in_fill = np.zeros(u.shape, dtype=np.bool_)
    if tube.fill_mm > 0.0:
        planes, in_fill = _filled(
            tube, (np.array(tube.fill_xy_mm) @ matrix).astype(np.float32), u, v, planes
        )
    shape = x.shape
    inside, height, nx, ny, tx, ty, along, across, thick = (p.reshape(shape) for p in planes)
    return TubeField(inside, height, nx, ny, tx, ty, along, across, in_fill.reshape(shape), thick)


def _part(tube: Tube, midline: Plane, u: Plane, v: Plane, part: slice) -> list[Plane]:
    line, along = midline[part], tube.along[part].astype(np.float32)
    tangent = np.gradient(midline, axis=0)[part].astype(np.float32)
    length = np.maximum(np.hypot(tangent[:, 0], tangent[:, 1]), np.float32(1e-6))
    tangent /= length[:, None]
    nearest = _nearest(np.stack([u, v], axis=1), line)
    dx, dy = u - line[nearest, 0], v - line[nearest, 1]
    tx, ty = tangent[nearest, 0], tangent[nearest, 1]
    ahead, side = dx * tx + dy * ty, dy * tx - dx * ty
    last = len(line) - 1
    step = length[nearest]
    low = np.where(nearest == 0, np.float32(0.0), np.float32(-0.75)) * step
    high = np.where(nearest == last, np.float32(0.0), np.float32(0.75)) * step
    moved = np.clip(ahead, low, high)
    beyond = ahead - moved
    rate = np.gradient(tube.along).astype(np.float32)[part] / length
    place = np.clip(along[nearest] + moved * rate[nearest], 0.0, 1.0)
    distance = np.sqrt(side * side + beyond * beyond)
    radius = _radius_at(tube, place)
    reach = radius
    if tube.inner_mm > 0.0:
        extra = np.float32(tube.inner_mm / tube.radius_mm.max()) * radius
        reach = radius + np.where(side * np.float32(tube.hollow) > 0.0, extra, np.float32(0.0))
    share = np.minimum(distance / np.maximum(reach, np.float32(1e-3)), 1.0)
    height = radius * np.sqrt(1.0 - share * share)
    # Normal across the body, pointing away from the midline.
    inverse = share * radius / np.maximum(distance * reach, np.float32(1e-6))
    nx, ny = (-ty * side + tx * beyond) * inverse, (tx * side + ty * beyond) * inverse
    return [reach - distance, height, nx, ny, tx, ty, place, np.sign(side) * share, height]


def _balls(tube: Tube, matrix: Floats, slope_xy: Floats, u: Plane, v: Plane) -> list[Plane]:
    """See a tube that rises towards the viewer as the row of balls that touch its skin inside."""
    line, radius = _inner_balls(tube)
    flat = line[:, :2] - (line[:, 2:3] - tube.depth_mm) * slope_xy
    centre = (flat @ matrix).astype(np.float32)
    rise, size = (tube.depth_mm - line[:, 2]).astype(np.float32), radius.astype(np.float32)
    tangent = np.gradient(centre, axis=0)
    tangent /= np.maximum(np.hypot(tangent[:, 0], tangent[:, 1]), 1e-6)[:, None]
    square = (u[:, None] - centre[:, 0]) ** 2 + (v[:, None] - centre[:, 1]) ** 2
    inside = size - np.sqrt(square)
    top = np.where(
        inside > 0.0, rise + np.sqrt(np.maximum(size * size - square, 0.0)), inside - 9.0
    )
    first = top.argmax(axis=1)
    rows = np.arange(len(u))
    most = inside.max(axis=1)
    height = np.where(most > 0.0, top[rows, first], np.float32(0.0))
    reach = np.maximum(np.sqrt(square[rows, first]), size[first])
    nx, ny = (u - centre[first, 0]) / reach, (v - centre[first, 1]) / reach
    tx, ty = tangent[first, 0], tangent[first, 1]
    along, across = tube.along.astype(np.float32)[first], nx * -ty + ny * tx
    thick = np.sqrt(np.maximum(size[first] ** 2 - square[rows, first], 0.0))
    return [most, height, nx, ny, tx, ty, along, across, thick]


def _inner_balls(tube: Tube) -> tuple[Floats, Floats]:
    """Return middles (N, 3) and radii of balls whose hull is the tube, tips included.

    A tube of radius r(s) is the hull of balls of radius r sqrt(1 + r'^2) about s + r r'.
    """
    steps = np.sqrt((np.diff(tube.midline_xyz_mm, axis=0) ** 2).sum(axis=1))
    length_mm = float(steps.sum())
    at = np.linspace(0.0, 1.0, len(tube.radius_mm))
    table_along = 0.5 * (1.0 - np.cos(np.pi * at))
    square = tube.radius_mm.astype(np.float64) ** 2
    lean = 0.5 * np.gradient(square, table_along * length_mm, edge_order=1)
    moved = np.clip(table_along * length_mm + lean, 0.0, length_mm)
    wanted = np.linspace(0.0, 1.0, len(tube.along))
    moved = np.interp(wanted, at, moved)
    radius = np.interp(wanted, at, np.sqrt(square + lean * lean))
    along_mm = np.concatenate([[0.0], np.cumsum(steps)])
    line = tube.midline_xyz_mm
    points = np.column_stack([np.interp(moved, along_mm, line[:, axis]) for axis in range(3)])
    return points, radius


def _nearest(points: Plane, line: Plane) -> NDArray[np.intp]:
    """Return which point of a line is nearest to each of some points, shape (N,)."""
    twice, square = -2.0 * line.T, (line * line).sum(axis=1)
    nearest = np.empty(len(points), dtype=np.intp)
    for start in range(0, len(points), _CHUNK):
        # |p|^2 is the same for all points of the line, so it is left out.
        score = points[start : start + _CHUNK] @ twice
        score += square
        nearest[start : start + _CHUNK] = score.argmin(axis=1)
    return nearest


def _radius_at(tube: Tube, along: Plane) -> Plane:
    table = tube.radius_mm
    at = np.arccos(1.0 - 2.0 * along) * np.float32((len(table) - 1) / np.pi)
    low = np.minimum(at.astype(np.int32), len(table) - 2)
    part = at - low.astype(np.float32)
    return np.asarray(table[low] * (1.0 - part) + table[low + 1] * part)


def _filled(
    tube: Tube, centre: Plane, u: Plane, v: Plane, planes: list[Plane]
) -> tuple[list[Plane], NDArray[np.bool_]]:
    """Close the hole of a ring: a shallow dimple joins its inner flanks."""
    du, dv = u - centre[0], v - centre[1]
    radius = np.sqrt(du * du + dv * dv)
    inside, height, nx, ny, tx, ty, along, across, _ = planes
    thick = np.float32(tube.radius_mm.max())
    dimple = thick * (
        np.float32(0.30) + np.float32(0.45) * (radius / np.float32(tube.fill_mm)) ** 2
    )
    within = np.float32(tube.fill_mm) - radius
    lower = (within > 0.0) & (dimple > np.where(inside > 0.0, height, np.float32(-1.0)))
    inward = (
        np.float32(-0.55)
        / np.maximum(radius, np.float32(0.05))
        * np.minimum(radius / np.float32(tube.fill_mm), 1.0)
    )
    return [
        np.maximum(inside, within),
        np.where(lower, dimple, height),
        np.where(lower, du * inward, nx),
        np.where(lower, dv * inward, ny),
        tx,
        ty,
        along,
        across,
        np.where(lower, dimple, height),
    ], lower
