"""One cell cut out of the picture of a comb."""

import numpy as np
from numpy.typing import NDArray

# A cell is cut out this wide, in pitches.
_CUT_PITCHES = 1.3
_SIDE_LEAST_PX = 8


def cut_cell(
    pixels: NDArray[np.uint8], centre_xy_px: tuple[float, float], pitch_px: float
) -> NDArray[np.uint8]:
    """Return a square about a cell; what lies beyond the picture repeats its edge.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        The picture.
    centre_xy_px : tuple of float
        The middle of the cell.
    pitch_px : float
        Cell size there.

    Returns
    -------
    ndarray of shape (side, side, 3), uint8
    """
    side = max(_SIDE_LEAST_PX, round(_CUT_PITCHES * pitch_px))
    x, y = (round(value - side / 2.0) for value in centre_xy_px)
    height_px, width_px = pixels.shape[:2]
    columns = np.clip(np.arange(x, x + side), 0, width_px - 1)
    rows = np.clip(np.arange(y, y + side), 0, height_px - 1)
    return np.ascontiguousarray(pixels[rows[:, None], columns])
