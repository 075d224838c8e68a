"""A row put in order: its score and the next row's step."""

import math
from itertools import permutations

import pytest
from scipy.stats import kendalltau

from larvasight.practice.ordering import STEPS_H, next_step, order_score

ROW = (4.0, 14.0, 24.0, 34.0, 44.0)


def test_right_order_is_one_and_the_reverse_is_minus_one():
    assert order_score(ROW) == pytest.approx(1.0)
    assert order_score(ROW[::-1]) == pytest.approx(-1.0)


@pytest.mark.reference("Kendall 1938: 1 less two for each pair changed over, of 10 pairs of five")
@pytest.mark.parametrize("order", list(permutations(ROW))[::7])
def test_score_counts_pairs_in_the_wrong_order(order):
    n_wrong = sum(order[i] > order[j] for i in range(5) for j in range(i + 1, 5))
    assert order_score(order) == pytest.approx(1.0 - 2.0 * n_wrong / 10.0)


@pytest.mark.reference("scipy.stats.kendalltau, variant b")
def test_equal_ages_say_nothing():
    row = (4.0, 14.0, 14.0, 34.0, 24.0)
    expected = kendalltau([1, 2, 3, 4, 5], row, variant="b").statistic
    assert order_score(row) == pytest.approx(expected)
    assert order_score((14.0, 4.0, 4.0)) == -order_score((4.0, 4.0, 14.0))
    assert math.isnan(order_score((4.0, 4.0, 4.0)))


@pytest.mark.parametrize("row", [(), (4.0,), (4.0, math.nan, 8.0)])
def test_rows_that_cannot_be_ordered_are_refused(row):
    with pytest.raises(ValueError, match=r"^ages_h must hold at least 2 numbers"):
        order_score(row)


def test_one_pair_of_neighbours_wrong_goes_on_and_more_does_not():
    assert STEPS_H == (10.0, 6.0, 4.0)
    one, two = order_score((14.0, 4.0, 24.0, 34.0, 44.0)), order_score((14.0, 4.0, 34.0, 24.0, 44))
    assert [next_step(0, score) for score in (1.0, one, two)] == [1, 1, 0]
    assert next_step(2, 1.0) == 2


def test_a_row_all_wrong_goes_back():
    assert [next_step(step, 0.2) for step in (0, 1, 2)] == [0, 0, 1]
    assert next_step(1, 0.4) == 1


@pytest.mark.parametrize("step", [-1, 3])
def test_steps_that_are_not_there_are_refused(step):
    with pytest.raises(ValueError, match=r"^step must lie between 0 and 2"):
        next_step(step, 1.0)
