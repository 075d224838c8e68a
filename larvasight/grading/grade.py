"""From measures to an age band, a grade and one plain sentence."""

import math
from dataclasses import replace

from larvasight.errors import require_between
from larvasight.geometry.facts import Fact, Label
from larvasight.grading.limits import Limits
from larvasight.growth import AgePosterior, age_posterior
from larvasight.growth.egg import EGG_LENGTH_MM
from larvasight.sheet import FLAG_SENTENCES, Cell, Content, Flag, Grade, Sheet

# Chance past a limit at which a verdict turns, and at which it becomes doubtful.
_PAST = 0.5
_DOUBT = 0.1
# A doubtful outline still tells that a larva is too old when it is this sure.
_SURE = 0.9

_OTHER_REASONS: dict[Content, str] = {
    Content.EMPTY: "An empty cell.",
    Content.EGG: "An egg: it has not hatched yet, so there is no larva to lift.",
    Content.CAPPED: "A capped cell.",
    Content.STORES: "Pollen or nectar, no brood.",
    Content.COVERED: "Something covers this cell.",
    Content.UNCLEAR: "It cannot be told what this cell holds.",
}
VERDICTS: dict[Grade, str] = {
    Grade.TAKE: "young enough to take",
    Grade.BORDERLINE: "it may be too old, leave it if you have a choice",
    Grade.TOO_OLD: "too old",
    Grade.VERY_YOUNG: "good but very young, hard to lift",
    Grade.UNSURE: "its age cannot be told surely",
}
_SHAPES_WHY = "judgement: a half ring sweeps 180 deg and a C 270 deg; limits set between the words"
# Upper ends of the curl and the trade's words for the shape.
SHAPE_ENDS: tuple[tuple[Fact, str], ...] = tuple(
    (
        Fact(
            name=f"greatest curl called {word[0].lower()}{word[1:]}",
            value=end_deg,
            unit="deg",
            label=Label.DERIVED,
            source=_SHAPES_WHY,
        ),
        word,
    )
    for end_deg, word in (
        (90.0, "A slight bow"),
        (155.0, "A comma"),
        (215.0, "A half ring"),
        (285.0, "A C"),
    )
)

FACTS: tuple[Fact, ...] = tuple(fact for fact, _ in SHAPE_ENDS)

_LAST_SHAPE = "A nearly closed ring"
_CLOSED_SHAPE = "A closed ring"


def grade_sheet(sheet: Sheet, limits: Limits | None = None) -> Sheet:
    """Return a measured sheet with age bands, grades and reasons filled in.

    Parameters
    ----------
    sheet : Sheet
        Measured cells.
    limits : Limits, optional
        The teacher's spans; usable 6-30 h and best 12-24 h without them.

    Returns
    -------
    Sheet
        The same cells; everything but larvae has no grade but a reason.
    """
    spans = limits or Limits()
    return replace(sheet, cells=tuple(grade_cell(cell, spans) for cell in sheet.cells))


def grade_cell(cell: Cell, limits: Limits) -> Cell:
    """Return one measured cell with age band, grade and reason filled in.

    What an earlier grading had filled in is replaced; a cell without a readable larva has
    no ages.
    """
    bare = replace(cell, age_h=None, age_h_lo=None, age_h_hi=None, grade=None)
    if cell.content is not Content.LARVA:
        return replace(bare, reason=other_reason(cell))
    length_mm, is_closed = cell.length_mm, Flag.CLOSED in cell.flags
    if length_mm is None or not _are_numbers(cell) or (cell.curl_deg is None and not is_closed):
        return replace(bare, grade=Grade.UNSURE, reason=_unmeasured_reason(cell))
    ages = age_posterior(
        length_mm,
        cell.curl_deg,
        length_mm_sd=cell.length_mm_sd or 0.0,
        curl_deg_sd=cell.curl_deg_sd or 0.0,
    )
    low_h, high_h = ages.band_h()
    grade = _grade(ages, cell, limits)
    age = f"about {low_h:.0f}\N{EN DASH}{high_h:.0f} h old"
    is_doubted = Flag.OUTLINE_UNCERTAIN in cell.flags and grade is not Grade.UNSURE
    doubt = ", though its outline is not sure" if is_doubted else ""
    return replace(
        bare,
        age_h=ages.quantile_h(0.5),
        age_h_lo=low_h,
        age_h_hi=high_h,
        grade=grade,
        reason=f"{body_words(length_mm, cell.curl_deg)}, {age}: {VERDICTS[grade]}{doubt}.",
    )


def true_grade(age_h: float, limits: Limits) -> Grade:
    """Return the grade of a larva whose age is known.

    Parameters
    ----------
    age_h : float
        Hours after hatching; >= 0, since an egg has no grade.
    limits : Limits
        The teacher's spans.

    Returns
    -------
    Grade
        Take, very young or too old.

    Raises
    ------
    ValueError
        If ``age_h`` is below 0 or not a number.
    """
    require_between("age_h", age_h, 0.0, math.inf)
    if age_h > limits.old_h:
        return Grade.TOO_OLD
    return Grade.VERY_YOUNG if age_h < limits.young_h else Grade.TAKE


def shape_word(curl_deg: float | None) -> str:
    """Return the trade's word for a curl in degrees; None is a closed ring."""
    if curl_deg is None:
        return _CLOSED_SHAPE
    return next((word for end, word in SHAPE_ENDS if curl_deg <= end.value), _LAST_SHAPE)


def body_words(length_mm: float, curl_deg: float | None) -> str:
    """Return shape and size of a body in words, as a sentence begins."""
    times = length_mm / EGG_LENGTH_MM.value
    return f"{shape_word(curl_deg)}, {length_mm:.1f} mm long ({times:.1f} times an egg)"


def _grade(ages: AgePosterior, cell: Cell, limits: Limits) -> Grade:
    too_old = ages.chance_between(limits.old_h, 96.0)
    if Flag.OUTLINE_UNCERTAIN in cell.flags:
        return Grade.TOO_OLD if too_old >= _SURE else Grade.UNSURE
    if too_old >= _PAST:
        return Grade.TOO_OLD
    if too_old >= _DOUBT:
        return Grade.BORDERLINE
    return Grade.VERY_YOUNG if ages.chance_between(0.0, limits.young_h) >= _PAST else Grade.TAKE


def _are_numbers(cell: Cell) -> bool:
    """Return whether nothing that the age rests on is NaN."""
    rests_on = (cell.length_mm, cell.length_mm_sd, cell.curl_deg, cell.curl_deg_sd)
    return all(math.isfinite(value) for value in rests_on if value is not None)


def _unmeasured_reason(cell: Cell) -> str:
    why = next((FLAG_SENTENCES[flag] for flag in cell.flags), "The body could not be measured.")
    return f"A larva whose age cannot be told: {_inner(why)}"


def other_reason(cell: Cell) -> str:
    """Return the sentence about a cell that holds no larva, or whose content cannot be told."""
    reason = _OTHER_REASONS[cell.content]
    if cell.content is Content.UNCLEAR and cell.flags:
        return f"{reason.removesuffix('.')}: {_inner(FLAG_SENTENCES[cell.flags[0]])}"
    return reason


def _inner(sentence: str) -> str:
    """Return a sentence as it reads after a colon."""
    return sentence[0].lower() + sentence[1:]
