"""A larva's body line moved by hand: its handles, the smooth line through them, its measures."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import (
    lattice_vectors,
    midline_length,
    offset_to_axial,
    resample,
    swept_angle_deg,
)
from larvasight.sheet import Cell, PointsXY, Sheet
from larvasight.vision.scale import ScaleGuess

HANDLES_LEAST: Final = 3
HANDLES_MOST: Final = 12
# The more a body curls, the more points its line needs to be followed; upper ends of the curl.
_HANDLES_BY_CURL_DEG: Final = ((120.0, 5), (240.0, 7), (math.inf, 9))
_SMOOTH_POINTS: Final = 49
# A line begun by hand is straight and this long, in pitches, until it is moved.
_NEW_SHARE: Final = 0.4
# The lattice about a cell is told by so many cells; fewer than these are not trusted.
_CELLS_BESIDE: Final = 12
_CELLS_LEAST: Final = 5
# Judgement: a careful hand misses the tips by some 4 % of the length, and the curl by this.
HAND_LENGTH_SHARE: Final = 0.04
HAND_CURL_SD_DEG: Final = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LineMeasure:
    """What a body line tells: length and curl with the errors of a hand."""

    length_mm: float
    length_mm_sd: float
    curl_deg: float
    curl_deg_sd: float


def handles_of(cell: Cell, sheet: Sheet) -> PointsXY:
    """Return the points by which a cell's body line is moved: 5 to 9, evenly along it.

    A cell without a line gets a short straight one about its middle, to be laid on the body.
    """
    if cell.midline_xy_px is None or len(cell.midline_xy_px) < HANDLES_LEAST:
        reach_px = 0.5 * _NEW_SHARE * cell.px_per_mm * sheet.scale.pitch_mm
        x_px, y_px = cell.centre_xy_px
        return tuple((x_px + reach_px * at, y_px) for at in (-1.0, -0.5, 0.0, 0.5, 1.0))
    line = np.array(cell.midline_xy_px)
    curl_deg = swept_angle_deg(line)
    n_handles = next(n for end_deg, n in _HANDLES_BY_CURL_DEG if curl_deg <= end_deg)
    return _as_points(resample(line, n_handles))


def is_laid(handles_xy_px: PointsXY, cell: Cell, sheet: Sheet) -> bool:
    """Return whether a line lies on a body by more than chance.

    In a cell in which no line was measured it begins anywhere: it is laid once no point is left
    where it began.
    """
    if cell.midline_xy_px is not None and len(cell.midline_xy_px) >= HANDLES_LEAST:
        return True
    return not set(_rounded(handles_xy_px)) & set(_rounded(handles_of(cell, sheet)))


def _rounded(points: PointsXY) -> PointsXY:
    return tuple((round(x, 1), round(y, 1)) for x, y in points)


def smooth_line(handles_xy_px: PointsXY) -> PointsXY:
    """Return the smooth line through handles, in px of the picture.

    A cubic spline over the length along the handles; handles on one spot count once, and fewer
    than three spots are joined as they are.
    """
    from scipy.interpolate import CubicSpline  # heavy: only when first needed

    points = np.array(handles_xy_px, dtype=np.float64)
    steps = np.hypot(*np.diff(points, axis=0).T)
    points = points[np.concatenate([[True], steps > 1e-6])]
    if len(points) < HANDLES_LEAST:
        return handles_xy_px
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    spline = CubicSpline(along, points, bc_type="natural")
    return _as_points(spline(np.linspace(0.0, along[-1], _SMOOTH_POINTS)))


def measure_line(line_xy_px: PointsXY, cell: Cell, sheet: Sheet) -> LineMeasure | None:
    """Return length and curl of a body line, measured as on the cell seen straight.

    The lattice about the cell tells how px become mm there, so that a comb seen aslant falsifies
    neither; lengths are corrected for the depth at which larvae lie, as measured ones are.

    Returns
    -------
    LineMeasure or None
        None for a line without length.
    """
    line = np.array(line_xy_px, dtype=np.float64)
    seen_mm = (line - np.array(cell.centre_xy_px)) @ mm_per_px(cell, sheet)
    scale = sheet.scale
    guess = ScaleGuess(pitch_mm=scale.pitch_mm, distance_mm=scale.distance_mm, source=scale.source)
    length_mm = midline_length(seen_mm) * guess.length_factor()
    if not length_mm > 0.0:
        return None
    return LineMeasure(
        length_mm=length_mm,
        length_mm_sd=length_mm * math.hypot(HAND_LENGTH_SHARE, guess.length_sd_share()),
        curl_deg=swept_angle_deg(seen_mm),
        curl_deg_sd=HAND_CURL_SD_DEG,
    )


def mm_per_px(cell: Cell, sheet: Sheet) -> NDArray[np.float64]:
    """Return how a step in the picture becomes one on the comb about a cell, shape (2, 2)."""
    near = sorted(sheet.cells, key=lambda c: math.dist(c.centre_xy_px, cell.centre_xy_px))
    near = near[:_CELLS_BESIDE]
    plain = np.eye(2) / cell.px_per_mm
    if len(near) < _CELLS_LEAST:
        return plain
    plane = np.array([offset_to_axial(c.row, c.col) for c in near]) @ lattice_vectors(1.0)
    places = np.array([c.centre_xy_px for c in near])
    design = np.column_stack([places - places.mean(axis=0), np.ones(len(near))])
    solution, _, rank, _ = np.linalg.lstsq(design, plane, rcond=None)
    per_px = np.asarray(solution[:2], dtype=np.float64)
    if rank < 3:
        return plain
    # The cell's own scale holds; what lies about it tells only how the view is squeezed.
    size = math.sqrt(abs(float(np.linalg.det(per_px))))
    return per_px / (size * cell.px_per_mm)


def _as_points(points_xy: NDArray[np.float64]) -> PointsXY:
    return tuple((float(x), float(y)) for x, y in np.round(points_xy, 2))
