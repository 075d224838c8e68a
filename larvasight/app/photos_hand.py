"""Putting a photo right by hand: what cells hold, the cell size by a ruler, body lines."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, QPoint, Qt, Signal
from PySide6.QtGui import QContextMenuEvent, QImage, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QMenu, QMessageBox, QWidget

from larvasight.app.asking import ask_save_path, tell_saved
from larvasight.app.brush_tool import BrushTool
from larvasight.app.cell_item import Face, Rim
from larvasight.app.comb_view import CombView
from larvasight.app.context import Context
from larvasight.app.hand_strip import HandStrip
from larvasight.app.lattice_tool import LatticeTool
from larvasight.app.line_tool import LineTool
from larvasight.app.photos_body import PhotosBody
from larvasight.app.photos_cells import PhotosCells
from larvasight.app.photos_menu import AS_MEASURED_KEY, CONTENT_KEYS, RIGHT_KEY, cell_menu
from larvasight.app.ruler_tool import RulerTool
from larvasight.desk.by_hand import ByHand
from larvasight.desk.hand_cells import stored_lattice
from larvasight.desk.hand_saving import save_marks
from larvasight.desk.known_age import AGAINST
from larvasight.desk.why import CONTENT_WORDS
from larvasight.errors import LarvasightError, RulerUnusableError
from larvasight.paper.marks import hours_on, mark_of
from larvasight.sheet import Cell, Content, Sheet

_FIRST_POINT = "Click the first mark on the ruler."
_SECOND_POINT = "Click the second mark, at least four cells away."
_LENGTH = "How many millimetres lie between the two points?"
_TITLE = "Marks by hand"


class PhotosHand(QObject):
    """Marks by hand on the photo that is shown.

    ``changed`` tells that a cell was put right; ``tried`` carries a cell as it would be measured
    while its line is dragged; ``scaled`` carries a cell size found with a ruler.

    Parameters
    ----------
    page : QWidget
        Where questions belong.
    context : Context
        Records, clock and wanted ages.
    comb : CombView
        The photo.
    """

    changed = Signal(int)
    tried = Signal(int, object)
    scaled = Signal(object)

    def __init__(self, page: QWidget, context: Context, comb: CombView) -> None:
        super().__init__(page)
        self._page, self._context, self._comb = page, context, comb
        self._marks: ByHand | None = None
        self.strip = strip = HandStrip()
        self.cells = PhotosCells(page, comb, strip)
        self.body = PhotosBody(self, comb, strip, lambda: self._marks, self._change)
        self.body.tried.connect(self.tried)
        strip.cells.connect(self.move_cells)
        strip.ruler.connect(self.lay_ruler)
        strip.menu.connect(self.open_menu)
        strip.line.connect(self.move_line)
        strip.outline.connect(self.brush_outline)
        strip.undo.connect(self.undo)
        strip.redo.connect(self.redo)
        strip.save.connect(self.save)
        strip.leave.connect(self.leave)
        strip.length_given.connect(self._use_length)
        for watched in (comb, comb.viewport()):
            watched.installEventFilter(self)

    @property
    def marks(self) -> ByHand | None:
        """The marks on the photo that is shown, None while there is none."""
        return self._marks

    def begin(self, measured: Sheet) -> Sheet:
        """Go on with a photo that is about to be shown; return its sheet as put right."""
        self.leave()
        limits, marks = self._context.limits, self._marks
        if marks is not None and marks.measured.photo.sha256 == measured.photo.sha256:
            marks.set_limits(limits)
            marks.set_measured(measured)
        else:
            marks = ByHand(self._context.store, measured, limits, self._context.now)
        self._marks = marks
        self.cells.show_photo(measured, stored_lattice(self._context.store, marks.sha256))
        self.offer()
        self.strip.show()
        return marks.sheet

    def go_on(self, measured: Sheet) -> Sheet:
        """Go on with the photo that is shown, its cells moved; return its sheet as put right."""
        marks = self._marks
        if marks is None or marks.sha256 != measured.photo.sha256:
            return self.begin(measured)
        if self.body.tool is not None:  # cells may be others by now
            self.leave()
        marks.set_limits(self._context.limits)
        marks.set_measured(measured)
        self.offer()
        self.cells.measured(measured, stored_lattice(self._context.store, marks.sha256))
        return marks.sheet

    def lay_first(self, image: QImage) -> None:
        """Show a photo in which no cells were found, to lay them by hand."""
        self.leave()
        self._marks = None
        self.cells.lay_first(image)

    def end(self) -> None:
        """There is no photo any more."""
        self.leave()
        self._marks = None
        self.strip.hide()

    def words_on(self, index: int) -> str:
        """Return what is said of a cell's mark by hand, empty without one."""
        marks = self._marks
        if marks is None or index not in marks.marks:
            return ""
        if marks.is_confirmed(index):
            return "Checked by hand: right as measured."
        reason = marks.measured.cells[index].reason or ""
        return f"By hand. Measured: {reason[:1].lower()}{reason[1:]}"

    def face_of(self, index: int, cell: Cell) -> Face:
        """Return what is drawn over a cell."""
        is_by_hand = self._marks is not None and index in self._marks.marks
        mark, words = mark_of(cell), CONTENT_WORDS[cell.content] if is_by_hand else ""
        words = hours_on(cell) or words
        if words and self._marks is not None and self._marks.contradicts(cell):
            words = f"{words} {AGAINST}"
        verdict = Rim.OPEN_VERDICT if cell.is_doubtful else Rim.VERDICT
        rim = Rim.FAINT if mark is None else verdict
        return Face(rim=rim, mark=mark, words=words, is_by_hand=is_by_hand)

    def chosen(self, index: int) -> None:
        """Another cell is explained: a line in hand is let go, lines may be moved in larvae."""
        tool = self.body.tool
        if tool is not None and tool.index != index:
            self.leave()
        if self._marks is not None:
            is_larva = self._marks.sheet.cells[index].content is Content.LARVA
            self.strip.offer(can_line=is_larva)

    def key(self, event: QKeyEvent) -> bool:
        """Take a key that the comb left; False where it means nothing here."""
        key = event.key()
        if self._marks is None and not self.cells.is_laying_first:
            return False
        if event.matches(QKeySequence.StandardKey.Undo):
            self.undo()
        elif event.matches(QKeySequence.StandardKey.Redo) or _is_ctrl_y(event):
            self.redo()
        elif event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            return False
        elif key == Qt.Key.Key_Escape and self._comb.tool is not None:
            self.leave()
        elif key == Qt.Key.Key_Z:
            self.undo()
        elif self.cells.is_in_hand:
            return False
        elif key == Qt.Key.Key_G:
            self.move_cells()
        else:
            return self._key_at_cell(key)
        return True

    def _key_at_cell(self, key: int) -> bool:
        index = self._comb.place
        if index is None:
            return False
        if key in CONTENT_KEYS:
            self.say_content(index, CONTENT_KEYS[key])
        elif key == AS_MEASURED_KEY:
            self.as_measured(index)
        elif key == RIGHT_KEY:
            self.say_right(index)
        elif key == Qt.Key.Key_B:
            self.move_line()
        elif key == Qt.Key.Key_O:
            self.brush_outline()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.open_menu()
        else:
            return False
        return True

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Open the menu of the cell that is pointed at, or where the keyboard is."""
        if not isinstance(event, QContextMenuEvent) or self._marks is None:
            return super().eventFilter(watched, event)
        if event.reason() is QContextMenuEvent.Reason.Mouse:
            index = self._comb.cell_at(event.pos())
            if index is None:
                return True
            self._comb.cell_pressed.emit(index)
        self.open_menu()
        return True

    def menu_of(self, index: int) -> QMenu:
        """Return the menu that says what a cell holds."""
        marks = self._marks
        if marks is None:
            return QMenu(self._comb)
        return cell_menu(
            *(self._comb, marks, index),
            say=self.say_content,
            right=self.say_right,
            line=self.move_line,
            outline=self.brush_outline,
            back=self.as_measured,
        )

    def open_menu(self) -> None:
        """Open the menu at the chosen cell."""
        index = self._comb.place
        if self._marks is None or index is None:
            return
        self.leave()
        at = self._comb.centre_on_screen(index)
        self.menu_of(index).popup(self._comb.viewport().mapToGlobal(at + QPoint(8, 8)))

    def say_content(self, index: int, content: Content) -> None:
        """Mark what a cell holds."""
        self.leave()
        if self._marks is not None:
            self._change(partial(self._marks.say_content, index, content))

    def say_right(self, index: int) -> None:
        """Mark that a cell is right as it is shown."""
        self.leave()
        if self._marks is not None:
            self._change(partial(self._marks.confirm, index))

    def as_measured(self, index: int) -> None:
        """Take the mark of a cell away."""
        self.leave()
        if self._marks is not None:
            self._change(partial(self._marks.as_measured, index))

    def undo(self) -> None:
        """Take the latest mark back, and go to its cell; with the cells in hand, a move."""
        self._let_go()
        if self.cells.is_in_hand:
            self.cells.undo()
            return
        if self._marks is not None and self._marks.can_undo:
            self._change(self._marks.undo)

    def redo(self) -> None:
        """Make the mark once more that was taken back; with the cells in hand, a move."""
        self._let_go()
        if self.cells.is_in_hand:
            self.cells.redo()
            return
        if self._marks is not None and self._marks.can_redo:
            self._change(self._marks.redo)

    def move_cells(self) -> None:
        """Show handles on the cells, to put them right together."""
        self.leave()
        if self._marks is not None:
            self.cells.take_in_hand()

    def lay_ruler(self) -> None:
        """Take the ruler in hand."""
        self.leave()
        tool = RulerTool()
        tool.changed.connect(self._guide_ruler)
        self._comb.set_tool(tool)
        self._comb.viewport().setCursor(Qt.CursorShape.CrossCursor)
        self._guide_ruler(0)
        self._comb.setFocus()

    def move_line(self) -> None:
        """Show the points of the chosen larva's body line."""
        self._take_body(self.body.take_line)

    def brush_outline(self) -> None:
        """Lay the brush over the chosen larva's outline."""
        self._take_body(self.body.take_brush)

    def _take_body(self, take: Callable[[int, ByHand], None]) -> None:
        index, marks = self._comb.place, self._marks
        if index is None or marks is None:
            return
        if marks.sheet.cells[index].content is Content.LARVA:
            self.leave()
            take(index, marks)

    def leave(self) -> None:
        """Put away what is in hand; a body that was moved is kept."""
        tool = self._comb.tool
        if tool is None:
            return
        self._let_go()
        moved_cells = self.cells.is_in_hand
        self._comb.set_tool(None)
        self._comb.viewport().unsetCursor()
        self.strip.rest()
        self.offer()
        if moved_cells:
            self.cells.put_away()
        if isinstance(tool, LineTool | BrushTool):
            self.changed.emit(tool.index)
        self._comb.setFocus()

    def save(self) -> None:
        """Ask for a file and save the sheet with all marks by hand."""
        marks, title = self._marks, "Save marks"
        if marks is None:
            return
        self._let_go()
        name = f"{Path(marks.measured.photo.name).stem}-marks.json"
        path = ask_save_path(self._page, title, name, "JSON (*.json)", ".json")
        if path is None:
            return
        try:
            save_marks(path, marks)
        except LarvasightError as error:
            QMessageBox.warning(self._page, title, str(error))
        else:
            tell_saved(self._page, title, path)

    def _change(self, change: Callable[[], int | None]) -> None:
        """Make a change that is stored; it returns its cell, None where nothing changed."""
        try:
            at = change()
        except LarvasightError as error:
            QMessageBox.warning(self._page, _TITLE, str(error))
            return
        if at is None:
            return
        self.offer()
        if self._marks is not None and not self.body.follow(at, self._marks):
            self.leave()
        self.changed.emit(at)

    def offer(self) -> None:
        """Offer only what is possible now."""
        if self._marks is not None:
            self.strip.offer(
                can_undo=self._marks.can_undo,
                can_redo=self._marks.can_redo,
                can_save=self._marks.has_something_to_save,
            )

    def _let_go(self) -> None:
        if isinstance(self._comb.tool, LineTool | BrushTool | LatticeTool):
            self._comb.tool.released()

    def _guide_ruler(self, n_points: int) -> None:
        words = (_FIRST_POINT, _SECOND_POINT, _LENGTH)[n_points]
        self.strip.guide(words, asks_length=n_points == 2, leave="Stop")
        if n_points == 2:
            self.strip.length.setFocus()
            self.strip.length.selectAll()

    def _use_length(self, length_mm: float) -> None:
        from larvasight.vision.scale import scale_from_ruler

        tool, marks = self._comb.tool, self._marks
        if not isinstance(tool, RulerTool) or marks is None:
            return
        try:
            scale = scale_from_ruler(tool.points_xy_px, length_mm, marks.measured)
        except RulerUnusableError as error:
            self.strip.guide(str(error), asks_length=True, leave="Stop")
            return
        self.leave()
        self.scaled.emit(scale.guess())


def _is_ctrl_y(event: QKeyEvent) -> bool:
    return event.key() == Qt.Key.Key_Y and event.modifiers() == Qt.KeyboardModifier.ControlModifier
