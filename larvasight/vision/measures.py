"""Length, width, area and curl of one found body, always from its geometry."""

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry.curves import line_lengths, swept_angles_deg
from larvasight.vision.midline import N_MIDLINE, Midline, begin_midlines, sample_map
from larvasight.vision.outlines import begin_outlines, outline_alone
from larvasight.vision.parsed import INSIDE, ParsedCell
from larvasight.vision.widths import body_widths

# Bodies are so many times as large as their maps show them. Of larvae that neither trained nor
# judge the parser those drawn as it learned them were 1.003 times as large (mean of 624), composed
# ones 1.006 times (506), those drawn by rules that it never saw 1.037 times (610).
TIMES_AS_LARGE = 1.015
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
# Bodies are measured in up to so many shares, the first ones not below a least size: while the
# lines of one share are thinned the next is begun.
_SHARES = 4
_SHARE_LEAST = 64


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Alone:
    """A body alone in its window of the maps, and how much else looks like it."""

    body: NDArray[np.float32]
    window: tuple[slice, slice]
    area_px2: float
    stray_px2: int

    @property
    def corner_xy_px(self) -> NDArray[np.float64]:
        return _corner(self.window)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """Length, width and curl of a body with the midline that they are of, crop px."""

    length_px: float
    width_px: float
    curl_deg: float
    midline_xy_px: NDArray[np.float64]


def enlarged(body: BodyMeasure, times: float) -> BodyMeasure:
    """Return a body so many times as large about the middle of its outline; its curl stays."""
    middle = body.outline_xy_px.mean(axis=0)
    return replace(
        body,
        length_px=body.length_px * times,
        width_px=body.width_px * times,
        area_px2=body.area_px2 * times**2,
        midline_xy_px=middle + (body.midline_xy_px - middle) * times,
        outline_xy_px=middle + (body.outline_xy_px - middle) * times,
    )


def measure_body(parsed: ParsedCell) -> BodyMeasure | None:
    """Measure the body in one parsed cell; see `measure_bodies`."""
    return measure_bodies([parsed])[0]


def measure_bodies(parsed: Sequence[ParsedCell]) -> list[BodyMeasure | None]:
    """Measure the bodies in parsed cells; many at once take far less time than each alone.

    A second thread thins lines and traces outlines while this one does the rest.

    Parameters
    ----------
    parsed : sequence of ParsedCell
        Maps of the cells, all of one size.

    Returns
    -------
    list of BodyMeasure or None
        One for each cell; None where no body, or no line through it, is found.
    """
    n = max(math.ceil(len(parsed) / _SHARES), _SHARE_LEAST)
    with ThreadPoolExecutor(1) as pool:
        begun = [_begin(parsed[k : k + n], pool) for k in range(0, len(parsed), n)]
        return [one for end in begun for one in end()]


def _begin(parsed: Sequence[ParsedCell], pool: Executor) -> Callable[[], list[BodyMeasure | None]]:
    """Begin to measure; what is returned ends it."""
    alone = {i: one for i, cell in enumerate(parsed) if (one := _alone(cell)) is not None}
    bodies = [one.body for one in alone.values()]
    lines = [parsed[i].line[one.window] for i, one in alone.items()]
    midlines = begin_midlines(bodies, lines, pool)
    outlines = begin_outlines(bodies, pool)
    return lambda: _ended(parsed, alone, midlines(), outlines())


def _ended(
    parsed: Sequence[ParsedCell],
    alone: dict[int, _Alone],
    midlines: Sequence[Midline | None],
    outlines: Sequence[NDArray[np.float64]],
) -> list[BodyMeasure | None]:
    found: list[BodyMeasure | None] = [None] * len(parsed)
    lined = {
        i: (one, line, outline + one.corner_xy_px)
        for (i, one), line, outline in zip(alone.items(), midlines, outlines, strict=True)
        if line is not None and len(outline) >= 3
    }
    is_open = [
        i for i, (_, line, outline) in lined.items() if not (line.is_closed or is_disc(outline))
    ]
    shapes = dict(zip(is_open, _shapes([lined[i][:2] for i in is_open]), strict=True))
    for i, (one, line, outline) in lined.items():
        shape = shapes.get(i) or _closed_ring(outline)
        found[i] = _measured(parsed[i], one, line, outline, shape)
    return found


def _alone(parsed: ParsedCell) -> _Alone | None:
    window, body = _largest_alone(parsed.body)
    area_px2 = float(body.sum())
    if area_px2 < _BODY_LEAST_PX2:
        return None
    return _Alone(
        body=body,
        window=window,
        area_px2=area_px2,
        # Within the rim of the body its map is that of the cell, elsewhere it is 0.
        stray_px2=_count_above(parsed.body, _STRAY) - _count_above(body, _STRAY),
    )


def _shapes(open_ones: Sequence[tuple[_Alone, Midline]]) -> list[_Shape]:
    """Return the shapes of bodies that are no closed rings."""
    if not open_ones:
        return []
    points = np.stack([line.points_xy_px for _, line in open_ones])
    widths = body_widths(points, [one.body for one, _ in open_ones])
    corners = np.stack([one.corner_xy_px for one, _ in open_ones])[:, None]
    rows = zip(
        line_lengths(points), widths, swept_angles_deg(points), points + corners, strict=True
    )
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
    parsed: ParsedCell,
    alone: _Alone,
    midline: Midline,
    outline_xy: NDArray[np.float64],
    shape: _Shape,
) -> BodyMeasure:
    x, y = (midline.points_xy_px + alone.corner_xy_px).T
    on_line = sample_map(parsed.line, x[None], y[None])
    return BodyMeasure(
        length_px=shape.length_px,
        width_px=shape.width_px,
        area_px2=alone.area_px2,
        curl_deg=shape.curl_deg,
        visible_share=_visible_share(alone.body, parsed.seen[alone.window], alone.area_px2),
        faint=1.0 - float(on_line.mean()),
        stray=alone.stray_px2 / alone.area_px2,
        is_closed=math.isnan(shape.curl_deg),
        midline_xy_px=shape.midline_xy_px,
        outline_xy_px=outline_xy,
    )


def largest_part(chance: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return a map of chances with everything but its largest connected part set to 0."""
    only = np.zeros_like(chance)
    window, body = _largest_alone(chance)
    only[window] = body
    return only


def _largest_alone(
    chance: NDArray[np.float32],
) -> tuple[tuple[slice, slice], NDArray[np.float32]]:
    """Return the window of the largest connected part and its chances there, else 0."""
    sure = (chance > INSIDE).view(np.uint8)
    window = _window(cv2.boundingRect(sure), 2, chance.shape)
    edges, nested = cv2.findContours(sure[window], cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    # Those without a parent go round a part, also one within a ring; the others round a hole.
    if len(edges) > 1 and np.count_nonzero(nested[0, :, 3] < 0) > 1:
        _, labels, stats, _ = cv2.connectedComponentsWithStats(sure, connectivity=8)
        largest = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
        sure = (labels == largest).view(np.uint8)
        window = _window(stats[largest, : cv2.CC_STAT_AREA].tolist(), 2, chance.shape)
    body = cv2.copyTo(chance[window], cv2.dilate(sure[window], _RIM))
    return window, np.asarray(body, dtype=np.float32)


def outline_of(body: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the outer outline of a map at one half, crop px, shape (M, 2); M is 0 without one."""
    box = cv2.boundingRect((body > INSIDE).view(np.uint8))
    # A px beyond the edge the map still counts in between, and one more changes nothing.
    near = _window(box, 2, body.shape)
    return outline_alone(body[near]) + _corner(near)


def _corner(window: tuple[slice, slice]) -> NDArray[np.float64]:
    return np.array([window[1].start, window[0].start], dtype=np.float64)


def _count_above(values: NDArray[np.float32], level: float) -> int:
    return cv2.countNonZero((values > level).view(np.uint8))


def _window(box: Sequence[int], margin_px: int, shape: tuple[int, ...]) -> tuple[slice, slice]:
    """Return rows and columns of a box (x, y, width, height) and a margin inside of a map."""
    x, y, width, height = box
    return (
        slice(max(y - margin_px, 0), min(y + height + margin_px, shape[0])),
        slice(max(x - margin_px, 0), min(x + width + margin_px, shape[1])),
    )


def is_disc(outline_xy: NDArray[np.float64]) -> bool:
    """Return whether an outline, shape (N, 2), px, is so round that it shows no gap."""
    points = outline_xy.astype(np.float32)
    area_px2 = float(cv2.contourArea(points))
    # Rounded to whole px the box may be up to 2 px longer than the outline.
    least_radius_px = 0.5 * (max(cv2.boundingRect(points)[2:]) - 2)
    if area_px2 <= _DISC_ROUND * math.pi * least_radius_px**2:
        return False
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
