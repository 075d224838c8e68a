"""A line under the comb that names the signs on it."""

import math
from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from larvasight.app.dressing import Dressing
from larvasight.paper.marks import Mark
from larvasight.paper.qt import text_font
from larvasight.paper.signs import draw_sign

# Shares of the text: the letters, a line, and what stands beside the words of a sign.
_LETTERS, _LINE, _BESIDE, _LEFT = 0.95, 1.55, 2.9, 1.0


class Legend(QWidget):
    """Signs with their words, in one line or, where that is too short, in more.

    The room of one line is kept while it is empty. ``changed`` tells that it names other signs.
    """

    changed = Signal()

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._marks: tuple[Mark, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        dressing.changed.connect(self._fit)
        self._fit()

    @property
    def needed_px(self) -> int:
        """Width at which all signs stand in one line."""
        words = sum(map(self._width_px, self._marks))
        return math.ceil(words + _LEFT * self._letters_px)

    def show_marks(self, marks: Sequence[Mark]) -> None:
        """Name these signs; none leaves the line empty."""
        self._marks = tuple(marks)
        self.setAccessibleName(", ".join(mark.word for mark in marks))
        self._fit()
        self.changed.emit()
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Give the words the lines that they need at this width."""
        super().resizeEvent(event)
        self._fit()

    def sizeHint(self) -> QSize:
        """Return the height of the lines."""
        return QSize(200, self.height())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the signs one after the other."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self._font())
        painter.setPen(QColor(self._dressing.tones.ink))
        text_px, rows = self._letters_px, self._rows()
        line_px = self.height() / len(rows)
        for number, row in enumerate(rows):
            x, top = _LEFT * text_px, number * line_px
            for mark in row:
                sign = QPointF(x + 0.3 * text_px, top + line_px / 2.0)
                draw_sign(painter, mark, sign, 0.36 * text_px)
                width = painter.fontMetrics().horizontalAdvance(mark.word)
                box = QRectF(x + 1.1 * text_px, top, width + text_px, line_px)
                flags = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
                painter.drawText(box, flags, mark.word)
                x += width + _BESIDE * text_px

    @property
    def _letters_px(self) -> float:
        return _LETTERS * self._dressing.text_px

    def _font(self) -> QFont:
        return text_font(self._letters_px)

    def _fit(self) -> None:
        one_px, more = 2.2 * self._dressing.text_px, len(self._rows()) - 1
        self.setFixedHeight(round(one_px + more * _LINE * self._dressing.text_px))

    def _width_px(self, mark: Mark) -> float:
        metrics = QFontMetricsF(self._font())
        return metrics.horizontalAdvance(mark.word) + _BESIDE * self._letters_px

    def _rows(self) -> list[list[Mark]]:
        """Return which signs stand in each line; one line at least, with none in it."""
        text_px = self._letters_px
        rows: list[list[Mark]] = [[]]
        left_px = room_px = self.width() - _LEFT * text_px
        for mark in self._marks:
            wide_px = self._width_px(mark)
            # What would stand between it and the next sign may be missing.
            if rows[-1] and wide_px - text_px > left_px:
                rows.append([])
                left_px = room_px
            rows[-1].append(mark)
            left_px -= wide_px
        return rows
