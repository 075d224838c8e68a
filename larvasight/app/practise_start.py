"""The first screen of Practise: which drill, or the comb that was broken off."""

from functools import partial
from typing import TYPE_CHECKING
from uuid import UUID

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from larvasight.app.context import Context
from larvasight.app.look_for import show_what_to_look_for
from larvasight.app.parts import button, label
from larvasight.app.practise_words import LOOK_FOR, span_words
from larvasight.desk.practising import open_round
from larvasight.errors import LarvasightError
from larvasight.practice import DRILLS, PICK_FROM_PATCH, PICK_FROM_SIDE, Drill, Shows, drill_of

if TYPE_CHECKING:
    from larvasight.records.types import UnfinishedRound

# How long to wait for marks that are just being stored, before looking for an open comb.
_FLUSH_S = 0.2
_WHAT: dict[str, str] = {
    "pick-from-patch": (
        "A patch of comb as a queen lays it. Mark the larvae you would graft, then see for every "
        "cell why it was right or wrong."
    ),
    "take-or-leave": "One cell at a time: take it or leave it, and see at once how old it is.",
}


class PractiseStart(QWidget):
    """Offers the drills; ``chosen`` carries a Drill, ``resumed`` an UnfinishedRound."""

    chosen = Signal(object)
    resumed = Signal(object)

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._title = label("", "title")
        self._spans = label("", "faint")
        column = QVBoxLayout(self)
        column.setContentsMargins(40, 32, 40, 32)
        column.setSpacing(16)
        column.addStretch(1)
        column.addWidget(self._title)
        column.addWidget(label(LOOK_FOR))
        column.addWidget(self._spans)
        column.addSpacing(8)
        self._open_card = QFrame()
        self._open_card.setObjectName("sheet")
        self._open_words = label("")
        row = QHBoxLayout(self._open_card)
        row.setContentsMargins(24, 16, 24, 16)
        row.addWidget(self._open_words, 1)
        self._open_button = button("Go on with it", self._go_on, "main")
        row.addWidget(self._open_button)
        column.addWidget(self._open_card)
        self.buttons = {drill.key: self._button(drill) for drill in DRILLS}
        self.side_button = button("A whole comb side", partial(self.chosen.emit, PICK_FROM_SIDE))
        self.side_button.setToolTip("About 600 cells, gone over part by part")
        cards = QHBoxLayout()
        cards.setSpacing(24)
        for drill in DRILLS:
            cards.addWidget(self._card(drill), 1)
        column.addLayout(cards)
        self.look_button = button("What to look for", self._show_what_to_look_for)
        row = QHBoxLayout()
        row.addWidget(self.look_button)
        row.addStretch(1)
        column.addLayout(row)
        column.addStretch(2)
        self._unfinished: UnfinishedRound | None = None
        self._open_card.hide()

    def refresh(self) -> None:
        """Say whom it is about, and look for a comb that was broken off."""
        learner = self._context.learner
        if learner is None:
            return
        self._title.setText(f"{learner.name}, which would you graft?")
        self._spans.setText(span_words(self._context.limits))
        self._open_card.hide()
        self._unfinished = self._find(learner.id)
        if self._unfinished is None:
            return
        drill = drill_of(self._unfinished.drill)
        n_answered = sum(given.answer is not None for given in self._unfinished.givens)
        many = "marked" if drill.shows is Shows.PATCH else "answered"
        self._open_words.setText(f"A comb is still open: {drill.title}, {n_answered} {many}.")
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
        (next_one or self.buttons[DRILLS[0].key]).setFocus()

    def put_away(self) -> None:
        """Give up the comb that is open: another one is begun."""
        unfinished, self._unfinished = self._unfinished, None
        if unfinished is not None:
            self.give_up(unfinished)

    def give_up(self, unfinished: "UnfinishedRound") -> None:
        """End a round that nobody goes on with."""
        now = self._context.now()
        self._context.keeper.hand(lambda store: store.end_round(unfinished.id, (), now=now), None)

    def _go_on(self) -> None:
        unfinished, self._unfinished = self._unfinished, None
        if unfinished is not None:
            self._open_card.hide()
            self.resumed.emit(unfinished)

    def _show_what_to_look_for(self) -> None:
        show_what_to_look_for(self, self._context.dressing, self._context.limits)

    def _button(self, drill: Drill) -> "QWidget":
        is_first = drill is DRILLS[0]
        return button("Start", partial(self.chosen.emit, drill), "main" if is_first else "")

    def _card(self, drill: Drill) -> QFrame:
        card = QFrame()
        card.setObjectName("sheet")
        inside = QVBoxLayout(card)
        inside.setContentsMargins(24, 24, 24, 24)
        inside.setSpacing(16)
        inside.addWidget(label(drill.title, "lead"))
        words = label(_WHAT[drill.key])
        words.setAlignment(Qt.AlignmentFlag.AlignTop)
        inside.addWidget(words, 1)
        start = self.buttons[drill.key]
        start.setAccessibleName(f"Start: {drill.title}")
        inside.addWidget(start)
        if drill == PICK_FROM_PATCH:
            inside.addWidget(self.side_button)
        return card
