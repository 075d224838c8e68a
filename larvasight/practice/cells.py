"""Cells put before a learner, and what the learner said of them."""

from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from larvasight.sheet import Cell, Content, Flag, Jelly


class Answer(StrEnum):
    """What a learner says of a cell: take or leave it, its stage, its place, where a tool went."""

    TAKE = "take"
    LEAVE = "leave"
    CANNOT_TELL = "cannot-tell"
    EGG = "egg"
    JUST_HATCHED = "just-hatched"
    RIGHT_AGE = "right-age"
    CLOSED_C = "closed-c"
    TOO_OLD = "too-old"
    YOUNGER = "younger"
    OLDER = "older"
    PLACE_1 = "place-1"
    PLACE_2 = "place-2"
    PLACE_3 = "place-3"
    PLACE_4 = "place-4"
    PLACE_5 = "place-5"
    HIT = "hit"
    OPEN_SIDE = "open-side"
    WALL = "wall"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownCell:
    """One cell put before a learner, with what is true of it.

    ``age_h`` is negative for eggs and None where nothing of an age lies in the cell.
    ``is_plain`` is False where wall or frame hide too much for any eye: such a cell is
    shown but never counted.
    """

    id: UUID
    row: int
    col: int
    content: Content
    age_h: float | None
    looks_age_h: float | None
    length_mm: float | None
    curl_deg: float | None
    jelly: Jelly | None
    is_plain: bool = True
    tile_id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """One answer as it is to be kept.

    ``answer`` is None when a mark is taken back. ``response_ms`` runs to this answer
    from showing the cells or from the answer before it on the same comb, whichever is later;
    None for a cell that was never touched. An answer that is not
    ``is_final`` can still be taken back and is not counted yet.
    """

    cell_id: UUID
    answer: Answer | None
    response_ms: int | None
    is_final: bool


def shown_cell(cell: Cell, cell_id: UUID) -> ShownCell:
    """Return a cell of a truth sheet as it is put before a learner."""
    hidden = {Flag.HIDDEN_BY_WALL, Flag.CUT_BY_FRAME} & set(cell.flags)
    return ShownCell(
        id=cell_id,
        row=cell.row,
        col=cell.col,
        content=cell.content,
        age_h=cell.age_h,
        looks_age_h=cell.looks_age_h,
        length_mm=cell.length_mm,
        curl_deg=cell.curl_deg,
        jelly=cell.jelly,
        is_plain=not hidden,
    )
