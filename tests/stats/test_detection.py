"""Sensitivity and criterion: as published, finite at the ends, moving the right way."""

import math

import numpy as np
import pytest
from scipy.stats import binom, norm

from larvasight.stats import Detection, d_prime_of_rates, detection

# Counts


@pytest.mark.reference("R statpsych, example of signal(82, 46, 100, 100), log-linear")
def test_counts_give_the_sensitivity_and_criterion_of_r():
    found = detection(82, 100, 46, 100)
    assert found.d_prime == pytest.approx(1.002793, rel=0, abs=5e-7)
    assert found.criterion == pytest.approx(-0.4019603, rel=0, abs=5e-8)


@pytest.mark.reference("R statpsych, example of signal(82, 46, 100, 100), log-linear")
def test_counts_are_corrected_to_the_rates_of_r():
    found = detection(82, 100, 46, 100)
    d_prime, criterion = d_prime_of_rates(0.8168317, 0.460396)
    assert found.d_prime == pytest.approx(d_prime, rel=0, abs=5e-7)
    assert found.criterion == pytest.approx(criterion, rel=0, abs=5e-7)


# Derived: at rates of one half each z has the variance (1/4) / (n / (2 pi)) = pi / (2 n).
@pytest.mark.parametrize(("n_good", "n_bad"), [(10, 10), (100, 100), (40, 200)])
def test_guessing_has_the_standard_deviation_of_two_medians(n_good, n_bad):
    found = detection(n_good // 2, n_good, n_bad // 2, n_bad)
    assert (found.d_prime, found.criterion) == (0.0, 0.0)
    expected = math.sqrt(math.pi / 2.0 * (1.0 / n_good + 1.0 / n_bad))
    assert found.d_prime_sd == pytest.approx(expected, rel=1e-12, abs=0)


def test_an_even_criterion_is_never_minus_nothing():
    assert f"{detection(0, 1, 1, 1).criterion:.1f}" == "0.0"


def z_variance(rate, n):
    """Variance of the corrected z of n choices at a true rate, summed over all counts."""
    picks = np.arange(n + 1)
    z, weight = norm.ppf((picks + 0.5) / (n + 1)), binom.pmf(picks, n, rate)
    return weight @ (z - weight @ z) ** 2


@pytest.mark.reference("scipy.stats.binom, norm: spread of d' summed over all counts")
@pytest.mark.parametrize(
    ("hit_rate", "n_good", "false_rate", "n_bad"),
    [(0.8, 100, 0.2, 100), (0.6, 100, 0.5, 40), (0.9, 400, 0.3, 60), (0.95, 600, 0.05, 300)],
)
def test_standard_deviation_is_the_spread_of_many_choices(hit_rate, n_good, false_rate, n_bad):
    found = detection(round(hit_rate * n_good), n_good, round(false_rate * n_bad), n_bad)
    expected = math.sqrt(z_variance(hit_rate, n_good) + z_variance(false_rate, n_bad))
    assert found.d_prime_sd == pytest.approx(expected, rel=0.02, abs=0)


@pytest.mark.reference("scipy.stats.binom, norm: spread of d' summed over all counts")
def test_standard_deviation_of_few_choices_is_a_tenth_too_large():
    n, rate = 20, 0.9
    picks = np.arange(n + 1)
    told = [[detection(int(a), n, int(b), n).d_prime_sd for b in picks] for a in picks]
    mean = binom.pmf(picks, n, rate) @ np.array(told) @ binom.pmf(picks, n, 1.0 - rate)
    assert mean / math.sqrt(2.0 * z_variance(rate, n)) == pytest.approx(1.1, rel=0, abs=0.01)


def test_more_choices_make_the_figure_surer():
    sds = [detection(7 * m, 10 * m, 2 * m, 10 * m).d_prime_sd for m in (1, 2, 10, 100)]
    assert (np.diff(sds) < 0.0).all()


@pytest.mark.parametrize("false_picks", [0, 6, 20])
def test_more_hits_raise_sensitivity_and_lower_the_criterion(false_picks):
    found = [detection(hits, 30, false_picks, 20) for hits in range(31)]
    assert (np.diff([f.d_prime for f in found]) > 0.0).all()
    assert (np.diff([f.criterion for f in found]) < 0.0).all()


@pytest.mark.parametrize("hits", [0, 11, 30])
def test_more_false_picks_lower_sensitivity_and_the_criterion(hits):
    found = [detection(hits, 30, false_picks, 20) for false_picks in range(21)]
    assert (np.diff([f.d_prime for f in found]) < 0.0).all()
    assert (np.diff([f.criterion for f in found]) < 0.0).all()


@pytest.mark.parametrize(("hits", "false_picks"), [(0, 0), (0, 5), (8, 0), (8, 5), (3, 2)])
def test_calling_good_bad_and_bad_good_turns_the_sign(hits, false_picks):
    found, turned = detection(hits, 8, false_picks, 5), detection(false_picks, 5, hits, 8)
    assert turned.d_prime == pytest.approx(-found.d_prime, rel=0, abs=1e-12)
    assert turned.criterion == pytest.approx(found.criterion, rel=0, abs=1e-12)
    assert turned.d_prime_sd == pytest.approx(found.d_prime_sd, rel=0, abs=1e-12)


@pytest.mark.parametrize(("hits", "false_picks"), [(0, 0), (0, 7), (7, 0), (7, 7)])
def test_all_or_none_picked_stays_finite(hits, false_picks):
    found = detection(hits, 7, false_picks, 7)
    assert all(map(math.isfinite, (found.d_prime, found.criterion, found.d_prime_sd)))
    assert found.d_prime_sd > 0.0


@pytest.mark.parametrize("counts", [(0, 0, 1, 4), (3, 4, 0, 0), (0, 0, 0, 0)])
def test_nothing_to_tell_apart_gives_no_figure(counts):
    assert detection(*counts) is None


def test_detection_is_made_of_plain_numbers_and_cannot_be_changed():
    found = detection(*np.array([200, 255, 20, 255], dtype=np.uint8))
    assert found == detection(200, 255, 20, 255)
    assert {type(found.d_prime), type(found.criterion), type(found.d_prime_sd)} == {float}
    assert isinstance(found, Detection)
    with pytest.raises(AttributeError):
        found.d_prime = 0.0


# Rates


@pytest.mark.reference(
    "Stanislaw & Todorov 1999, 50 of 50 hits and 17 of 25 false, extremes replaced by"
    " (n - .5) / n; as quoted on a public documentation page"
)
def test_rates_give_the_published_sensitivity_and_criterion():
    d_prime, criterion = d_prime_of_rates(0.99, 0.68)
    assert d_prime == pytest.approx(1.86, rel=0, abs=0.005)
    assert criterion == pytest.approx(-1.40, rel=0, abs=0.005)


@pytest.mark.reference("Schneider, lecture notes on signal detection")
@pytest.mark.parametrize(
    ("hit_rate", "false_rate", "expected"),
    [(0.7, 0.1, 1.806), (0.5, 0.4, 0.253), (0.85, 0.05, 2.681)],
)
def test_rates_give_the_sensitivity_of_lecture_notes(hit_rate, false_rate, expected):
    assert d_prime_of_rates(hit_rate, false_rate)[0] == pytest.approx(expected, rel=0, abs=0.0005)


@pytest.mark.reference("Macmillan & Creelman, table of d', from memory")
@pytest.mark.parametrize(("hit_rate", "expected"), [(0.8, 1.683), (0.9, 2.563), (0.99, 4.653)])
def test_evenly_placed_rates_give_the_sensitivity_of_the_table(hit_rate, expected):
    d_prime, criterion = d_prime_of_rates(hit_rate, 1.0 - hit_rate)
    assert d_prime == pytest.approx(expected, rel=0, abs=0.0005)
    assert criterion == pytest.approx(0.0, rel=0, abs=1e-12)


@pytest.mark.parametrize("rate", [1e-9, 0.2, 0.5, 0.93])
def test_equal_rates_tell_nothing_apart(rate):
    assert d_prime_of_rates(rate, rate)[0] == 0.0


@pytest.mark.reference("scipy.stats.norm.ppf")
@pytest.mark.parametrize("hit_rate", [1e-9, 0.03, 0.5, 0.71, 1.0 - 1e-9])
@pytest.mark.parametrize("false_rate", [1e-9, 0.14, 0.5, 0.999])
def test_rates_give_what_scipy_gives(hit_rate, false_rate):
    z_hit, z_false = norm.ppf([hit_rate, false_rate])
    d_prime, criterion = d_prime_of_rates(hit_rate, false_rate)
    assert d_prime == pytest.approx(z_hit - z_false, rel=0, abs=1e-12)
    assert criterion == pytest.approx(-(z_hit + z_false) / 2.0, rel=0, abs=1e-12)


# Wrong calls


@pytest.mark.parametrize(
    ("counts", "message"),
    [
        ((5, 4, 0, 1), "hits must lie between 0 and n_good = 4, got 5"),
        ((0, -1, 0, 1), "n_good must be 0 or more, got -1"),
        ((1, 4, -2, 1), "false_picks must lie between 0 and n_bad = 1, got -2"),
        ((1, 4, 0, math.nan), "n_bad must be a finite whole number, got nan"),
        ((True, 4, 0, 1), "hits must be a finite whole number, got True"),
        ((1, 4, 0.5, 1), "false_picks must be a finite whole number, got 0.5"),
        ((0, 0, 2, 1), "false_picks must lie between 0 and n_bad = 1, got 2"),
    ],
)
def test_wrong_counts_are_refused(counts, message):
    with pytest.raises(ValueError, match=f"^{message}$"):
        detection(*counts)


@pytest.mark.parametrize("rate", [0, 1, True, -0.1, 1.1, math.nan, math.inf])
def test_wrong_rates_are_refused(rate):
    message = f"must lie inside 0-1, both excluded, got {rate}$"
    with pytest.raises(ValueError, match=f"^hit_rate {message}"):
        d_prime_of_rates(rate, 0.5)
    with pytest.raises(ValueError, match=f"^false_rate {message}"):
        d_prime_of_rates(0.5, rate)
