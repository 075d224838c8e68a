"""How far a measured body can be trusted: error estimates, flags and what explains them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.sheet import Flag
from larvasight.vision.measures import BodyMeasure
from larvasight.vision.parsed import INSIDE, ParsedCell

# Errors past these spoil a verdict; an estimate beyond them raises ``OUTLINE_UNCERTAIN``.
LENGTH_ERROR_SHARE = 0.15
CURL_ERROR_DEG = 36.0
# A measurement is flagged when a limit is nearer than this many standard deviations.
_SDS_TO_LIMIT = 1.4
# So does more than this of an open body's area that looks like another body; of closed ones it is
# a part of the estimate.
_STRAY_MOST = 0.05
# So does a closed ring that so many of the looks do not see as one: round food shines, too.
_MISSED_MOST = 0.5
# Beyond this standard deviation a length says nothing: such a larva could be of almost any age.
_HOPELESS_SHARE = 0.36

# Below this share of the body in view nothing is measured: at 12 degrees 78 % shows.
VISIBLE_LEAST = 0.8
# Below this many picture px per cell no larva is measured, below the second nothing is read.
PITCH_MEASURE_LEAST_PX = 40.0
PITCH_READ_LEAST_PX = 24.0

# A wall or floor of this luma or more carries no drawing any more.
_BURNT_LUMA = 250
_BURNT_SHARE = 0.04
_BURNT_BODY_SHARE = 0.5
_CONTRAST_LEAST_LUMA = 5.0
_SHARPNESS_LEAST = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """What can be seen of a measurement's quality; all >= 0, 0 is best.

    ``length_split`` and ``curl_split_deg`` are how far single looks part from the mean one,
    as a share of the length and in degrees; ``missed`` the share of looks that found no body
    or another kind of ring; ``faint`` how weakly the middle line shows; ``stray`` how much else
    looks like body; ``hidden`` the share out of view; ``grain`` one picture px as a share of the
    length.
    """

    length_split: float
    curl_split_deg: float
    missed: float
    faint: float
    stray: float
    hidden: float
    grain: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorModel:
    """A standard deviation as the root sum of squares of a floor and weighted signs.

    Rounded from a fit by ``tools/fit_errors.py`` on drawn comb that neither trained the parser
    nor serves the accuracy tests; the thresholds above were set by hand.
    """

    floor: float
    per_length_split: float = 0.0
    per_curl_split_deg: float = 0.0
    per_missed: float = 0.0
    per_faint: float = 0.0
    per_stray: float = 0.0
    per_hidden: float = 0.0
    per_grain: float = 0.0

    def sd(self, signs: Signs) -> float:
        """Return the standard deviation in the unit of the floor."""
        return math.hypot(
            self.floor,
            self.per_length_split * signs.length_split,
            self.per_curl_split_deg * signs.curl_split_deg,
            self.per_missed * signs.missed,
            self.per_faint * signs.faint,
            self.per_stray * signs.stray,
            self.per_hidden * signs.hidden,
            self.per_grain * signs.grain,
        )


# Few bodies there are hidden in part: what hiding costs was kept from an earlier, wider fit.
LENGTH_ERRORS = ErrorModel(
    floor=0.054, per_length_split=0.68, per_missed=0.1, per_faint=0.65, per_hidden=1.04
)
CLOSED_LENGTH_ERRORS = ErrorModel(
    floor=0.038,
    per_length_split=1.49,
    per_faint=0.23,
    per_stray=0.74,
    per_hidden=0.51,
    per_grain=1.15,
)
CURL_ERRORS = ErrorModel(
    floor=10.4,
    per_length_split=32.0,
    per_curl_split_deg=0.75,
    per_missed=24.0,
    per_faint=147.0,
    per_hidden=100.0,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trust:
    """Error estimates of one body, and what follows from them.

    ``length_share`` is the standard deviation as a share of the length, ``curl_deg`` in
    degrees. A measurement that ``is_uncertain`` is given with a flag; one that ``is_hopeless``
    is not given at all.
    """

    length_share: float
    curl_deg: float
    is_uncertain: bool
    is_hopeless: bool


def signs_of(
    body: BodyMeasure, singles: Sequence[BodyMeasure | None], *, px_per_crop_px: float
) -> Signs:
    """Return the signs of a measurement's quality.

    Parameters
    ----------
    body : BodyMeasure
        The body measured on the mean of all looks.
    singles : sequence of BodyMeasure or None
        The same body measured in each look alone, None where none was found.
    px_per_crop_px : float
        Picture px per crop px, so that few picture px cost certainty.

    Returns
    -------
    Signs
        All finite.
    """
    alike = [one for one in singles if one is not None and one.is_closed == body.is_closed]
    lengths = [abs(one.length_px / body.length_px - 1.0) for one in alike]
    curls = [abs(one.curl_deg - body.curl_deg) for one in alike if not body.is_closed]
    return Signs(
        length_split=max(lengths, default=1.0),
        curl_split_deg=max(curls, default=0.0 if body.is_closed else 90.0),
        missed=1.0 - len(alike) / max(len(singles), 1),
        faint=body.faint,
        stray=body.stray,
        hidden=1.0 - body.visible_share,
        grain=1.0 / max(body.length_px * min(px_per_crop_px, 1.0), 1.0),
    )


def trust_in(body: BodyMeasure, signs: Signs) -> Trust:
    """Return how far a body can be trusted, from the signs of its quality."""
    lengths = CLOSED_LENGTH_ERRORS if body.is_closed else LENGTH_ERRORS
    length_share, curl_deg = lengths.sd(signs), CURL_ERRORS.sd(signs)
    is_uncertain = (
        length_share * _SDS_TO_LIMIT > LENGTH_ERROR_SHARE
        or (body.is_closed and signs.missed >= _MISSED_MOST)
        or (not body.is_closed and signs.stray > _STRAY_MOST)
        or (not body.is_closed and curl_deg * _SDS_TO_LIMIT > CURL_ERROR_DEG)
    )
    return Trust(
        length_share=length_share,
        curl_deg=curl_deg,
        is_uncertain=is_uncertain,
        is_hopeless=length_share > _HOPELESS_SHARE,
    )


def less_sure(trust: Trust, length_share: float) -> Trust:
    """Return less trust in a body: uncertain, its length not surer than a share."""
    return replace(trust, is_uncertain=True, length_share=max(trust.length_share, length_share))


def is_burnt(crop: NDArray[np.uint8], parsed: ParsedCell) -> bool:
    """Return whether most of a body is burnt out: what lies in such a disc nobody can tell.

    Parameters
    ----------
    crop : ndarray of shape (H, W, 3), uint8
        Rectified cell, RGB.
    parsed : ParsedCell
        Its maps.
    """
    body = parsed.body > INSIDE
    if not body.any():
        return False
    return float((crop.min(axis=2)[body] >= _BURNT_LUMA).mean()) > _BURNT_BODY_SHARE


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
    inside = parsed.body > INSIDE
    if inside.any():
        near = np.asarray(cv2.dilate(inside.astype(np.uint8), np.ones((9, 9), np.uint8))) > 0
        around = near & ~inside
        if (
            around.any()
            and abs(float(np.median(luma[inside]) - np.median(luma[around]))) < _CONTRAST_LEAST_LUMA
        ):
            flags.append(Flag.LOW_CONTRAST)
    return flags
