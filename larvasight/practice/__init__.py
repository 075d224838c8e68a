"""Drills, the shared runner, scores and progress; edges, the screen test, what to practise when."""

from larvasight.geometry.facts import Fact
from larvasight.practice import ages, measuring, spacing, stages, tool_entry
from larvasight.practice.cells import Answer, Given, ShownCell, shown_cell
from larvasight.practice.drills import (
    DRILLS,
    PICK_FROM_PATCH,
    PICK_FROM_SIDE,
    TAKE_OR_LEAVE,
    Drill,
    Feedback,
    Shows,
    drill_of,
)
from larvasight.practice.progress import (
    TOO_FEW,
    AgeShare,
    DayScore,
    Progress,
    TakenShare,
    say_next,
    summarise,
)
from larvasight.practice.rounds import Round
from larvasight.practice.scoring import (
    OUTCOME_WORDS,
    Outcome,
    Score,
    detection_of,
    outcome_of,
    outcomes,
    score,
)
from larvasight.practice.table import CONTENT_CODES, AnswerTable

FACTS: tuple[Fact, ...] = (
    *measuring.FACTS,
    *ages.FACTS,
    *stages.FACTS,
    *spacing.FACTS,
    *tool_entry.FACTS,
)

__all__ = [
    "CONTENT_CODES",
    "DRILLS",
    "FACTS",
    "OUTCOME_WORDS",
    "PICK_FROM_PATCH",
    "PICK_FROM_SIDE",
    "TAKE_OR_LEAVE",
    "TOO_FEW",
    "AgeShare",
    "Answer",
    "AnswerTable",
    "DayScore",
    "Drill",
    "Feedback",
    "Given",
    "Outcome",
    "Progress",
    "Round",
    "Score",
    "ShownCell",
    "Shows",
    "TakenShare",
    "detection_of",
    "drill_of",
    "outcome_of",
    "outcomes",
    "say_next",
    "score",
    "shown_cell",
    "summarise",
]
