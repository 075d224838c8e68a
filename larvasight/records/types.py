"""What goes into the records and comes out of them."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, TypeAlias
from uuid import UUID

from larvasight.grading import Limits
from larvasight.practice import Answer, Drill, Given, ShownCell
from larvasight.sheet import Content, PointsXY

CLASS: Literal["class"] = "class"
# Whose setting: the whole class's or one learner's.
Scope: TypeAlias = UUID | Literal["class"]
# A cell laid by hand: row, column, x and y of its middle, and its steps along the row and along
# the row turned by 60 degrees, px.
PlacedCell: TypeAlias = tuple[int, int, float, float, float, float, float, float]
# Where the comb of a round came from.
RoundKind: TypeAlias = Literal["drawn", "photo", "lesson"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Learner:
    """One person who practises; ``created_at_utc`` is aware."""

    id: UUID
    name: str
    created_at_utc: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedKey:
    """What a sheet on paper is scored by: its ages wanted, and ``cells``, a check of its cells."""

    limits: Limits
    cells: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownRound:
    """One comb as it is put before a learner.

    ``cells`` are those asked, in the order of asking. ``recipe`` says in JSON values how to
    draw this comb again, or names the photo. ``model_version`` is of the model that measured
    a photo, None where the truth is known from drawing.
    """

    id: UUID
    learner_id: UUID
    drill: Drill
    cells: tuple[ShownCell, ...]
    limits: Limits
    recipe: dict[str, Any]
    kind: RoundKind
    shown_at_utc: datetime
    model_version: str | None = None

    def __post_init__(self) -> None:
        """Refuse a round without cells."""
        if not self.cells:
            msg = "cells must hold at least one cell, got none"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnfinishedRound:
    """A comb that was shown and never ended, with all that is needed to go on with it.

    ``drill`` is the drill's key. ``givens`` holds, in the order of ``cells``, the cells that
    were answered or touched.
    """

    id: UUID
    learner_id: UUID
    drill: str
    cells: tuple[ShownCell, ...]
    givens: tuple[Given, ...]
    limits: Limits
    recipe: dict[str, Any]
    kind: RoundKind
    shown_at_utc: datetime
    model_version: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRound:
    """One round as it was answered.

    ``drill`` is the drill's key; ``ended_at_utc`` is None where it was never ended. ``givens``
    holds, in the order of ``cells``, what was answered of each, None for one never touched.
    """

    id: UUID
    drill: str
    recipe: dict[str, Any]
    limits: Limits
    shown_at_utc: datetime
    ended_at_utc: datetime | None
    cells: tuple[ShownCell, ...]
    givens: tuple[Given | None, ...]

    @property
    def answers(self) -> tuple[Answer | None, ...]:
        """The final answer to each cell, None without one."""
        return tuple(
            given.answer if given is not None and given.is_final else None for given in self.givens
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerCount:
    """How many final answers of one kind were given in a drill, ``drill`` being its key."""

    drill: str
    answer: Answer
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedAnswer:
    """One final answer in one drill, with what was true of its cell and the limits in force."""

    round_id: UUID
    position: int
    content: Content
    age_h: float | None
    looks_age_h: float | None
    answer: Answer
    response_ms: int | None
    answered_at_utc: datetime
    limits: Limits


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """One photo known to the records.

    ``sha256`` of the file is hex and names it in the photos folder together with ``suffix``,
    which begins with a dot; ``name`` is what the photo was called when it came.
    """

    sha256: str
    name: str
    suffix: str
    added_at_utc: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class HandMark:
    """What a person says of one cell of a photo, kept beside what was measured.

    ``content`` is what the cell holds, None where only the body was put right; ``line_xy_px`` are
    3 to 64 points of its line in px of the picture, None where it was not moved;
    ``outline_xy_px`` 3 to 400 corners of its outline, None where it was not brushed.
    ``centre_xy_px`` is the middle of the cell when the mark was made.
    """

    id: UUID
    row: int
    col: int
    centre_xy_px: tuple[float, float]
    content: Content | None
    line_xy_px: PointsXY | None
    made_at_utc: datetime
    outline_xy_px: PointsXY | None = None

    def __post_init__(self) -> None:
        """Refuse a mark that says nothing."""
        if self.content is None and self.line_xy_px is None and self.outline_xy_px is None:
            msg = "content, line_xy_px or outline_xy_px must be given, got neither"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandLattice:
    """Where a person says that the cells of a photo lie.

    ``kind`` says whether cells found were moved or, where none were found, laid by hand.
    """

    kind: Literal["moved", "laid"]
    cells: tuple[PlacedCell, ...]
    made_at_utc: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownAge:
    """When the queen could lay in the comb of a photo, and when the photo was taken."""

    laid_from_utc: datetime
    laid_to_utc: datetime
    taken_at_utc: datetime

    def __post_init__(self) -> None:
        """Refuse times that cannot follow each other."""
        if not self.laid_from_utc < self.laid_to_utc:
            msg = f"laid_to_utc must be after laid_from_utc, got {self.laid_to_utc}"
            raise ValueError(msg)
        if self.taken_at_utc < self.laid_from_utc:
            msg = f"taken_at_utc must not be before laid_from_utc, got {self.taken_at_utc}"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticePhoto:
    """A photo that is practised on.

    ``is_all_checked`` says that a person looked at every cell, not only at those marked by hand.
    """

    sha256: str
    is_all_checked: bool
    made_at_utc: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One plan for a comb; ``spec`` is JSON text that the timetable wrote.

    One ``is_removed`` is kept only for the batches of grafts that name it.
    """

    id: UUID
    name: str
    made_at_utc: datetime
    spec: str
    is_removed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptLesson:
    """One lesson known to the records, without its pictures.

    ``is_homework`` says that it is to be practised on here; else it was made here to be
    handed out. ``is_removed`` ones are not listed any more.
    """

    id: UUID
    title: str
    is_homework: bool
    added_at_utc: datetime
    is_removed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundBroughtIn:
    """A round that was answered on another computer, with its final answers."""

    shown: ShownRound
    givens: tuple[Given, ...]
    ended_at_utc: datetime
