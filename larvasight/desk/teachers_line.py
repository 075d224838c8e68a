"""The teacher's line: where a teacher's own takes and leaves part, and what follows from it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, tzinfo
from typing import TYPE_CHECKING, Final, Literal
from uuid import UUID

import numpy as np

from larvasight.desk.practising import PreparedComb, prepare_comb
from larvasight.grading import Limits
from larvasight.practice import Answer, Shows
from larvasight.practice.drills import TEACHERS_LINE
from larvasight.practice.measuring import EGG_LOOKS_H
from larvasight.practice.planning import seen_age_h
from larvasight.render.tiles import TileLibrary
from larvasight.stats import EdgePosterior, Estimate

if TYPE_CHECKING:
    from larvasight.records.store import Store

# So many answers at least, and a gap to the wanted ages that is said aloud, h.
CELLS_LEAST: Final = 60
GAP_SAID_H: Final = 4.0
# So much likelier must answers be by a line than without one (natural logarithm). Of 60 cells taken
# at random, 3, 5 or 7 in 10, hardly one in 100 such lines passes; of real lines nearly all do.
_GAIN_LEAST: Final = 4.0
# Only the latest answers count: a teacher's eye moves, too.
_CELLS_LATEST: Final = 240
# Cells of one comb: eggs, and larvae at these ages, moved a little by chance.
_N_EGGS: Final = 3
_AGES_H: Final = tuple(range(1, 55, 2))
_JITTER_H: Final = 0.9
RUN_DRILL: Final = replace(TEACHERS_LINE, shows=Shows.ONE_CELL, n_asked=30)

Said = Literal["take", "leave", "cannot-tell"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TeachersLine:
    """What a teacher's answers tell.

    Attributes
    ----------
    learner_id, name : UUID, str
        Whose line it is.
    answers : sequence of tuple
        Age that the larva looks, h, and what was said of it, in the order of answering.
    edges : EdgePosterior
        What takes and leaves tell; cells of which nothing could be told say nothing.
    gain : float
        How much likelier the answers are by this line than if they were given blindly.
    measured_on : date
        Day of the latest answer.
    """

    learner_id: UUID
    name: str
    answers: Sequence[tuple[float, Said]]
    edges: EdgePosterior
    gain: float
    measured_on: date

    @property
    def n(self) -> int:
        """How many cells were marked."""
        return len(self.answers)

    @property
    def n_cannot_tell(self) -> int:
        """Of how many nothing could be told."""
        return sum(said == "cannot-tell" for _, said in self.answers)

    @property
    def is_enough(self) -> bool:
        """Whether there are answers enough to draw a line by."""
        return self.n >= CELLS_LEAST

    @property
    def is_clear(self) -> bool:
        """Whether the line can be taken as wanted ages."""
        return self.is_enough and self.edges.has_clear_window and self.gain >= _GAIN_LEAST


def teachers_line(store: "Store", learner_id: UUID, tz: tzinfo) -> TeachersLine | None:
    """Return the line of one teacher, None before the first answer.

    A cell of an own photo that was marked more than once counts once, as it was marked last.
    """
    rounds = store.kept_rounds(learner_id, [TEACHERS_LINE.key])
    name = next((one.name for one in store.learners() if one.id == learner_id), "")
    answers: dict[object, tuple[float, Said]] = {}
    for kept in rounds:
        photo = kept.recipe.get("photo")
        for cell, answer in zip(kept.cells, kept.answers, strict=True):
            age_h = seen_age_h(cell)
            if age_h is not None and answer is not None and answer in _SAID:
                which = cell.id if photo is None else (photo, cell.row, cell.col)
                answers.pop(which, None)
                answers[which] = (age_h, _SAID[answer])
    if not answers:
        return None
    latest = list(answers.values())[-_CELLS_LATEST:]
    edges = EdgePosterior()
    told = [(age_h, said == "take") for age_h, said in latest if said != "cannot-tell"]
    ages_h, taken = [age_h for age_h, _ in told], [took for _, took in told]
    edges.update_many(ages_h, taken)
    at = rounds[-1].ended_at_utc or rounds[-1].shown_at_utc
    return TeachersLine(
        learner_id=learner_id,
        name=name,
        answers=latest,
        edges=edges,
        gain=edges.gain_over_chance(ages_h, taken),
        measured_on=at.astimezone(tz).date(),
    )


def teachers_lines(store: "Store", tz: tzinfo) -> list[TeachersLine]:
    """Return the lines that can be scored by, the latest first."""
    found = [teachers_line(store, learner.id, tz) for learner in store.learners()]
    clear = [line for line in found if line is not None and line.is_clear]
    return sorted(clear, key=lambda line: line.measured_on, reverse=True)


def limits_by(line: TeachersLine, limits: Limits) -> Limits:
    """Return wanted ages whose usable span is a teacher's line, in whole hours.

    The best ages stay as they are, as far as they lie within.
    """
    young_h = float(max(0, round(line.edges.young_edge_h.value)))
    old_h = float(max(young_h, round(line.edges.old_edge_h.value)))
    best_young_h = min(max(limits.best_young_h, young_h), old_h)
    best_old_h = min(max(limits.best_old_h, best_young_h), old_h)
    return Limits(
        young_h=young_h,
        best_young_h=best_young_h,
        best_old_h=best_old_h,
        old_h=old_h,
        by=line.name,
    )


def line_words(line: TeachersLine) -> str:
    """Say in one line where a teacher draws the line."""
    if not line.is_enough:
        return f"{line.n} of {CELLS_LEAST} cells are marked: that is too few to tell a line."
    if not line.is_clear:
        return "Your answers do not part young ones from old ones clearly enough to tell a line."
    young, old = line.edges.young_edge_h, line.edges.old_edge_h
    youngest = "the egg" if young.value < 0.0 else f"{young.value:.0f} h"
    return f"{line.name} takes larvae from {youngest} to {old.value:.0f} h after hatching."


def sure_words(line: TeachersLine) -> str:
    """Say how closely both ends are known, and of how many cells nothing could be told."""
    young, old = line.edges.young_edge_h, line.edges.old_edge_h
    told = (
        f"By {line.n - line.n_cannot_tell} cells: the youngest lies most likely within "
        f"{_span(young)}, the oldest within {_span(old)}."
    )
    if not line.n_cannot_tell:
        return told
    ages = sorted(age_h for age_h, said in line.answers if said == "cannot-tell")
    middle = ages[len(ages) // 2]
    many = "1 cell" if line.n_cannot_tell == 1 else f"{line.n_cannot_tell} cells"
    looks = "eggs" if middle == EGG_LOOKS_H else f"larvae of about {middle:.0f} h"
    return f"{told} Of {many} you could not tell, mostly {looks}."


def gap_words(line: TeachersLine, limits: Limits) -> str:
    """Say aloud where a teacher's line lies more than 4 h from the wanted ages; else nothing.

    A young end within the egg is taken as 0 h: nobody wants less.
    """
    if not line.is_clear:
        return ""
    ends = (
        ("youngest", max(0.0, line.edges.young_edge_h.value), limits.young_h),
        ("oldest", line.edges.old_edge_h.value, limits.old_h),
    )
    said = [
        f"the {which} you take lies {abs(own_h - wanted_h):.0f} h "
        f"{'above' if own_h > wanted_h else 'below'} the {which} wanted, {wanted_h:.0f} h"
        for which, own_h, wanted_h in ends
        if abs(own_h - wanted_h) > GAP_SAID_H
    ]
    if not said:
        return ""
    return (
        f"Mind the gap: {' and '.join(said)}. Students are scored by the wanted ages, not by what "
        "you do."
    )


def prepare_line_comb(
    seed: int, *, size_px: tuple[int, int], limits: Limits, library: TileLibrary | None
) -> PreparedComb:
    """Draw a comb on which a teacher marks cells: eggs, and larvae of all ages alike."""
    rng = np.random.default_rng([seed, 7])
    ages = np.array(_AGES_H) + rng.uniform(-_JITTER_H, _JITTER_H, len(_AGES_H))
    wanted = [*ages.tolist(), *(_N_EGGS * [EGG_LOOKS_H])]
    mixed = tuple(float(wanted[int(k)]) for k in rng.permutation(len(wanted)))
    return prepare_comb(
        *(RUN_DRILL, seed), size_px=size_px, limits=limits, library=library, ages_h=mixed
    )


def _span(edge: Estimate) -> str:
    return f"{max(0.0, edge.lo):.0f}\N{EN DASH}{max(0.0, edge.hi):.0f} h"


_SAID: dict[Answer, Said] = {
    Answer.TAKE: "take",
    Answer.LEAVE: "leave",
    Answer.CANNOT_TELL: "cannot-tell",
}
