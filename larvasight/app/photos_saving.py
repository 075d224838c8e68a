"""Saving a photo with everything found drawn over it."""

from collections.abc import Container
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PySide6.QtWidgets import QMessageBox, QWidget

from larvasight.app.asking import ask_save_path, tell_saved
from larvasight.errors import LarvasightError
from larvasight.sheet import Sheet

_TITLE = "Save marked picture"


def save_marked(
    page: QWidget, pixels: NDArray[np.uint8], sheet: Sheet, by_hand: Container[int]
) -> None:
    """Ask for a file and save a photo with everything found, and put right, drawn over it."""
    from larvasight.paper.marked import save_marked_picture

    name = f"{Path(sheet.photo.name).stem}-marked.png"
    path = ask_save_path(page, _TITLE, name, "PNG (*.png)", ".png")
    if path is None:
        return
    try:
        save_marked_picture(path, pixels, sheet, by_hand)
    except LarvasightError as error:
        QMessageBox.warning(page, _TITLE, str(error))
    else:
        tell_saved(page, _TITLE, path)
