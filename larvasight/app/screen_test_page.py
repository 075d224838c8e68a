"""The screen test: what stands and what comes next, and the combs it is taken on."""

from dataclasses import replace
from uuid import UUID, uuid4

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QPushButton, QStackedWidget, QVBoxLayout

from larvasight.app.card_dialog import match_screen
from larvasight.app.comb_supply import ReadyComb
from larvasight.app.context import Context
from larvasight.app.drill_pages import DrillPage
from larvasight.app.fresh_supply import FreshSupply
from larvasight.app.held_loupe import TEST_MAGNIFICATION, HeldLoupe
from larvasight.app.parts import Notice, button
from larvasight.app.practise_words import span_words
from larvasight.app.screen_test_told import ScreenTestTold
from larvasight.app.untold_run import UntoldRun
from larvasight.app.untold_side import UntoldWords
from larvasight.desk.practising import Session
from larvasight.desk.reporting import local_zone
from larvasight.desk.screen_test import (
    Now,
    ScreenTest,
    Step,
    marks_of,
    screen_test_of,
    unfinished_of,
)
from larvasight.errors import LarvasightError
from larvasight.practice import Drill, Shows
from larvasight.practice.drills import FIND_YOUR_EDGES, SCREEN_TEST
from larvasight.practice.readiness import CHECK_PICKS, DAY_PICKS_MOST

_FLUSH_S = 3.0
_PATIENCE_MS = 600
_PICKING = replace(SCREEN_TEST, shows=Shows.PATCH)
_STEPS = {
    Now.BEGIN: Step.PICKS,
    Now.PICK: Step.PICKS,
    Now.MEASURE: Step.LINE,
    Now.CHECK: Step.CHECK,
}
_UNTOLD = "Nothing is told before the try has ended."


class ScreenTestPage(DrillPage):
    """The page of the screen test.

    Parameters
    ----------
    context : Context
        The records, who is practising, the clock, the look.
    """

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._test: ScreenTest | None = None
        self._step = Step.PICKS
        self._try_id: UUID | None = None
        self._is_asked = False
        self._loupe = HeldLoupe(context.settings)
        self._supply = FreshSupply(context.rng)
        self.told = ScreenTestTold(
            context.dressing,
            go=self.go,
            anew=self.begin_anew,
            match=self.match,
            back=self.ended.emit,
        )
        self.run = UntoldRun(context.dressing, self._loupe)
        self.run.ended.connect(self._comb_ended)
        self.run.stopped.connect(self.refresh)
        self._notice = Notice()
        # Between combs the last one stays in view, unless the next takes long.
        self._patience = QTimer(self)
        self._patience.setSingleShot(True)
        self._patience.setInterval(_PATIENCE_MS)
        self._patience.timeout.connect(self._say_laying)
        self._pages = QStackedWidget()
        for page in (self.told, self._notice, self.run):
            self._pages.addWidget(page)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._pages)

    @property
    def test(self) -> ScreenTest | None:
        """Where the learner stands, as it is shown."""
        return self._test

    def begin(self, drill: Drill) -> None:
        """Show where the learner stands."""
        del drill
        self.refresh()

    def arrive(self) -> None:
        """Put the keyboard where it is wanted."""
        if self._pages.currentWidget() is self.told:
            self.told.focus_first()
        elif self._pages.currentWidget() is self.run:
            self.run.comb.setFocus()

    def leave(self) -> None:
        """Put the comb away; it can be gone on with."""
        self._supply.forget()
        self._patience.stop()
        self.run.put_away()

    def refresh(self) -> None:
        """Read anew where the learner stands, and show it."""
        self.leave()
        if not self._read():
            return
        context, test = self._context, self._test
        if test is None:
            return
        is_matched = self._loupe.is_matched(self.screen())
        self.told.show_test(test, context.limits, self._size_words(), is_matched=is_matched)
        self._pages.setCurrentWidget(self.told)
        self.told.focus_first()

    def match(self) -> None:
        """Have a card held to the screen."""
        self._is_asked = True
        match_screen(self, self._loupe)
        self.refresh()

    def go(self) -> None:
        """Do what comes next: a fresh comb, or the one that was broken off."""
        test = self._test
        if test is None or test.now not in _STEPS:
            return
        if not self._is_asked and not self._loupe.is_matched(self.screen()):
            self._is_asked = True
            match_screen(self, self._loupe)
        going_on = test.open_try
        self._try_id = uuid4() if going_on is None else going_on.id
        self._step = _STEPS[test.now]
        if going_on is None or going_on.broken_off is None:
            self._next_comb()
            return
        learner = self._context.learner
        if learner is None:
            return
        broken_off = unfinished_of(going_on.broken_off, learner.id)
        self._say("Laying your comb again ...", "Your marks are on it.")
        self._supply.order_again(
            *(broken_off, _PICKING),
            done=lambda ready: self._ask_again(ready, broken_off.id),
            failed=self._fail,
        )

    def begin_anew(self) -> None:
        """Begin another try in the place of the one that goes on."""
        test = self._test
        if test is None or not test.may_begin_anew:
            return
        going_on = test.open_try
        if going_on is not None and going_on.broken_off is not None:
            self._put_away(going_on.broken_off.id)
        self._try_id, self._step = uuid4(), Step.PICKS
        self._next_comb(is_anew=True)

    def _read(self) -> bool:
        """Read where the learner stands; False where that cannot be told now."""
        context = self._context
        if context.learner is None:
            return False
        if not context.keeper.flush(_FLUSH_S):
            again = button("Try again", self.refresh, "main")
            self._say("Your answers are not stored yet", context.last_trouble, again)
            return False
        try:
            self._test = screen_test_of(
                context.store,
                context.learner.id,
                context.limits,
                now=context.now(),
                tz=local_zone(),
            )
        except LarvasightError as error:
            self._fail(error)
            return False
        return True

    def _next_comb(self, *, is_anew: bool = False) -> None:
        test, try_id = self._test, self._try_id
        if test is None or try_id is None:
            return
        self._wait()
        aspect, marks = self.run.aspect_in(self.size()), marks_of(try_id, self._step, test.today)
        seen = replace(test.seen, spent=frozenset()) if is_anew else test.seen
        if self._step is Step.LINE:
            self._supply.order_block(
                self._context.limits,
                aspect=aspect,
                spent=seen.spent,
                marks=marks,
                done=self._ask,
                failed=self._fail,
            )
        else:
            self._supply.order(
                *(_PICKING,),
                aspect=aspect,
                seen=seen,
                marks=marks,
                done=self._ask,
                failed=self._fail,
            )

    def _ask(self, ready: ReadyComb | None) -> None:
        if ready is None:
            self._no_comb_left()
            return
        session = self._session_of(ready)
        session.begin(self._loupe.magnification if self.run.comb.has_loupe else None)
        self._show(ready, session)

    def _ask_again(self, ready: ReadyComb | None, round_id: UUID) -> None:
        """Go on with a comb; one that cannot be laid alike is put away for a fresh one."""
        learner, test = self._context.learner, self._test
        going_on = None if test is None else test.open_try
        kept = None if going_on is None else going_on.broken_off
        if ready is None or learner is None or kept is None:
            self._put_away(round_id)
            self._next_comb()
            return
        session = self._session_of(ready)
        session.go_on(unfinished_of(kept, learner.id))
        self._show(ready, session)

    def _show(self, ready: ReadyComb, session: Session) -> None:
        self._patience.stop()
        self._pages.setCurrentWidget(self.run)
        self.run.frame.hold_loupe(is_held=self.run.comb.has_loupe)
        self.run.ask(ready, session, self._words)

    def _session_of(self, ready: ReadyComb) -> Session:
        context = self._context
        if context.learner is None:
            msg = "a session needs a learner"
            raise ValueError(msg)
        return Session(
            ready.comb,
            context.keeper,
            learner_id=context.learner.id,
            limits=context.limits,
            now=context.now,
            failed=self._not_kept,
        )

    def _words(self, session: Session) -> UntoldWords:
        """Return what stands beside a comb."""
        drill, spans = session.round.drill, span_words(session.limits)
        if drill == FIND_YOUR_EDGES:
            return UntoldWords(
                task=drill.task,
                title="The screen test: the oldest you take",
                spans=spans,
                size=self._size_words(),
                count=f"{session.round.n_answered + 1} of {session.round.n_to_ask}",
                count_of=f"cells at most. {_UNTOLD}",
            )
        going_on = None if self._test is None else self._test.open_try
        is_check = self._step is Step.CHECK
        n_before = 0
        if going_on is not None:
            n_before = going_on.result.n_check if is_check else going_on.n_today
        n_most = CHECK_PICKS if is_check else DAY_PICKS_MOST
        many = "picks of the check" if is_check else "picks of today"
        return UntoldWords(
            task="Mark every larva you would graft.",
            title=f"The screen test: {'the check' if is_check else 'picks'}",
            spans=spans,
            size=self._size_words(),
            count=f"{n_before} of {n_most}",
            count_of=f"{many} before this comb. {_UNTOLD}",
        )

    def _comb_ended(self, session: Session) -> None:
        """Go on to the next comb where more of this step can be done today."""
        del session
        if not self._read() or self._test is None:
            return
        test = self._test
        is_more = test.open_try is not None and _STEPS.get(test.now) is self._step
        if is_more and self._step is not Step.LINE:
            self._next_comb()
        else:
            self.refresh()

    def _size_words(self) -> str:
        if self._loupe.is_matched(self.screen()):
            return f"Comb is shown {TEST_MAGNIFICATION:g} times its true size, as through a loupe."
        return (
            "This screen was not matched with a bank card, so comb is shown as large as the window "
            "lets it: that may be easier than through a loupe."
        )

    def _no_comb_left(self) -> None:
        back = button("Back", self.refresh, "main")
        buttons = [back]
        if self._test is not None and self._test.may_begin_anew:
            buttons.insert(0, button("Begin another try", self.begin_anew))
        self._say(
            "No fresh comb is left for this try",
            "Every cell is shown once in a try, and you have seen all of them: many larvae of the "
            "right age were left. A new try can be begun a week after this one was.",
            *buttons,
        )

    def _not_kept(self, sentence: str) -> None:
        self.leave()
        self._say("That comb could not be kept", sentence, button("Back", self.refresh, "main"))

    def _fail(self, error: LarvasightError) -> None:
        again = button("Try again", self.refresh, "main")
        back = button("Back to the drills", self.ended.emit)
        self._say("The screen test cannot go on now", str(error), again, back)

    def _put_away(self, round_id: UUID) -> None:
        now = self._context.now()
        self._context.keeper.hand(lambda store: store.end_round(round_id, (), now=now), None)

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
