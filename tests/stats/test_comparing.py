"""Two shares told apart as published tables and other libraries have it."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import chi2, norm
from statsmodels.stats.contingency_tables import StratifiedTable
from statsmodels.stats.proportion import (
    power_proportions_2indep,
    samplesize_proportions_2indep_onetail,
)

from larvasight.stats import newcombe_difference
from larvasight.stats.comparing import Pair, Within, fisher_p, trials_to_tell, within_strata

# Success and failure under treatment, then under control, in eight centres.
CENTRES = (
    *((11, 25, 10, 27), (16, 4, 22, 10), (14, 5, 7, 12), (2, 14, 1, 16)),
    *((6, 11, 0, 12), (1, 10, 0, 10), (1, 4, 1, 8), (4, 2, 6, 1)),
)
# Admitted and rejected men, then women, in six departments.
DEPARTMENTS = (
    *((512, 313, 89, 19), (353, 207, 17, 8), (120, 205, 202, 391)),
    *((138, 279, 131, 244), (53, 138, 94, 299), (22, 351, 24, 317)),
)


# Rabbits cured and dead after penicillin at once, then after 1.5 h, at five doses.
RABBITS = ((0, 6, 0, 5), (3, 3, 0, 6), (6, 0, 2, 4), (5, 1, 6, 0), (2, 0, 5, 0))


def stratified(table):
    return StratifiedTable([np.array([[a, b], [c, d]], dtype=float) for a, b, c, d in table])


def sato_variance(table, difference):
    """Return Sato's variance of the common difference, were that the true one."""
    weight = total = 0.0
    for a, b, c, d in table:
        n, m = a + b, c + d
        weight += n * m / (n + m)
        p = (n**2 * c - m**2 * a + n * m * (m - n) / 2) / (n + m) ** 2
        total += difference * p + (a * d + c * b) / (2 * (n + m))
    return total / weight**2


def pairs(table):
    return [Pair(k1=a, n1=a + b, k2=c, n2=c + d) for a, b, c, d in table]


def chi_square(p):
    return chi2.isf(p, 1)


@pytest.mark.reference("R documentation, fisher.test, tea tasting: one-sided p = 0.2429")
def test_the_lady_tasting_tea():
    # Both tails of this even table weigh the same.
    assert fisher_p(Pair(k1=3, n1=4, k2=1, n2=4)) == pytest.approx(2 * 0.2429, abs=1e-4)


def test_fisher_agrees_with_counting_all_tables_by_hand():
    pair = Pair(k1=9, n1=10, k2=3, n2=10)
    chances = [math.comb(10, k) * math.comb(10, 12 - k) / math.comb(20, 12) for k in range(2, 11)]
    observed = chances[9 - 2]
    by_hand = sum(chance for chance in chances if chance <= observed * (1 + 1e-9))
    assert fisher_p(pair) == pytest.approx(by_hand, rel=1e-9)


def test_a_group_without_trials_tells_nothing():
    assert fisher_p(Pair(k1=0, n1=0, k2=3, n2=10)) == 1.0


@pytest.mark.reference("R documentation, mantelhaen.test, penicillin and rabbits: p = 0.047")
def test_the_library_compared_with_gives_a_published_chance():
    # Theirs is with continuity correction; ours goes without, as does the next check.
    assert stratified(RABBITS).test_null_odds(correction=True).pvalue == pytest.approx(
        0.047, abs=5e-4
    )


@pytest.mark.reference("statsmodels StratifiedTable.test_null_odds(correction=False)")
@pytest.mark.parametrize("table", [RABBITS, CENTRES, DEPARTMENTS])
def test_within_strata_gives_the_statistic_of_well_known_tables(table):
    expected = stratified(table).test_null_odds(correction=False)
    found = within_strata(pairs(table))
    assert chi_square(found.p) == pytest.approx(expected.statistic, rel=1e-9)
    assert found.p == pytest.approx(expected.pvalue, abs=1e-12)


def test_what_one_table_seems_to_say_may_vanish_within_strata():
    one = [sum(column) for column in zip(*DEPARTMENTS, strict=True)]
    assert fisher_p(pairs([one])[0]) < 1e-20
    within = within_strata(pairs(DEPARTMENTS))
    assert within.p > 0.2
    assert within.interval.lo < 0.0 < within.interval.hi


@pytest.mark.reference(
    "Agresti 2013, Categorical Data Analysis, 3rd ed., p. 231, as the R package cicalc quotes it: "
    "difference .130, standard error .050"
)
def test_the_common_difference_of_eight_centres_is_the_published_one():
    found = within_strata(pairs(CENTRES))
    assert found.difference == pytest.approx(0.130, abs=5e-4)
    assert math.sqrt(sato_variance(CENTRES, found.difference)) == pytest.approx(0.050, abs=5e-4)
    reach = (found.interval.hi - found.interval.lo) / 2.0
    assert reach / norm.isf(0.025) == pytest.approx(0.050, abs=1e-3)


@pytest.mark.reference("R package cicalc, ci_prop_diff_mh_strata: 95 % from 0.0313 to 0.2284")
def test_the_interval_of_eight_centres_lies_about_that_by_satos_variance():
    found = within_strata(pairs(CENTRES))
    z, error = norm.isf(0.025), math.sqrt(sato_variance(CENTRES, found.difference))
    assert found.difference - z * error == pytest.approx(0.0313, abs=5e-5)
    assert found.difference + z * error == pytest.approx(0.2284, abs=5e-5)
    # Klingenberg's leans towards no difference, by less than half a hundredth here.
    assert 0.0 < 0.0313 - found.interval.lo < 0.005
    assert 0.0 < 0.2284 - found.interval.hi < 0.005


@pytest.mark.reference("Klingenberg 2014, Statistics in Medicine 33:2968: inverted with scipy")
@pytest.mark.parametrize("table", [RABBITS, CENTRES, DEPARTMENTS])
@pytest.mark.parametrize("confidence", [0.9, 0.95])
def test_the_interval_ends_where_the_difference_is_just_not_refused(table, confidence):
    found = within_strata(pairs(table), confidence=confidence)
    z = norm.isf((1.0 - confidence) / 2.0)

    def refused(difference):
        apart = (found.difference - difference) ** 2
        return apart - z**2 * sato_variance(table, difference)

    assert found.interval.lo == pytest.approx(brentq(refused, -1.0, found.difference), abs=1e-9)
    assert found.interval.hi == pytest.approx(brentq(refused, found.difference, 1.0), abs=1e-9)


def test_the_interval_holds_the_true_difference_about_as_often_as_promised():
    rng = np.random.default_rng(14)
    shares, sizes, difference = np.array([0.5, 0.7, 0.85]), (6, 10, 14), 0.1
    held = 0
    for _ in range(600):
        table = [
            Pair(k1=int(k1), n1=n, k2=int(k2), n2=n)
            for k1, k2, n in zip(
                rng.binomial(sizes, shares + difference),
                rng.binomial(sizes, shares),
                sizes,
                strict=True,
            )
        ]
        interval = within_strata(table).interval
        held += interval.lo <= difference <= interval.hi
    # Three standard errors of a share of .95.
    assert held / 600 == pytest.approx(0.95, abs=3 * math.sqrt(0.95 * 0.05 / 600))


@pytest.mark.parametrize("confidence", [0.0, 1.0, math.nan])
def test_a_confidence_that_cannot_be_is_refused(confidence):
    with pytest.raises(ValueError, match="confidence"):
        within_strata(pairs(CENTRES), confidence=confidence)


@pytest.mark.reference("statsmodels StratifiedTable.test_null_odds(correction=False)")
def test_within_strata_agrees_with_statsmodels_on_drawn_tables():
    rng = np.random.default_rng(20)
    for _ in range(30):
        sizes = rng.integers(2, 25, (rng.integers(1, 7), 2))
        counts = rng.binomial(sizes, rng.uniform(0.2, 0.9, sizes.shape))
        table = [
            (int(k1), int(n1 - k1), int(k2), int(n2 - k2))
            for (k1, k2), (n1, n2) in zip(counts, sizes, strict=True)
        ]
        if sum(row[0] + row[2] for row in table) in (0, int(sizes.sum())):
            continue
        expected = stratified(table).test_null_odds(correction=False)
        found = within_strata(pairs(table))
        assert found.p == pytest.approx(expected.pvalue, abs=1e-12)


def test_the_common_difference_of_like_strata_is_theirs():
    found = within_strata([Pair(k1=8, n1=10, k2=6, n2=10)] * 3)
    assert found.difference == pytest.approx(0.2)


def test_a_stratum_without_one_group_tells_nothing():
    both, one = Pair(k1=8, n1=10, k2=3, n2=10), Pair(k1=0, n1=0, k2=9, n2=9)
    assert within_strata([both, one]) == within_strata([both])
    assert within_strata([one]) is None
    assert within_strata([]) is None


def test_strata_where_all_went_alike_show_no_difference():
    alike = [Pair(k1=5, n1=5, k2=7, n2=7), Pair(k1=0, n1=4, k2=0, n2=3)]
    # Nothing varies within the strata: all trials together say how much is known.
    interval = newcombe_difference(5, 9, 7, 10)
    assert within_strata(alike) == Within(difference=0.0, interval=interval, p=1.0)


def test_swapping_the_groups_turns_the_difference_round():
    there = within_strata(pairs(CENTRES))
    back = within_strata(pairs([(c, d, a, b) for a, b, c, d in CENTRES]))
    assert back.difference == pytest.approx(-there.difference)
    assert back.p == pytest.approx(there.p)
    assert back.interval.lo == pytest.approx(-there.interval.hi)
    assert back.interval.hi == pytest.approx(-there.interval.lo)


@pytest.mark.parametrize("counts", [(-1, 4, 1, 4), (5, 4, 1, 4), (1, 4, 1.5, 4), (1, 4, 3, 2)])
def test_counts_that_cannot_be_are_refused(counts):
    k1, n1, k2, n2 = counts
    with pytest.raises(ValueError, match=r"k1|k2"):
        Pair(k1=k1, n1=n1, k2=k2, n2=n2)


@pytest.mark.reference("statsmodels samplesize_proportions_2indep_onetail, two-sided")
@pytest.mark.parametrize(
    ("share1", "share2", "n"), [(0.7, 0.8, 294), (0.5, 0.6, 388), (0.2, 0.5, 39)]
)
def test_telling_seventy_from_eighty_in_a_hundred_takes_294_of_each(share1, share2, n):
    exact = samplesize_proportions_2indep_onetail(share2 - share1, share1, 0.8)
    assert n == math.ceil(exact)
    assert trials_to_tell(share1, share2) == n
    assert trials_to_tell(share2, share1) == n


@pytest.mark.reference("statsmodels power_proportions_2indep")
@pytest.mark.parametrize(("share1", "share2"), [(0.7, 0.8), (0.5, 0.6), (0.2, 0.5), (0.9, 0.95)])
def test_that_many_trials_reach_the_power(share1, share2):
    n = trials_to_tell(share1, share2)
    # Theirs: the same normal approximation, both tails.
    power = power_proportions_2indep(share1 - share2, share2, n).power
    assert power == pytest.approx(0.8, abs=0.01)
    assert power_proportions_2indep(share1 - share2, share2, n - 10).power < power


def test_the_power_by_fisher_is_near_what_the_formula_says():
    # Exact: every outcome of both groups with its chance. Fisher's test is the stricter one.
    n, share1, share2 = 294, 0.8, 0.7
    rng = np.random.default_rng(4)
    k1, k2 = rng.binomial(n, share1, 300), rng.binomial(n, share2, 300)
    told = sum(
        fisher_p(Pair(k1=int(a), n1=n, k2=int(b), n2=n)) < 0.05 for a, b in zip(k1, k2, strict=True)
    )
    assert told / 300 == pytest.approx(0.78, abs=0.07)


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"share1": 0.0}, "share1"),
        ({"share2": 1.0}, "share2"),
        ({"share2": 0.7}, "share2"),
        ({"power": 1.0}, "power"),
        ({"significance": math.nan}, "significance"),
    ],
)
def test_shares_that_cannot_be_told_apart_are_refused(change, named):
    with pytest.raises(ValueError, match=named):
        trials_to_tell(**({"share1": 0.7, "share2": 0.8} | change))
