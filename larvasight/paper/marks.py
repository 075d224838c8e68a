"""The sign of each verdict: a colour, a shape and a word, so that colour is never alone."""

from dataclasses import dataclass
from enum import StrEnum

from larvasight.practice.scoring import Outcome
from larvasight.sheet import Cell, Content, Grade, Sheet


class Shape(StrEnum):
    """Shapes that stay apart in black and white and at a small size."""

    DISC = "disc"
    WEDGE = "wedge"
    SQUARE = "square"
    KITE = "kite"
    OPEN_DISC = "open-disc"
    DASH = "dash"
    CROSS = "cross"
    PENCIL = "pencil"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """How a verdict is drawn; ``colour`` is ``#rrggbb``."""

    colour: str
    shape: Shape
    word: str


# Colours: Okabe & Ito 2008, "Color Universal Design", set safe for colour-blind people.
GRADE_MARKS: dict[Grade, Mark] = {
    Grade.TAKE: Mark(colour="#009E73", shape=Shape.DISC, word="take"),
    Grade.VERY_YOUNG: Mark(colour="#56B4E9", shape=Shape.KITE, word="very young"),
    Grade.BORDERLINE: Mark(colour="#E69F00", shape=Shape.WEDGE, word="borderline"),
    Grade.TOO_OLD: Mark(colour="#D55E00", shape=Shape.SQUARE, word="too old"),
    Grade.UNSURE: Mark(colour="#FFFFFF", shape=Shape.OPEN_DISC, word="cannot be told"),
}
EGG_MARK = Mark(colour="#F0E442", shape=Shape.DASH, word="egg")
# What a person put right in a photo.
BY_HAND_MARK = Mark(colour="#FFFFFF", shape=Shape.PENCIL, word="by hand")

# What an answer was. A cell rightly left has no mark: there is nothing to look at.
OUTCOME_MARKS: dict[Outcome, Mark] = {
    Outcome.RIGHT: Mark(colour="#009E73", shape=Shape.DISC, word="right"),
    Outcome.VERY_YOUNG: Mark(colour="#56B4E9", shape=Shape.KITE, word="very young"),
    Outcome.JUST_PAST: Mark(colour="#E69F00", shape=Shape.WEDGE, word="just past the limit"),
    Outcome.TOO_OLD: Mark(colour="#D55E00", shape=Shape.SQUARE, word="too old"),
    Outcome.EGG: EGG_MARK,
    Outcome.NO_LARVA: Mark(colour="#CC79A7", shape=Shape.CROSS, word="no larva"),
    Outcome.MISSED: Mark(colour="#009E73", shape=Shape.OPEN_DISC, word="a right one left"),
}


def mark_of(cell: Cell) -> Mark | None:
    """Return the mark of a cell, None where there is nothing to say."""
    if cell.content is Content.EGG:
        return EGG_MARK
    return GRADE_MARKS[cell.grade] if cell.grade is not None else None


def hours_on(cell: Cell) -> str:
    """Return the age band that stands on a cell, empty where it has none or cannot be told."""
    if cell.age_h_lo is None or cell.age_h_hi is None or cell.grade is Grade.UNSURE:
        return ""
    return f"{cell.age_h_lo:.0f}\N{EN DASH}{cell.age_h_hi:.0f} h"


def marks_in(sheet: Sheet) -> list[Mark]:
    """Return the marks that a sheet's cells have, each once, in the order of the verdicts."""
    present = {mark.word for cell in sheet.cells if (mark := mark_of(cell)) is not None}
    return [mark for mark in (*GRADE_MARKS.values(), EGG_MARK) if mark.word in present]
