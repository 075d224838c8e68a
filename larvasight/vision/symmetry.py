"""Whether what lies on a found lattice is six-sided, as comb is and stripes or bricks are not."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import offset_to_axial
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
_THIRDS_CELLS = 30
# The rims lie in this ring about a cell's centre, shares of a pitch.
_RING_PITCHES = (0.38, 0.6)
# Rims are compared on maps of half a crop's side, px.
_SIDE_PX = CROP_PX // 2
_MIDDLE_PX = (_SIDE_PX - 1) / 2.0
_PITCH_PX = CROP_PITCH_PX / 2.0
# Slow changes of light and the finest grain say nothing about rims, px of these maps.
_COARSE_PX = 5.0
_FINE_PX = 1.0
# A rim is at its brightest in the middle between two cells. This far from a cell's centre, in
# pitches, the floor or wall is seen in comb, and the land between the holes of a drilled plate.
_BESIDE_RIM_PITCHES = (0.36, 0.4)
_INNER_PITCHES = 0.38
_PROFILE_STEP_PITCHES = 0.02
# The inner part whose brightness is compared between places, pitches.
_HEART_PITCHES = 0.3
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
        turn = cv2.getRotationMatrix2D((_MIDDLE_PX, _MIDDLE_PX), turn_deg, 1.0)
        turned = np.asarray(cv2.warpAffine(mean, turn, (_SIDE_PX, _SIDE_PX)), dtype=np.float32)
        likeness.append(_correlation(mean, turned))
    return min(likeness)


def rim_breadth(pyramid: Pyramid, cells: Sequence[FoundCell]) -> float:
    """Return how bright it is just inside of the rims, from the darkest place to the rims' middle.

    Parameters
    ----------
    pyramid : Pyramid
        The picture.
    cells : sequence of FoundCell
        Cells found in it; at least one.

    Returns
    -------
    float
        0-1. Comb gives up to .35, plates with small holes .55 and more.
    """
    mean = np.mean([_normal(pyramid.crop(_frame(cell))) for cell in _chosen(cells)], axis=0)
    away = np.arange(0.0, 0.5 + _PROFILE_STEP_PITCHES / 2.0, _PROFILE_STEP_PITCHES)
    turns = np.radians(60.0 * np.arange(6))[:, None]
    x = CROP_MIDDLE_PX + CROP_PITCH_PX * away * np.cos(turns)
    y = CROP_MIDDLE_PX + CROP_PITCH_PX * away * np.sin(turns)
    sides = cv2.remap(
        np.asarray(mean, np.float32), x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR
    )
    level = sides.mean(axis=0)
    dark, bright = level[away <= _INNER_PITCHES].min(), level[-1]
    if bright <= dark:
        return 1.0
    return float((np.interp(_BESIDE_RIM_PITCHES, away, level).mean() - dark) / (bright - dark))


def every_third_share(pyramid: Pyramid, cells: Sequence[FoundCell]) -> float:
    """Return how much of the cells' differences in brightness goes with every third place.

    A lattice laid over holes and the land between them, too, has a hole at every third place.

    Parameters
    ----------
    pyramid : Pyramid
        The picture.
    cells : sequence of FoundCell
        Cells found in it.

    Returns
    -------
    float
        Share of the variance, 0-1; in comb, whose contents know nothing of it, about 2 over the
        number of cells. 0 for so few cells that chance makes it large.
    """
    if len(cells) < _CELLS_LEAST:
        return 0.0
    # Sure ones and unsure ones: of a hole and the land around it only the hole may be sure.
    by_confidence = sorted(cells, key=lambda cell: -cell.confidence)
    spread = np.linspace(0, len(cells) - 1, min(_THIRDS_CELLS, len(cells))).astype(int)
    chosen = [by_confidence[i] for i in spread]
    y, x = np.mgrid[0:CROP_PX, 0:CROP_PX] - CROP_MIDDLE_PX
    heart = np.hypot(x, y) < _HEART_PITCHES * CROP_PITCH_PX
    level = np.array([pyramid.crop(_frame(cell))[heart].mean() for cell in chosen])
    q, r = np.array([offset_to_axial(cell.row, cell.col) for cell in chosen]).T
    total = float(((level - level.mean()) ** 2).sum())
    groups = [level[(q - r) % 3 == k] for k in range(3)]
    within = sum(float(((group - group.mean()) ** 2).sum()) for group in groups if len(group))
    return 1.0 - within / total if total > 0.0 else 0.0


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
    chosen = _chosen(cells)[::2]
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


def _normal(crop: NDArray[np.uint8]) -> NDArray[np.float32]:
    grey = np.asarray(cv2.cvtColor(crop, cv2.COLOR_RGB2GRAY), dtype=np.float32)
    return np.asarray((grey - grey.mean()) / max(float(grey.std()), 1e-3), dtype=np.float32)


def _rims(crop: NDArray[np.uint8]) -> NDArray[np.float32]:
    half = cv2.resize(crop, (_SIDE_PX, _SIDE_PX), interpolation=cv2.INTER_AREA)
    grey = np.asarray(cv2.cvtColor(half, cv2.COLOR_RGB2GRAY), dtype=np.float32)
    detail = grey - np.asarray(cv2.GaussianBlur(grey, (0, 0), _COARSE_PX), dtype=np.float32)
    return detail / max(float(detail.std()), 1e-3)


def _correlation(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    ring = _ring()
    if min(float(np.ptp(one[ring])), float(np.ptp(other[ring]))) == 0.0:
        return 0.0
    return float(np.nan_to_num(np.corrcoef(one[ring], other[ring])[0, 1]))


def _ring() -> NDArray[np.bool_]:
    y, x = np.mgrid[0:_SIDE_PX, 0:_SIDE_PX] - _MIDDLE_PX
    away = np.hypot(x, y) / _PITCH_PX
    return np.asarray((away > _RING_PITCHES[0]) & (away < _RING_PITCHES[1]))
