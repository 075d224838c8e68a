"""A sheet of 24 cells to tick, and its key on a page of its own."""

from collections.abc import Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage

from larvasight.grading import Limits
from larvasight.paper.age_chart_parts import EDGE_MM, Page
from larvasight.paper.pages import Upright, upright_pdf

_COLUMNS = 4
_GAP_MM, _LABEL_MM, _BOX_MM = 3.0, 6.5, 4.5
_TOP_MM, _FOOT_MM = 19.0, 5.0
_CAUTION = (
    "Drawn by computer for practice. Larvae of one age differ; disease is not shown here. A sheet "
    "is no licence to graft, teach or sell queens."
)


def sheet_pdf(
    pictures: Sequence[NDArray[np.uint8]],
    keys: Sequence[str],
    *,
    number: int,
    limits: Limits,
    made_on: date,
    program_version: str,
    is_letter: bool = False,
) -> bytes:
    """Return two upright pages: numbered cells with a box to tick, and the key.

    Parameters
    ----------
    pictures : sequence of ndarray of shape (side, side, 3), uint8
        The cells, RGB.
    keys : sequence of str
        What is true of each.
    number : int
        The sheet's number, on both pages.
    limits : Limits
        The ages that are wanted.
    made_on : date
        The day it is made.
    program_version : str
        Stands in the file.
    is_letter : bool
        Letter paper instead of A4.
    """

    def draw(page: Upright, page_number: int) -> None:
        if page_number:
            _draw_key(page, keys, number, limits)
        else:
            _draw_cells(page, pictures, number)

    return upright_pdf(
        draw,
        n_pages=2,
        title=f"Cells to tick, sheet {number}",
        made_on=made_on,
        program_version=program_version,
        page=Page.LETTER if is_letter else Page.A4,
    )


def _draw_cells(page: Upright, pictures: Sequence[NDArray[np.uint8]], number: int) -> None:
    page.text("Tick every larva you would graft", 15.0, (EDGE_MM, EDGE_MM), bold=True)
    page.text(f"Sheet {number}", 11.0, (page.right_mm - 32.0, EDGE_MM + 1.0), bold=True)
    page.text("Name:", 10.0, (EDGE_MM, EDGE_MM + 8.5))
    n_rows = -(-len(pictures) // _COLUMNS)
    room_mm = page.bottom_mm - _FOOT_MM - EDGE_MM - _TOP_MM
    wide_mm = (page.width_mm - (_COLUMNS - 1) * _GAP_MM) / _COLUMNS
    side_mm = min(wide_mm, room_mm / n_rows - _LABEL_MM)
    step_mm = (page.width_mm - side_mm) / (_COLUMNS - 1)
    for k, pixels in enumerate(pictures):
        row, column = divmod(k, _COLUMNS)
        x_mm = EDGE_MM + column * step_mm
        y_mm = EDGE_MM + _TOP_MM + row * (side_mm + _LABEL_MM)
        image = _image(pixels)
        page.painter.drawImage(page.box(x_mm, y_mm, side_mm, side_mm), image, QRectF(image.rect()))
        label_mm = y_mm + side_mm + 0.6
        page.text_in(str(k + 1), 11.0, (x_mm, label_mm, 12.0), bold=True)
        page.pen(0.4)
        page.painter.drawRect(page.box(x_mm + 10.0, label_mm + 0.3, _BOX_MM, _BOX_MM))
    page.text(_CAUTION, 7.5, (EDGE_MM, page.bottom_mm - 3.0))


def _draw_key(page: Upright, keys: Sequence[str], number: int, limits: Limits) -> None:
    y_mm = page.text(f"Key of sheet {number}", 15.0, (EDGE_MM, EDGE_MM), bold=True)
    wanted = f"Wanted: {limits.young_h:g}-{limits.old_h:g} hours after hatching."
    told = (
        "A little past the limit is not counted. Ticks are scored by these ages, also if others "
        "are wanted by then. Keep this page until everybody is done."
    )
    y_mm = page.text(f"{wanted} {told}", 10.0, (EDGE_MM, y_mm + 1.0)) + 4.0
    for k, words in enumerate(keys):
        page.text_in(str(k + 1), 11.0, (EDGE_MM, y_mm, 12.0), bold=True)
        y_mm = page.text(words, 11.0, (EDGE_MM + 12.0, y_mm)) + 2.0
    foot = "Enter the ticks in larvasight: Learner, Enter a sheet."
    page.text(foot, 9.0, (EDGE_MM, page.bottom_mm - 5.0))


def _image(pixels: NDArray[np.uint8]) -> QImage:
    height, width = pixels.shape[:2]
    data = np.ascontiguousarray(pixels)
    made = QImage(data.tobytes(), width, height, 3 * width, QImage.Format.Format_RGB888)
    return made.copy()
