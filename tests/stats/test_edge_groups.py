"""Edges of many groups at once are what each group's answers tell one by one."""

import numpy as np
import pytest

from larvasight.stats import EdgePosterior, edges_of_groups
from larvasight.stats.edges import edge_grid

# Four larvae of each age, and how many of them were taken.
AGES_H = (*(-6, -2, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 32, 34, 38, 44, 52),)
PICKS = (0, 0, 0, 0, 1, 1, 2, 3, 4, 4, 4, 4, 4, 3, 3, 3, 2, 1, 1, 0, 0, 0)


def fixed():
    ages_h = np.repeat(np.array(AGES_H, dtype=float), 4)
    return ages_h, np.concatenate([np.arange(4) < k for k in PICKS])


def picked_by(rng, n, young_h, old_h, spread_h):
    ages_h = rng.uniform(-6.0, 72.0, n)
    young, old = (ages_h - young_h) / spread_h, (old_h - ages_h) / spread_h
    chance = 0.01 + 0.98 / (1.0 + np.exp(-young)) / (1.0 + np.exp(-old))
    return ages_h, rng.random(n) < chance


def one_by_one(ages_h, picked):
    found = EdgePosterior()
    found.update_many(ages_h, picked)
    return found


def numbers(found):
    edges = (found.young_edge_h, found.old_edge_h, found.spread_h)
    return [number for edge in edges for number in (edge.value, edge.lo, edge.hi)]


def test_at_whole_hours_a_group_tells_what_its_answers_tell_one_by_one():
    ages_h, picked = fixed()
    (found,) = edges_of_groups(ages_h, picked, np.zeros(len(ages_h), dtype=int), 1)
    assert numbers(found) == pytest.approx(numbers(one_by_one(ages_h, picked)), rel=0, abs=0.001)
    assert found.n_answers == len(ages_h)


@pytest.mark.reference("psignifit 4.3, logistic, ages from 14 h on: 29.716 (27.32-33.69), run once")
def test_the_old_edge_is_what_a_general_program_for_one_edge_gives():
    ages_h, picked = fixed()
    far = np.repeat([60.0, 70.0], 4)
    ages_h, picked = np.append(ages_h, far), np.append(picked, np.zeros(8, dtype=bool))
    (found,) = edges_of_groups(ages_h, picked, np.zeros(len(ages_h), dtype=int), 1)
    assert found.old_edge_h.value == pytest.approx(29.716, rel=0, abs=0.3)
    assert found.old_edge_h.lo == pytest.approx(27.32, rel=0, abs=0.7)


@pytest.mark.parametrize("spread_h", [0.8, 2.5, 5.0])
def test_between_whole_hours_edges_are_off_by_little(spread_h):
    ages_h, picked = picked_by(np.random.default_rng(3), 200, 7.3, 29.6, spread_h)
    (found,) = edges_of_groups(ages_h, picked, np.zeros(200, dtype=int), 1)
    assert numbers(found) == pytest.approx(numbers(one_by_one(ages_h, picked)), rel=0, abs=0.15)


def test_groups_tell_nothing_of_each_other():
    rng = np.random.default_rng(5)
    early, late = picked_by(rng, 150, 4.0, 24.0, 2.0), picked_by(rng, 150, 8.0, 40.0, 2.0)
    ages_h, picked = np.append(early[0], late[0]), np.append(early[1], late[1])
    mixed = rng.permutation(300)
    group = np.repeat([0, 2], 150)[mixed]
    found = edges_of_groups(ages_h[mixed], picked[mixed], group, 3)
    assert found[0].old_edge_h.value == pytest.approx(24.0, rel=0, abs=2.5)
    assert found[2].old_edge_h.value == pytest.approx(40.0, rel=0, abs=2.5)
    assert numbers(found[1]) == pytest.approx(numbers(EdgePosterior()), rel=1e-9)
    assert [each.n_answers for each in found] == [150, 0, 150]


def test_thousands_of_answers_in_one_group_still_tell():
    ages_h, picked = picked_by(np.random.default_rng(6), 20_000, 6.0, 30.0, 2.5)
    (found,) = edges_of_groups(ages_h, picked, np.zeros(20_000, dtype=int), 1)
    assert found.old_edge_h.value == pytest.approx(30.0, rel=0, abs=0.6)


@pytest.mark.parametrize(
    ("ages_h", "picked", "group", "message"),
    [
        ([1.0, 2.0], [True], [0, 0], "ages_h, picked and group must have one length"),
        ([np.nan], [True], [0], "ages_h must hold numbers"),
        ([1.0], [True], [2], "group must lie from 0 to 1, got 2"),
        ([1.0], [True], [-1], "group must lie from 0 to 1, got -1"),
    ],
)
def test_wrong_calls_are_refused(ages_h, picked, group, message):
    with pytest.raises(ValueError, match=message):
        edges_of_groups(ages_h, picked, group, 2)


def test_a_posterior_takes_one_number_for_each_combination():
    with pytest.raises(ValueError, match="log_chance must hold 24894 numbers"):
        EdgePosterior().update_by(np.zeros(3), 1)
    found = EdgePosterior()
    found.update_by(np.full(len(edge_grid().prior), -7.0), 1)
    assert numbers(found) == pytest.approx(numbers(EdgePosterior()), rel=1e-9)
