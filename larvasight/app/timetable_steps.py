"""The steps of a plan by day, each unfolding to its reason and what it rests on."""

from collections.abc import Sequence
from datetime import date, datetime

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.dressing import Dressing
from larvasight.app.parts import label
from larvasight.timetable import Kind, Step
from larvasight.timetable.days import day_words
from larvasight.timetable.telling import (
    KIND_WORDS,
    rests_words,
    spread_words,
    until_words,
    window_words,
)


class StepList(QFrame):
    """Lists steps under their days; what was unfolded stays so when the plan changes."""

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self.setObjectName("sheet")
        self._dressing = dressing
        self._open: set[str] = set()
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(24, 16, 24, 16)
        self._column.setSpacing(4)
        self._is_narrow = False
        self._inside: QWidget | None = None
        self.rows: dict[str, StepRow] = {}

    def set_narrow(self, is_narrow: bool) -> None:
        """Put windows of steps under their titles where there is no room beside them."""
        self._is_narrow = is_narrow
        for row in self.rows.values():
            row.set_narrow(is_narrow)

    def show_steps(self, steps: Sequence[Step], now: datetime) -> None:
        """Show the steps of a plan; what is over by now is told so."""
        if self._inside is not None:
            self._column.removeWidget(self._inside)
            self._inside.hide()
            self._inside.deleteLater()
        self._inside = QWidget()
        inside = QVBoxLayout(self._inside)
        inside.setContentsMargins(0, 0, 0, 0)
        inside.setSpacing(2)
        inside.addWidget(label("What to do when", "lead"))
        self.rows = {}
        day: date | None = None
        for step in steps:
            if step.from_at.date() != day:
                day = step.from_at.date()
                inside.addSpacing(4)
                inside.addWidget(label(_day_title(day, now), "day"))
            row = StepRow(self._dressing, step, is_over=step.to_at < now)
            row.set_open(step.key in self._open)
            row.set_narrow(self._is_narrow)
            row.button.toggled.connect(
                lambda is_on, key=step.key: (
                    self._open.add(key) if is_on else self._open.discard(key)
                )
            )
            self.rows[step.key] = row
            inside.addWidget(row)
        self._column.addWidget(self._inside)


def _day_title(day: date, now: datetime) -> str:
    told = f"{day_words(day)} {day.year}"
    n_days = (day - now.date()).days
    if n_days == 0:
        return f"{told}, today"
    if n_days == 1:
        return f"{told}, tomorrow"
    if n_days > 1:
        return f"{told}, in {n_days} days"
    return told


class StepRow(QWidget):
    """One step: its sign, what it is, its window; the button unfolds the rest."""

    def __init__(self, dressing: Dressing, step: Step, *, is_over: bool) -> None:
        super().__init__()
        self.step = step
        self.button = QToolButton()
        self.button.setCheckable(True)
        self.button.setText(step.title)
        self.button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.button.setArrowType(Qt.ArrowType.RightArrow)
        self.button.setAccessibleName(f"{step.title}, {window_words(step)}, why")
        self.button.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        word = KIND_WORDS[step.kind]
        shown = f"{word}, over" if is_over else word
        row = QHBoxLayout()
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        row.addWidget(_Sign(dressing, step.kind))
        self._line = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._line.setSpacing(0)
        self._line.addWidget(self.button)
        told = QHBoxLayout()
        told.setContentsMargins(8, 0, 0, 0)
        told.addWidget(label(shown, "faint", wrap=False))
        window = label(until_words(step))
        window.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        told.addWidget(window, 1)
        self._line.addLayout(told, 1)
        row.addLayout(self._line, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(row)
        self._column = column
        self._more: QWidget | None = None
        self.button.toggled.connect(self.set_open)

    def set_narrow(self, is_narrow: bool) -> None:
        """Put the window under the title where there is no room beside it."""
        down, across = QBoxLayout.Direction.TopToBottom, QBoxLayout.Direction.LeftToRight
        self._line.setDirection(down if is_narrow else across)

    def set_open(self, is_open: bool) -> None:
        """Show or hide the reason; it is made when it is first wanted."""
        self.button.setChecked(is_open)
        arrow = Qt.ArrowType.DownArrow if is_open else Qt.ArrowType.RightArrow
        self.button.setArrowType(arrow)
        if is_open and self._more is None:
            self._more = _more(self.step)
            self._column.addWidget(self._more)
        if self._more is not None:
            self._more.setVisible(is_open)


def _more(step: Step) -> QWidget:
    """Return the reason, the warning, where sources differ, and what it rests on."""
    made = QWidget()
    column = QVBoxLayout(made)
    column.setContentsMargins(40, 4, 8, 12)
    column.setSpacing(6)
    column.addWidget(label(step.why))
    if step.warning:
        column.addWidget(label(f"\N{BLACK UP-POINTING TRIANGLE} {step.warning}", "wrong"))
    spread = spread_words(step)
    if spread:
        column.addWidget(label(f"When: {spread}.", "faint"))
    if step.sources_differ:
        told = "\n".join(f"\N{BULLET} {text}" for text in step.sources_differ)
        column.addWidget(label(f"Sources say:\n{told}", "faint"))
    rests = "\n".join(f"\N{BULLET} {rests_words(fact)}" for fact in step.rests_on)
    column.addWidget(label(f"Rests on:\n{rests}", "faint"))
    return made


class _Sign(QWidget):
    """The sign of a kind of step: a disc to do, a ring to look, a bar to rest, a wedge happens."""

    def __init__(self, dressing: Dressing, kind: Kind) -> None:
        super().__init__()
        self._dressing = dressing
        self._kind = kind
        side = round(1.1 * dressing.text_px)
        self.setFixedSize(QSize(side, side))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the sign."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        tones = self._dressing.tones
        reach = 0.36 * self.width()
        middle = QPointF(self.width() / 2.0, self.height() / 2.0)
        painter.setPen(QPen(QColor(tones.ink), 0.12 * self.width()))
        if self._kind is Kind.DO:
            painter.setBrush(QColor(tones.accent))
            painter.drawEllipse(middle, reach, reach)
        elif self._kind is Kind.LOOK:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(middle, reach, reach)
        elif self._kind is Kind.REST:
            painter.setBrush(QColor(tones.ink))
            bar = QRectF(middle.x() - reach, middle.y() - 0.35 * reach, 2.0 * reach, 0.7 * reach)
            painter.drawRect(bar)
        else:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            corners = (QPointF(0, -reach), QPointF(reach, reach), QPointF(-reach, reach))
            painter.drawPolygon(QPolygonF([middle + corner for corner in corners]))
