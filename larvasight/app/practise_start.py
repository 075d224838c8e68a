"""The first screen of Practise: which drill, or the comb that was broken off."""

from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING
from uuid import UUID

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from larvasight.app.comb_supply import ReadyComb
from larvasight.app.context import Context
from larvasight.app.images import image_of
from larvasight.app.jobs import Job
from larvasight.app.parts import button, label
from larvasight.app.practise_words import LOOK_FOR, span_words
from larvasight.desk.keeping import Keeper
from larvasight.desk.practising import open_comb
from larvasight.practice import DRILLS, Drill, drill_of

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import UnfinishedRound

# How long answers in line are waited for before an open comb is looked for.
_FLUSH_S = 5.0
_WHAT: dict[str, str] = {
    "pick-from-patch": (
        "A patch of comb as a queen lays it. Mark the larvae you would graft, then see for every "
        "cell why it was right or wrong."
    ),
    "take-or-leave": "One cell at a time: take it or leave it, and see at once how old it is.",
}


class PractiseStart(QWidget):
    """Offers the drills; ``chosen`` carries a Drill, ``resumed`` a comb and its open round."""

    chosen = Signal(object)
    resumed = Signal(object, object)

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
        cards = QHBoxLayout()
        cards.setSpacing(24)
        for drill in DRILLS:
            cards.addWidget(self._card(drill), 1)
        column.addLayout(cards)
        column.addStretch(2)
        self._unfinished: UnfinishedRound | None = None
        self._again: ReadyComb | None = None
        self._job: Job | None = None
        self._open_card.hide()

    def refresh(self) -> None:
        """Say whom it is about, and look for a comb that was broken off."""
        learner = self._context.learner
        if learner is None:
            return
        self._title.setText(f"{learner.name}, which would you graft?")
        self._spans.setText(span_words(self._context.limits))
        self._open_card.hide()
        if self._job is not None:
            self._job.forget()
        self._unfinished = self._again = None
        context = self._context
        work = partial(_draw_open_comb, context.store, context.keeper, learner.id, context.now())
        self._job = Job(work, self._found, lambda _error: None).start()

    def focus_first(self) -> None:
        """Put the keyboard on what is to be done next."""
        next_one = self._open_button if self._open_card.isVisible() else None
        (next_one or self.buttons[DRILLS[0].key]).setFocus()

    def put_away(self) -> None:
        """Give up the comb that is open: another one is begun."""
        if self._job is not None:
            self._job.forget()
            self._job = None
        unfinished, self._unfinished = self._unfinished, None
        if unfinished is not None:
            now = self._context.now()
            self._context.keeper.hand(
                lambda store: store.end_round(unfinished.id, (), now=now), None
            )

    def _found(self, found: "tuple[UnfinishedRound, ReadyComb] | None") -> None:
        self._job = None
        if found is None:
            return
        self._unfinished, self._again = found
        title = drill_of(self._unfinished.drill).title
        self._open_words.setText(f"A comb is still open: {title}. Your marks are on it.")
        self._open_card.show()

    def _go_on(self) -> None:
        again, unfinished = self._again, self._unfinished
        self._again = self._unfinished = None
        if again is not None and unfinished is not None:
            self._open_card.hide()
            self.resumed.emit(again, unfinished)

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
        return card


def _draw_open_comb(
    store: "Store", keeper: Keeper, learner_id: UUID, now: datetime
) -> "tuple[UnfinishedRound, ReadyComb] | None":
    """Draw the comb that a learner broke off; None where there is none to go on with."""
    if not keeper.flush(_FLUSH_S):
        return None  # marks are still in line: the comb would come back without them
    found = open_comb(store, learner_id, now=now)
    if found is None:
        return None
    unfinished, comb = found
    return unfinished, ReadyComb(comb=comb, image=image_of(comb.pixels))
