"""One cell, large, with the tool that is set into it."""

import math

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QPolygonF,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from larvasight.app.cell_item import MARK_COLOUR
from larvasight.app.loupe import DARK_AROUND
from larvasight.desk.tool_entry import ToolCell
from larvasight.geometry import hexagon_corners
from larvasight.paper.marks import Mark
from larvasight.paper.signs import DARK, draw_sign
from larvasight.practice.tool_entry import Entry, EntryTool, Hand, can_come_from, good_zone

_SHOWN_SHARE = 1.06
_HIGH_PITCHES = 1.26
_STEP_MM, _LARGE_STEP_MM = 0.1, 0.5
_TURN_DEG, _NOTCH = 10.0, 120.0
_DRAG_LEAST_PX = 14.0
_CROSS_MM, _SIGN_PX = 0.34, 12.0
_TONGUE_MM = (0.5, 0.24)
_SHAFT_MM, _SHAFT_WIDE_MM = 7.0, 0.16
_VEIL = QColor(11, 8, 6, 165)
_ZONE = QColor("#3fd6a8")
_ZONE_FILL = QColor(0, 158, 115, 95)
_ARROWS: dict[int, tuple[float, float]] = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, -1.0),
    Qt.Key.Key_Down: (0.0, 1.0),
}
_TURNS: dict[int, float] = {Qt.Key.Key_PageUp: -_TURN_DEG, Qt.Key.Key_PageDown: _TURN_DEG}


class ToolSight(QWidget):
    """Shows a cell and lets a tool be set into it; ``moved`` tells that the tip was put somewhere.

    ``tool`` and ``hand`` are those in use.
    """

    moved = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._cell: ToolCell | None = None
        self._image = QImage()
        self.tool, self.hand = EntryTool.FLEXIBLE, Hand.RIGHT
        self._tip_xy_mm: tuple[float, float] | None = None
        self._from_deg = 0.0
        self._mark: Mark | None = None
        self._pressed_at: QPointF | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(320, 300))
        self.setAccessibleName("Cell with a larva")

    @property
    def is_told(self) -> bool:
        """Whether it is shown what became of the tool."""
        return self._mark is not None

    @property
    def entry(self) -> Entry | None:
        """What is chosen now, None before the tip was put anywhere."""
        if self._tip_xy_mm is None:
            return None
        is_rigid = self.tool is EntryTool.RIGID
        return Entry(
            tool=self.tool,
            hand=self.hand,
            tip_xy_mm=self._tip_xy_mm,
            from_deg=self._from_deg if is_rigid else None,
        )

    def show_cell(self, cell: ToolCell, image: QImage) -> None:
        """Show another cell, without a tool in it."""
        self._cell, self._image = cell, image
        self._tip_xy_mm = self._mark = self._pressed_at = None
        self._point_from_hand()
        self.setCursor(Qt.CursorShape.CrossCursor)
        self.update()

    def use(self, tool: EntryTool, hand: Hand) -> None:
        """Take another tool, or the other hand."""
        changed = hand is not self.hand
        self.tool, self.hand = tool, hand
        if changed and not can_come_from(hand, self._from_deg):
            self._point_from_hand()
        self.update()

    def tell(self, mark: Mark) -> None:
        """Show what became of the tool, and where it would have been right."""
        self._mark = mark
        self.unsetCursor()
        self.update()

    def put_tip(self, x_mm: float, y_mm: float) -> None:
        """Put the tip somewhere in the cell; farther out it stays at the edge."""
        if self._cell is None or self.is_told:
            return
        most = 0.62 * self._cell.tile.pitch_mm
        x0, y0 = self._cell.floor.opening_xy_mm
        x, y = x_mm - x0, y_mm - y0
        away = math.hypot(x, y)
        share = min(1.0, most / max(away, 1e-9))
        self._tip_xy_mm = (x0 + share * x, y0 + share * y)
        self.update()
        self.moved.emit()

    def turn_tool(self, by_deg: float) -> None:
        """Turn a rigid tool about its tip, as far as the hand allows."""
        if self.tool is not EntryTool.RIGID or self.is_told:
            return
        wanted = (self._from_deg + by_deg) % 360.0
        if can_come_from(self.hand, wanted):
            self._from_deg = wanted
            self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move the tip with the arrows, turn a hook with Page Up and Page Down."""
        key = event.key()
        if self.is_told or self._cell is None:
            event.ignore()
        elif key in _ARROWS:
            is_large = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            step_mm = _LARGE_STEP_MM if is_large else _STEP_MM
            x, y = self._tip_xy_mm or self._cell.floor.opening_xy_mm
            if self._tip_xy_mm is not None:
                x, y = x + step_mm * _ARROWS[key][0], y + step_mm * _ARROWS[key][1]
            self.put_tip(x, y)
        elif key in _TURNS and self.tool is EntryTool.RIGID:
            self.turn_tool(_TURNS[key])
        else:
            event.ignore()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Put the tip where it is clicked."""
        if event.button() is Qt.MouseButton.LeftButton and self._cell is not None:
            self._pressed_at = event.position()
            self.put_tip(*self._mm_of(event.position()))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Turn a hook to where it is dragged; a flexible tip goes along."""
        if self._pressed_at is None or self.is_told:
            return
        if self.tool is EntryTool.FLEXIBLE:
            self.put_tip(*self._mm_of(event.position()))
            return
        way = event.position() - self._pressed_at
        if math.hypot(way.x(), way.y()) >= _DRAG_LEAST_PX:
            x = max(way.x(), 0.0) if self.hand is Hand.RIGHT else min(way.x(), 0.0)
            self._from_deg = math.degrees(math.atan2(way.y(), x)) % 360.0
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go."""
        del event
        self._pressed_at = None

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Turn a hook."""
        self.turn_tool(_TURN_DEG * event.angleDelta().y() / _NOTCH)
        event.accept()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the cell, the tool, and once it is told where it would have been right."""
        del event
        painter = QPainter(self)
        painter.fillRect(self.rect(), DARK_AROUND)
        cell = self._cell
        if cell is None:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        self._draw_cell(painter, cell)
        if self.is_told:
            self._draw_zone(painter, cell)
        if self._tip_xy_mm is not None:
            tip = self._point_of(self._tip_xy_mm)
            if self.tool is EntryTool.RIGID:
                self._draw_hook(painter, tip)
            elif not self.is_told:
                self._draw_tongue(painter, tip)
            self._draw_tip(painter, tip)

    @property
    def _scale(self) -> float:
        """Pixels of the screen to a mm of the cell."""
        pitch_mm = self._cell.tile.pitch_mm if self._cell is not None else 1.0
        return min(self.width(), self.height()) / (_HIGH_PITCHES * pitch_mm)

    def _point_of(self, point_xy_mm: tuple[float, float]) -> QPointF:
        """Return where a point of the floor is seen."""
        x0, y0 = self._cell.floor.opening_xy_mm if self._cell is not None else (0.0, 0.0)
        away = QPointF(point_xy_mm[0] - x0, point_xy_mm[1] - y0) * self._scale
        return QRectF(self.rect()).center() + away

    def _mm_of(self, point: QPointF) -> tuple[float, float]:
        x0, y0 = self._cell.floor.opening_xy_mm if self._cell is not None else (0.0, 0.0)
        away = (point - QRectF(self.rect()).center()) / self._scale
        return away.x() + x0, away.y() + y0

    def _polygon(self, points_xy_mm: NDArray[np.float64]) -> QPolygonF:
        return QPolygonF([self._point_of((float(x), float(y))) for x, y in points_xy_mm])

    def _point_from_hand(self) -> None:
        self._from_deg = 0.0 if self.hand is Hand.RIGHT else 180.0

    def _draw_cell(self, painter: QPainter, cell: ToolCell) -> None:
        """Draw the comb, its cells but the one in the middle in the dark."""
        middle, zoom = QRectF(self.rect()).center(), self._scale / cell.px_per_mm
        size = QPointF(self._image.width(), self._image.height()) * zoom / 2.0
        painter.drawImage(QRectF(middle - size, middle + size), self._image)
        corners = hexagon_corners(cell.tile.pitch_mm * self._scale * _SHOWN_SHARE, cell.turn_deg)
        path = QPainterPath()
        path.addRect(QRectF(self.rect()))
        path.addPolygon(QPolygonF([middle + QPointF(float(x), float(y)) for x, y in corners]))
        path.closeSubpath()
        painter.fillPath(path, _VEIL)

    def _draw_zone(self, painter: QPainter, cell: ToolCell) -> None:
        for part in good_zone(cell.floor, self.tool):
            shape = self._polygon(part)
            painter.setBrush(_ZONE_FILL)
            for pen in (QPen(DARK, 4.5), QPen(_ZONE, 2.5)):
                painter.setPen(pen)
                painter.drawPolygon(shape)
                painter.setBrush(Qt.BrushStyle.NoBrush)
        line = self._polygon(cell.floor.line_xy_mm)
        for pen in (QPen(DARK, 4.0), QPen(QColor(255, 255, 255), 1.8)):
            painter.setPen(pen)
            painter.drawPolyline(line)

    def _draw_hook(self, painter: QPainter, tip: QPointF) -> None:
        """Draw a shaft that leads from the hand's side to the tip."""
        way_rad = math.radians(self._from_deg)
        far = tip + QPointF(math.cos(way_rad), math.sin(way_rad)) * _SHAFT_MM * self._scale
        wide = _SHAFT_WIDE_MM * self._scale
        for colour, times in ((DARK, 1.5), (QColor("#c9ccd1"), 1.0)):
            pen = QPen(colour, wide * times)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            painter.drawLine(tip, far)

    def _draw_tongue(self, painter: QPainter, tip: QPointF) -> None:
        """Draw the tongue as it is seen from above."""
        size = QPointF(*_TONGUE_MM) * self._scale / 2.0
        box = QRectF(tip - size, tip + size)
        painter.setPen(QPen(DARK, 2.0))
        painter.setBrush(QColor(240, 244, 248, 150))
        painter.drawRoundedRect(box, size.y(), size.y())
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _draw_tip(self, painter: QPainter, tip: QPointF) -> None:
        if self._mark is not None:
            draw_sign(painter, self._mark, tip, _SIGN_PX)
            return
        reach = _CROSS_MM * self._scale
        for pen in (QPen(DARK, 5.0), QPen(MARK_COLOUR, 2.2)):
            painter.setPen(pen)
            for way in (QPointF(reach, 0.0), QPointF(0.0, reach)):
                painter.drawLine(tip - way, tip - way * 0.25)
                painter.drawLine(tip + way * 0.25, tip + way)
