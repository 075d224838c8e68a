"""Drawn bodies scatter about the mean curves as stated."""

import math

import numpy as np
import pytest

from larvasight.growth import (
    mean_curl_deg,
    mean_length_mm,
    sample_body,
    sample_colony_rate,
)
from larvasight.growth.curve import slenderness
from larvasight.growth.spread import (
    COLONY_RATE_SD,
    CURL_DRAWN_MAX_DEG,
    CURL_DRAWN_MIN_DEG,
    CURL_SD,
    LENGTH_CV,
    SLENDER_CV,
)

N_DRAWS = 4000


def bodies(age_h, seed, **options):
    rng = np.random.default_rng(seed)
    return [sample_body(age_h, rng, **options) for _ in range(N_DRAWS)]


@pytest.mark.parametrize("age_h", [6.0, 18.0, 36.0])
def test_lengths_and_widths_scatter_as_stated(age_h):
    drawn = bodies(age_h, seed=int(age_h))
    lengths = np.log([b.length_mm for b in drawn])
    ratios = np.log([b.length_mm / b.width_mm for b in drawn])
    error = 4.0 / math.sqrt(N_DRAWS)  # four standard errors
    length_cv, slender_cv = LENGTH_CV.value, SLENDER_CV.value
    assert lengths.mean() == pytest.approx(
        math.log(mean_length_mm(age_h)), rel=0, abs=error * length_cv
    )
    assert lengths.std() == pytest.approx(length_cv, rel=error, abs=0)
    assert ratios.mean() == pytest.approx(
        math.log(slenderness(age_h)), rel=0, abs=error * slender_cv
    )
    assert ratios.std() == pytest.approx(slender_cv, rel=error, abs=0)


def test_curls_scatter_as_stated_where_no_limit_is_near():
    curls_deg = np.array([b.curl_deg for b in bodies(24.0, seed=1)])
    error = 4.0 * CURL_SD.value / math.sqrt(N_DRAWS)
    assert curls_deg.mean() == pytest.approx(mean_curl_deg(24.0), rel=0, abs=error)
    assert curls_deg.std() == pytest.approx(CURL_SD.value, rel=0, abs=error)


@pytest.mark.parametrize(
    ("age_h", "limit_deg"), [(0.0, CURL_DRAWN_MIN_DEG), (90.0, CURL_DRAWN_MAX_DEG)]
)
def test_curls_stop_at_what_a_body_can_do(age_h, limit_deg):
    curls_deg = [b.curl_deg for b in bodies(age_h, seed=2)]
    assert min(curls_deg) >= CURL_DRAWN_MIN_DEG
    assert max(curls_deg) <= CURL_DRAWN_MAX_DEG
    assert limit_deg in curls_deg


@pytest.mark.parametrize("rate", [0.8, 1.25])
def test_a_colony_growing_at_another_rate_looks_like_another_age(rate):
    ours = bodies(24.0, seed=3, colony_rate=rate)
    assert ours == bodies(24.0 * rate, seed=3)


def test_a_fast_colony_stops_at_the_end_of_larval_life():
    assert bodies(90.0, seed=4, colony_rate=1.3) == bodies(96.0, seed=4)


def test_the_same_seed_draws_the_same_body():
    one, two = (sample_body(20.0, np.random.default_rng(7)) for _ in range(2))
    assert one == two
    assert one != sample_body(20.0, np.random.default_rng(8))


@pytest.mark.parametrize("age_h", [-1.0, 97.0, math.nan])
def test_ages_outside_larval_life_are_refused(age_h):
    with pytest.raises(ValueError, match="age_h must lie between"):
        sample_body(age_h, np.random.default_rng(0))


def test_colony_rates_scatter_as_stated_and_stay_within_limits():
    rng = np.random.default_rng(5)
    rates = np.array([sample_colony_rate(rng) for _ in range(N_DRAWS)])
    error = 4.0 * COLONY_RATE_SD.value / math.sqrt(N_DRAWS)
    assert rates.mean() == pytest.approx(1.0, rel=0, abs=error)
    assert rates.std() == pytest.approx(COLONY_RATE_SD.value, rel=0, abs=error)
    assert rates.min() >= 0.7
    assert rates.max() <= 1.3
