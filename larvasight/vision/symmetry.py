"""Whether what lies on a found lattice is six-sided, as comb is and stripes or bricks are not."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.vision.lattice import FoundCell
from larvasight.vision.rectify import (
    CROP_MIDDLE_PX,
    CROP_PITCH_PX,
    CROP_PX,
    Pyramid,
    crop_frame,
)

# So many cells, spread over the surer half of all found, make a clear mean.
_CELLS_MOST = 60
_CELLS_LEAST = 12
# The rims lie in this ring about a cell's centre, shares of a pitch.
_RING_PITCHES = (0.38, 0.6)
# Slow changes of light and the finest grain say nothing about rims, px.
_COARSE_PX = 10.0
_FINE_PX = 2.0


def six_sidedness(pyramid: Pyramid, cells: Sequence[FoundCell]) -> float:
    """Return how much the mean cell looks like itself turned by a sixth and by a third.

    Parameters
    ----------
    pyramid : Pyramid
        The picture.
    cells : sequence of FoundCell
        Cells found in it; at least one.

    Returns
    -------
    float
        The lower of the two correlations over the rims, -1 to 1. Photographs and drawn comb
        give 0.36 and more, stripes, grids and bricks that a lattice fits about 0.
    """
    by_confidence = sorted(cells, key=lambda cell: -cell.confidence)
    sure = by_confidence[: max(_CELLS_LEAST, len(cells) // 2)]
    chosen = np.linspace(0, len(sure) - 1, min(_CELLS_MOST, len(sure))).astype(int)
    stack = np.stack([_rims(pyramid, sure[i]) for i in chosen])
    mean = np.asarray(cv2.GaussianBlur(np.asarray(stack.mean(axis=0)), (0, 0), _FINE_PX))
    ring = _ring()
    likeness = []
    for turn_deg in (60.0, 120.0):
        turn = cv2.getRotationMatrix2D((CROP_MIDDLE_PX, CROP_MIDDLE_PX), turn_deg, 1.0)
        turned = np.asarray(cv2.warpAffine(mean, turn, (CROP_PX, CROP_PX)))
        pair = np.corrcoef(mean[ring], turned[ring])
        likeness.append(float(np.nan_to_num(pair[0, 1])))
    return min(likeness)


def _rims(pyramid: Pyramid, cell: FoundCell) -> NDArray[np.float32]:
    crop = pyramid.crop(crop_frame(cell.centre_xy_px, cell.steps_xy_px))
    grey = np.asarray(cv2.cvtColor(crop, cv2.COLOR_RGB2GRAY), dtype=np.float32)
    detail = grey - np.asarray(cv2.GaussianBlur(grey, (0, 0), _COARSE_PX), dtype=np.float32)
    return detail / max(float(detail.std()), 1e-3)


def _ring() -> NDArray[np.bool_]:
    y, x = np.mgrid[0:CROP_PX, 0:CROP_PX] - CROP_MIDDLE_PX
    away = np.hypot(x, y) / CROP_PITCH_PX
    return np.asarray((away > _RING_PITCHES[0]) & (away < _RING_PITCHES[1]))
