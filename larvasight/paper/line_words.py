"""What is said of a learner's line: the youngest and the oldest taken, what moved, what is next."""

from datetime import date

from larvasight.grading import Limits
from larvasight.paper.lettering import NO_BREAK, span_text
from larvasight.practice import TOO_FEW
from larvasight.practice.line import Line, when_text
from larvasight.practice.spacing import is_drift
from larvasight.stats import Estimate

LINE_TITLE = "Where your eye draws the line"
# Ages at which the search for a line ends: beyond them only "older than" can be said.
_OLDEST_H = 60.0


def few_sentence(line: Line) -> str:
    """Return what is said where no line is to be told."""
    if line.n < TOO_FEW:
        return f"Too few to tell: {line.n} of {TOO_FEW} cells with a larva or an egg."
    return "You took none of these cells, so no line can be told."


def youngest_words(young: Estimate, limits: Limits) -> str:
    """Return the youngest age taken as a band, and that right ones are left where that is so."""
    if round(young.hi) <= 0:
        return "The youngest you take: eggs among them"
    said = f"The youngest you take: {_band(young)}"
    if round(young.lo) > limits.young_h:
        return f"{said}; those from {limits.young_h:.0f}{NO_BREAK}h on would do"
    return said


def oldest_words(old: Estimate, limits: Limits) -> str:
    """Return the oldest age taken as a band, against the teacher's limit."""
    limit = f"the limit of {limits.old_h:.0f}{NO_BREAK}h"
    side = "perhaps past"
    if round(old.hi) <= limits.old_h:
        side = "within"
    elif round(old.lo) > limits.old_h:
        side = "past"
    return f"The oldest you take: {_band(old)}, {side} {limit}"


def edge_text(edge: Estimate) -> str:
    """Return an edge as it is said in a sentence."""
    return f"{edge.value:.0f}{NO_BREAK}h"


def sure_text(edge: Estimate) -> str:
    """Return the span in which an edge surely lies, from hatching on."""
    return span_text(max(edge.lo, 0.0), max(edge.hi, 0.0))


def rough_sentence(line: Line) -> str:
    """Return that both ages are rough where the line is gradual, else nothing."""
    if not line.is_enough or line.is_clear:
        return ""
    return "Your line is still gradual, so both ages are rough."


def moved_sentence(line: Line) -> str:
    """Return whether the oldest age taken moved since the time before."""
    if len(line.days) < 2 or line.moved is None:
        return "Whether it moves can be told after another day with 40 cells."
    before = line.days[-2].last
    since = f"since {before.day}{NO_BREAK}{before:%B}"
    if not is_drift(line.moved):
        return f"The oldest you take has not surely moved {since}."
    way = "older" if line.moved.value > 0.0 else "younger"
    about = f"{abs(line.moved.value):.0f}{NO_BREAK}h"
    return f"The oldest you take has moved about {about} to {way} larvae {since}."


def next_sentence(line: Line, today: date, minutes_left: float = 0.0) -> str:
    """Return which drill comes next, when, and why, and what is left of today before that."""
    left = ""
    if round(minutes_left) >= 1:
        many = f"{minutes_left:.0f}{NO_BREAK}minute{'' if round(minutes_left) == 1 else 's'}"
        left = f"Today is not done yet: about {many} more, under Practise. "
    when = when_text(line.next.day, today)
    title = line.next.title if line.next.title.endswith("?") else f"{line.next.title}."
    return (
        f"{left}Next drill {when}, about {line.next.minutes:.0f} minutes: {title} {line.next.why}"
    )


def _band(edge: Estimate) -> str:
    low, high = max(0, round(edge.lo)), round(edge.hi)
    if high >= _OLDEST_H:
        return f"{low}{NO_BREAK}h or more"
    if low == high:
        return f"about {low}{NO_BREAK}h"
    return f"{low} to {high}{NO_BREAK}h"
