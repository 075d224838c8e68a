"""The words a record of grafts is made of. Their values are stored and never change."""

from enum import StrEnum


class Tool(StrEnum):
    """What lifts the larva."""

    RIGID = "rigid"
    FLEXIBLE = "flexible"
    BRUSH = "brush"
    OTHER = "other"


class Feeding(StrEnum):
    """How the larvae lay on the comb: floating on jelly, or nearly dry."""

    WELL_FED = "well-fed"
    HUNGRY = "hungry"


class Times(StrEnum):
    """Grafted once, or a second larva laid into the cup a day later."""

    SINGLE = "single"
    DOUBLE = "double"


class AgeBand(StrEnum):
    """Age of the larvae grafted, hours after hatching, as the grafter judged it."""

    UNDER_12 = "under-12-h"
    FROM_12 = "12-24-h"
    OVER_24 = "over-24-h"


class Stage(StrEnum):
    """How far a cup came; in the order in which it comes there."""

    GRAFTED = "grafted"
    ACCEPTED = "accepted"
    CAPPED = "capped"
    EMERGED = "emerged"
    MATED = "mated"
    LAYING = "laying"


class Fate(StrEnum):
    """What became of a cup after its last stage.

    ``OPEN``: not known yet. ``LOST``: it did not reach the next stage. ``GIVEN_AWAY``: cell or
    queen left this record alive, so it counts for no later step.
    """

    OPEN = "open"
    LOST = "lost"
    GIVEN_AWAY = "given-away"


class Factor(StrEnum):
    """What a batch can alternate from cup to cup, and what batches are compared by."""

    TOOL = "tool"
    PRIMING = "priming"
    FEEDING = "feeding"
    AGE = "age"
    GRAFTER = "grafter"


STAGES: tuple[Stage, ...] = tuple(Stage)
# Stages that a date can be noted for; the first is the batch's own.
DATED: tuple[Stage, ...] = STAGES[1:]
# What can change from cup to cup on one bar, with the values it can take.
ALTERNATING: dict[Factor, tuple[str, ...]] = {
    Factor.TOOL: tuple(tool.value for tool in Tool),
    Factor.PRIMING: ("yes", "no"),
    Factor.FEEDING: tuple(feeding.value for feeding in Feeding),
    Factor.AGE: tuple(band.value for band in AgeBand),
}


def stages_up_to(stage: Stage) -> tuple[Stage, ...]:
    """Return the stages from the first to this one."""
    return STAGES[: STAGES.index(stage) + 1]
