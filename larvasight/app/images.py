"""Pictures as Qt shows them."""

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QImage


def image_of(pixels: NDArray[np.uint8]) -> QImage:
    """Return a picture of shape (H, W, 3), RGB, as an image of its own; safe in any thread."""
    data = np.ascontiguousarray(pixels)
    height_px, width_px = data.shape[:2]
    view = QImage(data.data, width_px, height_px, 3 * width_px, QImage.Format.Format_RGB888)
    return view.convertToFormat(QImage.Format.Format_RGB32)
