"""Drills, the shared runner, scores and progress."""

from larvasight.practice.cells import Answer, Given, ShownCell, shown_cell
from larvasight.practice.drills import (
    DRILLS,
    PICK_FROM_PATCH,
    TAKE_OR_LEAVE,
    Drill,
    Feedback,
    Shows,
    drill_of,
)
from larvasight.practice.rounds import Round
from larvasight.practice.table import CONTENT_CODES, AnswerTable

__all__ = [
    "CONTENT_CODES",
    "DRILLS",
    "PICK_FROM_PATCH",
    "TAKE_OR_LEAVE",
    "Answer",
    "AnswerTable",
    "Drill",
    "Feedback",
    "Given",
    "Round",
    "ShownCell",
    "Shows",
    "drill_of",
    "shown_cell",
]
