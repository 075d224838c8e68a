"""Where the tool goes in: cell after cell, each entry stored and told at once."""

from functools import partial

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from larvasight.app.context import Context
from larvasight.app.drill_pages import DrillPage
from larvasight.app.images import image_of
from larvasight.app.jobs import Job
from larvasight.app.parts import Notice, button
from larvasight.app.tool_side import ToolSide
from larvasight.app.tool_sight import ToolSight
from larvasight.app.tool_words import (
    BEFORE,
    MARKS,
    PRACTICE,
    bout_title,
    bout_words,
    count_words,
    moved_words,
    off_words,
    step_words,
    told_words,
)
from larvasight.desk.practising import shipped_tiles
from larvasight.desk.tool_entry import (
    ToolBout,
    ToolCell,
    ToolCells,
    ToolStanding,
    standing_of,
    tool_picture,
)
from larvasight.errors import AssetMissingError, LarvasightError
from larvasight.grading import Limits
from larvasight.practice import Drill
from larvasight.practice.drills import TOOL_GOES_IN
from larvasight.practice.tool_entry import Entry, EntryTool, Hand, Judged
from larvasight.practice.tool_steps import N_CELLS, ToolCourse, ToolStep

_FLUSH_S = 3.0
_MISSING = "The pictures of cells are missing; install larvasight again."


class ToolPage(DrillPage):
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
        self._cells: ToolCells | None = None
        self._limits: Limits | None = None
        self._bout: ToolBout | None = None
        self._is_storing = False
        self._notice = Notice()
        self.sight = ToolSight()
        self.side = ToolSide(context.dressing, enter=self.enter, go_on=self.go_on, stop=self._stop)
        self.sight.moved.connect(partial(self.side.set_ready, is_ready=True))
        self.side.chosen.connect(self._use)
        self._work = QWidget()
        row = QHBoxLayout(self._work)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.sight, 1)
        row.addWidget(self.side)
        self._pages = QStackedWidget()
        self._pages.addWidget(self._notice)
        self._pages.addWidget(self._work)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._pages)

    @property
    def bout(self) -> ToolBout | None:
        """The cells under way, None before and after."""
        return self._bout

    def begin(self, drill: Drill) -> None:
        """Say what it is about, and ask for the own hand."""
        del drill
        self.leave()
        context = self._context
        if context.learner is None:
            return
        context.keeper.flush(_FLUSH_S)
        try:
            standing = standing_of(context.store, context.learner.id)
        except LarvasightError as error:
            self._fail(error)
            return
        hands = (standing.own_hand, standing.own_hand.other)
        first, other = (
            button(f"Begin: I graft with my {hand.value} hand", partial(self.start, hand, standing))
            for hand in hands
        )
        first.setProperty("role", "main")
        self._say(TOOL_GOES_IN.title, f"{BEFORE}\n\n{PRACTICE}", first, other, self._back())

    def start(self, own_hand: Hand, standing: ToolStanding) -> None:
        """Begin a row of cells with the own hand."""
        context = self._context
        if context.learner is None:
            return
        self._bout = ToolBout(
            context.keeper,
            learner_id=context.learner.id,
            limits=context.limits,
            now=context.now,
            standing=ToolStanding(course=standing.course, own_hand=own_hand),
            failed=self._not_kept,
        )
        self.side.hold(None)
        self.side.choose(hand=own_hand)
        if self._cells is not None and self._limits == context.limits:
            self._next()
            return
        self._say("Looking for cells ...", "This takes a moment.", self._back())
        self._job = Job(partial(_cells_of, context.limits), self._found, self._fail).start()

    def arrive(self) -> None:
        """Put the keyboard where it is wanted."""
        if self._pages.currentWidget() is self._work:
            self.sight.setFocus()

    def leave(self) -> None:
        """Put the cell away."""
        if self._job is not None:
            self._job.forget()
            self._job = None
        if self._bout is not None:
            self._bout.put_away()
        self._bout = None
        self._is_storing = False

    def enter(self) -> None:
        """Set the tool where it is; told once that is stored."""
        bout, entry = self._bout, self.sight.entry
        if bout is None or entry is None or not bout.is_open or self._is_storing:
            return
        self._is_storing = True
        self.side.wait()
        bout.enter(entry, partial(self._tell, bout, entry, bout.course))

    def go_on(self) -> None:
        """Go on to the next cell, or tell how the row went."""
        bout = self._bout
        if bout is None or bout.is_open or self._is_storing:
            return
        if len(bout.judged) < N_CELLS:
            self._next()
            return
        again = partial(
            self.start, bout.own_hand, ToolStanding(course=bout.course, own_hand=bout.own_hand)
        )
        self._bout = None
        title = bout_title(bout.n_hits, len(bout.judged))
        words = bout_words(bout.judged, bout.course)
        more = button(f"{N_CELLS} more cells", again, "main")
        self._say(title, words, more, self._back())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter, 1, 2 and H; the cell has the keys that move the tip."""
        key, tools = event.key(), {Qt.Key.Key_1: EntryTool.FLEXIBLE, Qt.Key.Key_2: EntryTool.RIGID}
        if event.isAutoRepeat() or self._pages.currentWidget() is not self._work:
            super().keyPressEvent(event)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.sight.is_told:
                self.go_on()
            else:
                self.enter()
        elif key in tools and not self.sight.is_told:
            self.side.choose(tool=tools[Qt.Key(key)])
        elif key == Qt.Key.Key_H and not self.sight.is_told:
            self.side.choose(hand=self.side.hand.other)
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the column within the page."""
        super().resizeEvent(event)
        self.side.fit_to(self.width())

    def _found(self, cells: ToolCells) -> None:
        self._job = None
        self._cells, self._limits = cells, self._context.limits
        self._next()

    def _next(self) -> None:
        """Show another cell."""
        bout, cells, library = self._bout, self._cells, shipped_tiles()
        if bout is None or cells is None or library is None:
            return
        cell = cells.choose(bout.course.step, self._context.rng, bout.seen)
        try:
            pixels = tool_picture(library, cell, self._context.rng)
        except LarvasightError as error:
            self._fail(error)
            return
        self._ask(bout, cell, pixels)

    def _ask(self, bout: ToolBout, cell: ToolCell, pixels: NDArray[np.uint8]) -> None:
        self._is_storing = False
        other = bout.own_hand.other if bout.course.step is ToolStep.OTHER_HAND else None
        self.side.hold(other)
        self.sight.show_cell(cell, image_of(pixels))
        self.side.ask(step_words(bout.course, other), count_words(len(bout.judged) + 1))
        self._use()
        self._pages.setCurrentWidget(self._work)
        bout.show(cell)
        self.sight.setFocus()

    def _use(self) -> None:
        self.sight.use(self.side.tool, self.side.hand)
        self.side.set_ready(is_ready=self.sight.entry is not None)

    def _tell(self, bout: ToolBout, entry: Entry, before: ToolCourse, judged: Judged) -> None:
        if self._bout is not bout or bout.cell is None:
            return
        self._is_storing = False
        mark = MARKS[judged.landing]
        self.sight.tell(mark)
        self.side.tell(
            mark,
            told_words(entry, judged, bout.cell),
            off_words(judged),
            moved_words(before, bout.course),
            is_last=len(bout.judged) >= N_CELLS,
        )
        self.sight.setFocus()

    def _stop(self) -> None:
        self.leave()
        self.ended.emit()

    def _not_kept(self, sentence: str) -> None:
        """Leave cells whose answers cannot be kept, whatever is tried."""
        self._bout = None
        self._say("That entry could not be kept", sentence, self._back())

    def _fail(self, error: LarvasightError) -> None:
        self._job = None
        again = button("Try again", partial(self.begin, TOOL_GOES_IN), "main")
        self._say(f"{TOOL_GOES_IN.title} cannot go on now", str(error), again, self._back())

    def _back(self) -> QPushButton:
        return button("Back to the drills", self._stop, "plain")

    def _say(self, title: str, words: str, *buttons: QPushButton) -> None:
        self._notice.say(title, words, *buttons)
        self._pages.setCurrentWidget(self._notice)
        buttons[0].setFocus()


def _cells_of(limits: Limits) -> ToolCells:
    """Find the cells that can be shown; called by a worker."""
    library = shipped_tiles()
    if library is None:
        raise AssetMissingError(_MISSING)
    return ToolCells(library, limits)
