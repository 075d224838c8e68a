"""Progress: where the eye draws the line, which ages are taken, how many picks are right."""

from collections.abc import Callable
from itertools import zip_longest

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QMessageBox,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.asking import ask_folder, ask_save_path, tell_saved
from larvasight.app.context import Context
from larvasight.app.jobs import Job
from larvasight.app.parts import Notice, button, label
from larvasight.app.progress_charts import ProgressCharts
from larvasight.app.stage_table_box import StageTableBox
from larvasight.desk.reporting import (
    Told,
    local_zone,
    save_learner_charts,
    save_learner_report,
    told_of,
)
from larvasight.errors import LarvasightError
from larvasight.paper.chart_files import chart_names
from larvasight.paper.line_words import next_sentence
from larvasight.paper.report_words import FIGURES_MOST, page_figures
from larvasight.paper.stage_words import is_told
from larvasight.practice import Progress, say_next


class ProgressPage(QWidget):
    """The page that tells how a learner comes along."""

    practise_wanted = Signal()

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._job: Job | None = None
        self._pages = QStackedWidget()
        self._notice = Notice()
        self._shown = _Shown(context, self.save_report, self.save_charts, self._show_class)
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
        store, learner_id, now = self._context.store, learner.id, self._context.now()
        self._job = Job(
            lambda: told_of(store, learner_id, now=now, tz=local_zone()), self._show, self._fail
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

    def save_charts(self) -> None:
        """Ask for a folder and write every chart of this learner as PNG and SVG."""
        learner = self._context.learner
        if learner is None:
            return
        title = "Save charts"
        folder = ask_folder(self, f"{title} (PNG and SVG) in", chart_names())
        if folder is None:
            return
        store, now = self._context.store, self._context.now()
        try:
            made = save_learner_charts(store, learner, folder, now=now, tz=local_zone())
        except LarvasightError as error:
            QMessageBox.warning(self, title, str(error))
        else:
            words = f"{len(made) // 2} charts are now in {folder}, each as PNG and as SVG."
            QMessageBox.information(self, title, words)

    def _forget(self) -> None:
        """Show nothing of who was here before."""
        self._shown.progress = None
        if self._job is not None:
            self._job.forget()
            self._job = None
        if self.isVisible():
            self.arrive()

    def _show_class(self) -> None:
        from larvasight.app.class_dialog import show_class

        show_class(self.window(), self._context)

    def _show(self, told: Told) -> None:
        self._job = None
        if told.progress.score.n_answers == 0 and not is_told(told.stages):
            self._notice.say(
                "Nothing to show yet",
                "Pick from a first comb; every cell you are shown counts from then on.",
                button("Practise", self.practise_wanted.emit, "main"),
                button("The class ...", self._show_class),
            )
            self._pages.setCurrentWidget(self._notice)
            return
        self._shown.show_told(told)
        self._pages.setCurrentWidget(self._scroll)

    def _fail(self, error: LarvasightError) -> None:
        self._job = None
        self._notice.say(
            "Your answers cannot be read now", str(error), button("Try again", self.arrive, "main")
        )
        self._pages.setCurrentWidget(self._notice)


class _Shown(QWidget):
    """The page itself: figures, what to do next, charts."""

    def __init__(
        self,
        context: Context,
        save: Callable[[], object],
        save_charts: Callable[[], object],
        show_class: Callable[[], object],
    ) -> None:
        super().__init__()
        self.progress: Progress | None = None
        self._context = context
        self._title = label("", "title")
        self._next = label("")
        self._drill = label("")
        self._figures = [_Figure() for _ in range(FIGURES_MOST)]
        column = QVBoxLayout(self)
        column.setContentsMargins(32, 24, 32, 24)
        column.setSpacing(16)
        head = QHBoxLayout()
        head.addWidget(self._title, 1)
        head.addWidget(button("The class ...", show_class))
        head.addWidget(button("Save charts ...", save_charts))
        head.addWidget(button("Save report (PDF) ...", save))
        column.addLayout(head)
        said = QVBoxLayout()
        said.setSpacing(4)
        said.addWidget(self._next)
        said.addWidget(self._drill)
        column.addLayout(said)
        figures = QHBoxLayout()
        figures.setSpacing(16)
        for figure in self._figures:
            figures.addWidget(figure, 1)
        column.addLayout(figures)
        self._charts = ProgressCharts(context)
        column.addWidget(self._charts, 1)
        self._stages = StageTableBox()
        column.addWidget(self._stages)

    def show_told(self, told: Told) -> None:
        """Show another learner's progress, or newer answers."""
        self.progress = progress = told.progress
        learner = self._context.learner
        self._title.setText(f"How {learner.name} is getting on" if learner else "")
        self._next.setText(say_next(progress))
        self._drill.setText(next_sentence(told.line, told.today, told.minutes_left))
        shown = page_figures(progress)
        for card, figure in zip_longest(self._figures, shown):
            card.setVisible(figure is not None)
            if figure is not None:
                card.show_figure(figure.value, figure.words)
        self._charts.show_told(told)
        self._stages.show_table(told.stages)


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
