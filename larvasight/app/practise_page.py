"""Practise: choose a drill, pick on a comb, see for every cell why it was right or wrong."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING
from uuid import UUID

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from larvasight.app.aiming import take_aim
from larvasight.app.comb_supply import ReadyComb, draw_again
from larvasight.app.context import Context
from larvasight.app.edges_told import EdgesTold
from larvasight.app.jobs import Job
from larvasight.app.lesson_flow import LessonComb, LessonFlow
from larvasight.app.own_pages import OwnPages
from larvasight.app.practise_notice import PractiseNotice
from larvasight.app.practise_side import PractiseSide
from larvasight.app.practise_start import PractiseStart
from larvasight.app.practise_words import doubt_words
from larvasight.app.practise_work import PractiseWork, is_kept_apart, new_session
from larvasight.app.today_flow import TodayFlow
from larvasight.app.told import marked_face
from larvasight.desk.practising import Session
from larvasight.desk.recipes import LESSON_MARK, TASK_MARK, TRY_MARK
from larvasight.errors import LarvasightError
from larvasight.grading import Limits
from larvasight.practice import TAKE_OR_LEAVE, Answer, Drill, Feedback, Given, Shows
from larvasight.practice.drills import SCREEN_TEST

if TYPE_CHECKING:
    from larvasight.records.types import UnfinishedRound


class PractisePage(QWidget):
    """The page where the eye is trained."""

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._drill: Drill | None = None
        self._flow = TodayFlow(context)
        self._session: Session | None = None
        self._ready: ReadyComb | None = None
        self._again: Job | None = None
        self._is_told = self._is_storing = self._is_meant = False
        # The latest step of each cell touched: what was stored before it shows nothing.
        self._latest: dict[int, Given] = {}
        self._pages = QStackedWidget()
        self.start = PractiseStart(context)
        self.start.chosen.connect(self.begin)
        self.start.resumed.connect(self._resume)
        self.start.looked.connect(self.stop)
        self.start.lesson_wanted.connect(self.begin_lesson)
        self._notice = PractiseNotice(self.stop)
        self._lesson = LessonFlow(context, self._show_of_lesson, self._notice.no_lesson)
        self.side = PractiseSide(
            context.dressing,
            enter=self.enter,
            take=lambda: self.answer(Answer.TAKE),
            leave=lambda: self.answer(Answer.LEAVE),
            go_on=self.go_on,
            stop=self.stop,
            back=self.take_back,
        )
        self._work = PractiseWork(context.dressing, context.loupe, self.side)
        self.comb = self._work.comb
        self.edges_told = EdgesTold(
            context.dressing,
            train=partial(self.begin, TAKE_OR_LEAVE),
            done=self.stop,
            go_on=self._next_comb,
        )
        self._own = OwnPages(context, self._pages, self.stop)
        for page in (self.start, self._notice, self._work, self.edges_told):
            self._pages.addWidget(page)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._pages)
        self.comb.cell_pressed.connect(self._press)
        self.comb.cell_reached.connect(self._reach)
        context.supply.arrived.connect(self._comb_arrived)
        context.supply.failed.connect(self._comb_failed)
        context.learner_changed.connect(self._greet)

    @property
    def session(self) -> Session | None:
        """The comb in front of the learner, None on the first screen."""
        return self._session

    @property
    def is_told(self) -> bool:
        """Whether the comb or the present cell has been answered and told."""
        return self._is_told

    def arrive(self) -> None:
        """Put the keyboard where it is wanted; called when the page is gone to."""
        if self._session is not None:
            self.comb.setFocus()
        elif self._own.shown is not None:
            self._own.shown.arrive()
        elif self._pages.currentWidget() is self.edges_told:
            self.edges_told.first_button.setFocus()
        else:
            self.start.focus_first()

    def begin(self, drill: Drill) -> None:
        """Start a drill."""
        self._flow.begin(self.start.open_part(drill))
        self._lesson.leave()
        self._work.lesson_words = ""
        self.start.put_away()
        if self._own.begin(drill):
            return
        self._drill = drill
        take_aim(self._context)
        self._context.supply.want(drill, self._context.limits)
        self._next_comb()

    def begin_lesson(self, lesson_id: UUID) -> None:
        """Start a lesson, or go on with it."""
        self._flow.begin(None)
        if self.start.go_on_with(lesson_id):
            return
        self.start.put_away()
        self._lesson.join(lesson_id)
        self._next_comb()

    def stop(self) -> None:
        """Go back to the first screen."""
        if self._again is not None:
            self._again.forget()
        self._own.leave()
        self._lesson.leave()
        self._drill = self._session = self._ready = self._again = None
        standing = take_aim(self._context, has_looked=self.start.has_looked)
        for drill in reversed(standing.drills):
            self._context.supply.want(drill, self._context.limits)
        self.start.refresh(standing)
        self._pages.setCurrentWidget(self.start)
        self.arrive()

    def enter(self) -> None:
        """End a patch; told once all answers are stored."""
        if self._session is None or self._is_told or self._is_storing:
            return
        if self._session.round.drill.shows is Shows.PATCH:
            doubt = doubt_words(self._session.round.n_marked, self.comb.n_unseen)
            if doubt and not self._is_meant:
                self._is_meant = True
                self.side.ask_again(doubt)
                return
            self._is_storing = True
            self.side.wait("Storing your answers ...")
            self._session.enter(self._if_still(self._session, self._tell_patch))

    def answer(self, answer: Answer) -> None:
        """Answer the one cell asked; told once it is stored."""
        session = self._session
        if session is None or self._is_told or self._is_storing:
            return
        if session.current_index is not None:
            self._is_storing = True
            session.answer(answer, self._if_still(session, self._tell_one))

    def take_back(self) -> None:
        """Take the latest mark back."""
        session = self._session
        if session is None or self._is_told or session.round.drill.shows is not Shows.PATCH:
            return
        latest = session.take_back(lambda: None)
        if latest is not None:
            self._show_mark(latest, is_stored=True)

    def go_on(self) -> None:
        """Go on to the next cell, or to the next comb."""
        if self._session is None or not self._is_told:
            return
        if self._session.round.drill.shows is Shows.ONE_CELL:
            index = self._session.advance()
            if index is not None:
                self._ask_one(index)
                return
        if self._flow.is_done or is_kept_apart(self._session):
            self.stop()
            return
        take_aim(self._context)
        self._next_comb()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter, Z, T and L; the comb has the keys for moving and marking."""
        keys: dict[int, Callable[[], object]] = {
            Qt.Key.Key_Return: self.go_on if self._is_told else self.enter,
            Qt.Key.Key_Z: self.take_back,
            Qt.Key.Key_Escape: self.stop,
            Qt.Key.Key_T: partial(self.answer, Answer.TAKE),
            Qt.Key.Key_L: partial(self.answer, Answer.LEAVE),
        }
        keys[Qt.Key.Key_Enter] = keys[Qt.Key.Key_Return]
        pressed = keys.get(event.key())
        # A key held down must not run through combs.
        if pressed is None or event.isAutoRepeat():
            super().keyPressEvent(event)
        else:
            pressed()

    def _greet(self) -> None:
        """Let somebody else practise: no comb laid for another is left."""
        self._context.supply.aim_at(None, is_new_learner=True)
        self.stop()

    def _next_comb(self) -> None:
        if self._lesson.is_on:
            self._session = self._drill = None
            self._notice.fetching()
            self._lesson.fetch_next()
            self._pages.setCurrentWidget(self._notice)
            return
        if self._drill is None:
            return
        self._session = None
        ready = self._context.supply.take(self._drill)
        if ready is None:
            self._notice.drawing()
            self._pages.setCurrentWidget(self._notice)
            return
        self._begin_comb(ready, self._context.limits)

    def _begin_comb(self, ready: ReadyComb, limits: Limits) -> None:
        session = new_session(self._context, ready, limits, self._not_kept)
        session.begin(self._context.loupe.magnification if self.comb.has_loupe else None)
        self._show(ready, session)

    def _show_of_lesson(self, found: LessonComb) -> None:
        if found.ready is None:
            save = partial(self.start.save_result, found.standing.lesson_id)
            self._lesson.leave()
            self._notice.lesson_done(found.standing, save)
            return
        self._drill = found.ready.comb.drill
        self._work.lesson_words = found.words
        self._begin_comb(found.ready, found.limits)

    def _not_kept(self, sentence: str) -> None:
        """Leave a comb whose answers cannot be kept, whatever is tried."""
        self._lesson.leave()
        self._session = self._drill = None
        self._notice.failed("That comb could not be kept", sentence)
        self._pages.setCurrentWidget(self._notice)

    def _resume(self, unfinished: "UnfinishedRound") -> None:
        """Draw a comb that was broken off again, to go on with it."""
        if TRY_MARK in unfinished.recipe:
            self.begin(SCREEN_TEST)
            return
        self._notice.drawing_again()
        self._pages.setCurrentWidget(self._notice)
        self._again = Job(
            partial(draw_again, unfinished, self._context.store),
            partial(self._show_again, unfinished),
            self._not_again,
        ).start()

    def _not_again(self, error: LarvasightError) -> None:
        self._notice.failed("That comb cannot be drawn again", str(error))

    def _show_again(self, unfinished: "UnfinishedRound", ready: ReadyComb | None) -> None:
        self._again = None
        if ready is None:
            self.start.give_up(unfinished)
            self.stop()
            return
        self._drill = ready.comb.drill
        if LESSON_MARK in unfinished.recipe:
            self._lesson.join(UUID(unfinished.recipe[LESSON_MARK]))
            self._work.lesson_words = f"Homework, comb {unfinished.recipe[TASK_MARK] + 1}."
        else:
            self._context.supply.want(self._drill, self._context.limits)
        session = new_session(self._context, ready, unfinished.limits, self._not_kept)
        session.go_on(unfinished)
        self._show(ready, session)

    def _show(self, ready: ReadyComb, session: Session) -> None:
        self._ready, self._session = ready, session
        self._is_told = self._is_storing = self._is_meant = False
        self._latest.clear()
        self._work.show_comb(ready)
        self._pages.setCurrentWidget(self._work)
        self.comb.setFocus()
        if session.round.drill.shows is Shows.PATCH:
            self._work.ask_patch(session)
            for index in range(self.comb.n_cells):
                self._show_mark(index, is_stored=True)
        elif session.current_index is not None:
            self._ask_one(session.current_index)

    def _ask_one(self, index: int) -> None:
        session = self._session
        if session is None:
            return
        self._is_told = False
        self._work.ask_one(session, index)

    def _press(self, index: int) -> None:
        session = self._session
        if session is None:
            return
        if self._is_told:
            self._show_why(index)
            return
        if session.round.drill.shows is not Shows.PATCH or self._is_storing:
            return

        def stored() -> None:
            if self._latest.get(index) is given and not self._is_told:
                self._show_mark(index, is_stored=True)

        given = self._latest[index] = session.toggle(index, self._if_still(session, stored))
        self._is_meant = False
        # A taken mark is pencilled until it is stored; one taken back is gone at once.
        self.comb.set_face(index, marked_face(session, index, is_stored=False))
        self.side.set_marked(session.round.n_marked)

    def _reach(self, index: int) -> None:
        if self._is_told:
            self._show_why(index)

    def _show_mark(self, index: int, *, is_stored: bool) -> None:
        session = self._session
        if session is None:
            return
        self.comb.set_face(index, marked_face(session, index, is_stored=is_stored))
        self.side.set_marked(session.round.n_marked)

    def _tell_patch(self) -> None:
        session = self._session
        if session is None:
            return
        self._is_told, self._is_storing = True, False
        first = self._work.tell_patch(session)
        if first is not None:
            self._show_why(first)
            self._flow.name_next(self.side.next_button)
        self.comb.setFocus()

    def _tell_one(self) -> None:
        session = self._session
        if session is None or session.current_index is None:
            return
        self._is_storing = False
        if session.round.drill.feedback is not Feedback.AFTER_EACH:
            self._go_on_untold(session)
            return
        self._is_told = True
        index = session.current_index
        self._work.tell_one(session, index)
        if session.round.n_answered == session.round.n_to_ask:
            self._flow.name_next(self.side.next_button)
        self._show_why(index)
        self.comb.setFocus()

    def _go_on_untold(self, session: Session) -> None:
        """Ask the next cell and tell nothing; at the end show where the line is drawn."""
        index = session.advance()
        if index is not None:
            self._ask_one(index)
        elif session.round.edges is not None:
            self.edges_told.tell(session.round.edges, session.limits, is_lesson=self._lesson.is_on)
            self._drill = self._session = self._ready = None
            self._pages.setCurrentWidget(self.edges_told)
            self.arrive()

    def _show_why(self, index: int) -> None:
        session, ready = self._session, self._ready
        if session is not None and ready is not None:
            self._work.show_why(session, ready, index)

    def _if_still(self, session: Session, then: Callable[[], None]) -> Callable[[], None]:
        """Return ``then`` guarded: it does nothing once another comb is shown."""

        def told() -> None:
            if self._session is session:
                then()

        return told

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Let the next pictures fill the room that the comb has."""
        super().resizeEvent(event)
        self._context.supply.aspect = self._work.fit_to(self.width(), self.height())

    def _comb_arrived(self) -> None:
        if self._drill is not None and self._session is None:
            self._next_comb()

    def _comb_failed(self, sentence: str) -> None:
        if self._session is None and self._drill is not None:
            self._notice.not_drawn(sentence, partial(self.begin, self._drill))
