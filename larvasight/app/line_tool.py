"""A larva's body line with points to drag."""

import math
from collections.abc import Sequence
from itertools import pairwise

from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QPainter
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from larvasight.app.cell_item import MARK_COLOUR
from larvasight.app.picture_tool import RestingTool, step_of, two_pens
from larvasight.desk.body_line import HANDLES_LEAST, HANDLES_MOST
from larvasight.paper.signs import DARK
from larvasight.sheet import PointsXY

_HANDLE_PX = 6.0
# A point is taken hold of, and the line met, from this far away on the screen.
_REACH_PX = 12.0


class LineTool(RestingTool):
    """Handles along one body line.

    ``moved`` tells while a handle is dragged, ``kept`` once it was let go; one was added or
    taken away, too.
    """

    moved = Signal(object)
    kept = Signal(object)

    def __init__(self, index: int, handles_xy_px: PointsXY) -> None:
        super().__init__(index)
        self._handles = [QPointF(x, y) for x, y in handles_xy_px]
        self._chosen: int | None = None

    @property
    def handles_xy_px(self) -> PointsXY:
        """Where the handles are, from one tip to the other."""
        return tuple((point.x(), point.y()) for point in self._handles)

    def set_handles(self, handles_xy_px: PointsXY) -> None:
        """Show other handles."""
        self.forget()
        self._handles = [QPointF(x, y) for x, y in handles_xy_px]
        if self._chosen is not None and self._chosen >= len(self._handles):
            self._chosen = None
        self.update()

    def pressed(self, point: QPointF, zoom: float) -> bool:
        """Take hold of the handle at a point."""
        away = [math.dist((p.x(), p.y()), (point.x(), point.y())) for p in self._handles]
        nearest = min(range(len(away)), key=away.__getitem__)
        if away[nearest] * zoom > _REACH_PX:
            return False
        self.released()
        self._chosen = nearest
        self.update()
        return True

    def dragged(self, point: QPointF) -> None:
        """Move the handle that is held."""
        if self._chosen is not None:
            self._handles[self._chosen] = self.within(point)
            self._change()

    def keep(self) -> None:
        """Tell where the handles are now."""
        self.kept.emit(self.handles_xy_px)

    def double_clicked(self, point: QPointF, zoom: float) -> bool:
        """Add a handle where the line was met."""
        after, spot, away_px = _nearest_on(self._handles, point)
        is_met = away_px * zoom <= 2.0 * _REACH_PX
        if is_met and len(self._handles) < HANDLES_MOST:
            self._insert(after + 1, spot)
        return is_met

    def key(self, event: QKeyEvent, zoom: float, middle: QPointF) -> bool:
        """N goes to the next handle, arrows move it, Insert adds one, Delete takes it away."""
        del middle
        chosen, key = self._chosen, event.key()
        if key == Qt.Key.Key_N:
            self.released()
            self._chosen = 0 if chosen is None else (chosen + 1) % len(self._handles)
            self.update()
            return True
        if chosen is None:
            return False
        step = step_of(event, zoom)
        if step is not None:
            self._handles[chosen] = self.within(self._handles[chosen] + step)
            self._change()
            self._rest.start()
        elif key == Qt.Key.Key_Delete:
            self._remove(chosen)
        elif key == Qt.Key.Key_Insert:
            self._add_beside(chosen)
        else:
            return False
        return True

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """Draw the handles; that which is held is filled."""
        del option, widget
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.translate(0.5, 0.5)
        radius = _HANDLE_PX / painter.worldTransform().m11()
        for number, spot in enumerate(self._handles):
            for pen in two_pens(painter, QColor(255, 255, 255), 2.0):
                painter.setPen(pen)
                painter.setBrush(MARK_COLOUR if number == self._chosen else DARK)
                painter.drawEllipse(spot, radius, radius)

    def _change(self) -> None:
        self._is_changed = True
        self.update()
        self.moved.emit(self.handles_xy_px)

    def _insert(self, at: int, spot: QPointF) -> None:
        self.released()
        self._handles.insert(at, spot)
        self._chosen = at
        self._change()
        self.released()

    def _add_beside(self, chosen: int) -> None:
        if len(self._handles) < HANDLES_MOST:
            other = chosen + 1 if chosen + 1 < len(self._handles) else chosen - 1
            spot = (self._handles[chosen] + self._handles[other]) / 2.0
            self._insert(max(chosen, other), spot)

    def _remove(self, chosen: int) -> None:
        if len(self._handles) > HANDLES_LEAST:
            self.released()
            del self._handles[chosen]
            self._chosen = min(chosen, len(self._handles) - 1)
            self._change()
            self.released()


def _nearest_on(line: Sequence[QPointF], point: QPointF) -> tuple[int, QPointF, float]:
    """Return the stretch of a line next to a point, the spot on it, and how far away it is."""
    found: list[tuple[float, int, QPointF]] = []
    for number, (start, end) in enumerate(pairwise(line)):
        way = end - start
        length2 = max(QPointF.dotProduct(way, way), 1e-9)
        share = min(max(QPointF.dotProduct(point - start, way) / length2, 0.0), 1.0)
        spot = start + way * share
        found.append((math.hypot(*(point - spot).toTuple()), number, spot))
    away_px, number, spot = min(found, key=lambda item: item[0])
    return number, spot, away_px
