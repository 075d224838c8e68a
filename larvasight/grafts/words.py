"""What the kinds of a record of grafts are called on screens, on paper and in tables."""

from datetime import date
from typing import Final

from larvasight.grafts.batch import Batch
from larvasight.grafts.kinds import AgeBand, Factor, Fate, Feeding, Stage, Times, Tool

_DASH: Final = "\N{EN DASH}"
MONTHS: Final = (
    *("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
)
TOOL_WORDS: Final[dict[str, str]] = {
    Tool.RIGID: "rigid tool",
    Tool.FLEXIBLE: "flexible tip with plunger",
    Tool.BRUSH: "brush",
    Tool.OTHER: "another tool",
}
PRIMING_WORDS: Final[dict[str, str]] = {"yes": "primed cups", "no": "dry cups"}
FEEDING_WORDS: Final[dict[str, str]] = {
    Feeding.WELL_FED: "well-fed larvae",
    Feeding.HUNGRY: "hungry larvae",
}
TIMES_WORDS: Final[dict[str, str]] = {
    Times.SINGLE: "single graft",
    Times.DOUBLE: "double graft",
}
AGE_WORDS: Final[dict[str, str]] = {
    AgeBand.UNDER_12: "under 12 h",
    AgeBand.FROM_12: f"12{_DASH}24 h",
    AgeBand.OVER_24: "over 24 h",
}
STAGE_WORDS: Final[dict[Stage, str]] = {
    Stage.GRAFTED: "grafted",
    Stage.ACCEPTED: "accepted",
    Stage.CAPPED: "capped",
    Stage.EMERGED: "emerged",
    Stage.MATED: "mated",
    Stage.LAYING: "laying",
}
# What is said of a cup that did not come further than a stage.
LOST_WORDS: Final[dict[Stage, str]] = {
    Stage.GRAFTED: "not accepted",
    Stage.ACCEPTED: "lost before capping",
    Stage.CAPPED: "did not emerge",
    Stage.EMERGED: "lost before mating",
    Stage.MATED: "never laid",
}
FACTOR_WORDS: Final[dict[Factor, str]] = {
    Factor.TOOL: "Tools",
    Factor.PRIMING: "Primed or dry cups",
    Factor.FEEDING: "Well-fed or hungry larvae",
    Factor.AGE: "Age of the larvae",
    Factor.GRAFTER: "People",
}
_VALUE_WORDS: Final[dict[Factor, dict[str, str]]] = {
    Factor.TOOL: TOOL_WORDS,
    Factor.PRIMING: PRIMING_WORDS,
    Factor.FEEDING: FEEDING_WORDS,
    Factor.AGE: AGE_WORDS,
}


def value_words(factor: Factor, value: str) -> str:
    """Return what a value of a factor is called; a grafter's name is its own word."""
    return _VALUE_WORDS.get(factor, {}).get(value, value)


def cup_words(reached: Stage, fate: Fate) -> str:
    """Return in a few words what became of a cup."""
    if fate is Fate.LOST:
        return LOST_WORDS[reached]
    words = STAGE_WORDS[reached]
    return f"{words}, given away" if fate is Fate.GIVEN_AWAY else words


def day_words(day: date) -> str:
    """Return a day as ``14 May 2027``."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def batch_words(batch: Batch) -> str:
    """Return a batch in one line: day, who, from which breeder, how many cups."""
    n = len(batch.cups)
    told = [day_words(batch.grafted_on), batch.grafter]
    if batch.breeder:
        told.append(f"from {batch.breeder}")
    told.append(f"{n} cup" if n == 1 else f"{n} cups")
    return ", ".join(told)
