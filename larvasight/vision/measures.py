"""Length, width, area and curl of one found body, always from its geometry."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import midline_length, swept_angle_deg
from larvasight.vision.midline import N_MIDLINE, find_midline, sample_map
from larvasight.vision.parsed import ParsedCell

_INSIDE = 0.5
# What looks this much like body without belonging to the one measured speaks against it.
_STRAY = 0.2
# A body smaller than this many crop px is dust or a guess: a hatching larva covers about 170.
_BODY_LEAST_PX2 = 60.0
# Length of a closed ring over the radius of its disc: derived for a body four times as long as
# wide that sweeps a full turn and whose tapered ends dent the disc a little.
_LENGTH_OVER_DISC = 3.72
_RING_SWEEP_RAD = math.radians(365.0)
_RING_OVER_DISC = 0.58
# A body this round and this little dented shows no gap between its ends, whatever its middle
# line says; a C of 300 degrees is dented more.
_DISC_ROUND = 0.8
_DISC_SOLID = 0.93
_OUTLINE_ZOOM = 4
_WIDTH_REACH_PX = 30.0
_WIDTH_STEP_PX = 0.25


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
    """Measure the body in one parsed cell.

    Parameters
    ----------
    parsed : ParsedCell
        Maps of the cell.

    Returns
    -------
    BodyMeasure or None
        None when no body, or no line through it, is found.
    """
    body = largest_part(parsed.body)
    area_px2 = float(body.sum())
    if area_px2 < _BODY_LEAST_PX2:
        return None
    outline = outline_of(body)
    midline = find_midline(body, parsed.line)
    if midline is None or len(outline) < 3:
        return None
    points, curl_deg = midline.points_xy_px, math.nan
    width_px, length_px = _width(points, body), midline_length(points)
    is_closed = midline.is_closed or _is_disc(outline)
    if is_closed:
        length_px, width_px, points = _closed_ring(outline)
    else:
        curl_deg = swept_angle_deg(points)
    return BodyMeasure(
        length_px=length_px,
        width_px=width_px,
        area_px2=area_px2,
        curl_deg=curl_deg,
        visible_share=_visible_share(body, parsed.seen),
        faint=1.0 - float(sample_map(parsed.line, midline.points_xy_px).mean()),
        stray=float(((parsed.body > _STRAY) & (body <= _STRAY)).sum()) / area_px2,
        is_closed=is_closed,
        midline_xy_px=points,
        outline_xy_px=outline,
    )


def largest_part(chance: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return a map of chances with everything but its largest connected part set to 0."""
    sure = (chance > _INSIDE).astype(np.uint8)
    n_parts, labels, stats, _ = cv2.connectedComponentsWithStats(sure, connectivity=8)
    if n_parts < 2:
        return np.zeros_like(chance)
    part = (labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))).astype(np.uint8)
    rim = np.asarray(cv2.dilate(part, np.ones((5, 5), np.uint8)), dtype=np.float32)
    return chance * rim


def outline_of(body: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the outer outline of a map at one half, crop px, shape (M, 2); M is 0 without one."""
    size = (body.shape[1] * _OUTLINE_ZOOM, body.shape[0] * _OUTLINE_ZOOM)
    fine = (cv2.resize(body, size, interpolation=cv2.INTER_LINEAR) > _INSIDE).astype(np.uint8)
    contours, _ = cv2.findContours(fine, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        return np.empty((0, 2))
    points = max(contours, key=len).reshape(-1, 2).astype(np.float64)
    coarse = (points[:: 2 * _OUTLINE_ZOOM // 2] + 0.5) / _OUTLINE_ZOOM - 0.5
    return np.asarray(coarse)


def _width(midline_xy: NDArray[np.float64], body: NDArray[np.float32]) -> float:
    """Return the largest width across the midline, from the half-chance edges on both sides."""
    steps = np.gradient(midline_xy, axis=0)
    across = np.column_stack([-steps[:, 1], steps[:, 0]]) / np.hypot(*steps.T)[:, None]
    reach = np.arange(_WIDTH_STEP_PX, _WIDTH_REACH_PX, _WIDTH_STEP_PX)
    halves = []
    for side in (-1.0, 1.0):
        track = midline_xy[:, None, :] + side * reach[None, :, None] * across[:, None, :]
        inside = sample_map(body, track.reshape(-1, 2)).reshape(len(midline_xy), -1) > _INSIDE
        left = np.where(inside.all(axis=1), len(reach), np.argmin(inside, axis=1))
        halves.append(left * _WIDTH_STEP_PX)
    # The outer half is never merged with another part of the ring, the inner one may be.
    outer, inner = sorted(halves, key=lambda half: float(np.median(half)))
    widths = outer + np.minimum(inner, outer * 1.25)
    middle = widths[N_MIDLINE // 5 : -N_MIDLINE // 5]
    return float(np.percentile(middle, 90.0))


def _is_disc(outline_xy: NDArray[np.float64]) -> bool:
    points = outline_xy.astype(np.float32)
    area_px2 = float(cv2.contourArea(points))
    _, radius_px = cv2.minEnclosingCircle(points)
    hull_px2 = float(cv2.contourArea(cv2.convexHull(points)))
    return area_px2 > _DISC_ROUND * math.pi * radius_px**2 and area_px2 > _DISC_SOLID * hull_px2


def _closed_ring(outline_xy: NDArray[np.float64]) -> tuple[float, float, NDArray[np.float64]]:
    """Return length, width and a midline of a closed disc from its outer diameter."""
    points = outline_xy.astype(np.float32)
    disc_px = math.sqrt(float(cv2.contourArea(points)) / math.pi)
    ring_px = _RING_OVER_DISC * disc_px
    angles = np.linspace(0.0, _RING_SWEEP_RAD, N_MIDLINE)
    ring = _middle(outline_xy) + ring_px * np.column_stack([np.cos(angles), np.sin(angles)])
    return _LENGTH_OVER_DISC * disc_px, 2.0 * (disc_px - ring_px), ring


def _middle(points_xy: NDArray[np.float64]) -> NDArray[np.float64]:
    moments = cv2.moments(points_xy.astype(np.float32))
    return np.array([moments["m10"], moments["m01"]]) / moments["m00"]


def _visible_share(body: NDArray[np.float32], seen: NDArray[np.float32]) -> float:
    return float(np.clip((np.minimum(seen, body)).sum() / max(float(body.sum()), 1e-6), 0.0, 1.0))
