"""The check without warm-up and the course day's test: fresh cells, told at the end."""

from dataclasses import replace
from functools import partial
from uuid import UUID, uuid4

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QMessageBox, QPushButton, QStackedWidget, QVBoxLayout

from larvasight.app.asking import ask_save_path, tell_saved
from larvasight.app.check_told import CheckTold
from larvasight.app.check_words import before_words
from larvasight.app.comb_supply import ReadyComb
from larvasight.app.context import Context
from larvasight.app.drill_pages import DrillPage
from larvasight.app.fresh_supply import FreshSupply
from larvasight.app.parts import Notice, button
from larvasight.app.practise_words import span_words
from larvasight.app.untold_run import UntoldRun
from larvasight.app.untold_side import UntoldWords
from larvasight.desk.checks import (
    COMB_CELLS,
    ToldCheck,
    checks_of,
    marks_of_run,
    save_course_day_sheet,
    seen_in_tests,
    told_check,
)
from larvasight.desk.practising import Session
from larvasight.desk.recommending import standing_of
from larvasight.desk.reporting import local_zone
from larvasight.desk.todays import is_warm, next_time_words
from larvasight.errors import LarvasightError
from larvasight.practice import Drill, Shows
from larvasight.practice.course_day import N_CELLS
from larvasight.practice.drills import CHECK, COURSE_DAY_TEST
from larvasight.practice.spacing import N_REFRESH

_FLUSH_S = 3.0
_PATIENCE_MS = 600
_LONG_CELLS = 40


class CheckPage(DrillPage):
    """The page of both.

    Parameters
    ----------
    context : Context
        The records, who is practising, the clock, the look.
    """

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._drill = CHECK
        self._run_id: UUID | None = None
        self._n_cells = N_REFRESH
        self._n_done = 0
        self._shown: frozenset[str] = frozenset()
        self._result: ToldCheck | None = None
        self._supply = FreshSupply(context.rng)
        self._notice = Notice()
        # Between combs the last one stays in view, unless the next takes long.
        self._patience = QTimer(self)
        self._patience.setSingleShot(True)
        self._patience.setInterval(_PATIENCE_MS)
        self._patience.timeout.connect(self._say_laying)
        self.run = UntoldRun(context.dressing, context.loupe)
        self.run.ended.connect(self._comb_ended)
        self.run.stopped.connect(self.ended.emit)
        self.told = CheckTold(context.dressing, save=self.save_sheet, done=self.ended.emit)
        self._pages = QStackedWidget()
        for page in (self._notice, self.run, self.told):
            self._pages.addWidget(page)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._pages)

    def begin(self, drill: Drill) -> None:
        """Say what is to come, and let it be begun."""
        self.leave()
        self._drill = drill
        learner = self._context.learner
        if learner is None:
            return
        context = self._context
        try:
            warm = is_warm(context.store, learner.id, now=context.now(), tz=local_zone())
        except LarvasightError as error:
            self._fail(error)
            return
        words = before_words(drill, is_warm=warm)
        back = button("Back to the drills", self.ended.emit, "plain")
        if drill.key == COURSE_DAY_TEST.key:
            first = button("Begin", partial(self.start, N_CELLS), "main")
            self._say(drill.title, words, first, back)
        else:
            first = button(f"Begin with {N_REFRESH} cells", partial(self.start, N_REFRESH), "main")
            more = button(f"Begin with {_LONG_CELLS} cells", partial(self.start, _LONG_CELLS))
            self._say(drill.title, words, first, more, back)
        first.setFocus()

    def arrive(self) -> None:
        """Put the keyboard where it is wanted."""
        if self._pages.currentWidget() is self.run:
            self.run.comb.setFocus()
        elif self._pages.currentWidget() is self.told:
            self.told.done_button.setFocus()

    def leave(self) -> None:
        """Put it away; a check that was broken off is begun anew."""
        self._supply.forget()
        self._patience.stop()
        session = self.run.session
        if session is not None:
            now, round_id = self._context.now(), session.round_id
            self._context.keeper.hand(lambda store: store.end_round(round_id, (), now=now), None)
        self.run.put_away()

    def start(self, n_cells: int) -> None:
        """Begin with so many cells."""
        self._run_id, self._n_cells, self._n_done = uuid4(), n_cells, 0
        self._shown = frozenset()
        self._next_comb()

    def save_sheet(self) -> None:
        """Ask for a file and write the course day's sheet."""
        learner, result = self._context.learner, self._result
        if learner is None or result is None:
            return
        title = "Save the sheet"
        name = f"larvasight {learner.name} {result.check.day.isoformat()}.pdf"
        path = ask_save_path(self, title, name, "PDF (*.pdf)", ".pdf")
        if path is None:
            return
        try:
            save_course_day_sheet(path, result.check, name=learner.name)
        except LarvasightError as error:
            QMessageBox.warning(self, title, str(error))
        else:
            tell_saved(self, title, path)

    def _next_comb(self) -> None:
        learner, run_id = self._context.learner, self._run_id
        if learner is None or run_id is None:
            return
        self._wait()
        try:
            seen = seen_in_tests(self._context.store, learner.id, self._shown)
        except LarvasightError as error:
            self._fail(error)
            return
        left = min(self._n_cells - self._n_done, COMB_CELLS)
        self._supply.order(
            replace(self._drill, shows=Shows.ONE_CELL, n_asked=left),
            aspect=self.run.aspect_in(self.size()),
            seen=seen,
            marks=marks_of_run(run_id, self._n_cells),
            done=self._ask,
            failed=self._fail,
        )

    def _ask(self, ready: ReadyComb | None) -> None:
        context = self._context
        if ready is None or context.learner is None:
            self._say("No fresh comb is left", "", button("Back", self.ended.emit, "main"))
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
        self._shown |= {cell.tile_id for cell in ready.comb.asked if cell.tile_id is not None}
        self._patience.stop()
        self._pages.setCurrentWidget(self.run)
        self.run.ask(ready, session, self._words)

    def _words(self, session: Session) -> UntoldWords:
        return UntoldWords(
            task="Would you take this one to graft?",
            title=self._drill.title,
            spans=span_words(session.limits),
            count=f"{self._n_done + session.round.n_answered + 1} of {self._n_cells}",
            count_of="cells. Nothing is told until the end.",
        )

    def _comb_ended(self, session: Session) -> None:
        self._n_done += session.round.n_answered
        if self._n_done < self._n_cells:
            self._next_comb()
        else:
            self._tell()

    def _tell(self) -> None:
        context = self._context
        if context.learner is None:
            return
        if not context.keeper.flush(_FLUSH_S):
            again = button("Try again", self._tell, "main")
            self._say("Your answers are not stored yet", context.last_trouble, again)
            return
        try:
            tz = local_zone()
            checks = checks_of(context.store, context.learner.id, self._drill.key, tz)
            words = self._next_words(context.learner.id)
        except LarvasightError as error:
            self._fail(error)
            return
        self._result = told = told_check(checks)
        if told is None:
            self.ended.emit()
            return
        is_course_day = self._drill.key == COURSE_DAY_TEST.key
        self.told.tell(told, words, is_course_day=is_course_day)
        self._pages.setCurrentWidget(self.told)
        self.told.done_button.setFocus()

    def _next_words(self, learner_id: UUID) -> str:
        """Say when to come back; nothing while something of today is still to be done."""
        store, now, tz = self._context.store, self._context.now(), local_zone()
        today = standing_of(store, learner_id, now=now, tz=tz).today
        if today is not None and today.next_part is not None:
            return ""
        return next_time_words(store, learner_id, now=now, tz=tz)

    def _not_kept(self, sentence: str) -> None:
        self.run.put_away()
        back = button("Back", self.ended.emit, "main")
        self._say("That comb could not be kept", sentence, back)

    def _fail(self, error: LarvasightError) -> None:
        again = button("Try again", partial(self.begin, self._drill), "main")
        back = button("Back to the drills", self.ended.emit)
        self._say(f"{self._drill.title} cannot go on now", str(error), again, back)

    def _wait(self) -> None:
        if self._pages.currentWidget() is self.run:
            self._patience.start()
        else:
            self._say_laying()

    def _say_laying(self) -> None:
        self._say("Laying fresh comb ...", "This takes a second or two.")

    def _say(self, title: str, words: str, *buttons: QPushButton) -> None:
        self._patience.stop()
        self._notice.say(title, words, *buttons)
        self._pages.setCurrentWidget(self._notice)
