"""The line above a photo for putting it right by hand, and what to do next while one does."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QWidget

from larvasight.app.number_box import NumberBox
from larvasight.app.parts import button, label

RULER_MM_DEFAULT = 50.0
_RULER_MM_LEAST = 5.0
_RULER_MM_MOST = 500.0


class HandStrip(QFrame):
    """Buttons for marks by hand; with a tool in hand, a sentence and the way out.

    Each signal tells that its button was pressed; ``length_given`` carries mm.
    """

    cells = Signal()
    as_found = Signal()
    two_cells = Signal()
    ruler = Signal()
    menu = Signal()
    line = Signal()
    outline = Signal()
    undo = Signal()
    redo = Signal()
    save = Signal()
    leave = Signal()
    length_given = Signal(float)

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("bar")
        self._cells = button("Move the cells", self.cells.emit, short="Cells")
        self._cells.setToolTip("Put cells right that do not lie on the comb's (G)")
        self._ruler = button("Measure with a ruler", self.ruler.emit, short="Ruler")
        self._menu = button("Change the cell ...", self.menu.emit, short="Cell ...")
        self._menu.setToolTip("Say what the chosen cell holds (Enter, or 1 to 7)")
        self._line = button("Move body line", self.line.emit, short="Line")
        self._line.setToolTip("Lay the line on the larva's body by hand (B)")
        self._outline = button("Brush outline", self.outline.emit)
        self._outline.setToolTip("Draw the body's outline with a brush instead (O)")
        self._undo = button("Undo", self.undo.emit, "plain")
        self._undo.setToolTip("Take the latest mark back (Ctrl+Z)")
        self._redo = button("Redo", self.redo.emit, "plain")
        self._redo.setToolTip("Make it once more (Ctrl+Y)")
        self._save = button("Save marks ...", self.save.emit, short="Save ...")
        self._words = label("", wrap=True)
        self.length = _length_box()
        self.length.entered.connect(self._give_length)
        self._use = button("Use this length", self._give_length, "main")
        self._leave = button("Done", self.leave.emit)
        self._leave.setToolTip("Put it away (Esc)")
        self._as_found = button("As found", self.as_found.emit, "plain")
        self._as_found.setToolTip("Look for the cells anew, without what was moved")
        self._two_cells = button("From two cells", self.two_cells.emit, "plain")
        self._two_cells.setToolTip("Lay all cells anew from two that you point at")
        self._moving = (self._as_found, self._two_cells)
        self._in_hand: tuple[QWidget, ...] = (
            *(self.length, self._use, self._outline, self._leave),
            *self._moving,
        )
        self._resting = (self._menu, self._line, self._cells, self._ruler, self._save)
        self._lay_out()
        self._can_save = self._can_line = False
        self.rest()
        self.hide()

    def _lay_out(self) -> None:
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 8, 16, 8)
        for widget in (self._menu, self._line, self._cells, self._ruler):
            row.addWidget(widget)
        row.addWidget(self._words, 1000)
        row.addStretch(1)
        row.addWidget(self.length)
        for widget in (
            self._use,
            self._outline,
            self._undo,
            self._redo,
            *self._moving,
            self._save,
            self._leave,
        ):
            row.addWidget(widget)
        self._undo.hide()
        self._redo.hide()

    @property
    def words(self) -> str:
        """What is said to do next, empty without a tool in hand."""
        return self._words.text()

    def rest(self) -> None:
        """Show the buttons."""
        for widget in self._resting:
            widget.show()
        self._words.setText("")
        self._words.hide()
        for made in self._in_hand:
            made.hide()
        self.offer(can_save=self._can_save, can_line=self._can_line)

    def guide(
        self,
        words: str,
        *,
        asks_length: bool = False,
        moves_cells: bool = False,
        can_brush: bool = False,
        leave: str = "Done",
    ) -> None:
        """Say what to do with the tool in hand."""
        for widget in self._resting:
            widget.hide()
        self._words.setText(words)
        self._words.show()
        self._leave.setText(leave)
        self._leave.show()
        self.length.setVisible(asks_length)
        self._use.setVisible(asks_length)
        self._outline.setVisible(can_brush)
        for widget in self._moving:
            widget.setVisible(moves_cells)

    def offer(
        self,
        *,
        can_undo: bool | None = None,
        can_redo: bool | None = None,
        can_save: bool | None = None,
        can_line: bool | None = None,
    ) -> None:
        """Offer only what is possible; None leaves a button as it is."""
        if can_undo is not None:
            self._undo.setVisible(can_undo)
        if can_redo is not None:
            self._redo.setVisible(can_redo)
        if can_line is not None:
            self._can_line = can_line
            self._line.setEnabled(can_line)
        if can_save is not None:
            self._can_save = can_save
            self._save.setVisible(can_save and not self._words.text())

    def _give_length(self) -> None:
        self.length_given.emit(self.length.value())


def _length_box() -> NumberBox:
    box = NumberBox()
    box.setRange(_RULER_MM_LEAST, _RULER_MM_MOST)
    box.setDecimals(1)
    box.setSingleStep(5.0)
    box.setSuffix(" mm")
    box.setValue(RULER_MM_DEFAULT)
    box.setAccessibleName("Millimetres between the two points")
    return box
