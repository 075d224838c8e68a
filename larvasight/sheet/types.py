"""The contract: what a sheet of true or measured cells holds."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeAlias

from larvasight.sheet.flags import Flag

PointsXY: TypeAlias = tuple[tuple[float, float], ...]

FORMAT_NAME = "larvasight.sheet"
FORMAT_VERSION = 1
AGE_PRIOR = "flat 0-96 h"


class Content(StrEnum):
    """What a cell holds; ``stores`` is pollen or nectar, ``covered`` a bee or hand over it."""

    EMPTY = "empty"
    EGG = "egg"
    LARVA = "larva"
    CAPPED = "capped"
    STORES = "stores"
    COVERED = "covered"
    UNCLEAR = "unclear"


class Jelly(StrEnum):
    """How much brood food lies in the cell."""

    NONE = "none"
    LITTLE = "little"
    PLENTY = "plenty"


class Grade(StrEnum):
    """Verdict on one larva for grafting."""

    TAKE = "take"
    BORDERLINE = "borderline"
    TOO_OLD = "too-old"
    VERY_YOUNG = "very-young"
    UNSURE = "unsure"


class ScaleSource(StrEnum):
    """Where the scale of a picture comes from."""

    COMB = "comb"
    RULER = "ruler"
    GIVEN = "given"


class LatticeByHand(StrEnum):
    """What a person did with the cells of a picture: moved those found, or laid them."""

    MOVED = "moved"
    LAID = "laid"


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoInfo:
    """The picture a sheet belongs to; ``sha256`` is of the stored file, hex."""

    name: str
    width_px: int
    height_px: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Mean scale of the picture in the plane of the rims.

    ``distance_mm`` is camera to rim plane, None when unknown.
    """

    pitch_px: float
    pitch_mm: float
    px_per_mm: float
    distance_mm: float | None
    source: ScaleSource


@dataclass(frozen=True, slots=True, kw_only=True)
class LatticeInfo:
    """How the cells lie: ``row_angle_deg`` in (-30, 30], residual as RMS in px.

    ``by_hand`` is None where cells lie as they were drawn or found; where they lie as a person
    says, nothing tells the residual, and it is 0.
    """

    row_angle_deg: float
    n_cells: int
    residual_px: float
    flags: tuple[Flag, ...] = ()
    by_hand: LatticeByHand | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One cell of a comb, true or measured.

    Points are ``(x, y)`` in px of the upright picture, origin at the centre of
    the top-left pixel. What could not be measured is None. ``looks_age_h`` is
    filled on truth sheets; ``*_sd``, ``age_h_lo`` and ``age_h_hi`` on measured
    ones. ``age_h`` is negative for eggs on truth sheets.
    """

    row: int
    col: int
    centre_xy_px: tuple[float, float]
    px_per_mm: float
    content: Content
    residual_px: float | None = None
    confidence: float | None = None
    visible_share: float | None = None
    jelly: Jelly | None = None
    length_mm: float | None = None
    length_mm_sd: float | None = None
    width_mm: float | None = None
    area_mm2: float | None = None
    curl_deg: float | None = None
    curl_deg_sd: float | None = None
    midline_xy_px: PointsXY | None = None
    outline_xy_px: PointsXY | None = None
    age_h: float | None = None
    age_h_lo: float | None = None
    age_h_hi: float | None = None
    looks_age_h: float | None = None
    grade: Grade | None = None
    reason: str | None = None
    flags: tuple[Flag, ...] = field(default=())

    @property
    def is_doubtful(self) -> bool:
        """Whether a verdict is given, but rests on an outline that is not sure."""
        has_verdict = self.grade is not None and self.grade is not Grade.UNSURE
        return has_verdict and Flag.OUTLINE_UNCERTAIN in self.flags


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Everything known about the cells of one picture."""

    truth: bool
    photo: PhotoInfo
    scale: Scale
    lattice: LatticeInfo
    cells: tuple[Cell, ...]
