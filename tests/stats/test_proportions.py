"""Intervals of proportions and their differences: as published, and honest at the ends."""

import csv
import math
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom, binomtest

from larvasight.stats import (
    Interval,
    clopper_pearson_interval,
    newcombe_difference,
    wilson_bounds,
    wilson_interval,
)

REFERENCE = Path(__file__).parents[1] / "reference_data"
TRIALS = (1, 2, 7, 20, 133, 5000)
CONFIDENCES = (0.5, 0.8, 0.95, 0.999)
GROUPS = [(0, 1), (1, 1), (0, 9), (4, 9), (9, 9), (13, 60), (60, 60)]

by_confidence = pytest.mark.parametrize("confidence", CONFIDENCES)


def rows(name):
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    table = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [[float(text) if "." in text else int(text) for text in row.values()] for row in table]


def successes(n):
    return sorted({0, 1, n // 3, n // 2, n - 1, n} & set(range(n + 1)))


def width(interval):
    return interval.hi - interval.lo


# A single proportion


@pytest.mark.reference(
    "Newcombe 1998, Statistics in Medicine 17:857-872, Table I, as quoted in public test files"
)
@pytest.mark.parametrize(("k", "n", "lo", "hi"), rows("newcombe_1998_single.csv"))
def test_wilson_limits_are_as_published(k, n, lo, hi):
    interval = wilson_interval(k, n)
    assert interval.lo == pytest.approx(lo, rel=0, abs=5e-5)
    assert interval.hi == pytest.approx(hi, rel=0, abs=5e-5)


@pytest.mark.reference("R binom.confint, method wilson, as kept in the tests of statsmodels")
def test_wilson_limits_are_those_of_r():
    interval = wilson_interval(18, 20)
    assert interval.lo == pytest.approx(0.69897, rel=0, abs=5e-6)
    assert interval.hi == pytest.approx(0.97213, rel=0, abs=5e-6)


@pytest.mark.reference("scipy.stats.binomtest, proportion_ci(method='wilson')")
@by_confidence
@pytest.mark.parametrize("n", TRIALS)
def test_wilson_limits_are_those_of_scipy(n, confidence):
    for k in successes(n):
        interval = wilson_interval(k, n, confidence=confidence)
        expected = binomtest(k, n).proportion_ci(confidence_level=confidence, method="wilson")
        assert interval.lo == pytest.approx(expected.low, rel=0, abs=1e-12)
        assert interval.hi == pytest.approx(expected.high, rel=0, abs=1e-12)


@by_confidence
@pytest.mark.parametrize("n", TRIALS)
def test_limits_hold_the_share_and_stay_between_0_and_1(n, confidence):
    for k in successes(n):
        interval = wilson_interval(k, n, confidence=confidence)
        assert 0.0 <= interval.lo <= k / n <= interval.hi <= 1.0
        assert (interval.lo == 0.0) == (k == 0)
        assert (interval.hi == 1.0) == (k == n)


@pytest.mark.parametrize("n", TRIALS)
def test_failures_get_the_mirrored_interval(n):
    for k in successes(n):
        interval, mirrored = wilson_interval(k, n), wilson_interval(n - k, n)
        assert mirrored.lo == pytest.approx(1.0 - interval.hi, rel=0, abs=1e-15)
        assert mirrored.hi == pytest.approx(1.0 - interval.lo, rel=0, abs=1e-15)


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 1.0])
def test_more_trials_with_the_same_share_narrow_the_interval(share):
    widths = [width(wilson_interval(int(share * n), n)) for n in (4, 8, 40, 400, 4000)]
    assert (np.diff(widths) < 0.0).all()


def test_more_confidence_widens_the_interval():
    widths = [width(wilson_interval(7, 20, confidence=share)) for share in CONFIDENCES]
    assert (np.diff(widths) > 0.0).all()


@pytest.mark.parametrize("share", [0.5, 0.8, 0.97])
def test_about_19_of_20_intervals_hold_the_true_share(share):
    n = 40
    k = np.arange(n + 1)
    lo, hi = wilson_bounds(k, np.array(n))
    holds = binom.pmf(k, n, share)[(lo <= share) & (share <= hi)].sum()
    # Counts are whole, so with 40 trials the chance strays from 0.95.
    assert holds == pytest.approx(0.95, rel=0, abs=0.025)


def test_no_trials_have_no_interval():
    assert wilson_interval(0, 0) is None


@pytest.mark.parametrize("confidence", [1e-300, math.nextafter(1.0, 0.0)])
def test_the_last_confidences_inside_the_limits_still_give_an_interval(confidence):
    interval = wilson_interval(0, 20, confidence=confidence)
    assert interval.lo == 0.0
    assert 0.0 <= interval.hi < 1.0


def test_interval_is_made_of_plain_numbers_and_cannot_be_changed():
    interval = wilson_interval(np.uint8(200), np.uint8(255))
    assert interval == wilson_interval(200, 255)
    assert (type(interval.lo), type(interval.hi)) == (float, float)
    assert interval == Interval(lo=interval.lo, hi=interval.hi)
    with pytest.raises(AttributeError):
        interval.lo = 0.0


# Many proportions


@by_confidence
def test_many_limits_are_those_of_each(confidence):
    pairs = [(k, n) for n in TRIALS for k in successes(n)]
    k, n = np.array(pairs).T
    lo, hi = wilson_bounds(k, n, confidence=confidence)
    for at, pair in enumerate(pairs):
        assert Interval(lo=lo[at], hi=hi[at]) == wilson_interval(*pair, confidence=confidence)


def test_many_limits_are_nan_only_where_there_are_no_trials():
    lo, hi = wilson_bounds(np.array([0, 3, 0]), np.array([0, 4, 4]))
    assert np.isnan(lo).tolist() == np.isnan(hi).tolist() == [True, False, False]


def test_many_limits_keep_the_shape():
    lo, hi = wilson_bounds(np.array([[0, 1, 2], [3, 4, 5]]), np.array([5, 6, 7]))
    assert lo.shape == hi.shape == (2, 3)
    assert wilson_bounds(np.array([]), np.array([]))[0].shape == (0,)


@pytest.mark.parametrize("kind", [np.uint8, np.float32])
def test_small_number_types_give_the_same_limits(kind):
    k, n = np.array([200, 3]), np.array([255, 250])
    assert np.array_equal(wilson_bounds(k.astype(kind), n.astype(kind)), wilson_bounds(k, n))


# The difference of two proportions


@pytest.mark.reference(
    "Newcombe 1998, Statistics in Medicine 17:873-890, method 10, quoted at second hand"
)
@pytest.mark.parametrize(("k1", "n1", "k2", "n2", "lo", "hi"), rows("newcombe_1998_difference.csv"))
def test_limits_of_a_difference_are_as_published(k1, n1, k2, n2, lo, hi):
    interval = newcombe_difference(k1, n1, k2, n2)
    assert interval.lo == pytest.approx(lo, rel=0, abs=5e-5)
    assert interval.hi == pytest.approx(hi, rel=0, abs=5e-5)


@by_confidence
@pytest.mark.parametrize(("one", "two"), list(product(GROUPS, GROUPS)))
def test_limits_hold_the_difference_and_swapped_groups_mirror_them(one, two, confidence):
    interval = newcombe_difference(*one, *two, confidence=confidence)
    difference = one[0] / one[1] - two[0] / two[1]
    assert -1.0 <= interval.lo <= difference <= interval.hi <= 1.0
    assert interval.lo < interval.hi
    swapped = newcombe_difference(*two, *one, confidence=confidence)
    assert swapped.lo == pytest.approx(-interval.hi, rel=0, abs=1e-15)
    assert swapped.hi == pytest.approx(-interval.lo, rel=0, abs=1e-15)


def test_a_bigger_group_narrows_the_difference():
    widths = [width(newcombe_difference(3 * m, 4 * m, 5, 10)) for m in (1, 3, 9, 81)]
    assert (np.diff(widths) < 0.0).all()


def test_confidence_reaches_the_difference():
    widths = [width(newcombe_difference(7, 9, 5, 10, confidence=c)) for c in CONFIDENCES]
    assert (np.diff(widths) > 0.0).all()


@pytest.mark.parametrize("counts", [(0, 0, 3, 4), (3, 4, 0, 0), (0, 0, 0, 0)])
def test_a_group_without_trials_has_no_difference(counts):
    assert newcombe_difference(*counts) is None


def test_difference_is_made_of_plain_numbers():
    interval = newcombe_difference(np.int8(9), np.int8(10), np.uint8(3), np.uint8(10))
    assert interval == newcombe_difference(9, 10, 3, 10)
    assert (type(interval.lo), type(interval.hi)) == (float, float)


# Wrong calls

WRONG_NUMBERS = [
    (21, 20, "k must lie between 0 and n = 20, got 21"),
    (-1, 20, "k must lie between 0 and n = 20, got -1"),
    (1, 0, "k must lie between 0 and n = 0, got 1"),
    (0, -3, "n must be 0 or more, got -3"),
    (1.5, 2, "k must be a finite whole number, got 1.5"),
    (math.nan, 2, "k must be a finite whole number, got nan"),
    (1, math.inf, "n must be a finite whole number, got inf"),
]
NO_COUNTS = [
    (True, 2, "k must be a finite whole number, got True"),
    (1, True, "n must be a finite whole number, got True"),
    (np.True_, 2, "k must be a finite whole number, got True"),
    ("1", 2, "k must be a finite whole number, got '1'"),
    (None, 2, "k must be a finite whole number, got None"),
]


@pytest.mark.parametrize(("k", "n", "message"), WRONG_NUMBERS + NO_COUNTS)
def test_wrong_counts_are_refused(k, n, message):
    with pytest.raises(ValueError, match=f"^{message}$"):
        wilson_interval(k, n)


@pytest.mark.parametrize(("k", "n", "message"), WRONG_NUMBERS)
def test_one_wrong_count_among_many_is_refused(k, n, message):
    with pytest.raises(ValueError, match=f"^{message}$"):
        wilson_bounds(np.array([2, k, 0]), np.array([3, n, 0]))


@pytest.mark.parametrize(("k", "n", "message"), NO_COUNTS)
def test_arrays_of_no_counts_are_refused(k, n, message):
    with pytest.raises(ValueError, match=f"^{message}$"):
        wilson_bounds(np.array([k]), np.array([n]))


def test_arrays_that_do_not_fit_each_other_are_refused():
    with pytest.raises(ValueError, match="shape mismatch"):
        wilson_bounds(np.array([1, 2]), np.array([3, 4, 5]))


@pytest.mark.parametrize(("at", "name"), list(enumerate(("k1", "n1", "k2", "n2"))))
def test_a_wrong_count_of_a_difference_is_named(at, name):
    counts = [2, 4, 1, 3]
    counts[at] = -1
    with pytest.raises(ValueError, match=f"^{name} must .* got -1$"):
        newcombe_difference(*counts)


def test_a_wrong_count_is_refused_also_beside_an_empty_group():
    with pytest.raises(ValueError, match=r"^k2 must lie between 0 and n2 = 3, got 4$"):
        newcombe_difference(0, 0, 4, 3)


@pytest.mark.parametrize("confidence", [0, 1, True, -0.1, 95, math.nan, math.inf])
@pytest.mark.parametrize(
    ("call", "counts"),
    [
        (wilson_interval, (0, 0)),
        (wilson_bounds, (np.array([0]), np.array([0]))),
        (newcombe_difference, (0, 0, 0, 0)),
    ],
)
def test_wrong_confidence_is_refused_even_without_trials(call, counts, confidence):
    message = f"^confidence must lie inside 0-1, both excluded, got {confidence}$"
    with pytest.raises(ValueError, match=message):
        call(*counts, confidence=confidence)


# The exact interval


@pytest.mark.reference("scipy.stats.binomtest, exact interval")
@by_confidence
@pytest.mark.parametrize("n", TRIALS)
def test_exact_interval_is_what_scipy_gives(n, confidence):
    for k in successes(n):
        expected = binomtest(k, n).proportion_ci(confidence_level=confidence, method="exact")
        found = clopper_pearson_interval(k, n, confidence=confidence)
        assert (found.lo, found.hi) == pytest.approx((expected.low, expected.high), abs=1e-12)


@pytest.mark.reference("scipy.stats.binom: how often the exact interval holds the true share")
@pytest.mark.parametrize("share", [0.01, 0.2, 0.5, 0.9, 0.99])
def test_exact_interval_holds_the_true_share_at_least_as_often_as_promised(share):
    n = 40
    intervals = [clopper_pearson_interval(k, n) for k in range(n + 1)]
    holds = np.array([i.lo <= share <= i.hi for i in intervals])
    assert binom.pmf(np.arange(n + 1), n, share) @ holds >= 0.95


def test_exact_interval_is_wider_and_needs_trials():
    exact, score = clopper_pearson_interval(114, 120), wilson_interval(114, 120)
    assert width(exact) > width(score)
    assert clopper_pearson_interval(0, 0) is None
    with pytest.raises(ValueError, match=r"^k must lie between 0 and n = 2, got 3$"):
        clopper_pearson_interval(3, 2)
    with pytest.raises(ValueError, match=r"^confidence must lie inside 0-1"):
        clopper_pearson_interval(1, 2, confidence=1.0)
