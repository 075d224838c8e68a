"""The gap between two larvae: narrower after two right, wider after one wrong."""

import math

import numpy as np
import pytest

from larvasight.practice.staircase import GAPS_H, GapStaircase


def gaps(answers):
    at, seen = GapStaircase(), []
    for is_right in answers:
        at = at.after(is_right=is_right)
        seen.append(at.gap_h)
    return seen


def test_two_right_narrow_and_one_wrong_widens():
    assert gaps([1, 1, 1, 1, 0, 1, 0, 1, 1]) == [12, 8, 8, 6, 8, 8, 12, 12, 8]


def test_the_gap_stays_between_twelve_and_three_hours():
    assert GAPS_H == (12.0, 8.0, 6.0, 4.0, 3.0)
    assert gaps([1] * 40)[-1] == 3.0
    assert gaps([0] * 5) == [12.0] * 5


def test_right_answers_with_a_wrong_one_between_do_not_count_together():
    assert gaps([1, 1, 1, 0, 1])[-1] == 12.0


@pytest.mark.reference("Levitt 1971: two right down, one wrong up settles at 70.7 % right")
def test_it_settles_where_seven_in_ten_are_right():
    rng, at, right = np.random.default_rng(1), GapStaircase(step=2), []
    for _ in range(6000):
        share = 0.5 + 0.5 / (1.0 + math.exp(-(at.gap_h - 6.2) / 0.9))
        right.append(rng.random() < share)
        at = at.after(is_right=right[-1])
    assert np.mean(right) == pytest.approx(0.707, rel=0, abs=0.04)


@pytest.mark.parametrize("wrong", [{"step": 5}, {"step": -1}, {"n_right": 2}])
def test_steps_that_are_not_there_are_refused(wrong):
    with pytest.raises(ValueError, match=r"must lie between 0 and"):
        GapStaircase(**wrong)
