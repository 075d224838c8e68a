"""Measures to an age band, a grade for grafting and one plain sentence."""

from larvasight.geometry.facts import Fact
from larvasight.grading import grade, limits, truth
from larvasight.grading.grade import grade_cell, grade_sheet, shape_word, true_grade
from larvasight.grading.limits import Limits
from larvasight.grading.truth import (
    LOOKS_OTHER_H,
    NOT_COUNTED_H,
    TrueWords,
    age_words,
    explain_truth,
    is_just_past,
    looks_note,
)

FACTS: tuple[Fact, ...] = (*limits.FACTS, *grade.FACTS, *truth.FACTS)

__all__ = [
    "FACTS",
    "LOOKS_OTHER_H",
    "NOT_COUNTED_H",
    "Limits",
    "TrueWords",
    "age_words",
    "explain_truth",
    "grade_cell",
    "grade_sheet",
    "is_just_past",
    "looks_note",
    "shape_word",
    "true_grade",
]
