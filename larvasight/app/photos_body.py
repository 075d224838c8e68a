"""Putting a larva's body right by hand: the points of its line, or its outline with a brush."""

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QObject, Qt, Signal

from larvasight.app.brush_tool import BrushTool
from larvasight.app.comb_view import CombView
from larvasight.app.hand_strip import HandStrip
from larvasight.app.line_tool import LineTool
from larvasight.desk.body_line import handles_of
from larvasight.desk.by_hand import ByHand
from larvasight.sheet import Content, PointsXY

_LINE = (
    "Drag the points onto the body. Double click the line for one more; Delete takes one away; "
    "N goes to the next, arrows move it."
)
_OUTLINE = (
    "Drag from inside the body to draw it out, from outside to push it in. Arrows move the brush, "
    "Insert adds there, Delete takes away."
)


class PhotosBody(QObject):
    """The body in hand, if there is one.

    ``tried`` carries a cell as it would be measured while its body is moved.

    Parameters
    ----------
    parent : QObject
        Keeps it.
    comb : CombView
        The photo.
    strip : HandStrip
        The line above it.
    marks : callable
        Returns the marks on the photo that is shown, None while there is none.
    change : callable
        Makes a change that is stored.
    """

    tried = Signal(int, object)

    def __init__(
        self,
        parent: QObject,
        comb: CombView,
        strip: HandStrip,
        marks: Callable[[], ByHand | None],
        change: Callable[[Callable[[], int | None]], None],
    ) -> None:
        super().__init__(parent)
        self._comb, self._strip = comb, strip
        self._marks, self._change = marks, change

    @property
    def tool(self) -> LineTool | BrushTool | None:
        """The line or the brush in hand."""
        tool = self._comb.tool
        return tool if isinstance(tool, LineTool | BrushTool) else None

    def take_line(self, index: int, marks: ByHand) -> None:
        """Show the points of a larva's body line."""
        tool = LineTool(index, _handles(marks, index))
        tool.moved.connect(partial(self._try_line, index))
        tool.kept.connect(partial(self._keep_line, index))
        self._comb.set_tool(tool)
        self._strip.guide(_LINE, can_brush=True)
        self._comb.setFocus()
        # Only drawn: nothing is told of a line before it was moved.
        line = marks.with_line(index, tool.handles_xy_px).midline_xy_px
        self._comb.set_body(index, marks.sheet.cells[index].outline_xy_px, line)

    def take_brush(self, index: int, marks: ByHand) -> None:
        """Lay the brush over a larva's outline."""
        cell = marks.sheet.cells[index]
        tool = BrushTool(index, cell, cell.px_per_mm * marks.measured.scale.pitch_mm)
        tool.moved.connect(partial(self._try_outline, index))
        tool.kept.connect(partial(self._keep_outline, index))
        self._comb.set_tool(tool)
        self._comb.viewport().setCursor(Qt.CursorShape.CrossCursor)
        self._strip.guide(_OUTLINE)
        self._comb.setFocus()

    def follow(self, index: int, marks: ByHand) -> bool:
        """Go on from a cell that was changed; False where it is no larva any more."""
        tool, cell = self.tool, marks.sheet.cells[index]
        if tool is None:
            return True
        if tool.index != index or cell.content is not Content.LARVA:
            return False
        if isinstance(tool, LineTool):
            tool.set_handles(_handles(marks, index))
        else:
            tool.show_cell(cell)
        return True

    def _try_line(self, index: int, handles: PointsXY) -> None:
        marks = self._marks()
        if marks is not None:
            self.tried.emit(index, marks.with_line(index, handles))

    def _keep_line(self, index: int, handles: PointsXY) -> None:
        marks = self._marks()
        if marks is not None:
            self._change(partial(marks.move_line, index, handles))

    def _try_outline(self, index: int, outline: PointsXY | None) -> None:
        marks = self._marks()
        if marks is not None and outline is not None:
            self.tried.emit(index, marks.with_outline(index, outline))

    def _keep_outline(self, index: int, outline: PointsXY | None) -> None:
        marks, tool = self._marks(), self._comb.tool
        if marks is None:
            return
        if outline is not None:
            self._change(partial(marks.brush, index, outline))
        elif isinstance(tool, BrushTool):
            tool.show_cell(marks.sheet.cells[index])
            self.tried.emit(index, marks.sheet.cells[index])


def _handles(marks: ByHand, index: int) -> PointsXY:
    mark = marks.marks.get(index)
    if mark is not None and mark.line_xy_px is not None:
        return mark.line_xy_px
    return handles_of(marks.sheet.cells[index], marks.measured)
