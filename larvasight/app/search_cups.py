"""The bar of cups beside the comb, and a small map of where the field is."""

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, QSizeF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from larvasight.app.dressing import Dressing
from larvasight.paper.marks import Mark
from larvasight.paper.signs import draw_sign

_ROWS, _IN_A_ROW = 3, 5
_CUP = QColor("#e3c77f")
_CUP_DARK = QColor("#8f7434")
_JELLY = QColor("#fbf6e6")
_BODY = QColor("#4a3b22")
_WOOD = QColor("#a9855a")
# In sixteenths of a degree: half a ring.
_ARC_FROM, _ARC_LONG = 160, 2720


class CupBar(QWidget):
    """Fifteen cups on three bars; each holds nothing, a larva, or a larva with its verdict.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    """

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._n_taken = self._n_stored = 0
        self._marks: tuple[Mark | None, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        dressing.changed.connect(self.updateGeometry)

    def show_taken(self, n_taken: int, n_stored: int) -> None:
        """Show how many cups are filled; those not stored yet are drawn in outline."""
        self._n_taken, self._n_stored, self._marks = n_taken, n_stored, ()
        self.setAccessibleName(f"{n_taken} of {_ROWS * _IN_A_ROW} cups filled")
        self.update()

    def show_marks(self, marks: Sequence[Mark | None]) -> None:
        """Show what each larva in a cup was."""
        self._n_taken = self._n_stored = len(marks)
        self._marks = tuple(marks)
        words = ", ".join("not counted" if mark is None else mark.word for mark in marks)
        self.setAccessibleName(f"Cups: {words}" if words else "No cup filled")
        self.update()

    def sizeHint(self) -> QSize:
        """Return room for three bars."""
        return QSize(200, round(_ROWS * 2.2 * self._dressing.text_px))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw bars and cups."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        row_px = self.height() / _ROWS
        step_px = min(self.width() / _IN_A_ROW, 1.7 * row_px)
        size = QSizeF(min(0.72 * step_px, 0.86 * row_px), 0.7 * row_px)
        for number in range(_ROWS * _IN_A_ROW):
            row, column = divmod(number, _IN_A_ROW)
            foot = QPointF((column + 0.5) * step_px, (row + 0.88) * row_px)
            if column == 0:
                bar = QRectF(0.0, foot.y(), _IN_A_ROW * step_px, 0.08 * row_px)
                painter.fillRect(bar, _WOOD)
            self._draw_cup(painter, foot, size, number)

    def _draw_cup(self, painter: QPainter, foot: QPointF, size: QSizeF, number: int) -> None:
        half, high = size.width() / 2.0, size.height()
        cup = QPainterPath(foot + QPointF(-half, -high))
        cup.cubicTo(
            foot + QPointF(-half, 0.1 * high),
            foot + QPointF(half, 0.1 * high),
            foot + QPointF(half, -high),
        )
        cup.closeSubpath()
        is_filled = number < self._n_taken
        is_stored = number < self._n_stored
        pen = QPen(_CUP_DARK if is_filled else QColor(self._dressing.tones.faint), 1.6)
        if is_filled and not is_stored:
            pen.setStyle(Qt.PenStyle.DashLine)
        painter.setPen(pen)
        painter.setBrush(_CUP if is_filled and is_stored else Qt.BrushStyle.NoBrush)
        painter.drawPath(cup)
        middle = foot + QPointF(0.0, -0.56 * high)
        mark = self._marks[number] if number < len(self._marks) else None
        if mark is not None:
            draw_sign(painter, mark, middle, 0.24 * high)
        elif is_filled:
            _draw_larva(painter, middle, 0.2 * high)


class SideMap(QWidget):
    """The whole side as a dark sheet, the field on it and what was taken.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    """

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._size_px = QSizeF(175.0, 100.0)
        self._field = QRectF()
        self._taken: tuple[QPointF, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Where the field is on the comb side")
        dressing.changed.connect(self.updateGeometry)

    def show_side(self, size_px: QSizeF) -> None:
        """Show another side, of this size."""
        self._size_px, self._taken = size_px, ()
        self.update()

    def show_field(self, middle: QPointF, radius_px: float) -> None:
        """Show where the field is."""
        reach = QPointF(radius_px, radius_px)
        self._field = QRectF(middle - reach, middle + reach)
        self.update()

    def show_taken(self, points: Sequence[QPointF]) -> None:
        """Show where larvae were taken."""
        self._taken = tuple(points)
        self.update()

    def sizeHint(self) -> QSize:
        """Return a height at which it is not the largest thing in a column."""
        return QSize(200, round(5.2 * self._dressing.text_px))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the side, small."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        scale = min(
            (self.width() - 4.0) / self._size_px.width(),
            (self.height() - 4.0) / self._size_px.height(),
        )
        tones = self._dressing.tones
        side = QRectF(2.0, 2.0, self._size_px.width() * scale, self._size_px.height() * scale)
        painter.setPen(QPen(QColor(tones.faint), 1.0))
        painter.setBrush(QColor(tones.well))
        painter.drawRoundedRect(side, 4.0, 4.0)
        painter.setClipRect(side)
        painter.translate(side.topLeft())
        painter.scale(scale, scale)
        pen = QPen(QColor(tones.accent), 2.0)
        pen.setCosmetic(True)
        painter.setPen(pen)
        painter.setBrush(QColor(tones.sheet))
        painter.drawEllipse(self._field)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(tones.ink))
        for point in self._taken:
            painter.drawEllipse(point, 2.5 / scale, 2.5 / scale)


def _draw_larva(painter: QPainter, middle: QPointF, radius_px: float) -> None:
    """Draw a curved larva on its jelly."""
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(_JELLY)
    painter.drawEllipse(middle, 1.6 * radius_px, 1.15 * radius_px)
    pen = QPen(_BODY, max(1.6, 0.42 * radius_px))
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    box = QRectF(0.0, 0.0, 1.4 * radius_px, 1.4 * radius_px)
    box.moveCenter(middle + QPointF(0.0, 0.25 * radius_px))
    painter.drawArc(box, _ARC_FROM, _ARC_LONG)
