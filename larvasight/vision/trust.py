"""How far a measured body can be trusted: error estimates, flags and what explains them."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.sheet import Flag
from larvasight.vision.measures import BodyMeasure
from larvasight.vision.parsed import ParsedCell

# Errors past these spoil a verdict; an estimate beyond them raises ``OUTLINE_UNCERTAIN``.
LENGTH_ERROR_SHARE = 0.15
CURL_ERROR_DEG = 36.0

# Below this share of the body in view nothing is measured: at 12 degrees 78 % shows.
VISIBLE_LEAST = 0.8
# Below this many picture px per cell no larva is measured, below the second nothing is read.
PITCH_MEASURE_LEAST_PX = 40.0
PITCH_READ_LEAST_PX = 24.0

# A wall or floor of this luma or more carries no drawing any more.
_BURNT_LUMA = 250
_BURNT_SHARE = 0.04
_CONTRAST_LEAST_LUMA = 5.0
_SHARPNESS_LEAST = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorModel:
    """Standard deviations from what can be seen of a measurement's quality.

    Root sum of squares of a floor, the disagreement of looks at the turned cell, the
    share of unsure edge and the part that a wall hides. Fitted on drawn comb that neither
    trained the parser nor serves the accuracy tests (``tools/fit_errors.py``).
    """

    floor: float
    per_disagreement: float
    per_fuzz: float
    per_hidden: float
    per_line_px: float

    def sd(self, disagreement: float, body: BodyMeasure, px_share: float) -> float:
        """Return the standard deviation in the unit of the floor."""
        return math.sqrt(
            self.floor**2
            + (self.per_disagreement * disagreement) ** 2
            + (self.per_fuzz * body.fuzz) ** 2
            + (self.per_hidden * (1.0 - body.visible_share)) ** 2
            + (self.per_line_px * px_share) ** 2
        )


LENGTH_ERRORS = ErrorModel(
    floor=0.015, per_disagreement=1.0, per_fuzz=0.15, per_hidden=0.25, per_line_px=0.5
)
CURL_ERRORS = ErrorModel(
    floor=5.0, per_disagreement=1.0, per_fuzz=30.0, per_hidden=60.0, per_line_px=60.0
)
# A closed disc's length rests on its outer diameter and an assumed sweep.
CLOSED_LENGTH_SD_SHARE = 0.07


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Error estimates of one body: ``length_share`` of its length, ``curl_deg``."""

    length_share: float
    curl_deg: float


def error_spread(looks: list[BodyMeasure], *, px_per_crop_px: float) -> Spread:
    """Return the error estimates of a body measured several times.

    Parameters
    ----------
    looks : list of BodyMeasure
        The same body measured in the cell as it is and mirrored or turned; at least one,
        the first is the one reported.
    px_per_crop_px : float
        Picture px per crop px, so that few picture px cost certainty.

    Returns
    -------
    Spread
        Standard deviations.
    """
    body = looks[0]
    lengths = np.array([look.length_px for look in looks])
    curls = np.array([look.curl_deg for look in looks if not look.is_closed])
    length_split = float(np.ptp(lengths)) / body.length_px if len(looks) > 1 else 0.1
    curl_split = float(np.ptp(curls)) if len(curls) > 1 else 15.0
    px_share = 1.0 / max(body.length_px * min(px_per_crop_px, 1.0), 1.0)
    length_share = LENGTH_ERRORS.sd(length_split, body, px_share)
    if body.is_closed:
        length_share = math.hypot(length_share, CLOSED_LENGTH_SD_SHARE)
    return Spread(length_share=length_share, curl_deg=CURL_ERRORS.sd(curl_split, body, px_share))


def is_uncertain(spread: Spread, body: BodyMeasure) -> bool:
    """Return whether an error past the limits is likely enough to be flagged."""
    too_long = 2.0 * spread.length_share > LENGTH_ERROR_SHARE
    return too_long or (not body.is_closed and 2.0 * spread.curl_deg > CURL_ERROR_DEG)


def picture_flags(crop: NDArray[np.uint8], parsed: ParsedCell) -> list[Flag]:
    """Return what in the picture of a cell explains that it is hard to read.

    Parameters
    ----------
    crop : ndarray of shape (H, W, 3), uint8
        Rectified cell, RGB.
    parsed : ParsedCell
        Its maps.

    Returns
    -------
    list of Flag
        Of ``BLURRED``, ``GLARE``, ``LOW_CONTRAST``.
    """
    luma = np.asarray(cv2.cvtColor(crop, cv2.COLOR_RGB2GRAY), dtype=np.float32)
    flags = []
    if float(np.asarray(cv2.Laplacian(luma, cv2.CV_32F)).std()) < _SHARPNESS_LEAST:
        flags.append(Flag.BLURRED)
    if float((luma >= _BURNT_LUMA).mean()) > _BURNT_SHARE:
        flags.append(Flag.GLARE)
    inside = parsed.body > 0.5
    if inside.any():
        near = np.asarray(cv2.dilate(inside.astype(np.uint8), np.ones((9, 9), np.uint8))) > 0
        around = near & ~inside
        if (
            around.any()
            and abs(float(np.median(luma[inside]) - np.median(luma[around]))) < _CONTRAST_LEAST_LUMA
        ):
            flags.append(Flag.LOW_CONTRAST)
    return flags
