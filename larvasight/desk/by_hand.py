"""Photos put right by hand: marks on cells, beside what was measured, taken back and redone."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from larvasight.desk.body_line import is_laid, measure_line, smooth_line
from larvasight.desk.body_outline import measure_outline
from larvasight.desk.known_age import KnownRange, disagreement, known_range
from larvasight.grading import Limits, grade_cell, grade_sheet
from larvasight.sheet import Cell, Content, Flag, PointsXY, Sheet

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import HandMark, KnownAge

# A mark belongs to the cell whose middle lies no further from the marked one's, in pitches.
_SAME_CELL_PITCHES = 0.5
_NOT_MEASURED = "A larva, marked by hand: its body was not measured, so its age cannot be told."
_NOT_LAID = "A larva: lay every point of its line on the body, and its age is told."
_TOO_LITTLE = (
    "A larva: its age is told once all of its body is within the outline, and the gap between "
    "its ends outside."
)
# What was measured of a larva, and means nothing once the cell holds something else.
_NO_BODY: dict[str, Any] = {
    "visible_share": None,
    "jelly": None,
    "length_mm": None,
    "length_mm_sd": None,
    "width_mm": None,
    "area_mm2": None,
    "curl_deg": None,
    "curl_deg_sd": None,
    "midline_xy_px": None,
    "outline_xy_px": None,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """One step by hand: what a cell's mark was, and what it became; None is no mark."""

    index: int
    before: "HandMark | None"
    after: "HandMark | None"


class ByHand:
    """Marks by hand on one photo, each stored as it is made; taken back and redone in turn.

    Parameters
    ----------
    store : Store
        The records.
    measured : Sheet
        What was measured; it is never changed.
    limits : Limits
        The teacher's spans.
    now : callable
        Returns the time, UTC.
    """

    def __init__(
        self, store: "Store", measured: Sheet, limits: Limits, now: Callable[[], datetime]
    ) -> None:
        self._store = store
        self._now = now
        self._limits = limits
        self.measured = grade_sheet(measured, limits)
        self._take_marks()
        self._known = store.known_age(measured.photo.sha256)
        self._done: list[_Change] = []
        self._undone: list[_Change] = []
        self._sheet = self._corrected()

    @property
    def sheet(self) -> Sheet:
        """The sheet as marks by hand make it, graded."""
        return self._sheet

    @property
    def marks(self) -> "Mapping[int, HandMark]":
        """What is marked by hand, by the index of the cell."""
        return self._marks

    @property
    def sha256(self) -> str:
        """Checksum of the photo."""
        return self.measured.photo.sha256

    @property
    def known_age(self) -> "KnownAge | None":
        """What is known of the age of the comb, None where nothing is."""
        return self._known

    @property
    def known_range(self) -> KnownRange | None:
        """The ages that larvae can have by that."""
        return None if self._known is None else known_range(self._known)

    @property
    def marks_elsewhere(self) -> "tuple[HandMark, ...]":
        """Marks that lie on no cell since cells were laid elsewhere."""
        return tuple(self._elsewhere)

    def contradicts(self, cell: Cell) -> bool:
        """Return whether what was measured of a cell cannot be by the comb's known age."""
        known = self.known_range
        return known is not None and bool(disagreement(cell, known))

    @property
    def has_something_to_save(self) -> bool:
        """Whether anything was marked, laid or entered by hand."""
        has_moved = self.measured.lattice.by_hand is not None
        return bool(self._marks or self._elsewhere) or has_moved or self._known is not None

    @property
    def can_undo(self) -> bool:
        """Whether there is a step to take back."""
        return bool(self._done)

    @property
    def can_redo(self) -> bool:
        """Whether there is a step to do once more."""
        return bool(self._undone)

    def set_limits(self, limits: Limits) -> None:
        """Judge by other wanted ages."""
        self._limits = limits
        self.measured = grade_sheet(self.measured, limits)
        self._sheet = self._corrected()

    def set_measured(self, measured: Sheet) -> None:
        """Go on with another measurement of the same photo.

        Steps can still be taken back where cells and cell size are what they were.
        """
        before = self.measured
        self.measured = grade_sheet(measured, self._limits)
        self._take_marks()
        if before.scale.pitch_mm != measured.scale.pitch_mm or not _same_cells(before, measured):
            self._done, self._undone = [], []
        self._sheet = self._corrected()

    def say_content(self, index: int, content: Content) -> int | None:
        """Mark what a cell holds; what was measured there takes the mark away.

        Returns
        -------
        int or None
            The cell; None where that is what it is shown to hold already.
        """
        if content is self._sheet.cells[index].content:
            return None
        former = self._marks.get(index)
        said = None if content is self.measured.cells[index].content else content
        line = outline = None
        if former is not None and content is Content.LARVA:
            line, outline = former.line_xy_px, former.outline_xy_px
        self._do(index, self._mark(index, said, line, outline))
        return index

    def can_confirm(self, index: int) -> bool:
        """Return whether a cell can be said to be right as it is shown."""
        content = self._sheet.cells[index].content
        return index not in self._marks and content is not Content.UNCLEAR

    def is_confirmed(self, index: int) -> bool:
        """Return whether a cell was only said to be right as it was measured."""
        mark = self._marks.get(index)
        if mark is None or mark.line_xy_px is not None or mark.outline_xy_px is not None:
            return False
        return mark.content is self.measured.cells[index].content

    def confirm(self, index: int) -> int | None:
        """Mark that a cell is right as it is shown; return it, None where it is marked already."""
        if not self.can_confirm(index):
            return None
        self._do(index, self._mark(index, self._sheet.cells[index].content, None))
        return index

    def set_known_age(self, age: "KnownAge | None") -> None:
        """Keep what is known of the age of the comb; None takes it away."""
        self._store.put_known_age(self.sha256, age, now=self._now())
        self._known = age

    def move_line(self, index: int, handles_xy_px: PointsXY) -> int:
        """Keep a larva's body line as its handles were moved; return its cell."""
        content = outline = None
        if (former := self._marks.get(index)) is not None:
            content, outline = former.content, former.outline_xy_px
        self._do(index, self._mark(index, content, handles_xy_px, outline))
        return index

    def brush(self, index: int, outline_xy_px: PointsXY) -> int:
        """Keep a larva's outline as it was brushed; a line laid before goes; return its cell."""
        former = self._marks.get(index)
        content = None if former is None else former.content
        self._do(index, self._mark(index, content, None, outline_xy_px))
        return index

    def as_measured(self, index: int) -> int | None:
        """Take the mark of a cell away; return the cell, None where it has no mark."""
        if index not in self._marks:
            return None
        self._do(index, None)
        return index

    def undo(self) -> int | None:
        """Take the latest step back; return its cell, None where there is no step."""
        if not self._done:
            return None
        change = self._done[-1]
        self._put(change.index, change.before)
        self._undone.append(self._done.pop())
        return change.index

    def redo(self) -> int | None:
        """Do the step once more that was taken back; return its cell, None where there is none."""
        if not self._undone:
            return None
        change = self._undone[-1]
        self._put(change.index, change.after)
        self._done.append(self._undone.pop())
        return change.index

    def with_line(self, index: int, handles_xy_px: PointsXY) -> Cell:
        """Return a larva as it would be measured with this line, without keeping it."""
        cell = _as_said(self.measured.cells[index], Content.LARVA)
        return self._with_line(cell, handles_xy_px)

    def with_outline(self, index: int, outline_xy_px: PointsXY) -> Cell:
        """Return a larva as it would be measured with this outline, without keeping it."""
        cell = _as_said(self.measured.cells[index], Content.LARVA)
        return self._with_outline(cell, outline_xy_px)

    def _mark(
        self,
        index: int,
        content: Content | None,
        line: PointsXY | None,
        outline: PointsXY | None = None,
    ) -> "HandMark | None":
        from larvasight.records.types import HandMark

        if content is None and line is None and outline is None:
            return None
        cell = self.measured.cells[index]
        return HandMark(
            id=uuid4(),
            row=cell.row,
            col=cell.col,
            centre_xy_px=cell.centre_xy_px,
            content=content,
            line_xy_px=line,
            outline_xy_px=outline,
            made_at_utc=self._now(),
        )

    def _do(self, index: int, after: "HandMark | None") -> None:
        change = _Change(index=index, before=self._marks.get(index), after=after)
        self._put(index, after)
        self._done.append(change)
        self._undone.clear()

    def _put(self, index: int, mark: "HandMark | None") -> None:
        # Cells that grew may have several: those beneath must not come back.
        former = [one.id for one in self._all_marks.get(index, ())]
        if mark is not None:
            self._store.put_hand_mark(self.sha256, mark, instead_of=former)
            self._all_marks[index], self._marks[index] = [mark], mark
        elif former:
            self._store.remove_hand_marks(self.sha256, former)
            del self._all_marks[index], self._marks[index]
        cells = list(self._sheet.cells)
        cells[index] = self._cell(index)
        self._sheet = replace(self._sheet, cells=tuple(cells))

    def _take_marks(self) -> None:
        """Read the marks; of several on one cell the latest counts."""
        stored = self._store.hand_marks(self.sha256)
        self._all_marks, self._elsewhere = _by_cell(stored, self.measured)
        self._marks = {index: marks[-1] for index, marks in self._all_marks.items()}

    def _corrected(self) -> Sheet:
        cells = tuple(self._cell(index) for index in range(len(self.measured.cells)))
        return replace(self.measured, cells=cells)

    def _cell(self, index: int) -> Cell:
        cell, mark = self.measured.cells[index], self._marks.get(index)
        if mark is None:
            return cell
        # Where only a body was put right, a person saw a larva, whatever is measured now.
        said = _as_said(cell, Content.LARVA if mark.content is None else mark.content)
        if said.content is Content.LARVA and mark.line_xy_px is not None:
            return replace(self._with_line(said, mark.line_xy_px), outline_xy_px=mark.outline_xy_px)
        if said.content is Content.LARVA and mark.outline_xy_px is not None:
            return self._with_outline(said, mark.outline_xy_px)
        graded = grade_cell(said, self._limits)
        is_bare = graded.content is Content.LARVA and graded.length_mm is None
        return replace(graded, reason=_NOT_MEASURED) if is_bare else graded

    def _with_line(self, cell: Cell, handles_xy_px: PointsXY) -> Cell:
        line = smooth_line(handles_xy_px)
        if not is_laid(handles_xy_px, cell, self.measured):
            bare = replace(cell, **(_NO_BODY | {"midline_xy_px": line}))
            return replace(grade_cell(bare, self._limits), reason=_NOT_LAID)
        told = measure_line(line, cell, self.measured)
        if told is None:
            return grade_cell(replace(cell, **_NO_BODY), self._limits)
        measured = replace(
            cell,
            length_mm=told.length_mm,
            length_mm_sd=told.length_mm_sd,
            curl_deg=told.curl_deg,
            curl_deg_sd=told.curl_deg_sd,
            midline_xy_px=line,
            # Neither belongs to a line that was moved.
            outline_xy_px=None,
            width_mm=None,
            area_mm2=None,
            flags=_cut(cell),
        )
        return grade_cell(measured, self._limits)

    def _with_outline(self, cell: Cell, outline_xy_px: PointsXY) -> Cell:
        told = measure_outline(outline_xy_px, cell, self.measured)
        if told is None:
            bare = replace(cell, **(_NO_BODY | {"outline_xy_px": outline_xy_px}))
            return replace(grade_cell(bare, self._limits), reason=_TOO_LITTLE)
        closed = (Flag.CLOSED,) if told.curl_deg is None else ()
        measured = replace(
            cell,
            **{field.name: getattr(told, field.name) for field in fields(told)},
            outline_xy_px=outline_xy_px,
            visible_share=None,
            flags=(*closed, *_cut(cell)),
        )
        return grade_cell(measured, self._limits)


def _same_cells(one: Sheet, other: Sheet) -> bool:
    """Return whether each cell of a sheet lies where that of another lies."""
    reach_px = _SAME_CELL_PITCHES * one.scale.pitch_px
    return len(one.cells) == len(other.cells) and all(
        math.dist(a.centre_xy_px, b.centre_xy_px) <= reach_px
        for a, b in zip(one.cells, other.cells, strict=True)
    )


def _cut(cell: Cell) -> tuple[Flag, ...]:
    return tuple(flag for flag in cell.flags if flag is Flag.CUT_BY_FRAME)


def _as_said(cell: Cell, content: Content) -> Cell:
    """Return a cell that holds what a person says; its own measures stay only if it is so."""
    if content is cell.content:
        return cell
    return replace(cell, content=content, flags=_cut(cell), **_NO_BODY)


def _by_cell(
    marks: "list[HandMark]", sheet: Sheet
) -> "tuple[dict[int, list[HandMark]], list[HandMark]]":
    """Return marks by the index of the cell that lies where the marked one lay, latest last.

    Those that lie on no cell come beside them.
    """
    found: dict[int, list[HandMark]] = {}
    elsewhere: list[HandMark] = []
    reach_px = _SAME_CELL_PITCHES * sheet.scale.pitch_px
    for mark in sorted(marks, key=lambda mark: mark.made_at_utc):
        away = [math.dist(cell.centre_xy_px, mark.centre_xy_px) for cell in sheet.cells]
        nearest = min(range(len(away)), key=away.__getitem__, default=None)
        if nearest is not None and away[nearest] <= reach_px:
            found.setdefault(nearest, []).append(mark)
        else:
            elsewhere.append(mark)
    return found, elsewhere
