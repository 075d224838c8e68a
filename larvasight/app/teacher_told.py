"""Where a teacher draws the line: told as a picture against the wanted ages."""

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from larvasight.app.dressing import Dressing
from larvasight.app.edges_told import EdgeStrip
from larvasight.app.parts import button, centred, label
from larvasight.desk.teachers_line import (
    Said,
    TeachersLine,
    gap_words,
    line_words,
    sure_words,
)
from larvasight.grading import Limits
from larvasight.paper.hour_strip import draw_strip_hours, strip_hours
from larvasight.paper.lettering import Lettering
from larvasight.paper.qt import text_font

_ROWS: tuple[tuple[Said, str], ...] = (
    ("take", "taken"),
    ("cannot-tell", "cannot tell"),
    ("leave", "left"),
)
_ROW_TIMES = 2.2
_HOURS_TIMES = 1.6
_END_H = 60.0


class TeacherTold(QWidget):
    """The page that ends marking.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    take, more, done : callable
        What the buttons do: take the line as wanted ages, mark more cells, go back.
    """

    def __init__(
        self,
        dressing: Dressing,
        *,
        take: Callable[[], object],
        more: Callable[[], object],
        done: Callable[[], object],
    ) -> None:
        super().__init__()
        card = QFrame()
        card.setObjectName("sheet")
        card.setMaximumWidth(1000)
        inside = QVBoxLayout(card)
        inside.setContentsMargins(40, 32, 40, 32)
        inside.setSpacing(16)
        self._title = label("", "title")
        self._gap, self._score = label("", "lead"), label("")
        self._strip, self._dots = EdgeStrip(dressing), AnswerDots(dressing)
        self._sure = label("", "faint")
        self.take_button = button("Score by this line ...", take)
        self.more_button = button("Mark more cells", more)
        self.done_button = button("Done", done, "main")
        strokes = label("Each stroke is one cell, at the age it looks; eggs stand first.", "faint")
        for widget in (
            *(self._title, self._gap, self._strip, self._dots, strokes, self._score, self._sure),
        ):
            inside.addWidget(widget)
        row = QHBoxLayout()
        for made in (self.done_button, self.take_button, self.more_button):
            row.addWidget(made)
        row.addStretch(1)
        inside.addLayout(row)
        page = QWidget()
        rows = QVBoxLayout(page)
        rows.addStretch(1)
        rows.addLayout(centred(card))
        rows.addStretch(2)
        scroll = QScrollArea()  # large words in a small window
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(page)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll)

    def tell(self, line: TeachersLine, limits: Limits) -> None:
        """Show where the line is drawn, and what students are scored by."""
        gap = gap_words(line, limits)
        self._title.setText(line_words(line))
        self._gap.setText(gap)
        self._gap.setVisible(bool(gap))
        self._sure.setText(sure_words(line))
        self._score.setText(scored_words(limits))
        self._strip.show_edges(line.edges, limits)
        self._dots.show_answers(line)
        for widget in (self._strip, self._sure):  # without a line there is nothing to draw
            widget.setVisible(line.is_clear)
        self.take_button.setVisible(line.is_clear and limits.by != line.name)


def scored_words(limits: Limits) -> str:
    """Say what students are scored by now."""
    span = f"{limits.young_h:.0f} to {limits.old_h:.0f} h"
    if limits.by:
        return f"Students are scored by the line of {limits.by}, {span}."
    return f"Students are scored by hours, {span}."


class AnswerDots(QWidget):
    """Every cell that was marked, by the age its larva looks: taken, cannot tell, left.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    """

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._line: TeachersLine | None = None
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        dressing.changed.connect(self.updateGeometry)

    def show_answers(self, line: TeachersLine) -> None:
        """Show other answers."""
        self._line = line
        counts = ", ".join(
            f"{sum(said == kind for _, said in line.answers)} {words}" for kind, words in _ROWS
        )
        self.setAccessibleName(f"Cells by the age they look: {counts}")
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """Return the height that the rows need."""
        rows = len(_ROWS) * _ROW_TIMES + (_HOURS_TIMES if self._has_own_hours() else 0.0)
        return QSize(640, round(rows * self._dressing.text_px))

    def _has_own_hours(self) -> bool:
        """Without a line there is no strip above to read the hours from."""
        return self._line is not None and not self._line.is_clear

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw a row of strokes for each answer, its word and number before it."""
        del event
        if self._line is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        inks, text_px = self._dressing.inks, self._dressing.text_px
        young, old = self._line.edges.young_edge_h, self._line.edges.old_edge_h
        words = Lettering(painter=painter, size_px=text_px, colour=inks.ink)
        # The hours of the strip above: both lie over each other.
        hours = strip_hours(QRectF(self.rect()), [round(young.lo), min(old.hi, _END_H)], words)
        painter.setFont(text_font(0.85 * text_px))
        width, row_px = float(self.width()), _ROW_TIMES * text_px
        for number, (kind, told) in enumerate(_ROWS):
            ages = [age_h for age_h, said in self._line.answers if said == kind]
            top = number * row_px
            box = QRectF(hours.at(hours.low), top, width, 1.1 * text_px)
            painter.setPen(QColor(inks.faint))
            painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, f"{told}: {len(ages)}")
            painter.setPen(QPen(QColor(inks.ink), max(2.0, 0.14 * text_px)))
            for age_h in ages:
                x = hours.at(min(max(age_h, hours.low), hours.high))
                y = top + 1.2 * text_px
                painter.drawLine(QPointF(x, y), QPointF(x, y + 0.7 * text_px))
        if self._has_own_hours():
            strip = QRectF(0.0, len(_ROWS) * row_px, width, _HOURS_TIMES * text_px)
            draw_strip_hours(painter, strip, hours, inks, text_px)
