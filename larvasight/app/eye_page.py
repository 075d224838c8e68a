"""What the pages of cells judged by eye share: a question, its answer stored, then told."""

from functools import partial
from typing import TYPE_CHECKING, Generic, TypeVar

from PySide6.QtCore import Qt
from PySide6.QtGui import QImage, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QPushButton, QStackedWidget, QVBoxLayout, QWidget

from larvasight.app.context import Context
from larvasight.app.drill_pages import DrillPage
from larvasight.app.eye_sight import EyeSight
from larvasight.app.images import image_of
from larvasight.app.parts import Notice, button
from larvasight.desk.eye_bouts import EyeBout, Sitting
from larvasight.desk.eye_cells import EyeCells
from larvasight.desk.practising import shipped_tiles
from larvasight.errors import AssetMissingError, LarvasightError
from larvasight.practice import Drill

if TYPE_CHECKING:
    from larvasight.render.tiles import TileLibrary

_FLUSH_S = 3.0
_MISSING = "The pictures of cells are missing; install larvasight again."

Bout = TypeVar("Bout", bound=EyeBout)


class EyePage(DrillPage, Generic[Bout]):
    """One drill of the eye.

    Parameters
    ----------
    context : Context
        The records, who is practising, the clock, the look.
    drill : Drill
        What is practised here.
    sight : EyeSight
        Shows the cells.
    more : str
        What the button for another bout says.
    """

    def __init__(self, context: Context, drill: Drill, sight: EyeSight, more: str) -> None:
        super().__init__()
        self._context, self._drill, self._more = context, drill, more
        self.sight = sight
        self._library: TileLibrary | None = None
        self._cells: EyeCells | None = None
        self._bout: Bout | None = None
        self._is_told = False
        self._notice = Notice()
        self._pages = QStackedWidget()
        self._pages.addWidget(self._notice)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._pages)
        self._work = QWidget()
        self._pages.addWidget(self._work)

    @property
    def bout(self) -> Bout | None:
        """The questions under way, None before and after."""
        return self._bout

    @property
    def is_told(self) -> bool:
        """Whether the question in view was answered and told."""
        return self._is_told

    def begin(self, drill: Drill) -> None:
        """Ask the first question, or the next one of a bout that was broken off."""
        del drill
        self.leave()
        context = self._context
        if context.learner is None:
            return
        context.keeper.flush(_FLUSH_S)
        self._library = shipped_tiles()
        try:
            if self._library is None:
                raise AssetMissingError(_MISSING)
            if self._cells is None:
                self._cells = EyeCells.of(self._library)
            sitting = Sitting(
                cells=self._cells,
                keeper=context.keeper,
                learner_id=context.learner.id,
                limits=context.limits,
                now=context.now,
                rng=context.rng,
                seen=context.seen_tiles,
                failed=self._not_kept,
            )
            self._bout = self._new_bout(sitting)
        except LarvasightError as error:
            self._fail(error)
            return
        self._next(is_first=True)

    def arrive(self) -> None:
        """Put the keyboard where it is wanted."""
        if self._pages.currentWidget() is self._work:
            self.sight.setFocus()

    def leave(self) -> None:
        """Put the question in view away."""
        if self._bout is not None:
            self._bout.put_away()
        self._bout = None
        self._is_told = False

    def go_on(self) -> None:
        """Ask the next question, or say how it went."""
        bout = self._bout
        if bout is None or not self._is_told:
            return
        if not self._is_done(bout):
            self._next()
            return
        title, words = self._how_it_went(bout)
        self.leave()
        again = button(self._more, partial(self.begin, self._drill))
        back = button("Back to the drills", self.stop, "main")
        self._say(title, words, back, again)

    def stop(self) -> None:
        """Go back to the list of drills."""
        self.leave()
        self.ended.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter goes on once it is told."""
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if event.isAutoRepeat():
            super().keyPressEvent(event)  # a key held down must not run through cells
        elif is_enter and self._is_told:
            self.go_on()
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Let what stands beside the cells keep to the page."""
        super().resizeEvent(event)
        self._fit_to(self.width())

    def _new_bout(self, sitting: Sitting) -> Bout:
        raise NotImplementedError

    def _is_done(self, bout: Bout) -> bool:
        raise NotImplementedError

    def _ask(self, bout: Bout, *, is_first: bool) -> None:
        raise NotImplementedError

    def _how_it_went(self, bout: Bout) -> tuple[str, str]:
        raise NotImplementedError

    def _fit_to(self, page_px: int) -> None:
        raise NotImplementedError

    def _is_open(self, bout: Bout | None) -> bool:
        """Return whether an answer can be given now."""
        return bout is not None and bout is self._bout and bout.is_open and not self._is_told

    def _images(self, bout: Bout) -> list[QImage]:
        library = self._library
        return [] if library is None else [image_of(library.pixels(tile)) for tile in bout.tiles]

    def _next(self, *, is_first: bool = False) -> None:
        bout = self._bout
        if bout is None:
            return
        self._is_told = False
        try:
            self._ask(bout, is_first=is_first)
        except LarvasightError as error:
            self._fail(error)
            return
        self._pages.setCurrentWidget(self._work)
        self.sight.setFocus()

    def _told(self) -> None:
        """Let Enter go on from now."""
        self._is_told = True
        self.sight.setFocus()

    def _not_kept(self, sentence: str) -> None:
        """Leave cells whose answers cannot be kept, whatever is tried."""
        self._bout = None
        back = button("Back to the drills", self.stop, "main")
        self._say("That answer could not be kept", sentence, back)

    def _fail(self, error: LarvasightError) -> None:
        self.leave()
        again = button("Try again", partial(self.begin, self._drill), "main")
        back = button("Back to the drills", self.stop, "plain")
        self._say(f"{self._drill.title} cannot go on now", str(error), again, back)

    def _say(self, title: str, words: str, *buttons: QPushButton) -> None:
        self._notice.say(title, words, *buttons)
        self._pages.setCurrentWidget(self._notice)
        buttons[0].setFocus()
