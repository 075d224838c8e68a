"""A larva's outline under a round brush: drawn out from inside, pushed in from outside."""

from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPolygonF
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from larvasight.app.cell_item import MARK_COLOUR
from larvasight.app.picture_tool import RestingTool, step_of, two_pens
from larvasight.desk.outline_brush import OutlineBrush
from larvasight.sheet import Cell, PointsXY


class BrushTool(RestingTool):
    """A brush over one body.

    ``moved`` tells while it is drawn, ``kept`` once it was let go.

    Parameters
    ----------
    index : int
        Which cell.
    cell : Cell
        As it is shown.
    pitch_px : float
        Its pitch in the picture.
    """

    moved = Signal(object)
    kept = Signal(object)

    def __init__(self, index: int, cell: Cell, pitch_px: float) -> None:
        super().__init__(index)
        self._pitch_px = pitch_px
        self._brush = OutlineBrush(cell, pitch_px)
        self._spot = QPointF(*cell.centre_xy_px)
        self._adds = True

    @property
    def outline_xy_px(self) -> PointsXY | None:
        """The outline as it is now."""
        return self._brush.outline_xy_px

    def show_cell(self, cell: Cell) -> None:
        """Go on from a cell as it is shown now."""
        self.forget()
        self._brush = OutlineBrush(cell, self._pitch_px)
        self.update()

    def pressed(self, point: QPointF, zoom: float) -> bool:
        """Put the brush down: inside the body it adds, beside it it takes away."""
        del zoom
        self.released()
        outline = self._brush.outline_xy_px
        self._adds = outline is None or self._brush.is_inside(point.toTuple())
        self._spot = self.within(point)
        if outline is None:
            self._draw_to(self._spot)
        self.update()
        return True

    def dragged(self, point: QPointF) -> None:
        """Draw the brush along."""
        self._draw_to(self.within(point))

    def keep(self) -> None:
        """Tell the outline, None where all of the body was taken away."""
        self.kept.emit(self._brush.outline_xy_px)

    def key(self, event: QKeyEvent, zoom: float, middle: QPointF) -> bool:
        """Arrows move the brush, Insert adds to the body under it, Delete takes away."""
        del middle
        step = step_of(event, zoom)
        if step is not None:
            self._spot = self.within(self._spot + step)
            self.update()
            return True
        if event.key() not in (Qt.Key.Key_Insert, Qt.Key.Key_Delete):
            return False
        self._adds = event.key() == Qt.Key.Key_Insert
        self._draw_to(self._spot)
        self._rest.start()
        return True

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """Draw the outline and the brush."""
        del option, widget
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.translate(0.5, 0.5)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        outline = self._brush.outline_xy_px
        for pen in two_pens(painter, MARK_COLOUR, 2.0):
            painter.setPen(pen)
            if outline is not None:
                painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in outline]))
            painter.drawEllipse(self._spot, self._brush.radius_px, self._brush.radius_px)

    def _draw_to(self, point: QPointF) -> None:
        self._brush.stroke(self._spot.toTuple(), point.toTuple(), adds=self._adds)
        self._spot = point
        self._is_changed = True
        self.update()
        self.moved.emit(self._brush.outline_xy_px)
