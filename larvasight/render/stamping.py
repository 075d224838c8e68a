"""Lay tiles side by side on a picture, blended along the middle of their rims."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Plane = NDArray[np.float32]

# Tiles are blended this far to both sides of the middle of a rim, as a share of the pitch.
_BLEND_SHARE = 0.07


class Stamp:
    """Turns and sizes all tiles of one comb alike, and knows how far each counts where."""

    def __init__(self, side_px: int, zoom: float, angle_deg: float, pitch_px: float) -> None:
        self.zoom = zoom
        self.angle_deg = angle_deg
        self.pitch_px = pitch_px * zoom
        self._is_plain = zoom == 1.0 and angle_deg == 0.0
        turn = math.radians(angle_deg)
        reach = abs(math.cos(turn)) + abs(math.sin(turn))
        self.side_px = 2 * math.ceil(0.5 * side_px * zoom * min(reach, 1.25)) + 1
        if self._is_plain:  # pixel for pixel: nothing sharper can be had
            self.side_px = side_px
        half = (self.side_px - 1) / 2.0
        self.linear = zoom * np.array(
            [[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]]
        )
        shift = np.array([half, half]) - self.linear @ np.full(2, (side_px - 1) / 2.0)
        self._matrix = np.column_stack([self.linear, shift])
        self.weight = self._weights(half)
        self.weight3 = cv2.merge([self.weight, self.weight, self.weight])

    def turned(self, tile: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Return a tile's picture as it lies in the comb."""
        if self._is_plain:
            return tile
        size = (self.side_px, self.side_px)
        turned = cv2.warpAffine(
            tile, self._matrix, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        return np.asarray(turned, dtype=np.uint8)

    def middle_of(self, centre_xy_px: Floats | tuple[float, float]) -> tuple[float, float]:
        """Return where a tile's middle lies once the tile lies on whole pixels about a point."""
        half = (self.side_px - 1) / 2.0
        x, y = (round(float(v) - half) + half for v in centre_xy_px)
        return x, y

    def _weights(self, half: float) -> Plane:
        """Return how far a tile counts: 1 inside, half on the middle of the rim, 0 beyond."""
        x, y = np.meshgrid(
            np.arange(self.side_px, dtype=np.float64) - half,
            np.arange(self.side_px, dtype=np.float64) - half,
        )
        angles_rad = np.radians(self.angle_deg + np.array([0.0, 60.0, 120.0]))
        out = np.max([np.abs(x * math.cos(a) + y * math.sin(a)) for a in angles_rad], axis=0)
        share = (out / self.pitch_px - 0.5) / _BLEND_SHARE
        ramp = np.clip(0.5 - 0.5 * share, 0.0, 1.0)
        return np.asarray(ramp * ramp * (3.0 - 2.0 * ramp), dtype=np.float32)


class Canvas:
    """A picture that tiles are laid on, or a band of it that begins at row ``top_px``."""

    def __init__(self, size_px: tuple[int, int], top_px: int = 0) -> None:
        width_px, height_px = size_px
        self._top_px = top_px
        self._sum = np.zeros((height_px, width_px, 3), dtype=np.float32)
        self._weight = np.full((height_px, width_px), 1e-6, dtype=np.float32)

    def lay(
        self, stamp: Stamp, tile: NDArray[np.uint8], centre_xy_px: Floats | tuple[float, float]
    ) -> tuple[float, float]:
        """Lay a tile about a point and return the pixel on which its middle really lies."""
        middle = stamp.middle_of(centre_xy_px)
        half = (stamp.side_px - 1) / 2.0
        x, y = round(middle[0] - half), round(middle[1] - half) - self._top_px
        height_px, width_px = self._weight.shape
        left, right = max(x, 0), min(x + stamp.side_px, width_px)
        top, bottom = max(y, 0), min(y + stamp.side_px, height_px)
        if left >= right or top >= bottom:
            return middle
        own = slice(top - y, bottom - y), slice(left - x, right - x)
        here = slice(top, bottom), slice(left, right)
        laid = cv2.multiply(stamp.turned(tile)[own], stamp.weight3[own], dtype=cv2.CV_32F)
        self._sum[here] += laid
        self._weight[here] += stamp.weight[own]
        return middle

    def picture(self) -> NDArray[np.uint8]:
        """Return the blended picture, RGB."""
        share = cv2.merge([self._weight, self._weight, self._weight])
        return np.asarray(cv2.divide(self._sum, share, dtype=cv2.CV_8U), dtype=np.uint8)
