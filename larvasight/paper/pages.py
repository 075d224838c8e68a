"""Upright pages of paper for the grafting room: sizes in mm, one PDF from a drawing."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from uuid import NAMESPACE_URL, uuid5

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QUuid
from PySide6.QtGui import QPageLayout, QPageSize, QPainter, QPdfWriter

from larvasight.paper.age_chart_parts import EDGE_MM, Page, Sheet
from larvasight.paper.pdf_bytes import with_fixed_date
from larvasight.paper.qt import ensure_application

# A whole number of printer px to the mm, so that every length is exact.
PX_PER_MM = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Upright(Sheet):
    """One sheet standing on its short side."""

    @property
    def width_mm(self) -> float:
        """Width inside the edges."""
        return self.page.value[1] - 2.0 * EDGE_MM

    @property
    def bottom_mm(self) -> float:
        """Where the lower edge begins."""
        return self.page.value[0] - EDGE_MM

    @property
    def right_mm(self) -> float:
        """Where the right edge begins."""
        return EDGE_MM + self.width_mm

    def text(self, text: str, size_pt: float, place_mm: tuple[float, float], **look: bool) -> float:
        """Write words from a place down to the right edge; return where they end, mm."""
        return self.text_in(text, size_pt, (*place_mm, self.right_mm - place_mm[0]), **look)

    def text_in(
        self, text: str, size_pt: float, place_mm: tuple[float, float, float], **look: bool
    ) -> float:
        """Write words from a place down in a width; return where they end, mm."""
        x_mm, y_mm, width_mm = place_mm
        words = self.words(size_pt, **look)
        height_px = words.wrapped(self.box(x_mm, y_mm, width_mm, 0.0), text)
        return y_mm + height_px / self.px_per_mm

    def rule(self, y_mm: float, *, width_mm: float = 0.25) -> None:
        """Draw a line from edge to edge."""
        self.pen(width_mm)
        self.painter.drawLine(self.at(EDGE_MM, y_mm), self.at(self.right_mm, y_mm))


def upright_pdf(
    draw: Callable[[Upright, int], None],
    *,
    n_pages: int,
    title: str,
    made_on: date,
    program_version: str,
    page: Page = Page.A4,
) -> bytes:
    """Return upright pages as a PDF, A4 unless told otherwise.

    Parameters
    ----------
    draw : callable
        Gets a page and its number from 0.
    n_pages : int
        How many pages.
    title : str
        Names the file inside.
    made_on : date
        The day it is made.
    program_version : str
        Stands in the file.
    page : Page
        Size of the paper.
    """
    ensure_application()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setResolution(round(PX_PER_MM * 25.4))
    is_a4 = page is Page.A4
    size = QPageSize(QPageSize.PageSizeId.A4 if is_a4 else QPageSize.PageSizeId.Letter)
    upright = QPageLayout.Orientation.Portrait
    writer.setPageLayout(QPageLayout(size, upright, QMarginsF(0.0, 0.0, 0.0, 0.0)))
    writer.setTitle(" ".join(title.split()))
    writer.setCreator(f"larvasight {program_version}")
    writer.setDocumentId(QUuid(str(uuid5(NAMESPACE_URL, f"{title} {made_on} {program_version}"))))
    painter = QPainter(writer)
    for number in range(n_pages):
        if number:
            writer.newPage()
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        draw(Upright(painter=painter, page=page, px_per_mm=float(PX_PER_MM)), number)
        painter.restore()
    painter.end()
    return with_fixed_date(bytes(buffer.data().data()), made_on)
