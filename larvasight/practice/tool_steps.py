"""Where the tool goes in, step by step: from wide curves in clear light to the other hand."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum

from larvasight.errors import require_between

N_CELLS = 10
_LAST_SEEN = 5
_HITS_TO_GO_ON = 4
_HITS_TO_GO_BACK = 1


class ToolStep(IntEnum):
    """What the next cells are like, in order of difficulty."""

    WIDE_CURVES = 0
    NEARLY_STRAIGHT = 1
    NEAR_A_WALL = 2
    DIM_LIGHT = 3
    OTHER_HAND = 4


STEP_WORDS: dict[ToolStep, str] = {
    ToolStep.WIDE_CURVES: "wide curves in clear light",
    ToolStep.NEARLY_STRAIGHT: "nearly straight young larvae",
    ToolStep.NEAR_A_WALL: "larvae whose back is near a wall",
    ToolStep.DIM_LIGHT: "dim light",
    ToolStep.OTHER_HAND: "your other hand",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolCourse:
    """How far a learner has come.

    Four hits of the last five go one step on, one or none of them one step back. ``last_hits``
    holds the entries since the last change of step, the latest last, five at most.
    """

    step: ToolStep = ToolStep.WIDE_CURVES
    last_hits: tuple[bool, ...] = ()

    def after(self, *, is_hit: bool) -> "ToolCourse":
        """Return the course after one entry."""
        last = (*self.last_hits, is_hit)[-_LAST_SEEN:]
        if len(last) == _LAST_SEEN:
            if sum(last) >= _HITS_TO_GO_ON and self.step < ToolStep.OTHER_HAND:
                return ToolCourse(step=ToolStep(self.step + 1))
            if sum(last) <= _HITS_TO_GO_BACK and self.step > ToolStep.WIDE_CURVES:
                return ToolCourse(step=ToolStep(self.step - 1))
        return ToolCourse(step=self.step, last_hits=last)


def course_after(entries: Iterable[tuple[int, bool]]) -> ToolCourse:
    """Return how far a learner has come.

    Parameters
    ----------
    entries : iterable of tuple of int and bool
        Each entry's step, and whether it was a hit, oldest first.

    Raises
    ------
    ValueError
        If a step is not one of ``ToolStep``.
    """
    course: ToolCourse | None = None
    for step, is_hit in entries:
        require_between("step", step, ToolStep.WIDE_CURVES, ToolStep.OTHER_HAND)
        if course is None or course.step != step:
            course = ToolCourse(step=ToolStep(step))
        course = course.after(is_hit=is_hit)
    return course or ToolCourse()
