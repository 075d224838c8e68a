"""The first screen of Practise: which drill, or the comb that was broken off."""

from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING
from uuid import UUID

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from larvasight.app.context import Context
from larvasight.app.homework_cards import HomeworkCards
from larvasight.app.look_for import show_what_to_look_for
from larvasight.app.own_cards import OwnCards
from larvasight.app.parts import button, column, label
from larvasight.app.practise_words import LOOK_FOR, span_words
from larvasight.app.today_box import TodayBox
from larvasight.desk.broken_off import open_round
from larvasight.desk.homework import open_comb
from larvasight.desk.recipes import LESSON_MARK, TRY_MARK
from larvasight.desk.recommending import Standing
from larvasight.desk.reporting import local_zone
from larvasight.desk.todays import TodayPart, next_time_words
from larvasight.errors import LarvasightError
from larvasight.practice import DRILLS, PICK_FROM_PATCH, PICK_FROM_SIDE, Drill, Shows, drill_of
from larvasight.practice.today import LOOK_FOR as LOOK_FOR_PART

if TYPE_CHECKING:
    from larvasight.records.types import UnfinishedRound

# How long to wait for marks that are just being stored, before looking for an open comb.
_FLUSH_S = 0.2
_FIRST_TODAY = "Best for today."
# All buttons of the list are as wide, font sizes.
_START_TIMES = 10.5


class PractiseStart(QWidget):
    """Offers the drills; ``chosen`` carries a Drill, ``resumed`` an UnfinishedRound.

    ``lesson_wanted`` carries the id of a lesson.
    """

    chosen = Signal(object)
    resumed = Signal(object)
    looked = Signal()
    lesson_wanted = Signal(object)

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._order = DRILLS
        self._unfinished: UnfinishedRound | None = None
        # Who opened "What to look for" in this sitting: it leaves no answers.
        self._looked: set[UUID] = set()
        self.today = TodayBox(context.dressing, next_time=self._next_time)
        self.today.started.connect(self._start_part)
        self._title = label("", "title")
        self._spans = label("", "faint")
        self._open_words = label("")
        self._open_button = button("Go on with it", self._go_on, "main")
        self._open_card = self._about_the_open_comb()
        self.buttons = {
            drill.key: button("Start", partial(self.chosen.emit, drill)) for drill in DRILLS
        }
        self.side_button = button("A whole comb side", partial(self.chosen.emit, PICK_FROM_SIDE))
        self.side_button.setToolTip("About 600 cells, gone over part by part")
        self.look_button = button("What to look for", self._show_what_to_look_for)
        self._today = {drill.key: label("", "faint") for drill in DRILLS}
        self._cards = {drill.key: self._card(drill) for drill in DRILLS}
        self._list = QVBoxLayout()
        self._list.setSpacing(12)
        self.own = OwnCards(context, self.chosen.emit)
        self.homework = HomeworkCards(context, self.lesson_wanted.emit, self.save_result)
        context.homework_changed.connect(self.homework.refresh)
        self._lay_out()
        # Now only: else Python keeps places of the list that Qt gives up when it is reordered.
        for card in self._cards.values():
            self._list.addWidget(card)
        context.dressing.changed.connect(self._fit)
        self._fit()

    def _about_the_open_comb(self) -> QFrame:
        card = QFrame()
        card.setObjectName("sheet")
        row = QHBoxLayout(card)
        row.setContentsMargins(24, 16, 24, 16)
        row.addWidget(self._open_words, 1)
        row.addWidget(self._open_button)
        card.hide()
        return card

    def _lay_out(self) -> None:
        inside = QWidget()
        page = QVBoxLayout(inside)
        page.setContentsMargins(40, 32, 40, 32)
        page.setSpacing(16)
        page.addStretch(1)
        for widget in (self._title, label(LOOK_FOR), self._spans, self._open_card, self.today):
            page.addWidget(widget)
        page.addWidget(self.homework)
        page.addLayout(self._list)
        page.addWidget(self.own)
        page.addWidget(self.look_button, 0, Qt.AlignmentFlag.AlignLeft)
        page.addStretch(2)
        scroll = QScrollArea()  # large words in a small window
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setWidget(inside)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll)

    def refresh(self, standing: Standing) -> None:
        """Say whom it is about and what to do today, and look for a comb that was broken off."""
        self._order, self._unfinished = standing.drills, None
        learner = self._context.learner
        if learner is None:
            return
        self._title.setText(f"{learner.name}, which would you graft?")
        self._spans.setText(span_words(self._context.limits))
        self._open_card.hide()
        self._unfinished = self._find(learner.id)
        self.today.show_today(standing.today, is_next=self._unfinished is None)
        self._put_in_order(standing)
        self.own.refresh()
        self.homework.refresh()
        if self._unfinished is None:
            return
        drill = drill_of(self._unfinished.drill)
        n_answered = sum(given.answer is not None for given in self._unfinished.givens)
        many = "answered" if drill.shows is Shows.ONE_CELL else "marked"
        whose = "of your homework " if LESSON_MARK in self._unfinished.recipe else ""
        title = drill.title.rstrip("?")
        self._open_words.setText(f"A comb {whose}is still open: {title}, {n_answered} {many}.")
        self._open_card.show()

    def _find(self, learner_id: UUID) -> "UnfinishedRound | None":
        context = self._context
        if not context.keeper.flush(_FLUSH_S):
            return None  # it would come back without the marks that are still in line
        try:
            return open_round(context.store, learner_id, now=context.now())
        except LarvasightError:
            return None  # nothing is lost: it is offered the next time

    def focus_first(self) -> None:
        """Put the keyboard on what is to be done next."""
        next_one = self._open_button if self._unfinished is not None else None
        if next_one is None and self.today.is_open:
            next_one = self.today.button
        (next_one or self.buttons[self._order[0].key]).setFocus()

    def save_result(self, lesson_id: UUID) -> None:
        """Ask where the result of a lesson is to be saved."""
        from larvasight.app.homework_saving import ask_save_result

        ask_save_result(self.window(), self._context, lesson_id)

    def put_away(self) -> None:
        """Give up the comb that is open: another one is begun."""
        unfinished, self._unfinished = self._unfinished, None
        kept = {TRY_MARK, LESSON_MARK}  # these are gone on with from their own cards
        if unfinished is not None and not kept & unfinished.recipe.keys():
            self.give_up(unfinished)

    def give_up(self, unfinished: "UnfinishedRound") -> None:
        """End a round that nobody goes on with."""
        now = self._context.now()
        self._context.keeper.hand(lambda store: store.end_round(unfinished.id, (), now=now), None)

    def go_on_with(self, lesson_id: UUID) -> bool:
        """Go on with the open comb if it is one of this lesson's; False where it is none."""
        context = self._context
        if context.learner is None or not context.keeper.flush(_FLUSH_S):
            return False
        try:
            unfinished = open_comb(context.store, context.learner.id, lesson_id)
        except LarvasightError:
            return False  # it is offered the next time
        if unfinished is None:
            return False
        self._unfinished = None
        self._open_card.hide()
        self.resumed.emit(unfinished)
        return True

    def _go_on(self) -> None:
        unfinished, self._unfinished = self._unfinished, None
        if unfinished is not None:
            self._open_card.hide()
            self.resumed.emit(unfinished)

    @property
    def has_looked(self) -> bool:
        """Whether the learner opened "What to look for" in this sitting."""
        learner = self._context.learner
        return learner is not None and learner.id in self._looked

    def open_part(self, drill: Drill) -> TodayPart | None:
        """Return the part of today that a drill is, None where it is none or done already."""
        part = None if self.today.today is None else self.today.today.part_of(drill.key)
        return None if part is None or part.is_done else part

    def _show_what_to_look_for(self) -> None:
        show_what_to_look_for(self, self._context.dressing, self._context.limits)
        if self._context.learner is not None:
            self._looked.add(self._context.learner.id)
            self.looked.emit()

    def _start_part(self, key: str) -> None:
        if key == LOOK_FOR_PART:
            self._show_what_to_look_for()
        else:
            self.chosen.emit(drill_of(key))

    def _next_time(self) -> str:
        """Say when to practise next; nothing where the records cannot be read now."""
        context = self._context
        if context.learner is None:
            return ""
        try:
            return next_time_words(
                context.store, context.learner.id, now=context.now(), tz=local_zone()
            )
        except LarvasightError:
            return ""

    def _put_in_order(self, standing: Standing) -> None:
        """List what is planned for today first, with its reason; an open comb goes before it."""
        for at, drill in enumerate(standing.drills):
            is_first = at == 0
            today, start = self._today[drill.key], self.buttons[drill.key]
            is_told = is_first and standing.why and standing.today is None
            told = f"{_FIRST_TODAY} {standing.why}" if is_told else ""
            today.setText(told or standing.missing.get(drill.key, ""))
            today.setVisible(bool(today.text()))
            is_next = is_first and self._unfinished is None and standing.today is None
            start.setProperty("role", "main" if is_next else "")
            start.style().unpolish(start)
            start.style().polish(start)
            self._list.insertWidget(at, self._cards[drill.key])
        chain = [start for drill in standing.drills for start in self._starts(drill)]
        for before, after in pairwise([*chain, *self.own.starts, self.look_button]):
            self.setTabOrder(before, after)

    def _fit(self) -> None:
        """Keep the buttons of the list as wide as their words need, and as each other."""
        for start in (self.side_button, *self.buttons.values(), *self.own.starts):
            start.setMinimumWidth(round(_START_TIMES * self._context.dressing.text_px))

    def _starts(self, drill: Drill) -> list[QPushButton]:
        start = self.buttons[drill.key]
        return [start, self.side_button] if drill == PICK_FROM_PATCH else [start]

    def _card(self, drill: Drill) -> QFrame:
        card = QFrame()
        card.setObjectName("sheet")
        inside = QHBoxLayout(card)
        inside.setContentsMargins(24, 16, 24, 16)
        inside.setSpacing(24)
        title, start = label(drill.title, "lead"), self.buttons[drill.key]
        words = QVBoxLayout()
        words.setSpacing(4)
        words.addStretch(1)
        for widget in (title, label(drill.trains), self._today[drill.key]):
            words.addWidget(widget)
        words.addStretch(1)
        inside.addLayout(words, 1)
        start.setAccessibleName(f"Start: {drill.title}")
        starts = column(*self._starts(drill))
        inside.addWidget(starts)
        return card
