"""Moving the cells of a photo by hand: found ones by handles, missing ones from two clicks."""

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QWidget

from larvasight.app.asking import ask_yes
from larvasight.app.comb_view import CombView
from larvasight.app.hand_strip import HandStrip
from larvasight.app.lattice_tool import LatticeTool
from larvasight.app.ruler_tool import RulerTool
from larvasight.desk.hand_cells import (
    ByHandLattice,
    Handles,
    handles_of,
    lattice_in,
    moved_by,
)
from larvasight.errors import LatticeUnusableError
from larvasight.sheet import LatticeByHand, Sheet

_MOVE = (
    "Drag a handle until the yellow cells lie on the comb's: one moves them, one turns and sizes "
    "them, one slants them. N goes to the next, arrows move it."
)
_AGAIN = "Measuring again ... You can go on dragging."
_CLICKS = (
    "Click the middle of one cell.",
    "Now click the middle of a cell beside it.",
    "Looking for the cells about these two ...",
)
_LAY_ANEW = (
    "Lay all cells anew from two that you point at? Marks by hand stay where they are in the "
    "picture."
)
_BACK = "Look for the cells anew, without what you moved? Marks by hand stay where they are."


class TwoClicks(RulerTool):
    """Takes the middles of two neighbouring cells."""


class PhotosCells(QObject):
    """The cells of the photo that is shown, moved by hand.

    ``wanted`` carries where cells shall lie, a ByHandLattice, or None to look for them anew;
    ``laid`` carries two clicks; ``left`` tells that laying cells in a photo without any was given
    up, ``stopped`` that the search about two clicks was.

    Parameters
    ----------
    page : QWidget
        Where questions belong.
    comb : CombView
        The photo.
    strip : HandStrip
        The line above it.
    """

    wanted = Signal(object)
    laid = Signal(object)
    left = Signal()
    stopped = Signal()

    def __init__(self, page: QWidget, comb: CombView, strip: HandStrip) -> None:
        super().__init__(page)
        self._page, self._comb, self._strip = page, comb, strip
        self._sheet: Sheet | None = None
        self._now: ByHandLattice | None = None
        self._done: list[ByHandLattice | None] = []
        self._undone: list[ByHandLattice | None] = []
        self._lays_first = self._is_begun = False
        # Where the handles were when the latest move was kept; None lays them out anew.
        self._kept: Handles | None = None
        strip.as_found.connect(self.ask_as_found)
        strip.two_cells.connect(self.ask_two_cells)

    @property
    def is_in_hand(self) -> bool:
        """Whether cells are being moved or laid."""
        return isinstance(self._comb.tool, LatticeTool | TwoClicks)

    @property
    def is_laying_first(self) -> bool:
        """Whether cells are laid in a photo that has none."""
        return self._lays_first

    @property
    def can_undo(self) -> bool:
        """Whether there is a move to take back."""
        return bool(self._done)

    @property
    def can_redo(self) -> bool:
        """Whether there is a move to do once more."""
        return bool(self._undone)

    def show_photo(self, sheet: Sheet, by_hand: ByHandLattice | None) -> None:
        """Another photo is shown, or the same one measured anew."""
        same = self._sheet is not None and self._sheet.photo.sha256 == sheet.photo.sha256
        if not same:
            self._done, self._undone = [], []
        self._sheet, self._now, self._lays_first = sheet, by_hand, False

    def settle(self) -> None:
        """Put the clicks away: the photo was measured by them."""
        if isinstance(self._comb.tool, TwoClicks):
            self._lays_first = False
            self._comb.set_tool(None)
            self._comb.viewport().unsetCursor()
            self._strip.rest()

    def go_on(self) -> None:
        """Show the handles on cells that were just laid from two."""
        if self._is_begun:
            self._is_begun = False
            self.take_in_hand()

    def take_in_hand(self) -> None:
        """Show the handles."""
        sheet = self._sheet
        if sheet is None:
            return
        try:
            lattice = self._now[1] if self._now is not None else lattice_in(sheet)
        except LatticeUnusableError as error:
            self._strip.guide(str(error))
            return
        tool = LatticeTool(lattice, handles_of(lattice, _size_px(sheet)))
        tool.kept.connect(self._keep)
        self._comb.show_cells(False)
        self._comb.set_tool(tool)
        self._guide(_MOVE)
        self._comb.setFocus()

    def measured(self, sheet: Sheet, by_hand: ByHandLattice | None) -> None:
        """Go on with the cells as they were measured where they were moved to."""
        self._sheet, self._now = sheet, by_hand
        tool = self._comb.tool
        if not isinstance(tool, LatticeTool):
            return
        lattice = by_hand[1] if by_hand is not None else lattice_in(sheet)
        self._comb.show_cells(False)
        if self._kept is None:
            tool.set_lattice(lattice, handles_of(lattice, _size_px(sheet)))
        else:  # handles stay where they are, also one that is dragged on meanwhile
            tool.go_on_from(lattice, self._kept)
        self._guide(_MOVE)

    def not_measured(self, sentence: str) -> None:
        """Say why cells cannot be measured there; what lay before stays."""
        tool = self._comb.tool
        if isinstance(tool, LatticeTool):
            if self._done:
                self._now = self._done.pop()
            tool.put_back()
            self._guide(sentence)
        elif isinstance(tool, TwoClicks):
            self._is_begun = False
            if self._done and not self._lays_first:
                self._done.pop()
            self.ask_clicks(sentence)

    def undo(self) -> None:
        """Take the latest move back."""
        if self._done:
            self._undone.append(self._now)
            self._kept = None
            self._go_to(self._done.pop())

    def redo(self) -> None:
        """Do the move once more that was taken back."""
        if self._undone:
            self._done.append(self._now)
            self._kept = None
            self._go_to(self._undone.pop())

    def ask_as_found(self) -> None:
        """Look for the cells anew, after asking."""
        if self._now is not None and ask_yes(
            self._page, "Cells as found", _BACK, yes="Look for them"
        ):
            self._kept = None
            self._do(None)

    def ask_two_cells(self) -> None:
        """Lay all cells anew from two, after asking."""
        if self._sheet is not None and ask_yes(
            self._page, "Lay cells by hand", _LAY_ANEW, yes="Lay them"
        ):
            self.ask_clicks()

    def lay_first(self, image: QImage) -> None:
        """Show a photo in which no cells were found, to lay them."""
        self._sheet, self._now, self._lays_first = None, None, True
        self._comb.show_comb(image, [], 0.0)
        self._strip.show()
        self.ask_clicks()

    def ask_clicks(self, sentence: str = "") -> None:
        """Ask for two neighbouring cells; ``sentence`` says why once more."""
        tool = TwoClicks()
        tool.changed.connect(self._clicked)
        self._comb.show_cells(False)
        self._comb.set_tool(tool)
        self._comb.viewport().setCursor(Qt.CursorShape.CrossCursor)
        self._strip.guide(f"{sentence} {_CLICKS[0]}".strip(), leave="Stop")
        self._offer()
        self._comb.setFocus()

    def put_away(self) -> None:
        """Put handles and clicks away; what was moved is kept."""
        if self._is_begun:
            self._is_begun = False
            if self._done and not self._lays_first:
                self._done.pop()
            self.stopped.emit()
        self._comb.show_cells(True)
        if self._lays_first:
            self._lays_first = False
            self.left.emit()

    def _clicked(self, n_points: int) -> None:
        tool = self._comb.tool
        self._strip.guide(_CLICKS[n_points], leave="Stop")
        if n_points == 2 and isinstance(tool, TwoClicks):
            first, second = tool.points_xy_px
            self._is_begun = True
            if not self._lays_first:
                self._done.append(self._now)
                self._undone.clear()
            self.laid.emit((first, second))

    def _keep(self) -> None:
        tool, sheet = self._comb.tool, self._sheet
        if not isinstance(tool, LatticeTool) or sheet is None:
            return
        try:
            lattice = moved_by(tool.lattice, tool.before_xy_px, tool.handles_xy_px, _size_px(sheet))
        except LatticeUnusableError as error:
            tool.put_back()
            self._guide(str(error))
            return
        self._kept = tool.handles_xy_px.copy()
        kind = LatticeByHand.MOVED if self._now is None else self._now[0]
        self._do((kind, lattice))

    def _do(self, by_hand: ByHandLattice | None) -> None:
        self._done.append(self._now)
        self._undone.clear()
        self._go_to(by_hand)

    def _go_to(self, by_hand: ByHandLattice | None) -> None:
        self._now = by_hand
        self._guide(_AGAIN)
        self.wanted.emit(by_hand)

    def _guide(self, words: str) -> None:
        self._strip.guide(words, moves_cells=True)
        self._offer()

    def _offer(self) -> None:
        self._strip.offer(can_undo=self.can_undo, can_redo=self.can_redo)


def _size_px(sheet: Sheet) -> tuple[int, int]:
    return sheet.photo.width_px, sheet.photo.height_px
