"""Progress: how many picks are right, day by day, and which ages are taken."""

from collections.abc import Callable
from itertools import zip_longest

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QLabel,
    QMessageBox,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.asking import ask_save_path, tell_saved
from larvasight.app.context import Context
from larvasight.app.jobs import Job
from larvasight.app.parts import Notice, button, label
from larvasight.desk.reporting import local_zone, progress_of, save_learner_report
from larvasight.errors import LarvasightError
from larvasight.paper.charts import draw_ages, draw_days
from larvasight.paper.report_words import FIGURES_MOST, page_figures
from larvasight.practice import Progress, say_next

# Heights and widths of charts in text heights; from the last on they stand side by side.
_CHART_LEAST_EM = 17
_CHART_BESIDE_EM = 80


class ProgressPage(QWidget):
    """The page that tells how a learner comes along."""

    practise_wanted = Signal()

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._job: Job | None = None
        self._pages = QStackedWidget()
        self._notice = Notice()
        self._shown = _Shown(context, self.save_report)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(self._shown)
        self._scroll = scroll
        self._pages.addWidget(self._notice)
        self._pages.addWidget(scroll)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._pages)
        context.learner_changed.connect(self._forget)

    @property
    def progress(self) -> Progress | None:
        """What is shown now."""
        return self._shown.progress

    def arrive(self) -> None:
        """Read the answers anew; called when the page is gone to."""
        learner = self._context.learner
        if learner is None:
            return
        if self._job is not None:
            self._job.forget()
        if self._shown.progress is None:
            self._notice.say("Reading your answers ...", "")
            self._pages.setCurrentWidget(self._notice)
        store, learner_id = self._context.store, learner.id
        self._job = Job(
            lambda: progress_of(store, learner_id, local_zone()), self._show, self._fail
        ).start()

    def save_report(self) -> None:
        """Ask for a file and write the report of this learner."""
        learner = self._context.learner
        if learner is None:
            return
        name = f"larvasight {learner.name}.pdf"
        path = ask_save_path(self, "Save report", name, "PDF (*.pdf)", ".pdf")
        if path is None:
            return
        try:
            save_learner_report(
                self._context.store, learner, path, now=self._context.now(), tz=local_zone()
            )
        except LarvasightError as error:
            QMessageBox.warning(self, "Save report", str(error))
        else:
            tell_saved(self, "Save report", path)

    def _forget(self) -> None:
        """Show nothing of who was here before."""
        self._shown.progress = None
        if self._job is not None:
            self._job.forget()
            self._job = None
        if self.isVisible():
            self.arrive()

    def _show(self, progress: Progress) -> None:
        self._job = None
        if progress.score.n_answers == 0:
            self._notice.say(
                "Nothing to show yet",
                "Pick from a first comb; every cell you are shown counts from then on.",
                button("Practise", self.practise_wanted.emit, "main"),
            )
            self._pages.setCurrentWidget(self._notice)
            return
        self._shown.show_progress(progress)
        self._pages.setCurrentWidget(self._scroll)

    def _fail(self, error: LarvasightError) -> None:
        self._job = None
        self._notice.say(
            "Your answers cannot be read now", str(error), button("Try again", self.arrive, "main")
        )
        self._pages.setCurrentWidget(self._notice)


class _Shown(QWidget):
    """The page itself: figures, what to do next, two charts."""

    def __init__(self, context: Context, save: Callable[[], object]) -> None:
        super().__init__()
        self.progress: Progress | None = None
        self._context = context
        self._title = label("", "title")
        self._next = label("")
        self._figures = [_Figure() for _ in range(FIGURES_MOST)]
        column = QVBoxLayout(self)
        column.setContentsMargins(32, 24, 32, 24)
        column.setSpacing(16)
        head = QHBoxLayout()
        head.addWidget(self._title, 1)
        head.addWidget(button("Save report (PDF) ...", save))
        column.addLayout(head)
        column.addWidget(self._next)
        figures = QHBoxLayout()
        figures.setSpacing(16)
        for figure in self._figures:
            figures.addWidget(figure, 1)
        column.addLayout(figures)
        days = _Chart(context, lambda painter, box: self._draw(draw_days, painter, box))
        ages = _Chart(context, self._draw_ages)
        self._row = QBoxLayout(QBoxLayout.Direction.TopToBottom)
        self._row.setSpacing(16)
        for chart in (days, ages):
            self._row.addWidget(chart, 1)
        column.addLayout(self._row, 1)
        self._charts = (days, ages)
        context.dressing.changed.connect(self.update)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the charts side by side where there is room."""
        super().resizeEvent(event)
        is_wide = self.width() >= _CHART_BESIDE_EM * self._context.dressing.text_px
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._row.setDirection(across if is_wide else down)

    def show_progress(self, progress: Progress) -> None:
        """Show another learner's progress, or newer answers."""
        self.progress = progress
        learner = self._context.learner
        self._title.setText(f"How {learner.name} is getting on" if learner else "")
        self._next.setText(say_next(progress))
        shown = page_figures(progress)
        for card, figure in zip_longest(self._figures, shown):
            card.setVisible(figure is not None)
            if figure is not None:
                card.show_figure(figure.value, figure.words)
        for chart in self._charts:
            chart.update()

    def _draw(self, draw: Callable[..., None], painter: QPainter, box: QRectF) -> None:
        if self.progress is not None:
            dressing = self._context.dressing
            draw(painter, box, self.progress, inks=dressing.inks, text_px=dressing.text_px * 0.9)

    def _draw_ages(self, painter: QPainter, box: QRectF) -> None:
        if self.progress is not None:
            dressing = self._context.dressing
            draw_ages(
                painter,
                box,
                self.progress,
                inks=dressing.inks,
                text_px=dressing.text_px * 0.9,
                limits=self._context.limits,
            )


class _Figure(QFrame):
    """One large figure and what it is."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("sheet")
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(0)
        self._figure = label("", "figure", wrap=False)
        self._words: QLabel = label("", "faint")
        column.addWidget(self._figure)
        column.addWidget(self._words)
        column.addStretch(1)

    def show_figure(self, figure: str, words: str) -> None:
        """Show another figure."""
        self._figure.setText(figure)
        self._words.setText(words)


class _Chart(QFrame):
    """A chart on a sheet of its own."""

    def __init__(self, context: Context, draw: Callable[[QPainter, QRectF], None]) -> None:
        super().__init__()
        self.setObjectName("sheet")
        self._context = context
        self._draw = draw
        context.dressing.changed.connect(self._fit)
        self._fit()

    def _fit(self) -> None:
        self.setMinimumHeight(round(_CHART_LEAST_EM * self._context.dressing.text_px))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the chart inside the sheet."""
        super().paintEvent(event)
        painter = QPainter(self)
        self._draw(painter, QRectF(self.rect()).adjusted(16, 12, -16, -12))
