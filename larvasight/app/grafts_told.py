"""What the grafts say: acceptance over time, losses, comparisons, the eye beside the takes."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from larvasight.app.context import Context
from larvasight.app.parts import button, label
from larvasight.desk.grafting import Compared, Told
from larvasight.grafts.acceptance import EyeDay
from larvasight.grafts.telling import (
    BY_CHANCE,
    COLONY_AND_WEATHER,
    SAME_DAY,
    comparison_title,
    comparison_words,
    level_words,
    span_words,
    takes_words,
)
from larvasight.grafts.words import FACTOR_WORDS, day_words, value_words
from larvasight.paper.eye_chart import draw_eye_and_takes, eye_height_px
from larvasight.paper.grafts_charts import (
    draw_levels,
    draw_steps,
    draw_takes,
    levels_height_px,
    steps_height_px,
)

_DAYS_EM = 17
_BESIDE_EM = 56
_CHART_TEXT = 0.9
_NO_EYE = (
    "Nothing can stand here yet: it takes at least 40 larvae judged on the screen in the 30 days "
    "before a graft, and grafts noted under the same name."
)
_EYE_REMARK = (
    "A surer eye helps only where age was the trouble. Colony, food coming in and weather matter "
    "as much, so a bad day is no verdict on the eye, and a good one no proof of it."
)


class ToldView(QWidget):
    """The page that says in plain words what can and what cannot be told from the grafts."""

    back_pressed = Signal()

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._told: Told | None = None
        self._charts = QBoxLayout(QBoxLayout.Direction.LeftToRight, None)
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(0)
        outer.addWidget(self._head())
        outer.addWidget(self._scroll, 1)

    def show_told(self, told: Told, eye: Sequence[EyeDay]) -> None:
        """Show what the grafts say now."""
        self._told = told
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(32, 24, 32, 24)
        column.setSpacing(16)
        column.addLayout(_figures(told))
        self._charts = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._charts.setSpacing(16)
        self._charts.addWidget(self._days_chart(told), 1)
        self._charts.addWidget(self._steps_chart(told), 1)
        self._fit()
        column.addLayout(self._charts)
        column.addWidget(label(COLONY_AND_WEATHER, "lead"))
        for compared in told.compared:
            column.addWidget(self._comparison(compared))
        if told.compared:
            column.addWidget(label(f"{SAME_DAY} {BY_CHANCE}"))
        else:
            words = (
                "Nothing to compare yet: note which tool was used, whether cups were primed, and "
                "who grafted; once two kinds have cups that were looked at, they stand here."
            )
            column.addWidget(label(words))
        column.addWidget(self._eye(eye))
        column.addStretch(1)
        self._scroll.setWidget(inside)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the charts one under the other where the window is narrow."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        is_wide = self.width() >= _BESIDE_EM * self._context.dressing.text_px
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._charts.setDirection(across if is_wide else down)

    def _head(self) -> QFrame:
        head = QFrame()
        head.setObjectName("bar")
        row = QHBoxLayout(head)
        row.setContentsMargins(16, 8, 16, 8)
        row.addWidget(button("All batches", self.back_pressed.emit))
        row.addWidget(label("What your grafts say", "lead", wrap=False), 1)
        return head

    def _days_chart(self, told: Told) -> "_Chart":
        def draw(painter: QPainter, box: QRectF, text_px: float) -> None:
            draw_takes(painter, box, told.days, inks=self._context.dressing.inks, text_px=text_px)

        return _Chart(self._context, draw, lambda text_px: _DAYS_EM * text_px)

    def _steps_chart(self, told: Told) -> "_Chart":
        def draw(painter: QPainter, box: QRectF, text_px: float) -> None:
            draw_steps(painter, box, told.steps, inks=self._context.dressing.inks, text_px=text_px)

        return _Chart(self._context, draw, steps_height_px)

    def _comparison(self, compared: Compared) -> QFrame:
        levels = [
            (value_words(compared.factor, level.value), level.takes) for level in compared.levels
        ]

        def draw(painter: QPainter, box: QRectF, text_px: float) -> None:
            draw_levels(painter, box, levels, inks=self._context.dressing.inks, text_px=text_px)

        card, column = _card()
        column.addWidget(label(FACTOR_WORDS[compared.factor], "lead"))
        chart = _Chart(self._context, draw, lambda text_px: levels_height_px(len(levels), text_px))
        chart.show_bare()
        column.addWidget(chart)
        for level in compared.levels:
            column.addWidget(label(level_words(compared.factor, level), "faint"))
        for found in compared.comparisons:
            named = f"{comparison_title(found)}: " if len(compared.comparisons) > 1 else ""
            column.addWidget(label(f"{named}{comparison_words(found)}"))
        return card

    def _eye(self, eye: Sequence[EyeDay]) -> QFrame:
        learner = self._context.learner
        name = learner.name if learner is not None else ""
        card, column = _card()
        column.addWidget(label(f"The eye of {name} beside the takes", "lead"))
        if not eye:
            column.addWidget(label(_NO_EYE, "faint"))
            return card

        def draw(painter: QPainter, box: QRectF, text_px: float) -> None:
            inks, limits = self._context.dressing.inks, self._context.limits
            draw_eye_and_takes(painter, box, eye, limits=limits, inks=inks, text_px=text_px)

        chart = _Chart(self._context, draw, eye_height_px)
        chart.show_bare()
        chart.setAccessibleName(" ".join(map(_eye_words, eye)))
        column.addWidget(chart)
        for found in eye[::-1]:
            column.addWidget(label(_eye_words(found), "faint"))
        column.addWidget(label(_EYE_REMARK))
        return card


class _Chart(QFrame):
    """A chart on a sheet of its own, as high as it needs."""

    def __init__(
        self,
        context: Context,
        draw: Callable[[QPainter, QRectF, float], None],
        height_of: Callable[[float], float],
    ) -> None:
        super().__init__()
        self.setObjectName("sheet")
        self._context = context
        self._draw = draw
        self._height_of = height_of
        self._edge = 16
        context.dressing.changed.connect(self._fit)
        self._fit()

    def show_bare(self) -> None:
        """Stand on somebody else's sheet, without an edge."""
        self.setObjectName("")
        self._edge = 0

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the chart inside the sheet."""
        super().paintEvent(event)
        painter = QPainter(self)
        box = QRectF(self.rect()).adjusted(self._edge, 12, -self._edge, -12)
        self._draw(painter, box, self._text_px())

    def _text_px(self) -> float:
        return self._context.dressing.text_px * _CHART_TEXT

    def _fit(self) -> None:
        self.setMinimumHeight(round(self._height_of(self._text_px())) + 24)
        self.update()


def _figures(told: Told) -> QHBoxLayout:
    """Return the figures at the top: what was accepted, what lays, what is open."""
    row = QHBoxLayout()
    row.setSpacing(16)
    takes, laying = told.takes, told.steps[-1].n_reached
    share = "nothing looked at yet"
    if takes.share is not None:
        share = f"cups accepted; the true share likely lies at {span_words(takes.share)}"
    figures = [(f"{takes.n_accepted} of {takes.n_known}", share), (str(laying), "queens laying")]
    if takes.n_open:
        figures.append((str(takes.n_open), "cups not looked at yet"))
    if told.n_practice_cups:
        figures.append((str(told.n_practice_cups), "practice cups, not counted"))
    for figure, words in figures:
        card, column = _card()
        column.setSpacing(0)
        column.addWidget(label(figure, "figure", wrap=False))
        column.addWidget(label(words, "faint"))
        column.addStretch(1)
        row.addWidget(card, 1)
    return row


def _eye_words(found: EyeDay) -> str:
    oldest = found.oldest_h
    return (
        f"{day_words(found.day)}: the oldest larvae taken on the screen were about "
        f"{oldest.value:.0f} h ({oldest.lo:.0f}\N{EN DASH}{oldest.hi:.0f}); "
        f"{takes_words(found.takes)}."
    )


def _card() -> tuple[QFrame, QVBoxLayout]:
    card = QFrame()
    card.setObjectName("sheet")
    column = QVBoxLayout(card)
    column.setContentsMargins(16, 12, 16, 12)
    column.setSpacing(6)
    return card, column
