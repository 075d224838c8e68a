"""Two shares told apart as published tables and other libraries have it."""

import math

import numpy as np
import pytest
from scipy.stats import chi2
from statsmodels.stats.contingency_tables import StratifiedTable
from statsmodels.stats.proportion import power_proportions_2indep

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


def pairs(table):
    return [Pair(k1=a, n1=a + b, k2=c, n2=c + d) for a, b, c, d in table]


def chi_square(p):
    return chi2.isf(p, 1)


@pytest.mark.reference("Fisher 1935, The Design of Experiments, tea tasting (from memory)")
def test_the_lady_tasting_tea():
    # One-sided .243 in the book; both tails of this even table weigh the same.
    assert fisher_p(Pair(k1=3, n1=4, k2=1, n2=4)) == pytest.approx(2 * 0.242857, abs=2e-6)


def test_fisher_agrees_with_counting_all_tables_by_hand():
    pair = Pair(k1=9, n1=10, k2=3, n2=10)
    chances = [math.comb(10, k) * math.comb(10, 12 - k) / math.comb(20, 12) for k in range(2, 11)]
    observed = chances[9 - 2]
    by_hand = sum(chance for chance in chances if chance <= observed * (1 + 1e-9))
    assert fisher_p(pair) == pytest.approx(by_hand, rel=1e-9)


def test_a_group_without_trials_tells_nothing():
    assert fisher_p(Pair(k1=0, n1=0, k2=3, n2=10)) == 1.0


@pytest.mark.reference("Agresti 2002, Categorical Data Analysis, Table 6.9: 6.38 (from memory)")
def test_within_strata_gives_the_published_statistic_of_eight_centres():
    found = within_strata(pairs(CENTRES))
    assert chi_square(found.p) == pytest.approx(6.38, abs=0.005)
    assert found.p == pytest.approx(0.012, abs=5e-4)


@pytest.mark.reference("R mantelhaen.test(UCBAdmissions, correct = FALSE): 1.5246 (from memory)")
def test_within_strata_gives_the_statistic_of_six_departments():
    found = within_strata(pairs(DEPARTMENTS))
    assert chi_square(found.p) == pytest.approx(1.5246, abs=5e-5)
    # Put into one table, men seem to be admitted far more often.
    one = [sum(column) for column in zip(*DEPARTMENTS, strict=True)]
    assert fisher_p(pairs([one])[0]) < 1e-20


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
        tables = [np.array([[a, b], [c, d]], dtype=float) for a, b, c, d in table]
        expected = StratifiedTable(tables).test_null_odds(correction=False)
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
    assert within_strata(alike) == Within(difference=0.0, p=1.0)


def test_swapping_the_groups_turns_the_difference_round():
    there = within_strata(pairs(CENTRES))
    back = within_strata(pairs([(c, d, a, b) for a, b, c, d in CENTRES]))
    assert back.difference == pytest.approx(-there.difference)
    assert back.p == pytest.approx(there.p)


@pytest.mark.parametrize("counts", [(-1, 4, 1, 4), (5, 4, 1, 4), (1, 4, 1.5, 4), (1, 4, 3, 2)])
def test_counts_that_cannot_be_are_refused(counts):
    k1, n1, k2, n2 = counts
    with pytest.raises(ValueError, match=r"k1|k2"):
        Pair(k1=k1, n1=n1, k2=k2, n2=n2)


@pytest.mark.reference(
    "Fleiss, Levin & Paik 2003, equation 4.14: 294 for .70 and .80 (from memory)"
)
def test_telling_seventy_from_eighty_in_a_hundred_takes_294_of_each():
    assert trials_to_tell(0.7, 0.8) == 294
    assert trials_to_tell(0.8, 0.7) == 294


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
