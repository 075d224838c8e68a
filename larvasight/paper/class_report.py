"""The class on A4: the next lesson's topic, then a row for each learner."""

from collections.abc import Sequence
from datetime import date
from math import ceil

from larvasight.grading import Limits
from larvasight.paper.age_chart_parts import EDGE_MM
from larvasight.paper.class_chart import CLASS_TITLE, class_height_px, draw_class
from larvasight.paper.pages import PX_PER_MM, Upright, upright_pdf
from larvasight.paper.report import PRINT
from larvasight.practice.class_line import ClassLine

_ROWS = 22
_TEXT_PX = 3.1 * PX_PER_MM
_NOTE = (
    "Dots with lines: the youngest (upper) and the oldest age (lower) that each one takes half of"
    " the time, and where it lies with 95 in 100. Shaded: the usable and the best ages. Below 40"
    " cells nothing is told. The order says who needs the teacher first, not who is better; few"
    " cells say little, and picking on a screen is not grafting."
)


def class_pdf(
    lines: Sequence[ClassLine],
    topic: str,
    *,
    limits: Limits,
    made_on: date,
    program_version: str,
) -> bytes:
    """Return the class as a PDF, 22 learners a page.

    Parameters
    ----------
    lines : sequence of ClassLine
        In the order of the rows.
    topic : str
        What the next lesson should be about.
    limits : Limits
        The class's spans.
    made_on : date
        The day it is made.
    program_version : str
        Stands in the file.
    """
    n_pages = max(1, ceil(len(lines) / _ROWS))

    def draw(page: Upright, number: int) -> None:
        y_mm = page.text("The class", 18.0, (EDGE_MM, EDGE_MM), bold=True)
        if not number:
            y_mm = page.text(topic, 11.0, (EDGE_MM, y_mm + 1.0))
        y_mm = page.text(CLASS_TITLE, 9.0, (EDGE_MM, y_mm + 2.0), bold=True)
        own = lines[number * _ROWS : (number + 1) * _ROWS]
        height_mm = class_height_px(len(own), _TEXT_PX) / PX_PER_MM
        box = page.box(EDGE_MM, y_mm + 1.0, page.width_mm, height_mm)
        draw_class(page.painter, box, own, limits=limits, inks=PRINT, text_px=_TEXT_PX)
        page.text(_NOTE, 8.0, (EDGE_MM, page.bottom_mm - 18.0))
        foot = f"{made_on.isoformat()}, page {number + 1} of {n_pages}"
        page.text(foot, 8.0, (EDGE_MM, page.bottom_mm - 4.0))

    return upright_pdf(
        draw,
        n_pages=n_pages,
        title="The class",
        made_on=made_on,
        program_version=program_version,
    )
