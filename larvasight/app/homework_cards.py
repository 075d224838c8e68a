"""Homework on the first screen of Practise: a card for each lesson that was taken in."""

from collections.abc import Callable
from functools import partial
from uuid import UUID

from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from larvasight.app.context import Context
from larvasight.app.jobs import Job
from larvasight.app.parts import button, column, label
from larvasight.desk.homework import Standing, homework
from larvasight.errors import LarvasightError

_START_TIMES = 10.5


class HomeworkCards(QWidget):
    """Offers the lessons of the present learner; hidden while there are none.

    Parameters
    ----------
    context : Context
        The records, and who is practising.
    begin, save : callable
        Get a lesson's id: to work on it, and to save its result.
    """

    def __init__(
        self, context: Context, begin: Callable[[UUID], object], save: Callable[[UUID], object]
    ) -> None:
        super().__init__()
        self._context, self._begin, self._save = context, begin, save
        self._job: Job | None = None
        self.standings: tuple[Standing, ...] = ()
        self.buttons: list[QPushButton] = []
        self._cards: list[QFrame] = []
        self._rows = QVBoxLayout(self)
        self._rows.setContentsMargins(0, 0, 0, 0)
        self._rows.setSpacing(12)
        self.hide()

    def refresh(self) -> None:
        """Read anew what there is to do; the cards follow when it is known."""
        if self._job is not None:
            self._job.forget()
        learner, context = self._context.learner, self._context
        if learner is None:
            self._show(())
            return
        work = partial(homework, context.store, learner.id, now=context.now())
        self._job = Job(work, self._show, self._fail).start()

    def _fail(self, _error: LarvasightError) -> None:
        self._show(())  # nothing is lost: they are offered the next time

    def _show(self, standings: "list[Standing] | tuple[Standing, ...]") -> None:
        self._job = None
        self.standings = tuple(standings)
        for card in self._cards:
            self._rows.removeWidget(card)
            card.hide()
            card.deleteLater()
        self.buttons = []
        self._cards = [self._card(one) for one in self.standings]
        for card in self._cards:
            self._rows.addWidget(card)
        self.setVisible(bool(self._cards))

    def _card(self, one: Standing) -> QFrame:
        card = QFrame()
        card.setObjectName("sheet")
        inside = QHBoxLayout(card)
        inside.setContentsMargins(24, 16, 24, 16)
        inside.setSpacing(24)
        words = QVBoxLayout()
        words.setSpacing(4)
        words.addWidget(label(f"Homework: {one.title}", "lead"))
        words.addWidget(label(standing_words(one)))
        if one.note and not one.is_done:
            words.addWidget(label(one.note, "faint"))
        inside.addLayout(words, 1)
        starts = []
        if not one.is_done:
            says = "Go on" if one.n_done or one.has_open else "Start"
            starts.append(button(says, partial(self._begin, one.lesson_id)))
            starts[-1].setAccessibleName(f"{says}: {one.title}")
        if one.n_done:
            starts.append(button("Save the result ...", partial(self._save, one.lesson_id)))
        for start in starts:
            start.setMinimumWidth(round(_START_TIMES * self._context.dressing.text_px))
        self.buttons += starts
        inside.addWidget(column(*starts))
        return card


def standing_words(one: Standing) -> str:
    """Say how far a learner is with a lesson, and what to do once it is done."""
    combs = "1 comb" if one.n_tasks == 1 else f"{one.n_tasks} combs"
    if one.is_done:
        to = f" to {one.made_by}" if one.made_by else " to your teacher"
        return f"{combs[0].upper()}{combs[1:]}, all done. Save the result file and send it{to}."
    by = f"From {one.made_by}. " if one.made_by else ""
    done = f"{one.n_done} of {combs} done." if one.n_done else f"{combs}."
    return f"{by}{done}"
