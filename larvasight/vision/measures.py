"""Length, width, area and curl of one found body, always from its geometry."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry.curves import line_lengths, swept_angles_deg
from larvasight.vision.midline import N_MIDLINE, Midline, find_midlines, sample_map
from larvasight.vision.parsed import ParsedCell

_INSIDE = 0.5
# What looks this much like body without belonging to the one measured speaks against it.
_STRAY = 0.2
# A body smaller than this many crop px is dust or a guess: a hatching larva covers about 170.
_BODY_LEAST_PX2 = 60.0
# Length of a closed ring over the radius of its disc: 3.72 is derived for a body four times as long
# as wide that sweeps a full turn and whose tapered ends dent the disc a little; the parser finds
# discs 1.7 % too small (median of 541 on drawn comb that neither trained nor judges it).
_LENGTH_OVER_DISC = 3.72 * 1.017
_RING_SWEEP_RAD = math.radians(365.0)
_RING_OVER_DISC = 0.58
# A body this round and this little dented shows no gap between its ends, whatever its middle
# line says; a C of 300 degrees is dented more.
_DISC_ROUND = 0.8
_DISC_SOLID = 0.93
_OUTLINE_ZOOM = 4
_WIDTH_REACH_PX = 30.0
_WIDTH_STEP_PX = 0.25
# So many bodies are measured together; more need more memory and are no faster.
_AT_ONCE = 256


def _ring() -> NDArray[np.float64]:
    """Points of a closed ring of radius 1, shape (N_MIDLINE, 2)."""
    angles = np.linspace(0.0, _RING_SWEEP_RAD, N_MIDLINE)
    return np.column_stack([np.cos(angles), np.sin(angles)])


_RING = _ring()
_RIM = np.ones((5, 5), np.uint8)


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyMeasure:
    """One body in crop px.

    ``curl_deg`` is NaN for a closed disc. ``midline_xy_px`` has shape (N, 2), tip to tip;
    ``outline_xy_px`` shape (M, 2). ``faint`` says how weakly the middle line shows, 0 surely to
    1 not at all; ``stray`` how much else looks like body, as a share of its area.
    """

    length_px: float
    width_px: float
    area_px2: float
    curl_deg: float
    visible_share: float
    faint: float
    stray: float
    is_closed: bool
    midline_xy_px: NDArray[np.float64]
    outline_xy_px: NDArray[np.float64]


def measure_body(parsed: ParsedCell) -> BodyMeasure | None:
    """Measure the body in one parsed cell; see `measure_bodies`."""
    return measure_bodies([parsed])[0]


def measure_bodies(parsed: Sequence[ParsedCell]) -> list[BodyMeasure | None]:
    """Measure the bodies in parsed cells; many at once take a fifth of the time of each alone.

    Parameters
    ----------
    parsed : sequence of ParsedCell
        Maps of the cells, all of one size.

    Returns
    -------
    list of BodyMeasure or None
        One for each cell; None where no body, or no line through it, is found.
    """
    found: list[BodyMeasure | None] = []
    for first in range(0, len(parsed), _AT_ONCE):
        found += _measure_some(parsed[first : first + _AT_ONCE])
    return found


def _measure_some(parsed: Sequence[ParsedCell]) -> list[BodyMeasure | None]:
    found: list[BodyMeasure | None] = [None] * len(parsed)
    outlined = {i: one for i, cell in enumerate(parsed) if (one := _outlined(cell)) is not None}
    midlines = find_midlines(
        [one.body for one in outlined.values()],
        [parsed[i].line for i in outlined],
    )
    lined = {i: line for i, line in zip(outlined, midlines, strict=True) if line is not None}
    is_open = [i for i, line in lined.items() if not (line.is_closed or outlined[i].is_disc)]
    shapes = dict(zip(is_open, _shapes([(lined[i], outlined[i]) for i in is_open]), strict=True))
    for i, line in lined.items():
        shape = shapes.get(i) or _closed_ring(outlined[i].outline_xy_px)
        found[i] = _measured(parsed[i], outlined[i], line, shape)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Outlined:
    """A body alone, with its area and outline, crop px."""

    body: NDArray[np.float32]
    area_px2: float
    outline_xy_px: NDArray[np.float64]
    is_disc: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """Length, width and curl of a body with the midline that they are of, crop px."""

    length_px: float
    width_px: float
    curl_deg: float
    midline_xy_px: NDArray[np.float64]


def _outlined(parsed: ParsedCell) -> _Outlined | None:
    body = largest_part(parsed.body)
    area_px2 = float(body.sum())
    if area_px2 < _BODY_LEAST_PX2:
        return None
    outline = outline_of(body)
    if len(outline) < 3:
        return None
    return _Outlined(body=body, area_px2=area_px2, outline_xy_px=outline, is_disc=_is_disc(outline))


def _shapes(open_ones: Sequence[tuple[Midline, _Outlined]]) -> list[_Shape]:
    """Return the shapes of bodies that are no closed rings."""
    if not open_ones:
        return []
    points = np.stack([line.points_xy_px for line, _ in open_ones])
    widths = _widths(points, [outlined.body for _, outlined in open_ones])
    rows = zip(line_lengths(points), widths, swept_angles_deg(points), points, strict=True)
    return [
        _Shape(
            length_px=float(length),
            width_px=float(width),
            curl_deg=float(curl),
            midline_xy_px=line,
        )
        for length, width, curl, line in rows
    ]


def _measured(
    parsed: ParsedCell, outlined: _Outlined, midline: Midline, shape: _Shape
) -> BodyMeasure:
    body = outlined.body
    x, y = midline.points_xy_px.T
    on_line = sample_map(parsed.line, x[None], y[None])
    stray = (parsed.body > _STRAY) & (body <= _STRAY)
    return BodyMeasure(
        length_px=shape.length_px,
        width_px=shape.width_px,
        area_px2=outlined.area_px2,
        curl_deg=shape.curl_deg,
        visible_share=_visible_share(body, parsed.seen, outlined.area_px2),
        faint=1.0 - float(on_line.mean()),
        stray=cv2.countNonZero(stray.view(np.uint8)) / outlined.area_px2,
        is_closed=math.isnan(shape.curl_deg),
        midline_xy_px=shape.midline_xy_px,
        outline_xy_px=outlined.outline_xy_px,
    )


def largest_part(chance: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return a map of chances with everything but its largest connected part set to 0."""
    only = np.zeros_like(chance)
    sure = (chance > _INSIDE).view(np.uint8)
    x, y, width, height = cv2.boundingRect(sure)
    if width == 0:
        return only
    near = _window((x, y, width, height), 2, chance.shape)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(sure[near], connectivity=8)
    part = (labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))).view(np.uint8)
    rim = cv2.dilate(part, _RIM)
    only[near] = np.where(rim > 0, chance[near], np.float32(0.0))
    return only


def outline_of(body: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the outer outline of a map at one half, crop px, shape (M, 2); M is 0 without one."""
    box = cv2.boundingRect((body > _INSIDE).view(np.uint8))
    if box[2] == 0:
        return np.empty((0, 2))
    # A px beyond the edge the map still counts in between, and one more changes nothing.
    near = _window(box, 2, body.shape)
    part = body[near]
    size = (part.shape[1] * _OUTLINE_ZOOM, part.shape[0] * _OUTLINE_ZOOM)
    fine = (cv2.resize(part, size, interpolation=cv2.INTER_LINEAR) > _INSIDE).view(np.uint8)
    contours, _ = cv2.findContours(fine, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:  # one px, gone in between
        return np.empty((0, 2))
    points = max(contours, key=len).reshape(-1, 2)[:: 2 * _OUTLINE_ZOOM // 2]
    corner = np.array([near[1].start, near[0].start], dtype=np.float64)
    return np.asarray((points + 0.5) / _OUTLINE_ZOOM - 0.5 + corner)


def _window(box: Sequence[int], margin_px: int, shape: tuple[int, ...]) -> tuple[slice, slice]:
    """Return rows and columns of a box (x, y, width, height) and a margin inside of a map."""
    x, y, width, height = box
    return (
        slice(max(y - margin_px, 0), min(y + height + margin_px, shape[0])),
        slice(max(x - margin_px, 0), min(x + width + margin_px, shape[1])),
    )


def _widths(
    midlines_xy: NDArray[np.float64], bodies: Sequence[NDArray[np.float32]]
) -> NDArray[np.float64]:
    """Return the largest widths across midlines, from the half-chance edges on both sides."""
    steps = np.gradient(midlines_xy, axis=1)
    across = np.stack([-steps[..., 1], steps[..., 0]], axis=2)
    across /= np.maximum(np.hypot(across[..., 0], across[..., 1]), 1e-12)[..., None]
    reach = np.arange(_WIDTH_STEP_PX, _WIDTH_REACH_PX, _WIDTH_STEP_PX, dtype=np.float32)
    lines, ways = midlines_xy.astype(np.float32), across.astype(np.float32)
    halves = np.empty((len(bodies), 2, N_MIDLINE))
    for half, body, line, way in zip(halves, bodies, lines, ways, strict=True):
        # Nothing of a body is further from its midline than its box is long.
        _, _, wide, high = cv2.boundingRect((body > _INSIDE).view(np.uint8))
        n = min(len(reach), int(max(wide, high) / _WIDTH_STEP_PX) + 8)
        both = np.concatenate([reach[:n], -reach[:n]])
        x, y = (line[:, axis, None] + both * way[:, axis, None] for axis in (0, 1))
        inside = sample_map(body, x, y) > _INSIDE
        for side, one in enumerate((inside[:, n:], inside[:, :n])):
            half[side] = np.where(one.all(axis=1), n, np.argmin(one, axis=1))
    halves *= _WIDTH_STEP_PX
    # The outer half is never merged with another part of the ring, the inner one may be.
    middle = np.median(halves, axis=2)
    is_first = (middle[:, 0] <= middle[:, 1])[:, None]
    outer = np.where(is_first, halves[:, 0], halves[:, 1])
    inner = np.where(is_first, halves[:, 1], halves[:, 0])
    widths = outer + np.minimum(inner, outer * 1.25)
    return np.asarray(
        np.percentile(widths[:, N_MIDLINE // 5 : -N_MIDLINE // 5], 90.0, axis=1), np.float64
    )


def _is_disc(outline_xy: NDArray[np.float64]) -> bool:
    points = outline_xy.astype(np.float32)
    area_px2 = float(cv2.contourArea(points))
    hull = cv2.convexHull(points)
    if area_px2 <= _DISC_SOLID * float(cv2.contourArea(hull)):
        return False
    _, radius_px = cv2.minEnclosingCircle(hull)
    return area_px2 > _DISC_ROUND * math.pi * radius_px**2


def _closed_ring(outline_xy: NDArray[np.float64]) -> _Shape:
    """Return the shape of a closed disc, a ring without curl, from its outer diameter."""
    points = outline_xy.astype(np.float32)
    moments = cv2.moments(points)
    middle = np.array([moments["m10"], moments["m01"]]) / moments["m00"]
    disc_px = math.sqrt(float(cv2.contourArea(points)) / math.pi)
    ring_px = _RING_OVER_DISC * disc_px
    return _Shape(
        length_px=_LENGTH_OVER_DISC * disc_px,
        width_px=2.0 * (disc_px - ring_px),
        curl_deg=math.nan,
        midline_xy_px=middle + ring_px * _RING,
    )


def _visible_share(body: NDArray[np.float32], seen: NDArray[np.float32], area_px2: float) -> float:
    both = float(np.minimum(seen, body).sum())
    return min(max(both / max(area_px2, 1e-6), 0.0), 1.0)
