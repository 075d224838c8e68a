"""What is true of a practice cell, in words."""

from dataclasses import dataclass

from larvasight.geometry.facts import Fact, Label
from larvasight.grading.grade import VERDICTS, body_words, other_reason, true_grade
from larvasight.grading.limits import Limits
from larvasight.sheet import Cell, Content, Flag, Grade

NOT_COUNTED = Fact(
    name="ages past the oldest usable one that are shown but not counted",
    value=3.0,
    unit="h",
    label=Label.DERIVED,
    source="judgement: larvae of one age differ in size by about as much",
)
LOOKS_OTHER = Fact(
    name="difference from its age at which a larva is said to look another",
    value=3.0,
    unit="h",
    label=Label.DERIVED,
    source="judgement: less cannot be seen",
)
NOT_COUNTED_H = NOT_COUNTED.value
LOOKS_OTHER_H = LOOKS_OTHER.value

FACTS: tuple[Fact, ...] = (NOT_COUNTED, LOOKS_OTHER)

_GRADE_VERDICTS: dict[Grade, str] = {
    Grade.TAKE: "take",
    Grade.TOO_OLD: VERDICTS[Grade.TOO_OLD],
    Grade.VERY_YOUNG: "very young",
}
_OTHER_VERDICTS: dict[Content, str] = {
    Content.EMPTY: "empty",
    Content.EGG: "egg",
    Content.CAPPED: "capped",
    Content.STORES: "pollen or nectar",
    Content.COVERED: "covered",
    Content.UNCLEAR: "cannot be told",
}
_JUST_PAST = "just past the limit"
_NOT_COUNTED_WHY = "not counted, since larvae of one age differ that much"
_HIDDEN_NOTE = "The wall hides part of it, and such a larva is best left."


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueWords:
    """What is true of one cell.

    ``grade`` is None for everything but larvae. ``verdict`` is a word or a few,
    ``sentence`` one plain sentence and ``note`` a second one, or empty.
    """

    grade: Grade | None
    verdict: str
    sentence: str
    note: str = ""


def explain_truth(cell: Cell, limits: Limits) -> TrueWords:
    """Say what is true of a cell.

    Parameters
    ----------
    cell : Cell
        A cell of a truth sheet: length, curl and age are exact.
    limits : Limits
        The teacher's spans.

    Raises
    ------
    ValueError
        If the cell holds a larva or an egg without an age, or a larva without a length.
    """
    if cell.content is Content.LARVA:
        return _larva_words(cell, limits)
    sentence = _egg_sentence(cell) if cell.content is Content.EGG else other_reason(cell)
    return TrueWords(grade=None, verdict=_OTHER_VERDICTS[cell.content], sentence=sentence)


def is_just_past(age_h: float, limits: Limits) -> bool:
    """Return whether an age lies so little past the old limit that it is not counted."""
    return limits.old_h < age_h <= limits.old_h + NOT_COUNTED_H


def _larva_words(cell: Cell, limits: Limits) -> TrueWords:
    age_h = _true_age_h(cell)
    if cell.length_mm is None:
        msg = "cell must have the length_mm of a truth sheet, got None"
        raise ValueError(msg)
    grade = true_grade(age_h, limits)
    verdict, why = _GRADE_VERDICTS[grade], VERDICTS[grade]
    if is_just_past(age_h, limits):
        verdict, why = _JUST_PAST, f"{_JUST_PAST}; {_NOT_COUNTED_WHY}"
    curl_deg = None if Flag.CLOSED in cell.flags else cell.curl_deg
    body, is_hidden = body_words(cell.length_mm, curl_deg), Flag.HIDDEN_BY_WALL in cell.flags
    return TrueWords(
        grade=grade,
        verdict=verdict,
        sentence=f"{body}, {age_words(age_h, limits)} old: {why}.",
        note=_HIDDEN_NOTE if is_hidden else looks_note(age_h, cell.looks_age_h),
    )


def age_words(age_h: float, limits: Limits) -> str:
    """Return a larva's age with as few decimals as tell the same of it as its exact age."""
    told = (true_grade(age_h, limits), is_just_past(age_h, limits))
    for n_decimals in range(4):
        words = f"{age_h:.{n_decimals}f}"
        if (true_grade(float(words), limits), is_just_past(float(words), limits)) == told:
            return f"{words} h"
    return f"{age_h:.4f} h"


def looks_note(age_h: float | None, looks_age_h: float | None) -> str:
    """Say that a larva is large or small for its age; empty where it looks as old as it is."""
    if age_h is None or looks_age_h is None or abs(looks_age_h - age_h) <= LOOKS_OTHER_H:
        return ""
    size = "Large" if looks_age_h > age_h else "Small"
    return f"{size} for its age: it looks {looks_age_h:.0f} h."


def _egg_sentence(cell: Cell) -> str:
    left_h = round(-_true_age_h(cell))
    when = f"about {left_h} h before hatching" if left_h >= 1 else "about to hatch"
    return f"An egg, {when}: no larva to lift."


def _true_age_h(cell: Cell) -> float:
    if cell.age_h is None:
        msg = "cell must have the age_h of a truth sheet, got None"
        raise ValueError(msg)
    return cell.age_h
