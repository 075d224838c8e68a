"""What a record of grafts says, in plain sentences: shares as so many of 100, never as odds."""

from collections.abc import Sequence

from larvasight.grafts.acceptance import Step, Takes
from larvasight.grafts.comparing import WORTH, Comparison, Level, Verdict
from larvasight.grafts.kinds import Factor, Stage
from larvasight.grafts.words import STAGE_WORDS, value_words
from larvasight.stats import Interval

_DASH = "\N{EN DASH}"
COLONY_AND_WEATHER = (
    "The hand is only a part of it: colony, food coming in and weather decide as much. Few cups "
    "say little."
)
SAME_DAY = (
    "To learn more from fewer cups, graft both on the same day and in the same colony, best in "
    "turn on one bar."
)
BY_CHANCE = (
    "Of twenty such comparisons about one seems to show something by chance alone. What is told "
    "here is a sign to try again, not a proof. Where one person always used the same tool, hand "
    "and tool cannot be told apart."
)


def hundred(share: float) -> str:
    """Return a share as a whole number of 100."""
    return f"{100.0 * share:.0f}"


def span_words(share: Interval) -> str:
    """Return an interval as ``56-79 of 100``."""
    return f"{hundred(share.lo)}{_DASH}{hundred(share.hi)} of 100"


def takes_words(takes: Takes) -> str:
    """Return how many cups were accepted, and between what the true share lies."""
    if takes.share is None:
        return "not looked at yet"
    told = f"{takes.n_accepted} of {takes.n_known} accepted (likely {span_words(takes.share)})"
    return f"{told}, {takes.n_open} not looked at yet" if takes.n_open else told


def level_words(factor: Factor, level: Level) -> str:
    """Return one tool, kind of priming, age or person with what was accepted."""
    return f"{_first_upper(value_words(factor, level.value))}: {takes_words(level.takes)}."


def comparison_title(found: Comparison) -> str:
    """Return which two are held against each other."""
    first = value_words(found.factor, found.first.value)
    return f"{_first_upper(first)} and {value_words(found.factor, found.second.value)}"


def comparison_words(found: Comparison) -> str:
    """Return in a sentence or two what a comparison comes to."""
    where = "On the same days" if found.is_within_day else "On different days"
    worth = hundred(WORTH.value)
    first, second = (value_words(found.factor, v.value) for v in (found.first, found.second))
    against = f"{first} against {second}"
    if found.verdict is Verdict.TOO_FEW:
        return (
            f"Too few cups to tell: about {found.n_needed} more of each would show a difference "
            f"of {worth} in 100. So far it may be anything from {_span(found.interval)} of 100 "
            f"accepted, {against}."
        )
    if found.verdict is Verdict.NO_DIFFERENCE:
        return (
            f"{where} no difference was found; one of {worth} in 100 would most likely show. "
            f"Likely are {_span(found.interval)} of 100 accepted, {against}."
        )
    better, span = found.first, found.interval
    if found.verdict is Verdict.SECOND:
        better, span = found.second, Interval(lo=-span.hi, hi=-span.lo)
    name = value_words(found.factor, better.value)
    more = hundred(abs(found.difference))
    told = (
        f"{where} the better one was {name}: about {more} more of 100 accepted, most likely "
        f"{_span(span)}."
    )
    if found.is_within_day:
        return told
    return f"{told} Weather or colony of those days may have done it."


def steps_words(steps: Sequence[Step]) -> str:
    """Return how many cups came how far, in one sentence; stages that none came to are left out."""
    first, *others = steps
    came = [step for step in others if step.n_reached] or others[:1]
    told = [f"{step.n_reached} {STAGE_WORDS[step.stage]}" for step in came]
    return f"Of {first.n_reached} grafted: {', '.join(told)}."


def step_words(step: Step) -> str:
    """Return what became of the cups that came no further than a stage, empty where none did."""
    counted = [(step.n_lost, "lost"), (step.n_given_away, "given away")]
    if step.stage is not Stage.LAYING:  # there is nothing more to be known
        counted.append((step.n_open, "not known yet"))
    return ", ".join(f"{n} {words}" for n, words in counted if n)


def _span(difference: Interval) -> str:
    """Return where a difference lies: ``4 to 31 more``, ``12 fewer to 30 more``."""
    low, high = (round(100.0 * limit) for limit in (difference.lo, difference.hi))
    if low < 0 < high:
        return f"{-low} fewer to {high} more"
    if high <= 0:
        return f"{-high} to {-low} fewer"
    return f"{low} to {high} more"


def _first_upper(words: str) -> str:
    return words[:1].upper() + words[1:]
