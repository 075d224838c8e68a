"""A larva's outline brushed by hand: what it tells of the body."""

import math
from dataclasses import dataclass

import numpy as np

from larvasight.desk.body_line import HAND_CURL_SD_DEG, HAND_LENGTH_SHARE, mm_per_px
from larvasight.sheet import Cell, PointsXY, Sheet
from larvasight.vision.brushed import measure_outlined
from larvasight.vision.rectify import CROP_MIDDLE_PX, CROP_PITCH_PX
from larvasight.vision.scale import ScaleGuess


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineMeasure:
    """What an outline tells, with the errors of a hand; a closed ring has no curl."""

    length_mm: float
    length_mm_sd: float
    width_mm: float
    area_mm2: float
    curl_deg: float | None
    curl_deg_sd: float | None
    midline_xy_px: PointsXY


def measure_outline(outline_xy_px: PointsXY, cell: Cell, sheet: Sheet) -> OutlineMeasure | None:
    """Measure a body by its outline, on the cell seen straight.

    As of ``measure_line`` the lattice about the cell tells how px become mm there, and lengths are
    corrected for the depth at which larvae lie.

    Returns
    -------
    OutlineMeasure or None
        None where the outline is too small or too stout for a larva.
    """
    per_px, centre = mm_per_px(cell, sheet), np.array(cell.centre_xy_px)
    scale = sheet.scale
    zoom = CROP_PITCH_PX / scale.pitch_mm
    seen = (np.array(outline_xy_px, dtype=np.float64) - centre) @ per_px
    # A body that lies to one side of its cell would leave the rectified cell.
    middle = 0.5 * (seen.min(axis=0) + seen.max(axis=0))
    body = measure_outlined((seen - middle) * zoom + CROP_MIDDLE_PX)
    if body is None:
        return None
    guess = ScaleGuess(pitch_mm=scale.pitch_mm, distance_mm=scale.distance_mm, source=scale.source)
    mm = guess.length_factor() / zoom
    length_mm = body.length_px * mm
    on_comb = (body.midline_xy_px - CROP_MIDDLE_PX) / zoom + middle
    line = on_comb @ np.linalg.inv(per_px) + centre
    return OutlineMeasure(
        length_mm=length_mm,
        length_mm_sd=length_mm * math.hypot(HAND_LENGTH_SHARE, guess.length_sd_share()),
        width_mm=body.width_px * mm,
        area_mm2=body.area_px2 * mm**2,
        curl_deg=None if body.is_closed else body.curl_deg,
        curl_deg_sd=None if body.is_closed else HAND_CURL_SD_DEG,
        midline_xy_px=tuple((float(x), float(y)) for x, y in np.round(line, 2)),
    )
