"""Search a comb side: laid as hard as the learner's last searches tell, searched, told."""

from dataclasses import replace
from functools import partial
from typing import NamedTuple

from PySide6.QtWidgets import QPushButton, QStackedWidget, QVBoxLayout

from larvasight.app.comb_supply import ReadyComb, ready_comb
from larvasight.app.context import Context
from larvasight.app.drill_pages import DrillPage
from larvasight.app.jobs import Job
from larvasight.app.parts import Notice, button
from larvasight.app.search_told import SearchToldView
from larvasight.app.search_work import SearchWork
from larvasight.desk.practising import new_seed, shipped_tiles
from larvasight.desk.search_side import SearchSide, prepare_search
from larvasight.desk.searching import SearchSession, searches_of
from larvasight.errors import AssetMissingError, LarvasightError
from larvasight.grading import Limits
from larvasight.practice import Drill
from larvasight.practice.searching import Searched, SearchLevel, next_level

_FLUSH_S = 3.0
_MISSING = "The pictures for a whole comb side are missing; install larvasight again."


class ReadySide(NamedTuple):
    """A side laid, with its picture as the window shows it."""

    side: SearchSide
    ready: ReadyComb


class SearchPage(DrillPage):
    """The page of the drill.

    Parameters
    ----------
    context : Context
        The records, who is practising, the clock, the look.
    """

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._before: list[Searched] = []
        self._job: Job | None = None
        self._ready: ReadyComb | None = None
        self._notice = Notice()
        self.work = SearchWork(context.dressing, context.loupe)
        self.work.ended.connect(self._tell)
        self.work.stopped.connect(self._stop)
        self.told = SearchToldView(context.dressing, again=self.again, done=self._stop)
        self._pages = QStackedWidget()
        for page in (self._notice, self.work, self.told):
            self._pages.addWidget(page)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._pages)

    def begin(self, drill: Drill) -> None:
        """Lay a side as hard as the last searches tell."""
        del drill
        self.leave()
        self.again()

    def again(self) -> None:
        """Lay another side."""
        context = self._context
        if context.learner is None:
            return
        self.told.put_away()
        self._say("Laying a comb side ...", "This takes a second or two.", self._back("Stop here"))
        context.keeper.flush(_FLUSH_S)
        try:
            self._before = searches_of(context.store, context.learner.id)
        except LarvasightError as error:
            self._fail(error)
            return
        lay = partial(_lay, next_level(self._before), new_seed(context.rng), context.limits)
        self._job = Job(lay, self._ask, self._fail).start()

    def arrive(self) -> None:
        """Put the keyboard where it is wanted."""
        shown = self._pages.currentWidget()
        if shown is self.work:
            self.work.sight.setFocus()
        elif shown is self.told:
            self.told.comb.setFocus()

    def leave(self) -> None:
        """Put the side away; what was taken so far stays answered."""
        if self._job is not None:
            self._job.forget()
            self._job = None
        session = self.work.session
        if session is not None:
            session.end(_nothing)
        self.work.put_away()
        self.told.put_away()
        self._ready = None

    def _ask(self, made: ReadySide) -> None:
        self._job = None
        context = self._context
        if context.learner is None:
            return
        session = SearchSession(
            made.side,
            context.keeper,
            learner_id=context.learner.id,
            limits=context.limits,
            now=context.now,
            failed=self._not_kept,
        )
        self._ready = made.ready
        self._pages.setCurrentWidget(self.work)
        self.work.ask(made.ready, session)

    def _tell(self, session: SearchSession) -> None:
        if self._ready is None:
            return
        sight = self.work.sight
        told, radius_px = session.told(self._before, sight.reach_px), sight.radius_px
        self.work.put_away()
        self._pages.setCurrentWidget(self.told)
        self.told.tell(self._ready, session, told, radius_px)

    def _stop(self) -> None:
        self.leave()
        self.ended.emit()

    def _not_kept(self, sentence: str) -> None:
        """Leave a side whose answers cannot be kept, whatever is tried."""
        self.work.put_away()
        self._say("That search could not be kept", sentence, self._back("Back", "main"))

    def _fail(self, error: LarvasightError) -> None:
        self._job = None
        again = button("Try again", self.again, "main")
        title = "The comb side could not be laid"
        self._say(title, str(error), again, self._back("Back to the drills"))

    def _back(self, words: str, role: str = "") -> QPushButton:
        return button(words, self._stop, role)

    def _say(self, title: str, words: str, *buttons: QPushButton) -> None:
        self._notice.say(title, words, *buttons)
        self._pages.setCurrentWidget(self._notice)
        buttons[0].setFocus()


def _lay(level: SearchLevel, seed: int, limits: Limits) -> ReadySide:
    """Lay a side and make its picture; called by a worker."""
    library = shipped_tiles()
    if library is None:
        raise AssetMissingError(_MISSING)
    side = prepare_search(level, seed, limits=limits, library=library)
    ready = ready_comb(side.comb)
    return ReadySide(side=replace(side, comb=ready.comb), ready=ready)


def _nothing() -> None:
    return None
