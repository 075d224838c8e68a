"""The short test of a course day: wide intervals, told as such, and no pass."""

import math
import re
from dataclasses import fields

import numpy as np
import pytest

from larvasight.practice import CONTENT_CODES, AnswerTable
from larvasight.practice.course_day import CourseDay, course_day
from larvasight.sheet import Content
from larvasight.stats import wilson_interval


def table_of(taken, n=40):
    ages_h = np.linspace(1.0, 60.0, n)
    return AnswerTable(
        answered_utc_ms=np.zeros(n, dtype=np.int64),
        content=np.full(n, CONTENT_CODES.index(Content.LARVA), dtype=np.int8),
        age_h=ages_h,
        looks_age_h=ages_h,
        is_plain=np.ones(n, dtype=bool),
        taken=taken(ages_h),
        response_ms=np.full(n, math.nan),
        young_h=np.full(n, 6.0),
        old_h=np.full(n, 30.0),
    )


def test_forty_cells_tell_little_and_say_so():
    told = course_day(table_of(lambda ages_h: ages_h < 36.0))
    assert told.score.right == wilson_interval(told.score.n_right, told.score.n_picks)
    old = told.edges.old_edge_h
    assert old.lo < 36.0 < old.hi
    assert old.half_width > 1.5
    assert f"{told.score.n_right} of {told.score.n_picks} picks were right" in told.sentence
    assert f"{old.lo:.0f} to {old.hi:.0f} h" in told.sentence
    assert told.sentence.endswith("it cannot show that you are ready.")


def test_it_has_no_pass():
    names = {field.name for field in fields(CourseDay)}
    assert not any(re.search("pass|ready|state", name) for name in names)


def test_who_takes_nothing_is_told_nothing():
    told = course_day(table_of(lambda ages_h: ages_h < 0.0))
    assert told.sentence == "Of 40 cells you took none that counts, so nothing can be told."


@pytest.mark.parametrize("n", [0, 39, 41])
def test_other_numbers_of_cells_are_refused(n):
    with pytest.raises(ValueError, match=rf"^table must hold 40 answers, got {n}$"):
        course_day(table_of(lambda ages_h: ages_h < 30.0, n))
