"""Two points laid on a ruler in the picture."""

from PySide6.QtCore import QLineF, QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from larvasight.app.cell_item import MARK_COLOUR
from larvasight.app.picture_tool import PictureTool, step_of, two_pens
from larvasight.sheet import PointsXY

_ARM_PX = 11.0
_GAP_PX = 3.0


class RulerTool(PictureTool):
    """Takes two clicks; a third begins anew. ``changed`` tells how many points lie now."""

    changed = Signal(int)

    def __init__(self) -> None:
        super().__init__()
        self._points: list[QPointF] = []
        self._aim: QPointF | None = None

    @property
    def points_xy_px(self) -> PointsXY:
        """The points laid so far."""
        return tuple((point.x(), point.y()) for point in self._points)

    def clicked(self, point: QPointF) -> bool:
        """Lay a point."""
        if len(self._points) == 2:
            self._points.clear()
        self._points.append(self.within(point))
        self.update()
        self.changed.emit(len(self._points))
        return True

    def double_clicked(self, point: QPointF, zoom: float) -> bool:
        """Take it as nothing: two points on one spot are no length."""
        del point, zoom
        return True

    def key(self, event: QKeyEvent, zoom: float, middle: QPointF) -> bool:
        """Move the aim with the arrows, lay a point with Space or Enter."""
        step = step_of(event, zoom)
        aim = middle if self._aim is None else self._aim
        if step is not None:
            # Many steps lead across a picture: these are as long as is still easily seen.
            self._aim = self.within(aim + step * 2.0)
            self.update()
        elif event.key() in (Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self._aim is not None:
                self.clicked(self._aim)
        else:
            return False
        return True

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """Draw both points, the way between them, and the aim of the keyboard."""
        del option, widget
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.translate(0.5, 0.5)
        zoom = painter.worldTransform().m11()
        spots = [*self._points, *([] if self._aim is None else [self._aim])]
        for pen in two_pens(painter, MARK_COLOUR, 1.8):
            painter.setPen(pen)
            if len(self._points) == 2:
                painter.drawLine(QLineF(*self._points))
            for spot in spots:
                for x, y in ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)):
                    way = QPointF(x, y) / zoom
                    painter.drawLine(QLineF(spot + way * _GAP_PX, spot + way * _ARM_PX))
