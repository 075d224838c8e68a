"""A picture of comb with what was found drawn over it, and a line that explains the marks."""

from collections import Counter
from collections.abc import Container
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QPointF, QRectF, Qt
from PySide6.QtGui import (
    QColor,
    QImage,
    QImageWriter,
    QPainter,
    QPen,
    QPolygonF,
)

from larvasight.geometry import hexagon_corners
from larvasight.paper.marks import BY_HAND_MARK, Mark, hours_on, mark_of, marks_in
from larvasight.paper.qt import ensure_application, text_font
from larvasight.paper.signs import DARK, draw_sign, sign_box, way_into
from larvasight.sheet import FLAG_SENTENCES, Cell, PointsXY, Sheet, write_whole

# Below this many px to a cell of the shown picture, ages no longer fit and only marks are drawn.
_AGE_LEAST_PX = 84.0
# Small pictures are enlarged so that a cell has about this many px, up to the width below.
_PITCH_WANTED_PX = 150.0
_WIDTH_MOST_PX = 2400
# Where signs stand, pitches from the middle of a cell.
_MARK_AT, _BY_HAND_AT = QPointF(0.0, 0.4), QPointF(0.33, 0.22)
_DASHED = "dashed rim: not sure"
_PAPER = QColor(250, 247, 240)
_INK = QColor(46, 34, 24)


def save_marked_picture(
    path: Path, pixels: NDArray[np.uint8], sheet: Sheet, by_hand: Container[int] = ()
) -> None:
    """Write a picture with outlines, age bands and verdicts over the found cells.

    Parameters
    ----------
    path : Path
        PNG file to write.
    pixels : ndarray of shape (H, W, 3), uint8
        The picture, RGB.
    sheet : Sheet
        Its graded cells.
    by_hand : container of int, optional
        Which of these a person put right; they get a sign of their own.

    Raises
    ------
    OutputFolderError
        If the file cannot be written.
    """
    image = draw_marked_picture(pixels, sheet, by_hand)
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    QImageWriter(buffer, QByteArray(b"png")).write(image)
    write_whole(path, bytes(buffer.data().data()))


def draw_marked_picture(
    pixels: NDArray[np.uint8], sheet: Sheet, by_hand: Container[int] = ()
) -> QImage:
    """Return the marked picture; see ``save_marked_picture``."""
    ensure_application()
    height_px, width_px = pixels.shape[:2]
    zoom = min(max(1.0, _PITCH_WANTED_PX / sheet.scale.pitch_px), _WIDTH_MOST_PX / width_px)
    zoom = max(zoom, 1.0) if width_px < _WIDTH_MOST_PX else 1.0
    shown = (round(width_px * zoom), round(height_px * zoom))
    legend_px = max(34, round(shown[0] * 0.034))
    image = QImage(shown[0], shown[1] + legend_px, QImage.Format.Format_RGB32)
    image.fill(_PAPER)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
    painter.drawImage(QRectF(0, 0, *shown), _as_image(pixels))
    painter.setClipRect(QRectF(0, 0, *shown))
    put_right = [cell for index, cell in enumerate(sheet.cells) if index in by_hand]
    for cell in sheet.cells:
        _draw_cell(painter, cell, zoom, sheet)
    for cell in put_right:
        _draw_sign_at(painter, BY_HAND_MARK, cell, zoom, sheet, _BY_HAND_AT)
    painter.setClipping(False)
    strip = QRectF(0, shown[1], shown[0], legend_px)
    marks = [*marks_in(sheet), *([BY_HAND_MARK] if put_right else [])]
    if marks:
        has_doubts = any(cell.is_doubtful for cell in sheet.cells)
        _draw_legend(painter, strip, marks, _DASHED if has_doubts else "")
    else:
        _draw_sentence(painter, strip, _nothing_marked(sheet))
    painter.end()
    return image


def _as_image(pixels: NDArray[np.uint8]) -> QImage:
    data = np.ascontiguousarray(pixels)
    height_px, width_px = data.shape[:2]
    return QImage(data.data, width_px, height_px, 3 * width_px, QImage.Format.Format_RGB888).copy()


def _shown(x_px: float, y_px: float, zoom: float) -> QPointF:
    """Return where a picture point lies; picture points count from pixel centres."""
    return QPointF((x_px + 0.5) * zoom, (y_px + 0.5) * zoom)


def _draw_cell(painter: QPainter, cell: Cell, zoom: float, sheet: Sheet) -> None:
    pitch_px = cell.px_per_mm * sheet.scale.pitch_mm * zoom
    centre = _shown(*cell.centre_xy_px, zoom)
    mark = mark_of(cell)
    corners = hexagon_corners(pitch_px * 0.9, sheet.lattice.row_angle_deg)
    hexagon = QPolygonF([centre + QPointF(float(x), float(y)) for x, y in corners])
    width_px = min(max(1.0, pitch_px * 0.014), 4.0)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if mark is None:
        painter.setPen(QPen(QColor(255, 255, 255, 130), max(1.0, width_px * 0.6)))
        painter.drawPolygon(hexagon)
        return
    _twice(painter, hexagon, QColor(mark.colour), width_px, dashed=cell.is_doubtful)
    _draw_line(painter, cell.outline_xy_px, zoom, QColor(mark.colour), width_px, closed=True)
    _draw_line(painter, cell.midline_xy_px, zoom, QColor(255, 255, 255), width_px, closed=False)
    _draw_sign_at(painter, mark, cell, zoom, sheet, _MARK_AT)
    hours = hours_on(cell)
    if hours and pitch_px >= _AGE_LEAST_PX:
        _draw_text(painter, centre - QPointF(0.0, pitch_px * 0.39), hours, pitch_px)


def _draw_sign_at(
    painter: QPainter, mark: Mark, cell: Cell, zoom: float, sheet: Sheet, at_pitches: QPointF
) -> None:
    """Draw a sign so far from the middle of a cell, or nearer where the picture ends."""
    pitch_px = cell.px_per_mm * sheet.scale.pitch_mm * zoom
    picture, size = painter.clipBoundingRect(), max(3.0, pitch_px * 0.055)
    sign = _shown(*cell.centre_xy_px, zoom) + at_pitches * pitch_px
    sign += way_into(sign_box(sign, size), picture, pitch_px)
    draw_sign(painter, mark, sign, size)


def _twice(
    painter: QPainter, shape: QPolygonF, colour: QColor, width_px: float, *, dashed: bool = False
) -> None:
    """Draw a polygon over a dark edge, so that it stands out on light and dark comb."""
    pens = [QPen(DARK, width_px * 2.2), QPen(colour, width_px)]
    if dashed:
        pens[1].setDashPattern([4.0, 3.0])
    for pen in pens:
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.setPen(pen)
        painter.drawPolygon(shape)


def _draw_line(
    painter: QPainter,
    points: PointsXY | None,
    zoom: float,
    colour: QColor,
    width_px: float,
    *,
    closed: bool,
) -> None:
    if points is None:
        return
    line = QPolygonF([_shown(x, y, zoom) for x, y in points])
    if closed:
        _twice(painter, line, colour, width_px)
        return
    for pen in (QPen(DARK, width_px * 2.0), QPen(colour, width_px)):
        painter.setPen(pen)
        painter.drawPolyline(line)


def _draw_text(painter: QPainter, centre: QPointF, text: str, pitch_px: float) -> None:
    painter.setFont(text_font(pitch_px * 0.115, bold=True))
    box = QRectF(painter.fontMetrics().boundingRect(text))
    box.moveCenter(centre)
    plate = box.adjusted(-4, -1, 4, 1)
    shift = way_into(plate, painter.clipBoundingRect(), pitch_px)
    plate.translate(shift)
    box.translate(shift)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(24, 18, 12, 170))
    painter.drawRoundedRect(plate, 4, 4)
    painter.setPen(QColor(255, 255, 255))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)


def _nothing_marked(sheet: Sheet) -> str:
    found = f"{len(sheet.cells)} cells found, no egg or larva among them."
    flags = Counter(flag for cell in sheet.cells for flag in cell.flags)
    if not flags:
        return found
    return f"{len(sheet.cells)} cells found. {FLAG_SENTENCES[flags.most_common(1)[0][0]]}"


def _draw_sentence(painter: QPainter, box: QRectF, text: str) -> None:
    painter.setFont(text_font(box.height() * 0.46))
    painter.setPen(_INK)
    inside = box.adjusted(box.height() * 0.4, 0.0, 0.0, 0.0)
    painter.drawText(inside, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, text)


def _draw_legend(painter: QPainter, box: QRectF, marks: list[Mark], note: str) -> None:
    size_px = box.height() * 0.46
    painter.setFont(text_font(size_px))
    x = box.left() + box.height() * 0.6
    middle = box.center().y()
    for mark in marks:
        draw_sign(painter, mark, QPointF(x, middle), size_px * 0.36)
        painter.setPen(_INK)
        width = painter.fontMetrics().horizontalAdvance(mark.word)
        painter.drawText(
            QRectF(x + size_px, box.top(), width + size_px, box.height()),
            Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft,
            mark.word,
        )
        x += width + size_px * 3.0
    painter.setPen(_INK)
    rest = QRectF(x, box.top(), box.right() - x, box.height())
    painter.drawText(rest, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, note)
