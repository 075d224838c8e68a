"""The spans a teacher can set, and what they are without setting."""

import math

import pytest

from larvasight.grading import Limits


@pytest.mark.reference("common practice")
def test_spans_are_those_usually_taught():
    limits = Limits()
    assert (limits.young_h, limits.old_h) == (6.0, 30.0)
    assert (limits.best_young_h, limits.best_old_h) == (12.0, 24.0)


@pytest.mark.parametrize(
    "spans",
    [
        {"young_h": 0.0, "old_h": 96.0},
        {"young_h": 12.0, "best_young_h": 12.0},
        {"best_young_h": 20.0, "best_old_h": 20.0},
        {"best_old_h": 30.0},
    ],
)
def test_a_best_span_within_the_usable_one_is_taken(spans):
    limits = Limits(**spans)
    assert limits.young_h <= limits.best_young_h <= limits.best_old_h <= limits.old_h


@pytest.mark.parametrize(
    ("spans", "named"),
    [
        ({"young_h": -1.0}, "young_h"),
        ({"young_h": 13.0}, "young_h"),
        ({"best_young_h": 25.0}, "best_old_h"),
        ({"best_old_h": 31.0}, "best_old_h"),
        ({"old_h": 20.0}, "best_old_h"),
        ({"old_h": 97.0}, "old_h"),
        ({"old_h": math.nan}, "best_old_h"),
        ({"young_h": math.nan}, "young_h"),
    ],
)
def test_spans_that_do_not_lie_in_each_other_are_refused(spans, named):
    with pytest.raises(ValueError, match=rf"^{named} must lie between"):
        Limits(**spans)
