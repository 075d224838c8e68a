"""A larva's outline brushed by hand: added to and taken from with a round brush."""

import math
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.sheet import Cell, PointsXY

# Radius of the brush, and how far around a cell's middle it reaches, in pitches.
BRUSH_SHARE: Final = 0.06
_REACH_SHARE: Final = 0.75
# The outline is kept as a mask with so many px to the pitch, its corners to within part of one.
_FINE_PX: Final = 240.0
_CORNER_PX: Final = 0.6
OUTLINE_LEAST: Final = 3
OUTLINE_MOST: Final = 400


class OutlineBrush:
    """The outline of one body while it is brushed.

    Parameters
    ----------
    cell : Cell
        Whose body it is; without an outline there is nothing yet.
    pitch_px : float
        The cell's pitch in the picture.
    """

    def __init__(self, cell: Cell, pitch_px: float) -> None:
        self._fine = _FINE_PX / pitch_px
        reach_px = _REACH_SHARE * pitch_px
        self._corner = np.array(cell.centre_xy_px) - reach_px
        side = math.ceil(2.0 * reach_px * self._fine)
        self._mask = np.zeros((side, side), np.uint8)
        self.radius_px = BRUSH_SHARE * pitch_px
        if cell.outline_xy_px is not None:
            cv2.fillPoly(self._mask, [self._on_mask(cell.outline_xy_px)], 1)

    def is_inside(self, point_xy_px: tuple[float, float]) -> bool:
        """Return whether a point of the picture lies in the body."""
        ((x, y),) = self._on_mask((point_xy_px,)).tolist()
        height, width = self._mask.shape
        return 0 <= x < width and 0 <= y < height and bool(self._mask[y, x])

    def stroke(
        self, start_xy_px: tuple[float, float], end_xy_px: tuple[float, float], *, adds: bool
    ) -> None:
        """Draw the brush from one point of the picture to another, adding or taking away."""
        start, end = self._on_mask((start_xy_px, end_xy_px)).tolist()
        wide = max(1, round(2.0 * self.radius_px * self._fine))
        cv2.line(self._mask, start, end, int(adds), wide)

    @property
    def outline_xy_px(self) -> PointsXY | None:
        """The outer outline of the largest part in px of the picture; None without any."""
        found, _ = cv2.findContours(self._mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        if not found:
            return None
        largest = max(found, key=cv2.contourArea)
        corner_px = _CORNER_PX
        corners = cv2.approxPolyDP(largest, corner_px, True)
        while len(corners) > OUTLINE_MOST:
            corner_px *= 1.5
            corners = cv2.approxPolyDP(largest, corner_px, True)
        if len(corners) < OUTLINE_LEAST:
            return None
        points = _wider(corners.reshape(-1, 2).astype(np.float64)) / self._fine + self._corner
        return tuple((float(x), float(y)) for x, y in np.round(points, 2))

    def _on_mask(self, points_xy_px: PointsXY) -> NDArray[np.int32]:
        at = (np.array(points_xy_px, dtype=np.float64) - self._corner) * self._fine
        return np.asarray(np.round(at), dtype=np.int32)


def _wider(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return corners moved half a px outward: a mask's outline runs through its outer px."""
    along = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    length = np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)[:, None]
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / length
    x, y = points.T
    turn = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return points + 0.5 * math.copysign(1.0, turn) * outward
