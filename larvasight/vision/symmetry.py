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
    CropFrame,
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
# Places between the found cells that correlate this much with them are cells, too.
_SAME = 0.6
# Finer lattices: share of the pitch, their steps in found steps, where their other cells lie.
_FINER = (
    (0.5, np.eye(2) / 2.0, np.array([[0.5, 0.0], [0.0, 0.5], [-0.5, 0.5]])),
    (
        1.0 / np.sqrt(3.0),
        np.array([[2.0, -1.0], [1.0, 1.0]]) / 3.0,
        np.array([[1.0, 1.0], [-1.0, 2.0]]) / 3.0,
    ),
)


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
    mean = _mean_rims(pyramid, [_frame(cell) for cell in _chosen(cells)])
    likeness = []
    for turn_deg in (60.0, 120.0):
        turn = cv2.getRotationMatrix2D((CROP_MIDDLE_PX, CROP_MIDDLE_PX), turn_deg, 1.0)
        turned = np.asarray(cv2.warpAffine(mean, turn, (CROP_PX, CROP_PX)), dtype=np.float32)
        likeness.append(_correlation(mean, turned))
    return min(likeness)


def finer_pitch_share(pyramid: Pyramid, cells: Sequence[FoundCell]) -> float | None:
    """Return the pitch at which cells between the found ones show, as a share of the found pitch.

    A lattice laid over every second cell, or every third, fits comb as well as the true one. It is
    given away by what lies between: there a true lattice has walls, this one more cells.

    Parameters
    ----------
    pyramid : Pyramid
        The picture.
    cells : sequence of FoundCell
        Cells found in it; at least one.

    Returns
    -------
    float or None
        1/2 or 1/sqrt(3); None when the found lattice is the finest.
    """
    chosen = _chosen(cells)
    for share, matrix, between in _FINER:
        here = [_frame(cell, matrix) for cell in chosen]
        there = [_frame(cell, matrix, offset) for cell in chosen for offset in between]
        if _correlation(_mean_rims(pyramid, here), _mean_rims(pyramid, there)) > _SAME:
            return share
    return None


def _chosen(cells: Sequence[FoundCell]) -> list[FoundCell]:
    by_confidence = sorted(cells, key=lambda cell: -cell.confidence)
    sure = by_confidence[: max(_CELLS_LEAST, len(cells) // 2)]
    spread = np.linspace(0, len(sure) - 1, min(_CELLS_MOST, len(sure))).astype(int)
    return [sure[i] for i in spread]


def _frame(
    cell: FoundCell,
    matrix: NDArray[np.float64] | None = None,
    offset: NDArray[np.float64] | None = None,
) -> CropFrame:
    """Return the frame of a cell, of finer steps, or of a place ``offset`` steps away."""
    steps = np.array(cell.steps_xy_px)
    centre = np.array(cell.centre_xy_px) + (0.0 if offset is None else offset @ steps)
    return crop_frame((centre[0], centre[1]), steps if matrix is None else matrix @ steps)


def _mean_rims(pyramid: Pyramid, frames: Sequence[CropFrame]) -> NDArray[np.float32]:
    stack = np.stack([_rims(pyramid.crop(frame)) for frame in frames])
    mean = np.asarray(stack.mean(axis=0), dtype=np.float32)
    return np.asarray(cv2.GaussianBlur(mean, (0, 0), _FINE_PX), dtype=np.float32)


def _rims(crop: NDArray[np.uint8]) -> NDArray[np.float32]:
    grey = np.asarray(cv2.cvtColor(crop, cv2.COLOR_RGB2GRAY), dtype=np.float32)
    detail = grey - np.asarray(cv2.GaussianBlur(grey, (0, 0), _COARSE_PX), dtype=np.float32)
    return detail / max(float(detail.std()), 1e-3)


def _correlation(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    ring = _ring()
    if min(float(np.ptp(one[ring])), float(np.ptp(other[ring]))) == 0.0:
        return 0.0
    return float(np.nan_to_num(np.corrcoef(one[ring], other[ring])[0, 1]))


def _ring() -> NDArray[np.bool_]:
    y, x = np.mgrid[0:CROP_PX, 0:CROP_PX] - CROP_MIDDLE_PX
    away = np.hypot(x, y) / CROP_PITCH_PX
    return np.asarray((away > _RING_PITCHES[0]) & (away < _RING_PITCHES[1]))
