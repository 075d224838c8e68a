"""Kappa: as published and as a general library gives it."""

import numpy as np
import pytest
from statsmodels.stats.inter_rater import cohens_kappa

from larvasight.stats import agreement

COHEN_1960 = np.array([[88, 14, 18], [10, 40, 10], [2, 6, 12]])


@pytest.mark.reference("Cohen 1960, kappa .492, from memory")
def test_kappa_is_the_published_one():
    found = agreement(COHEN_1960)
    assert found.kappa == pytest.approx(0.492, rel=0, abs=0.0005)
    assert found.n == 200
    assert found.same_share == pytest.approx(0.70)


@pytest.mark.reference("a common encyclopaedia example, from memory")
@pytest.mark.parametrize(
    ("counts", "kappa"),
    [
        ([[20, 5], [10, 15]], 0.40),
        ([[45, 15], [25, 15]], 0.1304),
        ([[25, 35], [5, 35]], 0.2593),
    ],
)
def test_kappa_moves_with_how_common_the_names_are(counts, kappa):
    assert agreement(np.array(counts)).kappa == pytest.approx(kappa, rel=0, abs=5e-5)


@pytest.mark.reference("statsmodels.stats.inter_rater.cohens_kappa")
@pytest.mark.parametrize("weights", ["none", "linear", "quadratic"])
@pytest.mark.parametrize("seed", range(5))
def test_kappa_is_what_a_general_library_gives(seed, weights):
    rng = np.random.default_rng(seed)
    counts = rng.poisson(4.0, (5, 5)) + 12 * np.eye(5, dtype=int)
    theirs = cohens_kappa(counts, wt=None if weights == "none" else weights, return_results=True)
    assert agreement(counts, weights=weights).kappa == pytest.approx(theirs.kappa, rel=1e-12)


def test_near_misses_are_less_grave_than_far_ones():
    near = np.array([[8, 2, 0], [0, 10, 0], [0, 2, 8]])
    far = np.array([[8, 0, 2], [0, 10, 0], [2, 0, 8]])
    assert agreement(near).same_share == agreement(far).same_share
    near_kappa = agreement(near, weights="quadratic").kappa
    assert near_kappa > agreement(far, weights="quadratic").kappa + 0.2


def test_full_agreement_is_one():
    assert agreement(np.diag([3, 4, 5]), weights="quadratic").kappa == 1.0


@pytest.mark.parametrize("counts", [np.zeros((3, 3), dtype=int), np.diag([0, 7, 0])])
def test_where_chance_agrees_fully_nothing_is_told(counts):
    assert agreement(counts) is None


@pytest.mark.parametrize(
    ("counts", "message"),
    [
        (np.ones((2, 3), dtype=int), r"counts must have shape \(K, K\), got \(2, 3\)"),
        (np.array([[1, -1], [1, 1]]), "counts must lie between 0 and their sum = 2, got -1"),
        (np.array([[0.5, 1], [1, 1]]), "counts must be a finite whole number, got 0.5"),
    ],
)
def test_wrong_tables_are_refused(counts, message):
    with pytest.raises(ValueError, match=f"^{message}"):
        agreement(counts)


def test_unknown_weights_are_refused():
    with pytest.raises(ValueError, match=r"^weights must be"):
        agreement(COHEN_1960, weights="cubic")
