"""A line under the comb that names the signs on it."""

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from larvasight.app.dressing import Dressing
from larvasight.paper.marks import Mark
from larvasight.paper.qt import text_font
from larvasight.paper.signs import draw_sign


class Legend(QWidget):
    """Signs with their words, in one line, whose room is kept while it is empty."""

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._marks: tuple[Mark, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        dressing.changed.connect(self.updateGeometry)

    def show_marks(self, marks: Sequence[Mark]) -> None:
        """Name these signs; none leaves the line empty."""
        self._marks = tuple(marks)
        self.setAccessibleName(", ".join(mark.word for mark in marks))
        self.update()

    def sizeHint(self) -> QSize:
        """Return one line's height."""
        return QSize(200, round(2.2 * self._dressing.text_px))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the signs one after the other, smaller where they would not fit."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        text_px = self._dressing.text_px * 0.95
        painter.setFont(text_font(text_px))
        needed = self._width_px(painter, text_px)
        if needed > self.width():
            text_px *= max(0.6, self.width() / needed)
            painter.setFont(text_font(text_px))
        x, middle = text_px, self.height() / 2.0
        painter.setPen(QColor(self._dressing.tones.ink))
        for mark in self._marks:
            draw_sign(painter, mark, QPointF(x + 0.3 * text_px, middle), 0.36 * text_px)
            width = painter.fontMetrics().horizontalAdvance(mark.word)
            box = QRectF(x + 1.1 * text_px, 0.0, width + text_px, self.height())
            flags = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
            painter.drawText(box, flags, mark.word)
            x += width + 2.9 * text_px

    def _width_px(self, painter: QPainter, text_px: float) -> float:
        words = sum(painter.fontMetrics().horizontalAdvance(mark.word) for mark in self._marks)
        return words + 2.9 * text_px * len(self._marks) + text_px
