"""Whether what lies on a found lattice is six-sided, as comb is and stripes or bricks are not."""

from collections.abc import Sequence
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import lattice_vectors, offset_to_axial
from larvasight.vision.lattice import FoundCell
from larvasight.vision.rectify import (
    CROP_MIDDLE_PX,
    CROP_PITCH_PX,
    CROP_PITCHES,
    CROP_PX,
    Pyramid,
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
# Mean rims, each of spread 1, that differ by less than this are of places without any drawing.
_FLAT = 0.01
# Places between the found cells that correlate this much with them are cells, too.
_SAME = 0.4
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
    mean = _mean_rims(pyramid, *_places(_chosen(cells)))
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
    crops = _grey_crops(pyramid, *_places(_chosen(cells)), CROP_PX)
    crops -= crops.mean(axis=(1, 2), keepdims=True)
    mean = _even_mean(crops)
    away = np.arange(0.0, 0.5 + _PROFILE_STEP_PITCHES / 2.0, _PROFILE_STEP_PITCHES)
    turns = np.radians(60.0 * np.arange(6))[:, None]
    x = CROP_MIDDLE_PX + CROP_PITCH_PX * away * np.cos(turns)
    y = CROP_MIDDLE_PX + CROP_PITCH_PX * away * np.sin(turns)
    sides = cv2.remap(mean, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR)
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
    crops = _grey_crops(pyramid, *_places(chosen), _SIDE_PX)
    level = crops[:, _away_pitches() < _HEART_PITCHES].mean(axis=1)
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
    centres, steps = _places(_chosen(cells)[::2])
    for share, matrix, between in _FINER:
        finer = matrix @ steps
        here = _mean_rims(pyramid, centres, finer)
        beside = (centres[:, None] + between @ steps).reshape(-1, 2)
        there = _mean_rims(pyramid, beside, np.repeat(finer, len(between), axis=0))
        if _correlation(here, there) > _SAME:
            return share
    return None


def _chosen(cells: Sequence[FoundCell]) -> list[FoundCell]:
    by_confidence = sorted(cells, key=lambda cell: -cell.confidence)
    sure = by_confidence[: max(_CELLS_LEAST, len(cells) // 2)]
    spread = np.linspace(0, len(sure) - 1, min(_CELLS_MOST, len(sure))).astype(int)
    return [sure[i] for i in spread]


def _places(cells: Sequence[FoundCell]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return centres (N, 2) and axial steps (N, 2, 2) of cells, px."""
    return (
        np.array([cell.centre_xy_px for cell in cells]),
        np.array([cell.steps_xy_px for cell in cells]),
    )


def _grey_crops(
    pyramid: Pyramid, centres: NDArray[np.float64], steps: NDArray[np.float64], side_px: int
) -> NDArray[np.float32]:
    """Return cells brought to a common size and upright hexagon (N, side_px, side_px), grey."""
    linear = np.linalg.solve(lattice_vectors(side_px / CROP_PITCHES), steps).transpose(0, 2, 1)
    middle = np.full(2, (side_px - 1) / 2.0)
    matrices = np.concatenate([linear, (centres - linear @ middle)[..., None]], axis=2)
    return pyramid.grey_crops(matrices, side_px).astype(np.float32)


def _mean_rims(
    pyramid: Pyramid, centres: NDArray[np.float64], steps: NDArray[np.float64]
) -> NDArray[np.float32]:
    grey = _grey_crops(pyramid, centres, steps, _SIDE_PX)
    blur = _coarse_blur()
    detail = grey - blur @ (grey @ blur.T)
    return np.asarray(cv2.GaussianBlur(_even_mean(detail), (0, 0), _FINE_PX), dtype=np.float32)


def _even_mean(maps: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the mean of several maps, each first brought to the same spread."""
    weight = 1.0 / np.maximum(maps.std(axis=(1, 2)), 1e-3)
    return np.asarray(np.tensordot(weight / len(maps), maps, axes=1), dtype=np.float32)


@lru_cache(maxsize=1)
def _coarse_blur() -> NDArray[np.float32]:
    """Return the matrix that blurs the columns of a map: many at once, it is faster so."""
    column = np.eye(_SIDE_PX, dtype=np.float32)
    size = 2 * round(4.0 * _COARSE_PX) + 1
    return np.asarray(cv2.GaussianBlur(column, (1, size), 0.0, sigmaY=_COARSE_PX), np.float32)


def _correlation(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    ring = _ring()
    if min(float(np.ptp(one[ring])), float(np.ptp(other[ring]))) < _FLAT:
        return 0.0
    return float(np.nan_to_num(np.corrcoef(one[ring], other[ring])[0, 1]))


def _ring() -> NDArray[np.bool_]:
    away = _away_pitches()
    return np.asarray((away > _RING_PITCHES[0]) & (away < _RING_PITCHES[1]))


def _away_pitches() -> NDArray[np.float64]:
    y, x = np.mgrid[0:_SIDE_PX, 0:_SIDE_PX] - _MIDDLE_PX
    return np.asarray(np.hypot(x, y) / _PITCH_PX)
