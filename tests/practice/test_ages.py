"""Ages asked in Take or leave: near the edges, right about 85 times in 100."""

import math

import numpy as np
import pytest
from scipy.special import expit

from larvasight.grading import Limits
from larvasight.practice.ages import (
    TEACHING_SPREADS,
    choose_age,
    old_edge_share,
    right_share_at,
)
from larvasight.stats import EdgePosterior

LIMITS = Limits()


def edges(young_h, old_h, n_each=8):
    ages_h = np.repeat(np.arange(-12.0, 72.0, 2.0), n_each)
    passed = expit((ages_h - young_h) / 2.0) * expit((old_h - ages_h) / 2.0)
    found = EdgePosterior()
    found.update_many(ages_h, np.random.default_rng(4).random(len(ages_h)) < passed)
    return found


GOOD = edges(4.0, 28.0)


def chosen(posterior, n=3000, seed=1, limits=LIMITS):
    rng = np.random.default_rng(seed)
    return [choose_age(posterior, limits, rng) for _ in range(n)]


@pytest.mark.reference("Wilson et al. 2019: 15.87 % wrong, the normal tail beyond one SD")
def test_eighty_five_in_a_hundred_is_nearly_the_published_optimum():
    assert 1.0 - right_share_at(TEACHING_SPREADS) == pytest.approx(0.1587, rel=0, abs=0.01)


def test_the_teaching_distance_is_where_85_in_100_are_right():
    assert pytest.approx(1.735, rel=0, abs=0.001) == TEACHING_SPREADS
    assert right_share_at(TEACHING_SPREADS) == pytest.approx(0.85, rel=1e-12)
    assert right_share_at(0.0) == 0.5


def test_a_learner_is_right_about_85_times_in_100():
    asked = chosen(GOOD)
    shares = [right_share_at(one.spreads) for one in asked]
    assert np.mean(shares) == pytest.approx(0.85, rel=0, abs=0.02)


def test_one_in_five_is_easier_and_one_in_five_harder():
    spreads = np.array([one.spreads for one in chosen(GOOD) if not one.is_inside])
    assert (spreads > TEACHING_SPREADS + 0.01).mean() == pytest.approx(0.2, rel=0, abs=0.03)
    assert (spreads < TEACHING_SPREADS - 0.01).mean() == pytest.approx(0.2, rel=0, abs=0.03)


def test_ages_lie_where_they_are_said_to():
    young_h, old_h = GOOD.young_edge_h.value, GOOD.old_edge_h.value
    for one in chosen(GOOD, 400):
        edge_h = old_h if one.is_old_edge else young_h
        assert abs(one.age_h - edge_h) == pytest.approx(one.spreads * GOOD.spread_h.value)
        is_between = young_h < one.age_h < old_h
        assert is_between is one.is_inside


def test_edges_that_lie_well_are_asked_alike():
    assert old_edge_share(GOOD, LIMITS) == 0.5
    asked = chosen(GOOD)
    assert np.mean([one.is_old_edge for one in asked]) == pytest.approx(0.5, rel=0, abs=0.03)


@pytest.mark.parametrize(
    ("young_h", "old_h", "more_old"),
    [(4.0, 40.0, True), (4.0, 18.0, True), (14.0, 28.0, False), (-6.0, 28.0, False)],
)
def test_the_worse_edge_is_asked_more_often_and_the_other_not_dropped(young_h, old_h, more_old):
    share = old_edge_share(edges(young_h, old_h), LIMITS)
    assert (share > 0.55) if more_old else (share < 0.45)
    assert 0.25 <= share <= 0.75


def test_a_beginner_of_whom_nothing_is_known_gets_ages_too():
    ages_h = [one.age_h for one in chosen(EdgePosterior(), 500)]
    assert min(ages_h) < 6.0
    assert max(ages_h) > 36.0
    assert max(ages_h) <= 96.0


def test_the_same_chance_chooses_the_same_ages():
    assert chosen(GOOD, 50, seed=9) == chosen(GOOD, 50, seed=9)


@pytest.mark.parametrize("spreads", [-0.1, math.nan])
def test_distances_that_cannot_be_are_refused(spreads):
    with pytest.raises(ValueError, match=r"^spreads must lie between"):
        right_share_at(spreads)
