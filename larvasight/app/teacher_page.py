"""The teacher's line: mark cells without being told, see where one draws the line."""

from dataclasses import replace
from functools import partial

from PySide6.QtWidgets import QMessageBox, QPushButton, QStackedWidget, QVBoxLayout

from larvasight.app.asking import ask_yes
from larvasight.app.comb_supply import ReadyComb, ready_comb
from larvasight.app.context import Context
from larvasight.app.drill_pages import DrillPage
from larvasight.app.jobs import Job
from larvasight.app.parts import Notice, button
from larvasight.app.teacher_told import TeacherTold
from larvasight.app.untold_run import UntoldRun
from larvasight.app.untold_side import UntoldWords
from larvasight.desk.practising import (
    PreparedComb,
    Session,
    new_seed,
    picture_size_px,
    shipped_tiles,
)
from larvasight.desk.reporting import local_zone
from larvasight.desk.teachers_line import (
    CELLS_LEAST,
    RUN_DRILL,
    TeachersLine,
    limits_by,
    prepare_line_comb,
    teachers_line,
)
from larvasight.errors import LarvasightError
from larvasight.grading import Limits
from larvasight.practice import Drill
from larvasight.practice.drills import TEACHERS_LINE
from larvasight.practice.own_combs import Half

_FLUSH_S = 3.0
_OWN_DRILL = replace(RUN_DRILL, own=Half.PRACTICE)
_ABOUT = (
    f"Mark {CELLS_LEAST} cells or more as you would at a comb: T takes it, L leaves it, N says "
    "that you cannot tell. Nothing is told meanwhile and nothing is counted. Then you see the "
    "youngest and the oldest you take, against the wanted ages that students are scored by."
)


class TeacherPage(DrillPage):
    """The page of the drill.

    Parameters
    ----------
    context : Context
        The records, who is practising, the clock, the look.
    """

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._job: Job | None = None
        self._is_own = False
        self._n_before = 0
        self.line: TeachersLine | None = None
        self._notice = Notice()
        self.run = UntoldRun(context.dressing, context.loupe, has_cannot_tell=True)
        self.run.ended.connect(lambda _session: self._comb_ended())
        self.run.stopped.connect(self._stop)
        self.told = TeacherTold(
            context.dressing, take=self.ask_take, more=self.more, done=self.ended.emit
        )
        self._pages = QStackedWidget()
        for page in (self._notice, self.run, self.told):
            self._pages.addWidget(page)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._pages)

    def begin(self, drill: Drill) -> None:
        """Say what it is for, and let it be begun on drawn or on own comb."""
        del drill
        self.leave()
        if not self._read():
            return
        try:
            has_own = bool(self._context.store.practice_photos())
        except LarvasightError as error:
            self._fail(error)
            return
        first = button("Begin on drawn comb", partial(self.start, is_own=False), "main")
        buttons = [first]
        if has_own:
            buttons.append(button("Begin on your own combs", partial(self.start, is_own=True)))
        if self.line is not None:
            buttons.append(button("Show your line", self._tell))
        buttons.append(button("Back to the drills", self.ended.emit, "plain"))
        self._say(TEACHERS_LINE.title, f"{_ABOUT} {self._so_far()}".strip(), *buttons)
        first.setFocus()

    def arrive(self) -> None:
        """Put the keyboard where it is wanted."""
        if self._pages.currentWidget() is self.run:
            self.run.comb.setFocus()
        elif self._pages.currentWidget() is self.told:
            self.told.done_button.setFocus()

    def leave(self) -> None:
        """Put the comb away; what was marked is stored and counts."""
        if self._job is not None:
            self._job.forget()
            self._job = None
        session = self.run.session
        if session is not None:
            now, round_id = self._context.now(), session.round_id
            self._context.keeper.hand(lambda store: store.end_round(round_id, (), now=now), None)
        self.run.put_away()

    def start(self, *, is_own: bool) -> None:
        """Begin with a comb."""
        self._is_own = is_own
        self._n_before = 0 if self.line is None else self.line.n
        self._next_comb()

    def more(self) -> None:
        """Go on with another comb; a drawn one where own combs had no cell that was new."""
        has_new = self.line is not None and self.line.n > self._n_before
        self.start(is_own=self._is_own and has_new)

    def ask_take(self) -> None:
        """Take the line as the wanted ages, after asking."""
        context, line = self._context, self.line
        if line is None or not line.is_clear:
            return
        limits = limits_by(line, context.limits)
        words = (
            f"Score everybody by the line of {line.name}, {limits.young_h:.0f} to "
            f"{limits.old_h:.0f} h? Who has wanted ages of their own keeps them. Wanted ages in "
            "the Learner menu bring the hours back."
        )
        if not ask_yes(self, TEACHERS_LINE.title, words, yes="Score by it"):
            return
        try:
            context.store.set_limits(limits)
        except LarvasightError as error:
            QMessageBox.warning(self, TEACHERS_LINE.title, str(error))
            return
        # Not through ``set_learner``, which would leave this page.
        context.limits = context.store.limits(context.learner.id if context.learner else None)
        self.told.tell(line, context.limits)

    def _next_comb(self) -> None:
        context = self._context
        seed, limits = new_seed(context.rng), context.limits
        size_px = picture_size_px(self.run.aspect_in(self.size()))
        self._say("Laying a comb ...", "This takes a second or two.")
        if self._is_own and context.supply.take_own is not None:
            work = partial(_take_own, partial(context.supply.take_own, _OWN_DRILL, seed, limits))
        else:
            work = partial(_draw, seed, size_px, limits)
        self._job = Job(work, self._ask, self._fail).start()

    def _ask(self, ready: ReadyComb) -> None:
        self._job = None
        context = self._context
        if context.learner is None:
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
        self._pages.setCurrentWidget(self.run)
        self.run.ask(ready, session, self._words)

    def _words(self, session: Session) -> UntoldWords:
        at = self._n_before + session.round.n_answered + 1
        return UntoldWords(
            task=TEACHERS_LINE.task,
            title=TEACHERS_LINE.title,
            spans="",
            count=f"{at} of {max(CELLS_LEAST, self._n_before + session.round.n_to_ask)}",
            count_of="cells. Nothing is told until the end.",
        )

    def _comb_ended(self) -> None:
        if not self._read():
            return
        if self.line is not None and self.line.n < CELLS_LEAST and not self._is_own:
            self.start(is_own=False)
        else:
            self._tell()

    def _stop(self) -> None:
        """Stop within a comb: what was marked counts."""
        self.leave()
        if self._read() and self.line is not None:
            self._tell()
        else:
            self.ended.emit()

    def _read(self) -> bool:
        """Read the line anew; False where that is not possible now, which is said."""
        context = self._context
        if context.learner is None:
            return False
        if not context.keeper.flush(_FLUSH_S):
            again = button("Try again", self._comb_ended, "main")
            self._say("Your answers are not stored yet", context.last_trouble, again)
            return False
        try:
            self.line = teachers_line(context.store, context.learner.id, local_zone())
        except LarvasightError as error:
            self._fail(error)
            return False
        return True

    def _tell(self) -> None:
        if self.line is None:
            return
        self.told.tell(self.line, self._context.limits)
        self._pages.setCurrentWidget(self.told)
        self.told.done_button.setFocus()

    def _so_far(self) -> str:
        if self.line is None:
            return ""
        many = "1 cell is" if self.line.n == 1 else f"{self.line.n} cells are"
        return f"{many} marked so far."

    def _not_kept(self, sentence: str) -> None:
        self.run.put_away()
        back = button("Back", self.ended.emit, "main")
        self._say("That comb could not be kept", sentence, back)

    def _fail(self, error: LarvasightError) -> None:
        self._job = None
        again = button("Try again", partial(self.begin, TEACHERS_LINE), "main")
        back = button("Back to the drills", self.ended.emit)
        self._say("There is no comb to mark now", str(error), again, back)

    def _say(self, title: str, words: str, *buttons: QPushButton) -> None:
        self._notice.say(title, words, *buttons)
        self._pages.setCurrentWidget(self._notice)


def _draw(seed: int, size_px: tuple[int, int], limits: Limits) -> ReadyComb:
    comb = prepare_line_comb(seed, size_px=size_px, limits=limits, library=shipped_tiles())
    return ready_comb(comb)


def _take_own(take: partial[PreparedComb]) -> ReadyComb:
    return ready_comb(take())
