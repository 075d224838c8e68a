"""Against the clock: twenty cells, each with a time of one's own, told at the end."""

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QPushButton, QStackedWidget, QVBoxLayout

from larvasight.app.cell_item import Face, Rim
from larvasight.app.context import Context
from larvasight.app.drill_pages import DrillPage
from larvasight.app.parts import Notice, button
from larvasight.app.practise_side import PractiseSide
from larvasight.app.practise_words import said_words, span_words
from larvasight.app.practise_work import PractiseWork
from larvasight.app.told import first_to_look_at, marks_told, told_face
from larvasight.app.untold_run import UntoldRun
from larvasight.app.untold_side import UntoldWords
from larvasight.desk.clock import Clock, clock_of, is_late, limit_ms, round_of
from larvasight.desk.practising import Session
from larvasight.errors import LarvasightError
from larvasight.paper.marks import OUTCOME_MARKS
from larvasight.paper.report_words import pace_text
from larvasight.practice import Answer, Drill, Shows
from larvasight.practice.drills import AGAINST_THE_CLOCK
from larvasight.practice.pace import time_limit_ms

if TYPE_CHECKING:
    from larvasight.app.comb_supply import ReadyComb

_FLUSH_S = 3.0
_RUNNING = replace(AGAINST_THE_CLOCK, shows=Shows.ONE_CELL)
_LATE = Face(rim=Rim.FAINT, words="too late")


class ClockPage(DrillPage):
    """The page of the drill.

    Parameters
    ----------
    context : Context
        The records, who is practising, the clock, the look.
    """

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._clock: Clock | None = None
        self._ready: ReadyComb | None = None
        self._session: Session | None = None
        self._is_waiting = False
        self._notice = Notice()
        self.run = UntoldRun(context.dressing, context.loupe)
        self.run.ended.connect(self._tell)
        self.run.stopped.connect(self._stop)
        self.side = PractiseSide(
            context.dressing,
            enter=_nothing,
            take=_nothing,
            leave=_nothing,
            go_on=self.again,
            stop=self._stop,
            back=_nothing,
        )
        self.work = PractiseWork(context.dressing, context.loupe, self.side)
        self.work.comb.cell_pressed.connect(self._show_why)
        self.work.comb.cell_reached.connect(self._show_why)
        self._pages = QStackedWidget()
        for page in (self._notice, self.run, self.work):
            self._pages.addWidget(page)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._pages)
        context.supply.arrived.connect(self._arrived)
        context.supply.failed.connect(self._failed)

    def begin(self, drill: Drill) -> None:
        """Say how much time there is, or what is missing."""
        del drill
        self.leave()
        context = self._context
        if context.learner is None:
            return
        context.keeper.flush(_FLUSH_S)
        back = button("Back to the drills", self.ended.emit, "plain")
        try:
            self._clock = found = clock_of(context.store, context.learner.id)
        except LarvasightError as error:
            again = button("Try again", partial(self.begin, AGAINST_THE_CLOCK), "main")
            self._say("Your answers cannot be read now", str(error), again, back)
            return
        if found.pace_ms is None or not found.is_open:
            back = button("Back to the drills", self.ended.emit, "main")
            self._say("Not yet against the clock", found.missing, back)
            back.setFocus()
            return
        context.supply.want(_RUNNING, context.limits)
        limit = pace_text(time_limit_ms(found.pace_ms, ()))
        first = button("Begin", self.start, "main")
        self._say(
            AGAINST_THE_CLOCK.title,
            f"{_RUNNING.n_asked} cells. Your usual time for a right answer is "
            f"{pace_text(found.pace_ms)}, so you have {limit} for each; after two wrong it becomes "
            "longer. A bar shows how much is left. T takes the larva, L leaves it. How it went is "
            "told at the end.",
            *(first, back),
        )
        first.setFocus()

    def arrive(self) -> None:
        """Put the keyboard where it is wanted."""
        shown = self._pages.currentWidget()
        if shown is self.run:
            self.run.comb.setFocus()
        elif shown is self.work:
            self.work.comb.setFocus()

    def leave(self) -> None:
        """Put the comb away; a round that was broken off is not gone on with."""
        session = self.run.session
        if session is not None:
            now, round_id = self._context.now(), session.round_id
            self._context.keeper.hand(lambda store: store.end_round(round_id, (), now=now), None)
        self.run.put_away()
        self._is_waiting = False
        self._session = self._ready = None

    def start(self) -> None:
        """Begin, as soon as there is a comb."""
        context = self._context
        ready = context.supply.take(_RUNNING)
        if ready is None:
            self._is_waiting = True
            stop = button("Stop here", self._stop)
            self._say("Drawing a fresh comb ...", "This takes a second or two.", stop)
            return
        self._is_waiting = False
        if context.learner is None or self._clock is None or self._clock.pace_ms is None:
            return
        session = Session(
            ready.comb,
            context.keeper,
            learner_id=context.learner.id,
            limits=context.limits,
            now=context.now,
            failed=self._not_kept,
        )
        session.begin(context.loupe.magnification if self.run.comb.has_loupe else None)
        self._ready, self._session = ready, session
        self._pages.setCurrentWidget(self.run)
        pace_ms = self._clock.pace_ms
        self.run.ask(ready, session, self._words, lambda asked: limit_ms(asked, pace_ms))

    def again(self) -> None:
        """Do another round, by the time known now."""
        self.begin(AGAINST_THE_CLOCK)
        if self._clock is not None and self._clock.is_open:
            self.start()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter goes on once it is told."""
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if is_enter and not event.isAutoRepeat() and self._pages.currentWidget() is self.work:
            self.again()
        else:
            super().keyPressEvent(event)

    def _words(self, session: Session) -> UntoldWords:
        return UntoldWords(
            task="Would you take this one to graft?",
            title=AGAINST_THE_CLOCK.title,
            spans=span_words(session.limits),
            count=f"{session.round.n_answered + 1} of {session.round.n_to_ask}",
            count_of="cells. Nothing is told until the end.",
        )

    def _tell(self, session: Session) -> None:
        """Show every cell with what its answer was."""
        ready = self._ready
        if ready is None:
            return
        self.run.put_away()
        told = round_of(session)
        late = f" {told.n_late} came too late." if told.n_late else ""
        usual = "" if told.pace_ms is None else f"Your time this round: {pace_text(told.pace_ms)}."
        eased = ""
        if told.n_eased:
            words = {1: "once", 2: "twice"}
            times = words.get(told.n_eased, f"{told.n_eased} times")
            eased = f" The time was made longer {times}, as wrong ones cost more than seconds."
        self._pages.setCurrentWidget(self.work)
        self.work.show_comb(ready)
        for index in range(len(session.comb.asked)):
            face = _LATE if is_late(session, index) else told_face(session, index)
            self.work.comb.set_face(index, face)
        self.work.show_marks(marks_told(session))
        title = f"{told.n_right} of {told.n} right."
        self.side.tell(f"{title}{late}", f"{usual}{eased}", "Once more")
        first = first_to_look_at(session)
        self.work.comb.set_place(first)
        self._show_why(first)
        self.work.comb.setFocus()

    def _show_why(self, index: int) -> None:
        session, ready = self._session, self._ready
        if session is None or ready is None or self._pages.currentWidget() is not self.work:
            return
        self.work.comb.set_place(index)
        mark, said = OUTCOME_MARKS.get(session.outcome(index)), "You were too late here."
        if is_late(session, index):
            mark = None
        else:
            answer = session.round.answer_of(session.comb.asked[index].id) or Answer.LEAVE
            said = said_words(answer, session.outcome(index))
        self.side.why.show_why(ready.image, session.why(index), mark, session.limits, said)

    def _stop(self) -> None:
        self.leave()
        self.ended.emit()

    def _arrived(self) -> None:
        if self._is_waiting:
            self.start()

    def _failed(self, sentence: str) -> None:
        if self._is_waiting:
            self._is_waiting = False
            again = button("Try again", partial(self.begin, AGAINST_THE_CLOCK), "main")
            self._say("The comb could not be drawn", sentence, again)

    def _not_kept(self, sentence: str) -> None:
        self.run.put_away()
        self._say("That comb could not be kept", sentence, button("Back", self._stop, "main"))

    def _say(self, title: str, words: str, *buttons: QPushButton) -> None:
        self._notice.say(title, words, *buttons)
        self._pages.setCurrentWidget(self._notice)


def _nothing() -> None:
    return None
