"""The right side of the timetable: the plan that is shown, and the whole season."""

from collections.abc import Callable, Sequence
from datetime import datetime

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QScrollArea, QVBoxLayout, QWidget

from larvasight.app.context import Context
from larvasight.app.parts import button, label
from larvasight.app.parts import column as parts_column
from larvasight.app.timetable_charts import ExpectedCard, SeasonCard
from larvasight.app.timetable_steps import StepList
from larvasight.timetable import Kind, NamedPlan, Step
from larvasight.timetable.cautions import PLANNING
from larvasight.timetable.clashes import find_clashes
from larvasight.timetable.days import moment_words
from larvasight.timetable.season import season_rows
from larvasight.timetable.telling import START_WORDS, window_words

# Width of the plan in text heights.
_WIDTH_MOST_EM = 58
_NARROW_EM = 36


class PlanView(QWidget):
    """Title, ages, steps, season, and what can be taken along.

    Parameters
    ----------
    context : Context
        The present look and ages.
    papers : sequence of tuple
        Words of each button at the foot and what it does, the one to do next first.
    save_all : callable
        Saves a calendar file of all batches.
    """

    def __init__(
        self,
        context: Context,
        papers: Sequence[tuple[str, Callable[[], object]]],
        save_all: Callable[[], object],
    ) -> None:
        super().__init__()
        self._context = context
        self._title = label("", "title")
        self._next = label("")
        self._clash = label("", "wrong")
        self._state = label("", "faint")
        self._ages = ExpectedCard(context)
        self.steps = StepList(context.dressing)
        self._season = SeasonCard(context, save_all)
        self._inside = QWidget()
        column = QVBoxLayout(self._inside)
        column.setContentsMargins(24, 16, 24, 24)
        column.setSpacing(16)
        head = parts_column(self._title, self._next, self._clash, self._state, spacing=4)
        for part in (head, self._ages, self.steps, self._season):
            column.addWidget(part)
        for text in PLANNING:
            column.addWidget(label(text, "faint"))
        column.addStretch(1)
        context.dressing.changed.connect(self._fit)
        self._fit()
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(self._inside)
        foot = QFrame()
        foot.setObjectName("foot")
        self._grid = QGridLayout(foot)
        self._grid.setContentsMargins(24, 8, 24, 8)
        self._grid.setSpacing(8)
        self._grid.setColumnStretch(len(papers), 1)
        self._papers = [
            button(words, done, "" if number else "main")
            for number, (words, done) in enumerate(papers)
        ]
        self._lay_papers(len(papers))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(0)
        outer.addWidget(scroll, 1)
        outer.addWidget(foot)
        self._foot = foot

    def show_plan(self, named: NamedPlan, every: Sequence[NamedPlan]) -> None:
        """Show a plan, and all of them as a season."""
        plan = named.plan
        start = START_WORDS[plan.spec.start]
        self._title.setText(f"Graft {moment_words(plan.graft_at)}, from {start}")
        now = self._context.now().astimezone(plan.graft_at.tzinfo)
        for part in (self._next, self._ages, self.steps, self._season, self._foot):
            part.show()
        self._next.setText(_next_words(plan.steps, now))
        self._ages.show_plan(plan)
        self.steps.show_steps(plan.steps, now)
        clashes = find_clashes(every)
        n_own = sum(named.name in clash.names for clash in clashes)
        many = "1 clash" if n_own == 1 else f"{n_own} clashes"
        self._clash.setText(f"\N{BLACK UP-POINTING TRIANGLE} {many}: see The season, below.")
        self._clash.setVisible(n_own > 0)
        sentences = [clash.sentence for clash in clashes]
        self._season.show_season(season_rows(every), now.date(), sentences)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put steps and buttons in more lines where there is little room."""
        super().resizeEvent(event)
        self.steps.set_narrow(self.width() < _NARROW_EM * self._context.dressing.text_px)
        wide = sum(made.sizeHint().width() + 8 for made in self._papers) + 48
        n_papers = len(self._papers)
        self._lay_papers(n_papers if wide <= self.width() else (n_papers + 1) // 2)

    def _lay_papers(self, n_columns: int) -> None:
        for number, made in enumerate(self._papers):
            self._grid.addWidget(made, number // n_columns, number % n_columns)

    def _fit(self) -> None:
        """Keep lines short enough to be read across."""
        self._inside.setMaximumWidth(_WIDTH_MOST_EM * self._context.dressing.text_px)

    def show_trouble(self, sentence: str) -> None:
        """Say why a plan cannot be shown; it can still be deleted."""
        self._title.setText("This plan cannot be shown")
        self._state.setText(sentence)
        for part in (self._next, self._clash, self._ages, self.steps, self._season, self._foot):
            part.hide()

    def show_kept(self, *, is_kept: bool) -> None:
        """Say whether all that was typed is kept."""
        self._state.setText("Kept." if is_kept else "Keeping ...")

    def show_pending(self) -> None:
        """Say that what is typed cannot be used yet."""
        self._state.setText(
            "Something at the left cannot be used yet: below is the plan before it."
        )

    def show_not_kept(self, sentence: str) -> None:
        """Say why the plan could not be kept."""
        self._state.setText(sentence)


def _next_words(steps: Sequence[Step], now: datetime) -> str:
    """Say what is to be done or looked at next; nothing once all is over."""
    due = [step for step in steps if step.to_at >= now and step.kind in (Kind.DO, Kind.LOOK)]
    if not due:
        return "All is over: note in Grafts what became of it."
    step = min(due, key=lambda step: step.usual_at)
    return f"Next: {step.title[0].lower()}{step.title[1:]}, {window_words(step)}."
