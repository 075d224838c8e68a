"""The comb: a large picture with cells to point at, by mouse or from the keyboard."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPoint, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPen,
    QPixmap,
    QPolygonF,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import (
    QFrame,
    QGraphicsItem,
    QGraphicsPathItem,
    QGraphicsPixmapItem,
    QGraphicsScene,
    QGraphicsView,
)

from larvasight.app.cell_item import CellItem, Face
from larvasight.geometry import hexagon_corners
from larvasight.sheet import PointsXY

ZOOM_STEP = 1.25
_ZOOM_MOST = 12.0
# How much of the view's smaller side one cell takes when it is looked at closely.
_CLOSE_SHARE = 0.45
# The rim of a cell is drawn on this share of its hexagon.
_RIM_SHARE = 0.92
# The veil over cells at the edge begins this far out, against that rim.
_VEIL_FROM = 1.1

_ARROWS: dict[int, tuple[float, float]] = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, -1.0),
    Qt.Key.Key_Down: (0.0, 1.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CellPlace:
    """Where a cell lies in the picture, and the body found in it; points as in a sheet."""

    centre_xy_px: tuple[float, float]
    pitch_px: float
    outline_xy_px: PointsXY | None = None
    midline_xy_px: PointsXY | None = None


class CombView(QGraphicsView):
    """A picture of comb that is zoomed, moved and pointed at.

    ``cell_pressed`` tells that a cell was clicked, or Space pressed on it; ``cell_reached``
    that the keyboard's place moved to it.
    """

    cell_pressed = Signal(int)
    cell_reached = Signal(int)

    def __init__(self) -> None:
        super().__init__()
        self._scene = QGraphicsScene(self)
        self.setScene(self._scene)
        self._picture = QRectF()
        self._items: list[CellItem] = []
        self._place: int | None = None
        self._zoom = 1.0
        self._pressed_at: QPoint | None = None
        self._is_moving = False
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        self.setViewportUpdateMode(QGraphicsView.ViewportUpdateMode.MinimalViewportUpdate)
        self.setTransformationAnchor(QGraphicsView.ViewportAnchor.AnchorUnderMouse)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(320, 240)
        self.setAccessibleName("Comb")

    @property
    def n_cells(self) -> int:
        """Number of cells that can be pointed at."""
        return len(self._items)

    @property
    def place(self) -> int | None:
        """The cell where the keyboard is, None before it was used."""
        return self._place

    def show_comb(
        self,
        image: QImage,
        cells: Sequence[CellPlace],
        row_angle_deg: float,
        *,
        veils_others: bool = False,
    ) -> None:
        """Show another picture with its cells; all faces are bare again.

        ``veils_others`` dims what belongs to no cell that can be pointed at.
        """
        self._scene.clear()
        self._place = None
        picture = self._scene.addPixmap(QPixmap.fromImage(image))
        picture.setTransformationMode(Qt.TransformationMode.SmoothTransformation)
        picture.setShapeMode(QGraphicsPixmapItem.ShapeMode.BoundingRectShape)
        picture.setFlag(QGraphicsItem.GraphicsItemFlag.ItemClipsChildrenToShape)
        self._picture = QRectF(0.0, 0.0, image.width(), image.height())
        self._items = [_item_of(k, cell, row_angle_deg) for k, cell in enumerate(cells)]
        if veils_others:
            self._veil(picture)
        for item in self._items:
            item.setParentItem(picture)
        self.see_all()

    def _veil(self, picture: QGraphicsPixmapItem) -> None:
        """Dim the cells cut by the edge, which are not asked."""
        asked = QPainterPath()
        asked.setFillRule(Qt.FillRule.WindingFill)
        for item in self._items:
            middle = item.centre
            grown = [middle + (corner - middle) * _VEIL_FROM for corner in item.hexagon.toList()]
            asked.addPolygon(QPolygonF([*grown, grown[0]]))
        rest = QPainterPath()
        rest.addRect(self._picture)
        veil = QGraphicsPathItem(rest.subtracted(asked.simplified()), picture)
        veil.setPen(QPen(Qt.PenStyle.NoPen))
        veil.setBrush(QColor(20, 14, 8, 105))

    def clear(self) -> None:
        """Show nothing."""
        self._scene.clear()
        self._items, self._place = [], None

    def set_face(self, index: int, face: Face) -> None:
        """Draw something over a cell."""
        self._items[index].set_face(face)

    def face_of(self, index: int) -> Face:
        """Return what is drawn over a cell."""
        return self._items[index].face

    def centre_on_screen(self, index: int) -> QPoint:
        """Return where a cell's middle is in this widget, px."""
        return self.mapFromScene(self._items[index].centre)

    def set_place(self, index: int | None) -> None:
        """Move the keyboard's place; None hides it."""
        if self._place is not None and self._place < len(self._items):
            self._items[self._place].set_place(False)
        self._place = index
        if index is not None:
            self._items[index].set_place(True)
            self.ensureVisible(self._items[index], 16, 16)

    def see_all(self) -> None:
        """Fit the whole picture into the view."""
        self._zoom = 1.0
        self._fit()

    def zoom_by(self, factor: float) -> None:
        """Go closer (above 1) or away, never smaller than the whole picture."""
        zoom = min(max(self._zoom * factor, 1.0), _ZOOM_MOST)
        if zoom == 1.0:
            self.see_all()
            return
        if self._zoom == 1.0:
            # Room around, so that cells at the picture's edge, too, can be brought to the middle.
            across, down = self._picture.width() / 2.0, self._picture.height() / 2.0
            self._scene.setSceneRect(self._picture.adjusted(-across, -down, across, down))
        self.scale(zoom / self._zoom, zoom / self._zoom)
        self._zoom = zoom

    def look_closer(self, index: int) -> None:
        """Enlarge one cell to nearly half of the view; from there back to the whole picture."""
        if self._zoom > 1.01:
            self.see_all()
            return
        item = self._items[index]
        side_px = min(self.viewport().width(), self.viewport().height())
        now_px = item.boundingRect().width() * self.transform().m11()
        self.zoom_by(max(side_px * _CLOSE_SHARE / now_px, 1.0))
        self.centerOn(item)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move between cells, press one, zoom."""
        key = event.key()
        if key in _ARROWS and self._items:
            self._step(_ARROWS[key])
        elif key == Qt.Key.Key_Space and self._place is not None:
            self.cell_pressed.emit(self._place)
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom_by(ZOOM_STEP)
        elif key == Qt.Key.Key_Minus:
            self.zoom_by(1.0 / ZOOM_STEP)
        elif key == Qt.Key.Key_0:
            self.see_all()
        elif key == Qt.Key.Key_C and self._place is not None:
            self.look_closer(self._place)
        else:
            event.ignore()

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom about the pointer."""
        turns = event.angleDelta().y() / 120.0
        if turns:
            self.zoom_by(ZOOM_STEP**turns)
        event.accept()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Remember where a click or a move begins."""
        if event.button() is Qt.MouseButton.LeftButton:
            self._pressed_at = event.position().toPoint()
            self._is_moving = False
        event.accept()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Move the picture once the pointer is dragged far enough."""
        here = event.position().toPoint()
        if self._pressed_at is not None:
            if (here - self._pressed_at).manhattanLength() > 8 and self._zoom > 1.0:
                self._is_moving = True
                self.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)
            if self._is_moving:
                self._move_by(here - self._pressed_at)
                self._pressed_at = here
        super().mouseMoveEvent(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Press the cell under the pointer unless the picture was moved."""
        was_moving, self._is_moving = self._is_moving, False
        began, self._pressed_at = self._pressed_at, None
        self.viewport().unsetCursor()
        if event.button() is not Qt.MouseButton.LeftButton or was_moving or began is None:
            return
        index = self.cell_at(event.position().toPoint())
        if index is not None:
            self.set_place(None)
            self._place = index
            self.cell_pressed.emit(index)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Count a fast second click as a click of its own."""
        self.mousePressEvent(event)

    def cell_at(self, point: QPoint) -> int | None:
        """Return the cell under a point of this widget, None beside all cells."""
        for item in self.items(point):
            if isinstance(item, CellItem):
                return item.index
        return None

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the whole picture in view if it was."""
        super().resizeEvent(event)
        if self._zoom == 1.0:
            self._fit()

    def _fit(self) -> None:
        self._scene.setSceneRect(self._picture)
        self.fitInView(self._picture, Qt.AspectRatioMode.KeepAspectRatio)

    def _move_by(self, way: QPoint) -> None:
        across, down = self.horizontalScrollBar(), self.verticalScrollBar()
        across.setValue(across.value() - way.x())
        down.setValue(down.value() - way.y())

    def _step(self, direction: tuple[float, float]) -> None:
        if self._place is None:
            middle = self._picture.center()
            nearest = min(self._items, key=lambda item: _away(item.centre - middle))
            self.set_place(nearest.index)
        else:
            index = _next_cell(self._items, self._place, direction)
            self.set_place(self._place if index is None else index)
        if self._place is not None:
            self.cell_reached.emit(self._place)


def _item_of(index: int, cell: CellPlace, row_angle_deg: float) -> CellItem:
    centre = _shown(cell.centre_xy_px)
    corners = hexagon_corners(cell.pitch_px * _RIM_SHARE, row_angle_deg)
    hexagon = QPolygonF([centre + QPointF(float(x), float(y)) for x, y in corners])
    return CellItem(
        index, hexagon, cell.pitch_px, _polygon(cell.outline_xy_px), _polygon(cell.midline_xy_px)
    )


def _shown(point_xy_px: tuple[float, float]) -> QPointF:
    """Return where a picture point lies; picture points count from pixel centres."""
    return QPointF(point_xy_px[0] + 0.5, point_xy_px[1] + 0.5)


def _polygon(points: PointsXY | None) -> QPolygonF | None:
    return None if points is None else QPolygonF([_shown(point) for point in points])


def _away(way: QPointF) -> float:
    return math.hypot(way.x(), way.y())


def _next_cell(items: Sequence[CellItem], at: int, direction: tuple[float, float]) -> int | None:
    """Return the nearest cell in a direction, the further aside the dearer.

    A neighbour 30 degrees aside still comes before the cell straight behind two of them.
    """
    best, best_cost = None, math.inf
    for item in items:
        way = item.centre - items[at].centre
        away = _away(way)
        along = way.x() * direction[0] + way.y() * direction[1]
        if item.index != at and along > 0.2 * away and away * away / along < best_cost:
            best, best_cost = item.index, away * away / along
    return best
