"""The two drawings of the timetable: ages to expect, and the season."""

from collections.abc import Callable, Sequence
from datetime import date

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QSizePolicy, QToolButton, QVBoxLayout, QWidget

from larvasight.app.context import Context
from larvasight.app.parts import button, label
from larvasight.app.parts import column as parts_column
from larvasight.paper.expected_strip import draw_expected_strip, expected_strip_height_px
from larvasight.paper.season_chart import draw_season, season_chart_height_px
from larvasight.timetable import Plan
from larvasight.timetable.season import Row
from larvasight.timetable.spec import ages_at_graft
from larvasight.timetable.telling import advice, ages_words, late_table, starts_table

# A strip narrower than this, in text heights, is drawn with smaller text.
_STRIP_LEAST_EM = 31.0
# A card narrower than this, in text heights, has the words of its tables in two lines.
_TABLES_EM = 34


class ExpectedCard(QFrame):
    """Ages to expect on the comb as a strip, and what would make them better."""

    def __init__(self, context: Context) -> None:
        super().__init__()
        self.setObjectName("sheet")
        self._context = context
        self._strip = _Strip(context)
        self._words = label("")
        self._advice = label("")
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 16, 24, 16)
        column.setSpacing(8)
        column.addWidget(label("Ages to expect on the comb when you graft", "lead"))
        column.addWidget(self._strip)
        column.addWidget(self._words)
        column.addWidget(self._advice)
        self.more = QToolButton()
        self.more.setText("Compare starts and hours")
        self.more.setAccessibleName("Compare the three starts, and hours early and late")
        self.more.setCheckable(True)
        self.more.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.more.setArrowType(Qt.ArrowType.RightArrow)
        self.more.toggled.connect(self._unfold)
        column.addWidget(self.more)
        self._plan: Plan | None = None
        self._tables: QWidget | None = None
        self._is_narrow = False
        self._column = column

    def show_plan(self, plan: Plan) -> None:
        """Show the ages of a plan."""
        limits = self._context.limits
        self._strip.show_plan(plan)
        words = ages_words(plan.spec, plan.ages, limits)
        self._words.setText(words)
        self._strip.setAccessibleName(words)
        told = advice(plan.spec, limits)
        self._advice.setText("\n".join(f"\N{BULLET} {text}" for text in told))
        self._plan = plan
        self._unfold(self.more.isChecked())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Break the words of the tables where there is little room."""
        super().resizeEvent(event)
        is_narrow = self.width() < _TABLES_EM * self._context.dressing.text_px
        if is_narrow is not self._is_narrow:
            self._is_narrow = is_narrow
            self._unfold(self.more.isChecked())

    def _unfold(self, is_open: bool) -> None:
        arrow = Qt.ArrowType.DownArrow if is_open else Qt.ArrowType.RightArrow
        self.more.setArrowType(arrow)
        if self._tables is not None:
            self._column.removeWidget(self._tables)
            self._tables.hide()
            self._tables.deleteLater()
            self._tables = None
        if is_open and self._plan is not None:
            spec, limits = self._plan.spec, self._context.limits
            self._tables = parts_column(
                label("Each start, grafted at its best hour:", "faint"),
                _table(starts_table(spec, limits), wrap=self._is_narrow),
                label("This plan, grafted earlier and later:", "faint"),
                _table(late_table(spec, limits), wrap=False),
            )
            self._column.addWidget(self._tables)


def _table(rows: Sequence[tuple[str, ...]], *, wrap: bool) -> QWidget:
    """Return rows under a heading, numbers to the right; all words may wrap, numbers never do."""
    made = QWidget()
    grid = QGridLayout(made)
    grid.setContentsMargins(0, 0, 0, 8)
    grid.setHorizontalSpacing(16)
    grid.setVerticalSpacing(4)
    for number, row in enumerate(rows):
        for place, text in enumerate(row):
            is_words = number == 0 or place in (0, len(row) - 1)
            cell = label(text, "" if number else "faint", wrap=wrap and is_words)
            side = Qt.AlignmentFlag.AlignRight if place else Qt.AlignmentFlag.AlignLeft
            cell.setAlignment(side | Qt.AlignmentFlag.AlignVCenter)
            grid.addWidget(cell, number, place)
    grid.setColumnStretch(0 if wrap else len(rows[0]), 1)
    return made


class _Strip(QWidget):
    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._plan: Plan | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        context.dressing.changed.connect(self._fit)
        self._fit()

    def show_plan(self, plan: Plan) -> None:
        self._plan = plan
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        self.setFixedHeight(round(expected_strip_height_px(self._text_px())) + 2)
        self.update()

    def _text_px(self) -> float:
        return min(float(self._context.dressing.text_px), self.width() / _STRIP_LEAST_EM)

    def paintEvent(self, event: QPaintEvent) -> None:
        del event
        if self._plan is None:
            return
        dressing = self._context.dressing
        draw_expected_strip(
            QPainter(self),
            QRectF(self.rect()),
            ages_at_graft(self._plan.spec),
            self._plan.ages,
            limits=self._context.limits,
            inks=dressing.inks,
            text_px=self._text_px(),
        )


class SeasonCard(QFrame):
    """All batches of the season from left to right, and where they clash."""

    def __init__(self, context: Context, save_all: Callable[[], object]) -> None:
        super().__init__()
        self.setObjectName("sheet")
        self._all = button("Calendar file of all batches ...", save_all)
        self._all.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        self._chart = _Season(context)
        self._clashes = label("")
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 16, 24, 16)
        column.setSpacing(8)
        column.addWidget(label("The season", "lead"))
        column.addWidget(self._chart)
        column.addWidget(self._clashes)
        column.addWidget(self._all)

    def show_season(self, rows: Sequence[Row], today: date, clashes: Sequence[str]) -> None:
        """Show batches and the sentences about their clashes."""
        self._all.setVisible(len(rows) > 1)
        self._chart.show_rows(rows, today)
        told = "\n".join(f"\N{BLACK UP-POINTING TRIANGLE} {text}" for text in clashes)
        self._clashes.setText(told or "Nothing clashes.")
        self._clashes.setProperty("role", "wrong" if told else "faint")
        self._clashes.style().unpolish(self._clashes)
        self._clashes.style().polish(self._clashes)


class _Season(QWidget):
    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._rows: Sequence[Row] = ()
        self._today = date.min
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        context.dressing.changed.connect(self._fit)

    def show_rows(self, rows: Sequence[Row], today: date) -> None:
        self._rows, self._today = rows, today
        names = ", ".join(f"{row.name}: grafting {row.graft.isoformat()}" for row in rows)
        self.setAccessibleName(f"Season chart. {names}")
        self._fit()

    def _fit(self) -> None:
        text_px = self._context.dressing.text_px
        self.setFixedHeight(round(season_chart_height_px(len(self._rows), text_px)) + 2)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        del event
        if not self._rows:
            return
        dressing = self._context.dressing
        draw_season(
            QPainter(self),
            QRectF(self.rect()),
            self._rows,
            today=self._today,
            inks=dressing.inks,
            text_px=float(dressing.text_px),
        )
