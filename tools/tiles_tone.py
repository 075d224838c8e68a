"""From linear light to a picture as a camera would have kept it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tiles_settings import Setting

# Up to here the tone curve is a straight line; above it bends softly towards white.
_STRAIGHT_TO = 0.5
_LUMA = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)


def tone(light: NDArray[np.float32], setting: Setting) -> NDArray[np.uint8]:
    """Return linear light as 8-bit sRGB.

    Parameters
    ----------
    light : ndarray of shape (H, W, 3), float32
        Linear RGB.
    setting : Setting
        Gives exposure and saturation.
    """
    x = light * np.float32(setting.exposure)
    grey = (x @ _LUMA)[..., None]
    x = np.maximum(grey + np.float32(setting.saturation) * (x - grey), 0.0)
    room = np.float32(1.0 - _STRAIGHT_TO)
    bent = 1.0 - room * np.exp(-(x - np.float32(_STRAIGHT_TO)) / room)
    y = np.where(x > _STRAIGHT_TO, bent, x)
    srgb = np.where(y <= 0.0031308, 12.92 * y, 1.055 * np.maximum(y, 1e-8) ** (1 / 2.4) - 0.055)
    return np.asarray(np.clip(np.rint(255.0 * srgb), 0.0, 255.0), dtype=np.uint8)
