"""Why a cell was right or wrong: everything that is shown of one cell, in one place.

Practice comb and own photos share it: truth and measurement end in the same view.
"""

import math
from dataclasses import dataclass

import numpy as np

from larvasight.geometry import fit_circle, resample
from larvasight.grading import Limits, explain_truth, shape_word
from larvasight.growth import age_posterior
from larvasight.growth.egg import EGG_LENGTH_MM
from larvasight.sheet import FLAG_SENTENCES, Cell, Content, Flag, Grade, Jelly, PointsXY, Sheet

# How far the enlarged picture reaches from the cell's centre, in pitches.
_REACH_PITCHES = 0.6
_ARC_POINTS = 64

CONTENT_WORDS: dict[Content, str] = {
    Content.EMPTY: "empty cell",
    Content.EGG: "egg",
    Content.LARVA: "larva",
    Content.CAPPED: "capped cell",
    Content.STORES: "pollen or nectar",
    Content.COVERED: "covered cell",
    Content.UNCLEAR: "cannot be told",
}
_JELLY_WORDS: dict[Jelly, str] = {
    Jelly.NONE: "no jelly to be seen: a dry larva is easily hurt",
    Jelly.LITTLE: "a little jelly",
    Jelly.PLENTY: "plenty of jelly",
}
_GRADE_WORDS: dict[Grade, str] = {
    Grade.TAKE: "Young enough to take",
    Grade.BORDERLINE: "Borderline",
    Grade.TOO_OLD: "Too old",
    Grade.VERY_YOUNG: "Very young",
    Grade.UNSURE: "Cannot be told",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Arc:
    """The part of a circle that a body sweeps; angles in degrees, x right and y down.

    ``body_reach_px`` is how far the body reaches from the circle's centre.
    """

    centre_xy_px: tuple[float, float]
    radius_px: float
    start_deg: float
    sweep_deg: float
    body_reach_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """What is shown of one cell.

    ``crop_px`` is the enlarged part of the picture: left, top, width, height; it may reach past
    the picture. ``band_h`` is the age that size and curl tell, ``true_age_h`` is known for drawn
    comb only, ``known_h`` are ages that it can have by the time of laying. Unknown values are
    None.
    """

    verdict: str
    grade: Grade | None
    content: Content
    sentence: str
    notes: tuple[str, ...]
    crop_px: tuple[float, float, float, float]
    midline_xy_px: PointsXY | None
    outline_xy_px: PointsXY | None
    arc: Arc | None
    length_mm: float | None
    egg_length_mm: float
    shape: str | None
    curl_deg: float | None
    jelly: str | None
    band_h: tuple[float, float] | None
    true_age_h: float | None
    looks_age_h: float | None
    known_h: tuple[float, float] | None = None


def why_true(cell: Cell, sheet: Sheet, limits: Limits) -> Why:
    """Return what is shown of a cell of drawn comb, whose truth is known.

    The band is what an eye could tell from the exact length and curl.
    """
    words = explain_truth(cell, limits)
    band_h = None
    if cell.length_mm is not None and cell.content is Content.LARVA:
        band_h = age_posterior(cell.length_mm, cell.curl_deg).band_h()
    return _why(
        cell,
        sheet,
        verdict=words.verdict[0].upper() + words.verdict[1:],
        grade=words.grade,
        sentence=words.sentence,
        notes=(words.note,) if words.note else (),
        band_h=band_h,
        true_age_h=cell.age_h,
    )


def why_measured(cell: Cell, sheet: Sheet) -> Why:
    """Return what is shown of a measured and graded cell of a photo."""
    band_h = None
    if cell.age_h_lo is not None and cell.age_h_hi is not None:
        band_h = (cell.age_h_lo, cell.age_h_hi)
    reason = cell.reason or ""
    told = [FLAG_SENTENCES[flag] for flag in cell.flags if not _is_told(flag, reason)]
    verdict = CONTENT_WORDS[cell.content] if cell.grade is None else _GRADE_WORDS[cell.grade]
    return _why(
        cell,
        sheet,
        verdict=verdict[0].upper() + verdict[1:],
        grade=cell.grade,
        sentence=reason,
        notes=tuple(told),
        band_h=band_h,
        true_age_h=None,
    )


def _is_told(flag: Flag, reason: str) -> bool:
    """Return whether the reason already says what the flag says."""
    return FLAG_SENTENCES[flag][1:] in reason


def _why(
    cell: Cell,
    sheet: Sheet,
    *,
    verdict: str,
    grade: Grade | None,
    sentence: str,
    notes: tuple[str, ...],
    band_h: tuple[float, float] | None,
    true_age_h: float | None,
) -> Why:
    reach_px = _REACH_PITCHES * cell.px_per_mm * sheet.scale.pitch_mm
    x_px, y_px = cell.centre_xy_px
    curl_deg = None if Flag.CLOSED in cell.flags else cell.curl_deg
    has_body = cell.content is Content.LARVA and cell.length_mm is not None
    return Why(
        verdict=verdict,
        grade=grade,
        content=cell.content,
        sentence=sentence,
        notes=notes,
        crop_px=(x_px - reach_px, y_px - reach_px, 2.0 * reach_px, 2.0 * reach_px),
        midline_xy_px=cell.midline_xy_px,
        outline_xy_px=cell.outline_xy_px,
        arc=arc_of(cell) if has_body and curl_deg is not None else None,
        length_mm=cell.length_mm if has_body else None,
        egg_length_mm=EGG_LENGTH_MM.value,
        shape=shape_word(curl_deg) if has_body else None,
        curl_deg=curl_deg,
        jelly=_JELLY_WORDS[cell.jelly] if has_body and cell.jelly is not None else None,
        band_h=band_h,
        true_age_h=true_age_h,
        looks_age_h=cell.looks_age_h,
    )


def arc_of(cell: Cell) -> Arc | None:
    """Return the arc that a cell's body line sweeps about its circle; None for a straight body."""
    if cell.midline_xy_px is None or len(cell.midline_xy_px) < 3:
        return None
    points = resample(np.array(cell.midline_xy_px), _ARC_POINTS)
    centre, radius_px = fit_circle(points)
    if not math.isfinite(radius_px) or radius_px <= 0.0:
        return None
    angles_rad = np.unwrap(np.arctan2(points[:, 1] - centre[1], points[:, 0] - centre[0]))
    start_deg, end_deg = (float(v) for v in np.degrees(angles_rad[[0, -1]]))
    body = np.array(cell.outline_xy_px or cell.midline_xy_px)
    return Arc(
        centre_xy_px=centre,
        radius_px=radius_px,
        start_deg=start_deg,
        sweep_deg=end_deg - start_deg,
        body_reach_px=float(np.hypot(*(body - np.array(centre)).T).max()),
    )
