"""One cell cut out of a picture and brought to a common size and upright hexagon."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from larvasight.geometry import lattice_vectors

# Side of a rectified cell and how many pitches it spans: the hexagon is 1.155 pitches from
# corner to corner, and a little wall around it tells where it lies.
CROP_PX = 128
CROP_PITCHES = 1.24
CROP_PITCH_PX = CROP_PX / CROP_PITCHES
CROP_MIDDLE_PX = (CROP_PX - 1) / 2.0
# A step of the picture pyramid halves the picture; crops shrink by less than this beyond it.
_SHRINK_MOST = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class CropFrame:
    """Where a rectified cell lies in its picture.

    ``matrix`` has shape (2, 3) and takes crop ``(x, y, 1)`` px to picture ``(x, y)`` px.
    """

    matrix: NDArray[np.float64]

    def to_picture(self, points_xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Take crop points of shape (N, 2), px, to picture points of shape (N, 2), px."""
        moved: NDArray[np.float64] = points_xy @ self.matrix[:, :2].T + self.matrix[:, 2]
        return moved


def crop_frame(centre_xy_px: tuple[float, float], steps_xy_px: ArrayLike) -> CropFrame:
    """Return the frame of the cell about ``centre_xy_px``.

    Parameters
    ----------
    centre_xy_px : tuple of float
        Centre of the rim in the picture.
    steps_xy_px : array_like of shape (2, 2)
        Steps to the next cell along the row (row 0) and along the row turned by 60 degrees.

    Returns
    -------
    CropFrame
        Rows run along x, the hexagon is regular with ``CROP_PITCH_PX`` between neighbours.
    """
    canonical = lattice_vectors(CROP_PITCH_PX)
    linear = np.linalg.solve(canonical, np.asarray(steps_xy_px, dtype=np.float64)).T
    offset = np.asarray(centre_xy_px, dtype=np.float64) - linear @ np.full(2, CROP_MIDDLE_PX)
    return CropFrame(matrix=np.column_stack([linear, offset]))


class Pyramid:
    """A picture and its halvings, so that strong shrinking does not alias."""

    def __init__(self, pixels: NDArray[np.uint8]) -> None:
        """Keep the picture, shape (H, W, 3), uint8 RGB; halvings are made when first needed."""
        self._levels: list[NDArray[np.uint8]] = [pixels]

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the picture."""
        return self._levels[0].shape[1], self._levels[0].shape[0]

    def crop(self, frame: CropFrame) -> NDArray[np.uint8]:
        """Return the rectified cell, shape (CROP_PX, CROP_PX, 3), uint8 RGB.

        What lies outside the picture repeats its edge.
        """
        level = _level_for(frame.matrix)
        return _warped(self.level(level), _halved(frame.matrix, level), CROP_PX)

    def grey_crops(self, matrices: NDArray[np.float64], side_px: int) -> NDArray[np.uint8]:
        """Return the grey levels of several squares of a picture.

        Parameters
        ----------
        matrices : ndarray of shape (N, 2, 3)
            Each takes crop ``(x, y, 1)`` px to picture ``(x, y)`` px.
        side_px : int
            Side of the crops.

        Returns
        -------
        ndarray of shape (N, side_px, side_px), uint8
            What lies outside the picture repeats its edge.
        """
        crops = np.empty((len(matrices), side_px, side_px), dtype=np.uint8)
        # Kept for this call alone: of a huge picture they are large, and soon made again.
        greys: dict[int, NDArray[np.uint8]] = {}
        for crop, matrix in zip(crops, matrices, strict=True):
            level = _level_for(matrix)
            if level not in greys:
                grey = cv2.cvtColor(self.level(level), cv2.COLOR_RGB2GRAY)
                greys[level] = np.asarray(grey, dtype=np.uint8)
            crop[:] = _warped(greys[level], _halved(matrix, level), side_px)
        return crops

    def level(self, level: int) -> NDArray[np.uint8]:
        """Return the picture halved ``level`` times, shape (H, W, 3), uint8 RGB."""
        while len(self._levels) <= level:
            last = self._levels[-1]
            half = (max(1, last.shape[1] // 2), max(1, last.shape[0] // 2))
            last = last[: half[1] * 2, : half[0] * 2]
            self._levels.append(
                np.asarray(cv2.resize(last, half, interpolation=cv2.INTER_AREA), dtype=np.uint8)
            )
        return self._levels[level]


def _level_for(matrix: NDArray[np.float64]) -> int:
    """Return how often a picture is to be halved before a crop is taken from it."""
    (a, b, _), (c, d, _) = matrix.tolist()
    shrink = math.sqrt(abs(a * d - b * c))
    return max(0, math.ceil(math.log2(max(shrink / _SHRINK_MOST, 1e-6))))


def _halved(matrix: NDArray[np.float64], level: int) -> NDArray[np.float64]:
    """Return a matrix that takes crop points to points of the picture halved ``level`` times."""
    # A point of the halved picture is the mean of 2 x 2: x_half = (x - 0.5) / 2.
    smaller = 0.5**level
    halved = matrix * smaller
    halved[:, 2] -= 0.5 * (1.0 - smaller)
    return halved


def _warped(
    pixels: NDArray[np.uint8], matrix: NDArray[np.float64], side_px: int
) -> NDArray[np.uint8]:
    warped = cv2.warpAffine(
        pixels,
        matrix,
        (side_px, side_px),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(warped, dtype=np.uint8)
