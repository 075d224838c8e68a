"""A body whose outline a person drew, measured as one that was found."""

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.vision.measures import BodyMeasure, is_disc, measure_body
from larvasight.vision.parsed import CONTENT_CLASSES, JELLY_CLASSES, ParsedCell
from larvasight.vision.rectify import CROP_PX

# The outline is drawn this many times as large and shrunk, so that its edge is soft.
_FINE = 4
# The middle of a body lies deeper than this share of its greatest depth: ends taper.
_MIDDLE_SHARE = 0.55
_RING_SHARE = 0.7
# A larva is at least so many times as long as wide, mostly four times.
_LONG_LEAST = 2.5


def measure_outlined(outline_xy_px: NDArray[np.float64]) -> BodyMeasure | None:
    """Measure a body by its outline alone.

    Parameters
    ----------
    outline_xy_px : ndarray of shape (N, 2)
        Corners of the outline in a rectified cell, crop px.

    Returns
    -------
    BodyMeasure or None
        None where it is too small to be a larva, has no middle line, or is too stout for one: then
        the gap between its ends is missing.
    """
    corners = np.round((outline_xy_px + 0.5) * _FINE - 0.5).astype(np.int32)
    fine = np.zeros((CROP_PX * _FINE, CROP_PX * _FINE), np.uint8)
    cv2.fillPoly(fine, [corners], 255)
    depth = cv2.distanceTransform(fine, cv2.DIST_L2, cv2.DIST_MASK_5)
    middle = depth > _MIDDLE_SHARE * depth.max(initial=0.0)
    if is_disc(outline_xy_px):
        # Its middle is a ring, of which nothing but that it is closed is measured.
        middle ^= depth > _RING_SHARE * depth.max(initial=0.0)
    # The edge runs through the middle of its px.
    cv2.polylines(fine, [corners], True, 128)
    body = _shrunk(fine)
    cell = ParsedCell(
        content=np.zeros(len(CONTENT_CLASSES), np.float32),
        jelly=np.zeros(len(JELLY_CLASSES), np.float32),
        body=body,
        seen=body,
        line=_shrunk(middle.astype(np.uint8) * 255),
        egg=np.zeros_like(body),
    )
    found = measure_body(cell)
    if found is not None and not found.is_closed:
        return found if found.length_px >= _LONG_LEAST * found.width_px else None
    return found


def _shrunk(fine: NDArray[np.uint8]) -> NDArray[np.float32]:
    small = cv2.resize(fine, (CROP_PX, CROP_PX), interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.float32) / np.float32(255.0)
