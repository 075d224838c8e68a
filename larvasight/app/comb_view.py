"""The comb: a large picture with cells to point at, by mouse or from the keyboard."""

from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QPoint, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QImage, QKeyEvent, QMouseEvent, QPaintEvent, QPen
from PySide6.QtWidgets import QGraphicsItem, QGraphicsPathItem

from larvasight.app.card_dialog import choose_magnification
from larvasight.app.cell_item import CellItem, Face
from larvasight.app.comb_picture import CombPicture
from larvasight.app.comb_places import (
    CellPlace,
    item_of,
    nearest_to,
    next_cell,
    outside_of,
    polygon_of,
)
from larvasight.app.comb_sight import ZOOM_STEP, CombSight
from larvasight.app.loupe import Loupe
from larvasight.app.picture_tool import PictureTool
from larvasight.sheet import PointsXY

__all__ = ["ZOOM_STEP", "CellPlace", "CombView"]

# How much of the view's smaller side one cell takes when it is looked at closely.
_CLOSE_SHARE = 0.45

_ARROWS: dict[int, tuple[float, float]] = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, -1.0),
    Qt.Key.Key_Down: (0.0, 1.0),
}
# How far these keys move what is in view, in views.
_PAGES: dict[int, tuple[float, float]] = {
    Qt.Key.Key_PageUp: (0.0, -0.85),
    Qt.Key.Key_PageDown: (0.0, 0.85),
    Qt.Key.Key_Home: (-0.85, 0.0),
    Qt.Key.Key_End: (0.85, 0.0),
}


class CombView(CombSight):
    """A picture of comb that is zoomed, moved and pointed at.

    ``cell_pressed`` tells that a cell was clicked, or Space pressed on it; ``cell_reached``
    that the keyboard's place moved to it.

    Parameters
    ----------
    loupe : Loupe, optional
        The loupe that is shared with other views.
    """

    cell_pressed = Signal(int)
    cell_reached = Signal(int)

    def __init__(self, loupe: Loupe | None = None) -> None:
        super().__init__(loupe)
        self._items: list[CellItem] = []
        self._place: int | None = None
        self._looked_at: int | None = None
        self._middles_xy_px = np.zeros((0, 2))
        self._is_seen = np.zeros(0, dtype=bool)
        self._pressed_at: QPoint | None = None
        self._is_moving = False
        self._tool: PictureTool | None = None
        self._is_tool_at_work = False
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

    @property
    def n_unseen(self) -> int:
        """Number of cells that were not in view yet, large enough to be judged."""
        return int((~self._is_seen).sum())

    def show_comb(
        self,
        image: QImage,
        cells: Sequence[CellPlace],
        row_angle_deg: float,
        *,
        veils_others: bool = False,
        px_per_mm: float | None = None,
        smaller: Sequence[QImage] | None = None,
        scrolls: bool = False,
    ) -> None:
        """Show another picture with its cells; all faces are bare again.

        Parameters
        ----------
        image : QImage
            The picture.
        cells : sequence of CellPlace
            What can be pointed at.
        row_angle_deg : float
            How the comb's rows are turned.
        veils_others : bool
            Whether to dim what belongs to no cell that can be pointed at.
        px_per_mm : float, optional
            Scale of the picture at the rims; without it there is no loupe.
        smaller : sequence of QImage, optional
            The picture's halves, made here without them.
        scrolls : bool
            Whether the comb is too large to be judged when the whole of it is in view.
        """
        self.set_tool(None)
        self._place = self._looked_at = None
        picture = self.show_picture(
            image,
            smaller,
            px_per_mm=px_per_mm,
            pitch_px=cells[0].pitch_px if cells else 1.0,
            scrolls=scrolls,
        )
        self._items = [item_of(k, cell, row_angle_deg) for k, cell in enumerate(cells)]
        self._middles_xy_px = np.array([cell.centre_xy_px for cell in cells]).reshape(-1, 2)
        # What opens whole can be seen whole.
        self._is_seen = np.full(len(cells), not scrolls)
        if veils_others:
            self._veil(picture)
        for item in self._items:
            item.setParentItem(picture)
            if scrolls:  # many are in view at once: each is painted once, then only moved
                item.setCacheMode(QGraphicsItem.CacheMode.DeviceCoordinateCache)
        self.rest()

    def put_cells(self, cells: Sequence[CellPlace], row_angle_deg: float) -> None:
        """Let other cells be pointed at in the same picture, seen as it is; all faces are bare."""
        pictures = [item for item in self._scene.items() if isinstance(item, CombPicture)]
        for old in self._items:
            self._scene.removeItem(old)
        self._place = self._looked_at = None
        self._items = [item_of(k, cell, row_angle_deg) for k, cell in enumerate(cells)]
        self._middles_xy_px = np.array([cell.centre_xy_px for cell in cells]).reshape(-1, 2)
        self._is_seen = np.full(len(cells), fill_value=True)
        for item in self._items:
            item.setParentItem(pictures[0])

    def show_cells(self, is_shown: bool) -> None:
        """Show what is drawn over cells, or the bare picture."""
        for item in self._items:
            item.setVisible(is_shown)

    def _veil(self, picture: QGraphicsItem) -> None:
        """Dim the cells cut by the edge, which are not asked."""
        outside = outside_of(self._items, QRectF(picture.boundingRect()))
        veil = QGraphicsPathItem(outside, picture)
        veil.setPen(QPen(Qt.PenStyle.NoPen))
        veil.setBrush(QColor(20, 14, 8, 105))

    def clear(self) -> None:
        """Show nothing."""
        self.set_tool(None)
        self._scene.clear()
        self._picture = QRectF()
        self._items, self._place, self._looked_at = [], None, None
        self._is_seen = np.zeros(0, dtype=bool)

    @property
    def tool(self) -> PictureTool | None:
        """What is in hand over the picture."""
        return self._tool

    def set_tool(self, tool: PictureTool | None) -> None:
        """Take something in hand that is asked before cells are; None puts it away."""
        if self._tool is not None:
            self._scene.removeItem(self._tool)
        for one, is_in_hand in ((self._tool, False), (tool, True)):
            if one is not None and one.index is not None and one.index < len(self._items):
                self._items[one.index].set_in_hand(is_in_hand)
        self._tool, self._is_tool_at_work = tool, False
        if tool is not None:
            tool.setZValue(5.0)
            tool.lay_over(self._picture)
            self._scene.addItem(tool)

    def set_body(self, index: int, outline: PointsXY | None, line: PointsXY | None) -> None:
        """Draw another body over a cell, points as in a sheet."""
        self._items[index].set_body(polygon_of(outline), polygon_of(line))

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
            self.reveal(self._items[index].sceneBoundingRect())

    def see_all(self) -> None:
        """Fit the whole picture into the view; the loupe goes to its middle."""
        self._looked_at = None
        super().see_all()

    def refit(self) -> None:
        """Show the comb anew; the loupe changed."""
        looked_at, was_in_loupe = self._looked_at, self.is_in_loupe
        super().refit()
        if looked_at is not None and was_in_loupe != self.is_in_loupe:
            self.look_closer(looked_at)
        elif self._place is not None and self.is_in_loupe:
            self.centerOn(self._items[self._place])

    def look_closer(self, index: int) -> None:
        """Enlarge one cell to nearly half of the view; from there back.

        With a loupe in hand it is held over the cell.
        """
        item = self._items[index]
        if self.is_in_loupe:
            self._looked_at = index
            self.glide.stop()
            self.centerOn(item)
            return
        if self._looked_at is not None or self._zoom > 1.01 * self.resting_zoom:
            self.rest()
            self._go_to(item.centre)
            return
        side_px = min(self.viewport().width(), self.viewport().height())
        now_px = item.boundingRect().width() * self.transform().m11()
        self.zoom_by(max(side_px * _CLOSE_SHARE / now_px, 1.0))
        self.centerOn(item)
        self._looked_at = index

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint, and remember which cells were in view."""
        super().paintEvent(event)
        if self.n_unseen:
            self._is_seen |= self.are_in_view(self._middles_xy_px)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move between cells, press one, zoom, take the loupe."""
        if not self._give_tool(event):
            self._take_key(event)

    def _give_tool(self, event: QKeyEvent) -> bool:
        tool = self._tool
        return tool is not None and tool.key(event, self.transform().m11(), self.middle)

    def _take_key(self, event: QKeyEvent) -> None:
        key = event.key()
        shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if key in _ARROWS and (shifted or not self._items):
            self.glide_cells(*_ARROWS[key])
        elif key in _ARROWS:
            self._step(_ARROWS[key])
        elif key in _PAGES and self.can_move:
            self.glide_views(*_PAGES[key])
        elif key == Qt.Key.Key_Space and self._place is not None:
            self.cell_pressed.emit(self._place)
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom_by(ZOOM_STEP)
        elif key == Qt.Key.Key_Minus:
            self.zoom_by(1.0 / ZOOM_STEP)
        elif key == Qt.Key.Key_0:
            self.put_loupe_away()
        elif key == Qt.Key.Key_C and self._place is not None:
            self.look_closer(self._place)
        elif key == Qt.Key.Key_M and self._loupe is not None:
            choose_magnification(self, self._loupe, self._loupe.next_after(1))
        else:
            event.ignore()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Remember where a click or a move begins."""
        if event.button() is Qt.MouseButton.LeftButton:
            self.glide.stop()
            self._is_moving = False
            at = self._picture_point(event)
            if self._tool is not None and self._tool.pressed(at, self.transform().m11()):
                self._is_tool_at_work = True
            else:
                self._pressed_at = event.position().toPoint()
        event.accept()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Move the picture once the pointer is dragged far enough."""
        here = event.position().toPoint()
        if self._is_tool_at_work and self._tool is not None:
            self._tool.dragged(self._picture_point(event))
            return
        if self._pressed_at is not None:
            if (here - self._pressed_at).manhattanLength() > 8 and self.can_move:
                self._is_moving = True
                self.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)
            if self._is_moving:
                self.glide.move_by(self._pressed_at - here)
                self._pressed_at = here
        super().mouseMoveEvent(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Press the cell under the pointer unless the picture was moved."""
        if self._is_tool_at_work and self._tool is not None:
            self._is_tool_at_work = False
            self._tool.released()
            return
        was_moving, self._is_moving = self._is_moving, False
        began, self._pressed_at = self._pressed_at, None
        self.viewport().unsetCursor()
        if event.button() is not Qt.MouseButton.LeftButton or was_moving or began is None:
            return
        if self._tool is not None and self._tool.clicked(self._picture_point(event)):
            return
        index = self.cell_at(event.position().toPoint())
        if index is not None:
            self.set_place(None)
            self._place = index
            self.cell_pressed.emit(index)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Count a fast second click as a click of its own, unless it is meant for a tool."""
        at, zoom = self._picture_point(event), self.transform().m11()
        if self._tool is not None and self._tool.double_clicked(at, zoom):
            event.accept()
            return
        self.mousePressEvent(event)

    def cell_at(self, point: QPoint) -> int | None:
        """Return the cell under a point of this widget, None beside all cells or in the dark."""
        if not self.is_in_field(point):
            return None
        for item in self.items(point):
            if isinstance(item, CellItem):
                return item.index
        return None

    def _picture_point(self, event: QMouseEvent) -> QPointF:
        """Return where the pointer is in the picture; points count from pixel centres."""
        inverted, _ = self.viewportTransform().inverted()
        return inverted.map(event.position()) - QPointF(0.5, 0.5)

    def _step(self, direction: tuple[float, float]) -> None:
        if self._place is None:
            self.set_place(nearest_to(self._items, self.middle))
        else:
            index = next_cell(self._items, self._place, direction)
            self.set_place(self._place if index is None else index)
        if self._place is not None:
            self.cell_reached.emit(self._place)
