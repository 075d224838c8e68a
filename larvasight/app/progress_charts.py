"""The charts of the Progress page, each on a sheet of its own."""

from collections.abc import Callable

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QVBoxLayout, QWidget

from larvasight.app.context import Context
from larvasight.app.parts import label
from larvasight.desk.reporting import Told
from larvasight.paper.charts import draw_ages, draw_days
from larvasight.paper.line_days import draw_line_days
from larvasight.paper.line_strip import draw_line_strip, line_strip_height_px
from larvasight.paper.line_words import (
    few_sentence,
    moved_sentence,
    oldest_words,
    rough_sentence,
    youngest_words,
)

# Heights and widths in text heights; from the last on charts stand side by side.
_CHART_LEAST_EM = 17.0
_BESIDE_EM = 54.0
_TEXT_SHARE = 0.9

_Draw = Callable[[QPainter, QRectF, Told, float], None]


class ProgressCharts(QWidget):
    """The line and its days, the ages and the days of picks."""

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._told: Told | None = None
        # Each has its parent from the first: without one, shown, it would be a window of its own.
        self._line = _Chart(context, self._draw_line, self)
        others = (self._draw_line_days, self._draw_ages, self._draw_days)
        self._charts = (self._line, *(_Chart(context, draw, self) for draw in others))
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(16)
        self._is_wide: bool | None = None
        self._place()
        context.dressing.changed.connect(self._place)

    def show_told(self, told: Told) -> None:
        """Show another learner's charts, or newer answers."""
        self._told = told
        line, limits = told.line, self._context.limits
        said, words = few_sentence(line), ""
        if line.is_enough:
            said = f"{youngest_words(line.young, limits)}. {oldest_words(line.old, limits)}."
            words = " ".join(filter(None, (rough_sentence(line), moved_sentence(line))))
        self._line.say(words, f"{said} {words}")
        for chart in self._charts:
            chart.show_told(told)
        self._place()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the charts side by side where there is room."""
        super().resizeEvent(event)
        self._place()

    def _place(self) -> None:
        """Lay the charts out; where cells are few, one low sheet says so for all."""
        text_px, told = self._context.dressing.text_px, self._told
        is_few = told is not None and not told.line.is_enough
        has_none = told is not None and not told.progress.is_enough
        for chart, is_hidden in zip(self._charts[1:], (is_few, has_none, has_none), strict=True):
            chart.setVisible(not is_hidden)
        self._grid.setRowStretch(len(self._charts), int(has_none))
        strip_em = line_strip_height_px(_TEXT_SHARE)
        self._line.set_least_em(5.0 if is_few else strip_em)
        is_wide = self.width() >= _BESIDE_EM * text_px and not is_few
        if is_wide is self._is_wide:
            return
        self._is_wide = is_wide
        for k, chart in enumerate(self._charts):
            self._grid.addWidget(chart, *(divmod(k, 2) if is_wide else (k, 0)))
        self._grid.setColumnStretch(0, 1)
        self._grid.setColumnStretch(1, 1 if is_wide else 0)

    def _draw_line(self, painter: QPainter, box: QRectF, told: Told, text_px: float) -> None:
        inks, limits = self._context.dressing.inks, self._context.limits
        draw_line_strip(painter, box, told.line, limits=limits, inks=inks, text_px=text_px)

    def _draw_line_days(self, painter: QPainter, box: QRectF, told: Told, text_px: float) -> None:
        inks, limits = self._context.dressing.inks, self._context.limits
        draw_line_days(painter, box, told.line, limits=limits, inks=inks, text_px=text_px)

    def _draw_ages(self, painter: QPainter, box: QRectF, told: Told, text_px: float) -> None:
        draw_ages(
            painter,
            box,
            told.progress,
            inks=self._context.dressing.inks,
            text_px=text_px,
            limits=self._context.limits,
            line=told.line,
        )

    def _draw_days(self, painter: QPainter, box: QRectF, told: Told, text_px: float) -> None:
        inks = self._context.dressing.inks
        draw_days(painter, box, told.progress, inks=inks, text_px=text_px)


class _Chart(QFrame):
    """A chart on a sheet, with a sentence under it where there is one to say."""

    def __init__(self, context: Context, draw: _Draw, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("sheet")
        self._canvas = _Canvas(context, draw)
        self._words = label("")
        self._words.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(8)
        column.addWidget(self._canvas, 1)
        column.addWidget(self._words, 0, Qt.AlignmentFlag.AlignTop)

    def say(self, words: str, all_words: str) -> None:
        """Write under the chart; ``all_words`` is what a screen reader says of it."""
        self._words.setText(words)
        self._words.setVisible(bool(words))
        self._canvas.setAccessibleName(all_words)

    def set_least_em(self, least_em: float) -> None:
        """Set the chart's least height in text heights."""
        self._canvas.set_least_em(least_em)

    def show_told(self, told: Told) -> None:
        """Draw something else."""
        self._canvas.told = told
        self._canvas.update()


class _Canvas(QWidget):
    def __init__(self, context: Context, draw: _Draw) -> None:
        super().__init__()
        self.told: Told | None = None
        self._context = context
        self._draw = draw
        self._least_em = _CHART_LEAST_EM
        context.dressing.changed.connect(self._fit)
        self._fit()

    def set_least_em(self, least_em: float) -> None:
        self._least_em = least_em
        self._fit()

    def _fit(self) -> None:
        self.setMinimumHeight(round(self._least_em * self._context.dressing.text_px))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the chart."""
        super().paintEvent(event)
        if self.told is not None:
            text_px = self._context.dressing.text_px * _TEXT_SHARE
            self._draw(QPainter(self), QRectF(self.rect()), self.told, text_px)
