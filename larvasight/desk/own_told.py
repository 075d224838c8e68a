"""What is told of a cell of an own photo that is practised on."""

from dataclasses import dataclass, replace

from larvasight.desk.why import Why, why_measured
from larvasight.grading import Limits
from larvasight.sheet import Cell, Content, Grade, Sheet

NOT_SCORED = "not scored"
_WHY_NOT = "Not scored: nobody can be sure of the answer here."


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnTold:
    """What is known of one cell: ``band_h`` is its age by all of it, ``known_h`` by the laying.

    ``is_sure`` is False where it is never scored; ``note`` is a sentence, or empty.
    """

    band_h: tuple[float, float] | None
    is_sure: bool
    known_h: tuple[float, float] | None = None
    note: str = ""

    @property
    def words(self) -> str:
        """What stands over the cell once it is told; ages as a band."""
        if not self.is_sure:
            return NOT_SCORED
        if self.band_h is None:
            return ""
        return f"{max(0.0, self.band_h[0]):.0f}\N{EN DASH}{self.band_h[1]:.0f} h"


def why_own(told: OwnTold, cell: Cell, sheet: Sheet, limits: Limits) -> Why:
    """Return what is shown of a cell of an own photo that was asked."""
    why = why_measured(cell, sheet)
    notes = tuple(words for words in (told.note, *why.notes) if words)
    if not told.is_sure:
        return replace(why, notes=(_WHY_NOT, *notes), verdict="Not scored", grade=None)
    if cell.content is not Content.LARVA or told.band_h is None:
        return replace(why, notes=notes)
    grade, verdict = _verdict(told.band_h, limits)
    why = replace(why, notes=notes, verdict=verdict, grade=grade, known_h=told.known_h)
    if told.known_h is None:
        return why
    by = "the time of laying" if told.band_h == told.known_h else "its measures and the laying"
    known = f"By {by} it is {told.words} old: {verdict.lower()}."
    return replace(why, sentence=known if cell.age_h is None else f"{why.sentence} {known}")


def _verdict(band_h: tuple[float, float], limits: Limits) -> tuple[Grade, str]:
    if band_h[0] > limits.old_h:
        return Grade.TOO_OLD, "Too old"
    if band_h[1] < limits.young_h:
        return Grade.VERY_YOUNG, "Very young"
    return Grade.TAKE, "Young enough to take"
