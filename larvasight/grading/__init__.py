"""Measures to an age band, a grade for grafting and one plain sentence."""

from larvasight.geometry.facts import Fact
from larvasight.grading import grade, limits
from larvasight.grading.grade import grade_cell, grade_sheet, shape_word, true_grade
from larvasight.grading.limits import Limits

FACTS: tuple[Fact, ...] = (*limits.FACTS, *grade.FACTS)

__all__ = ["FACTS", "Limits", "grade_cell", "grade_sheet", "shape_word", "true_grade"]
