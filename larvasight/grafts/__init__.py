"""The record of real grafts: batches, their cups, and what they say."""

from larvasight.grafts.batch import (
    CUPS_A_BAR,
    CUPS_MAX,
    Alternation,
    Batch,
    Cup,
    new_cups,
)
from larvasight.grafts.comparing import FACTS as _COMPARING
from larvasight.grafts.kinds import (
    ALTERNATING,
    DATED,
    STAGES,
    AgeBand,
    Factor,
    Fate,
    Feeding,
    Stage,
    Times,
    Tool,
)
from larvasight.grafts.marking import FACTS as _MARKING

FACTS = (*_COMPARING, *_MARKING)

__all__ = [
    "ALTERNATING",
    "CUPS_A_BAR",
    "CUPS_MAX",
    "DATED",
    "FACTS",
    "STAGES",
    "AgeBand",
    "Alternation",
    "Batch",
    "Cup",
    "Factor",
    "Fate",
    "Feeding",
    "Stage",
    "Times",
    "Tool",
    "new_cups",
]
