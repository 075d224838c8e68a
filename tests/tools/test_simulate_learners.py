"""Simulated learners: edges are found in few cells, and intervals hold as often as they say."""

import numpy as np
import pytest

from simulate_learners import CASES, CELLS_FIXED, coverage, simulate, table_line

TRUE_AGES, AS_SEEN, TWO_SPREADS, NORMAL_CURVE = CASES
AT_STOP = len(CELLS_FIXED)


def median_cells(found):
    return np.median([one.n_narrow for one in found])


@pytest.fixture(scope="module")
def seen():
    return simulate(AS_SEEN, 60, seed=3)


def test_edges_of_what_is_seen_are_found_within_a_session(seen):
    assert median_cells(seen) <= 60
    assert np.mean([one.n_stop <= 120 for one in seen]) >= 0.8


@pytest.mark.parametrize("at", range(AT_STOP + 1))
def test_intervals_hold_the_edges_of_sixty_learners(seen, at):
    # 120 intervals at 95 %: fewer than 105 held would come once in ten thousand times.
    assert coverage(seen, at) >= 0.88


def test_values_lie_within_three_hours_after_sixty_cells(seen):
    misses_h = np.abs([one.misses_h[0] for one in seen])
    assert (misses_h <= 3.0).mean() >= 0.9


def test_the_same_seed_gives_the_same_learners(seen):
    assert simulate(AS_SEEN, 3, seed=3) == seen[:3]


def test_a_line_of_the_table_names_its_case(seen):
    assert table_line(AS_SEEN, seen[:5]).startswith(AS_SEEN.name)


@pytest.mark.long
def test_many_learners_judged_by_true_ages_need_few_cells():
    found = simulate(TRUE_AGES, 400, seed=1)
    assert median_cells(found) <= 45
    assert all(0.92 <= coverage(found, at) <= 0.98 for at in range(AT_STOP + 1))


@pytest.mark.long
@pytest.mark.parametrize(
    ("case", "least"),
    [(AS_SEEN, 0.92), (TWO_SPREADS, 0.90), (NORMAL_CURVE, 0.90)],
    ids=lambda value: getattr(value, "name", ""),
)
def test_intervals_of_many_learners_hold_as_often_as_they_say(case, least):
    found = simulate(case, 400, seed=1)
    assert median_cells(found) <= 60
    assert all(least <= coverage(found, at) <= 0.98 for at in range(AT_STOP + 1))
