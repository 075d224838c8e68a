"""One comb of a test or a check: everything is asked and stored, nothing is told."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QElapsedTimer, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QWidget

from larvasight.app.cell_item import Face, Rim
from larvasight.app.comb_frame import CombFrame
from larvasight.app.practise_words import doubt_words
from larvasight.app.untold_side import UntoldSide, UntoldWords
from larvasight.practice import Answer, Given, Shows

if TYPE_CHECKING:
    from larvasight.app.comb_supply import ReadyComb
    from larvasight.app.dressing import Dressing
    from larvasight.app.loupe import Loupe
    from larvasight.desk.practising import Session

_BARE = Face()
_PENCIL, _INK = Face(rim=Rim.PENCIL), Face(rim=Rim.INK)
_TICK_MS = 40

# Gets the session, returns what stands beside its next question.
WordsOf = Callable[["Session"], UntoldWords]
# Gets the session, returns how long the next cell may take, ms.
LimitOf = Callable[["Session"], float]


class UntoldRun(QWidget):
    """Puts comb after comb before the learner and tells nothing.

    ``ended`` carries the Session of a comb once all of its answers are stored.

    Parameters
    ----------
    dressing, loupe : Dressing, Loupe
        The present look, and the loupe to look through.
    has_cannot_tell : bool
        Whether it may be said of a cell that nothing can be told.
    """

    ended = Signal(object)
    stopped = Signal()

    def __init__(
        self, dressing: "Dressing", loupe: "Loupe", *, has_cannot_tell: bool = False
    ) -> None:
        super().__init__()
        self.frame = CombFrame(dressing, loupe)
        self.comb = self.frame.comb
        self.side = UntoldSide(
            dressing,
            enter=self.enter,
            take=lambda: self.answer(Answer.TAKE),
            leave=lambda: self.answer(Answer.LEAVE),
            back=self.take_back,
            stop=self.stopped.emit,
            cannot=(lambda: self.answer(Answer.CANNOT_TELL)) if has_cannot_tell else None,
        )
        self._has_cannot_tell = has_cannot_tell
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.frame, 1)
        row.addWidget(self.side)
        self._session: Session | None = None
        self._words: WordsOf | None = None
        self._limit: LimitOf | None = None
        self._limit_ms = 0.0
        self._is_storing = self._is_meant = False
        self._latest: dict[int, Given] = {}
        self._clock = QElapsedTimer()
        self._timer = QTimer(self)
        self._timer.setInterval(_TICK_MS)
        self._timer.timeout.connect(self._tick)
        self.comb.cell_pressed.connect(self._press)

    @property
    def session(self) -> "Session | None":
        """The comb that is asked, None between combs."""
        return self._session

    def aspect_in(self, room: QSize) -> float:
        """Return width over height of what a comb gets of a page of this size."""
        self.side.fit_to(room.width())
        height_px = max(room.height() - self.frame.foot_px, 1)
        return max(room.width() - self.side.width(), 1) / height_px

    def ask(
        self,
        ready: "ReadyComb",
        session: "Session",
        words: WordsOf,
        limit: LimitOf | None = None,
    ) -> None:
        """Put another comb before the learner."""
        self._session, self._words, self._limit = session, words, limit
        self._is_storing = self._is_meant = False
        self._latest.clear()
        sheet = ready.comb.sheet
        is_patch = session.round.drill.shows is Shows.PATCH
        self.comb.show_comb(
            ready.image,
            ready.places,
            sheet.lattice.row_angle_deg,
            veils_others=is_patch,
            px_per_mm=sheet.scale.px_per_mm,
            smaller=ready.smaller,
        )
        self.comb.setFocus()
        if is_patch:
            self.side.ask(words(session), is_patch=True)
            for index in range(self.comb.n_cells):
                self._show_mark(index)
        elif session.current_index is not None:
            self._ask_one(session.current_index)

    def put_away(self) -> None:
        """Show nothing more of a comb; what was answered is stored already."""
        self._timer.stop()
        self._session = None
        self.comb.clear()

    def enter(self) -> None:
        """End a patch."""
        session = self._session
        if session is None or self._is_storing or session.round.drill.shows is not Shows.PATCH:
            return
        doubt = doubt_words(session.round.n_marked, self.comb.n_unseen)
        if doubt and not self._is_meant:
            self._is_meant = True
            self.side.ask_again(doubt)
            return
        self._is_storing = True
        self.side.set_open(False)
        session.enter(lambda: self._end(session))

    def answer(self, answer: Answer) -> None:
        """Answer the one cell asked."""
        session = self._session
        if session is None or self._is_storing or session.current_index is None:
            return
        self._is_storing = True
        self._timer.stop()
        self.side.set_open(False)
        session.answer(answer, lambda: self._go_on(session))

    def take_back(self) -> None:
        """Take the latest mark of a patch back."""
        session = self._session
        if session is None or self._is_storing or session.round.drill.shows is not Shows.PATCH:
            return
        index = session.take_back(lambda: None)
        if index is not None:
            self._show_mark(index)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter, Z, T and L; the comb has the keys for moving and marking."""
        key = event.key()
        if event.isAutoRepeat():
            super().keyPressEvent(event)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.enter()
        elif key == Qt.Key.Key_Z:
            self.take_back()
        elif key == Qt.Key.Key_T:
            self.answer(Answer.TAKE)
        elif key == Qt.Key.Key_L:
            self.answer(Answer.LEAVE)
        elif key == Qt.Key.Key_N and self._has_cannot_tell:
            self.answer(Answer.CANNOT_TELL)
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the column within the page."""
        super().resizeEvent(event)
        self.side.fit_to(self.width())

    def _ask_one(self, index: int) -> None:
        session, words = self._session, self._words
        if session is None or words is None:
            return
        self._is_storing = False
        self.side.ask(words(session), is_patch=False, is_timed=self._limit is not None)
        for other in range(self.comb.n_cells):
            self.comb.set_face(other, _BARE)
        self.comb.see_all()
        self.comb.look_closer(index)
        self.comb.set_place(index)
        self.comb.setFocus()
        if self._limit is not None:
            self._limit_ms = self._limit(session)
            self._clock.start()
            self.side.show_time(1.0)
            self._timer.start()

    def _tick(self) -> None:
        if not self.isVisible():  # somebody went to another place: the time begins anew
            self._clock.start()
            return
        left = 1.0 - self._clock.elapsed() / self._limit_ms
        self.side.show_time(left)
        if left <= 0.0:
            self.answer(Answer.CANNOT_TELL)

    def _press(self, index: int) -> None:
        session = self._session
        if session is None or self._is_storing or session.round.drill.shows is not Shows.PATCH:
            return

        def stored() -> None:
            if self._session is session and self._latest.get(index) is given:
                self._show_mark(index)

        given = self._latest[index] = session.toggle(index, stored)
        self._is_meant = False
        # A mark is pencilled until it is stored; one taken back is gone at once.
        self.comb.set_face(index, _BARE if given.answer is None else _PENCIL)
        self.side.set_marked(session.round.n_marked)

    def _show_mark(self, index: int) -> None:
        session = self._session
        if session is None:
            return
        is_taken = session.round.answer_of(session.comb.asked[index].id) is Answer.TAKE
        self.comb.set_face(index, _INK if is_taken else _BARE)
        self.side.set_marked(session.round.n_marked)

    def _go_on(self, session: "Session") -> None:
        """Ask the next cell of a comb; the end of the last one is stored, too."""
        if self._session is not session:
            return
        index = session.advance()
        if index is None:
            self._end(session)
        else:
            self._ask_one(index)

    def _end(self, session: "Session") -> None:
        if self._session is session:
            self._session = None
            self.ended.emit(session)
