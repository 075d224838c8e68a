"""The parts of an age chart whose sizes are exact: the sheet, cells, the ruler, the foot."""

from dataclasses import dataclass
from enum import Enum

import cv2
import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPainterPath, QPen, QPolygonF

from larvasight.geometry import PITCH_DEFAULT_MM, hexagon_corners
from larvasight.paper.lettering import NO_BREAK, Lettering, Side
from larvasight.paper.marks import Mark, Shape
from larvasight.paper.report import PRINT
from larvasight.paper.signs import draw_sign

RULER_MM = 50
EDGE_MM = 10.0
_MM_PER_PT = 25.4 / 72.0
_FOOT_PT = 12.5
# The hexagon shown of a picture reaches a little over the middle of its rims.
SHOWN_SHARE = 1.05
# A printed picture has at least and at most so many px to the mm.
_FINENESS_PX = (12.0, 24.0)

RULER_SENTENCE = (
    f"Measure this ruler: if it is not {RULER_MM}{NO_BREAK}mm long, print again at "
    f"100{NO_BREAK}% (no fitting to the page)."
)
CAUTIONS = (
    "Disease is not shown here. Yellow, brown, sunken or smelly brood: stop and ask your bee "
    "inspector.",
    f"No real larva under about 36{NO_BREAK}h has been available to test on. The cells are drawn "
    "by computer.",
    "Larvae of one age differ. This chart is not a licence to graft, teach or sell queens.",
)


class Page(Enum):
    """Paper lying on its long side: width and height in mm."""

    A4 = (297.0, 210.0)
    LETTER = (279.4, 215.9)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChartCell:
    """One stage of the chart.

    Attributes
    ----------
    title, looks : str
        Its name, and what to look for.
    age_h : float
        Hours after hatching of what the picture shows, negative for an egg.
    pixels : ndarray of shape (side, side, 3), uint8
        The picture, RGB, the cell in its middle and rows along x.
    pitch_px : float
        Centre to centre of neighbouring cells in the picture.
    """

    title: str
    looks: str
    age_h: float
    pixels: NDArray[np.uint8]
    pitch_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet of paper being drawn; lengths in mm."""

    painter: QPainter
    page: Page
    px_per_mm: float

    @property
    def width_mm(self) -> float:
        """Width inside the edges."""
        return self.page.value[0] - 2.0 * EDGE_MM

    @property
    def bottom_mm(self) -> float:
        """Where the lower edge begins."""
        return self.page.value[1] - EDGE_MM

    def at(self, x_mm: float, y_mm: float) -> QPointF:
        """Return a place in the painter's units."""
        return QPointF(x_mm * self.px_per_mm, y_mm * self.px_per_mm)

    def box(self, x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> QRectF:
        """Return a box in the painter's units."""
        return QRectF(self.at(x_mm, y_mm), self.at(x_mm + width_mm, y_mm + height_mm))

    def words(self, size_pt: float, *, bold: bool = False, faint: bool = False) -> Lettering:
        """Return words of a size."""
        return Lettering(
            painter=self.painter,
            size_px=size_pt * _MM_PER_PT * self.px_per_mm,
            colour=PRINT.faint if faint else PRINT.ink,
            bold=bold,
        )

    def pen(self, width_mm: float, colour: str = PRINT.ink) -> None:
        """Draw with lines of this width that end where they are told to."""
        pen = QPen(QColor(colour), width_mm * self.px_per_mm)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        self.painter.setPen(pen)


def draw_cell(sheet: Sheet, cell: ChartCell, centre_mm: tuple[float, float], times: int) -> None:
    """Draw a cell so many times as large as it is, cut along its rims."""
    pitch_mm = PITCH_DEFAULT_MM * times
    painter, side_px = sheet.painter, cell.pixels.shape[0]
    centre = sheet.at(*centre_mm)
    corners = hexagon_corners(pitch_mm * sheet.px_per_mm * SHOWN_SHARE)
    path = QPainterPath()
    path.addPolygon(QPolygonF([centre + QPointF(float(x), float(y)) for x, y in corners]))
    path.closeSubpath()
    side = side_px * pitch_mm / cell.pitch_px * sheet.px_per_mm
    target = QRectF(0.0, 0.0, side, side)
    target.moveCenter(centre)
    painter.save()
    painter.setClipPath(path)
    image = _image(cell, pitch_mm)
    painter.drawImage(target, image, QRectF(image.rect()))
    painter.restore()


def _image(cell: ChartCell, pitch_mm: float) -> QImage:
    """Return a picture with enough px to look smooth at this size, and not many more."""
    px_per_mm = cell.pitch_px / pitch_mm
    zoom = min(max(px_per_mm, _FINENESS_PX[0]), _FINENESS_PX[1]) / px_per_mm
    side_px = round(cell.pixels.shape[0] * zoom)
    how = cv2.INTER_AREA if zoom < 1.0 else cv2.INTER_CUBIC
    pixels = np.ascontiguousarray(cv2.resize(cell.pixels, (side_px, side_px), interpolation=how))
    kind = QImage.Format.Format_RGB888
    return QImage(pixels.data, side_px, side_px, 3 * side_px, kind).copy()


def cell_mm(times: int) -> float:
    """Return the height of a cell from corner to corner."""
    return float(np.ptp(hexagon_corners(PITCH_DEFAULT_MM * times * SHOWN_SHARE)[:, 1]))


def draw_mark(sheet: Sheet, mark: Mark, centre_mm: tuple[float, float], radius_mm: float) -> None:
    """Draw the sign of a mark; ``radius_mm`` is half its size."""
    # A dash is half as wide again as other signs.
    shown_mm = radius_mm / 1.3 if mark.shape is Shape.DASH else radius_mm
    draw_sign(sheet.painter, mark, sheet.at(*centre_mm), shown_mm * sheet.px_per_mm)


def draw_foot(sheet: Sheet, program_version: str) -> float:
    """Draw the ruler, how to use it and the cautions at the foot; return their top, mm."""
    bold, words = sheet.words(_FOOT_PT, bold=True), sheet.words(_FOOT_PT)
    left_mm = EDGE_MM + RULER_MM + 17.0
    width_mm = EDGE_MM + sheet.width_mm - left_mm
    width_px = width_mm * sheet.px_per_mm
    lines = ((bold, RULER_SENTENCE), *((words, line) for line in CAUTIONS))
    heights = [kind.height_px(line, width_px) / sheet.px_per_mm for kind, line in lines]
    top_mm = sheet.bottom_mm - sum(heights)
    y_mm = top_mm
    for (kind, line), height_mm in zip(lines, heights, strict=True):
        kind.wrapped(sheet.box(left_mm, y_mm, width_mm, 0.0), line)
        y_mm += height_mm
    _draw_ruler(sheet, EDGE_MM + 2.0, top_mm + 1.0)
    small = sheet.words(9.0, faint=True)
    small.line(sheet.at(EDGE_MM, sheet.bottom_mm - 1.8), f"larvasight {program_version}")
    return top_mm


def _draw_ruler(sheet: Sheet, x_mm: float, y_mm: float) -> None:
    """Draw a ruler whose first and last line are exactly its length apart."""
    numbers = sheet.words(11.0, bold=True)
    for at_mm in range(RULER_MM + 1):
        long_mm = 6.0 if at_mm % 10 == 0 else 4.5 if at_mm % 5 == 0 else 3.0
        sheet.pen(0.3 if at_mm % 10 == 0 else 0.2)
        x = x_mm + at_mm
        sheet.painter.drawLine(sheet.at(x, y_mm), sheet.at(x, y_mm + long_mm))
        if at_mm % 10 == 0:
            told = numbers.line(sheet.at(x, y_mm + 8.4), str(at_mm), Side.MIDDLE)
    numbers.line(QPointF(told.right(), told.center().y()), f"{NO_BREAK}mm")
    sheet.pen(0.3)
    ends = (sheet.at(x_mm - 0.15, y_mm), sheet.at(x_mm + RULER_MM + 0.15, y_mm))
    sheet.painter.drawLine(*ends)
