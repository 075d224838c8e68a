"""Something held over the comb picture: it is asked about clicks and keys before cells are."""

from PySide6.QtCore import QPointF, QRectF, Qt, QTimer
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPen
from PySide6.QtWidgets import QGraphicsObject

from larvasight.paper.signs import DARK

ARROWS: dict[int, tuple[float, float]] = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, -1.0),
    Qt.Key.Key_Down: (0.0, 1.0),
}
# How far a press of an arrow goes with Shift held, against one without.
_FAR = 10.0
_KEYS_REST_MS = 500


class PictureTool(QGraphicsObject):
    """Points are those of a sheet, px of the picture; ``zoom`` is screen px to one of these.

    ``index`` is the cell whose body it moves, None where it moves none; neither sign nor words are
    drawn on that cell meanwhile.
    """

    def __init__(self, index: int | None = None) -> None:
        super().__init__()
        self.index = index
        self._area = QRectF()

    def lay_over(self, area: QRectF) -> None:
        """Reach over the whole picture."""
        self.prepareGeometryChange()
        self._area = area

    def boundingRect(self) -> QRectF:
        """Return all that may be drawn on."""
        return self._area

    def pressed(self, point: QPointF, zoom: float) -> bool:
        """Take hold of what lies at a point; False where there is nothing to be dragged."""
        del point, zoom
        return False

    def dragged(self, point: QPointF) -> None:
        """Move what is held."""

    def released(self) -> None:
        """Let go of it."""

    def clicked(self, point: QPointF) -> bool:
        """Take a click; False leaves it to the cells."""
        del point
        return False

    def double_clicked(self, point: QPointF, zoom: float) -> bool:
        """Take a double click; False leaves it to the cells."""
        del point, zoom
        return False

    def key(self, event: QKeyEvent, zoom: float, middle: QPointF) -> bool:
        """Take a key, ``middle`` being in the middle of the view; False leaves it to the comb."""
        del event, zoom, middle
        return False

    def within(self, point: QPointF) -> QPointF:
        """Return the point of the picture next to a point."""
        right, bottom = self._area.right() - 1.0, self._area.bottom() - 1.0
        return QPointF(min(max(point.x(), 0.0), right), min(max(point.y(), 0.0), bottom))


class RestingTool(PictureTool):
    """A tool whose keys, pressed one after the other, are one step: it is kept once they rest."""

    def __init__(self, index: int | None = None) -> None:
        super().__init__(index)
        self._is_changed = False
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(_KEYS_REST_MS)
        self._rest.timeout.connect(self.released)

    def released(self) -> None:
        """Keep what was moved."""
        self._rest.stop()
        if self._is_changed:
            self._is_changed = False
            self.keep()

    def forget(self) -> None:
        """Let what was moved and not kept be nothing."""
        self._rest.stop()
        self._is_changed = False

    def keep(self) -> None:
        """Tell what was moved; each tool tells its own."""


def step_of(event: QKeyEvent, zoom: float) -> QPointF | None:
    """Return how far an arrow key moves a point: one screen px, ten with Shift; None else."""
    way = ARROWS.get(event.key())
    if way is None:
        return None
    is_far = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
    return QPointF(*way) * ((_FAR if is_far else 1.0) / zoom)


def two_pens(painter: QPainter, colour: QColor, width_px: float) -> list[QPen]:
    """Return a dark pen and a coloured one over it, of one width on the screen at any zoom."""
    zoom = painter.worldTransform().m11()
    pens = [QPen(DARK, 2.2 * width_px / zoom), QPen(colour, width_px / zoom)]
    for pen in pens:
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return pens
