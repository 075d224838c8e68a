"""From length and curl back to age: honest bands, no contradictions, no crash at the ends."""

import math

import numpy as np
import pytest

from larvasight.growth import (
    AGE_MAX_H,
    BAND_SHARE,
    AgePosterior,
    age_posterior,
    looks_age_h,
    mean_curl_deg,
    mean_length_mm,
    sample_body,
    sample_colony_rate,
)

N_DRAWS = 4000
CURLS_DEG = [0.0, 62.0, 103.0, 184.0, 274.0, 330.0, 400.0, None]
LENGTHS_MM = np.exp(np.linspace(math.log(0.8), math.log(20.0), 120))


def draws(seed):
    """Age (h) and body of larvae of the model's own: any age, any colony."""
    rng = np.random.default_rng(seed)
    for _ in range(N_DRAWS):
        age_h = float(rng.uniform(0.0, AGE_MAX_H))
        yield age_h, sample_body(age_h, rng, sample_colony_rate(rng)), rng


def places(pairs):
    """Share of true ages below, inside and above their bands."""
    below = np.mean([age_h < low_h for age_h, (low_h, _) in pairs])
    above = np.mean([age_h > high_h for age_h, (_, high_h) in pairs])
    return below, 1.0 - below - above, above


def test_bands_hold_four_fifths_of_true_ages():
    pairs = [
        (age_h, age_posterior(body.length_mm, body.curl_deg).band_h())
        for age_h, body, _ in draws(seed=21)
    ]
    below, inside, above = places(pairs)
    assert 0.77 <= inside <= 0.83
    assert 0.08 <= below <= 0.13
    assert 0.08 <= above <= 0.13


def test_bands_hold_four_fifths_of_true_ages_when_measures_are_off():
    pairs = []
    for age_h, body, rng in draws(seed=22):
        length_mm = body.length_mm * (1.0 + 0.06 * rng.normal())
        curl_deg = float(np.clip(body.curl_deg + rng.normal(0.0, 20.0), 0.0, 400.0))
        ages = age_posterior(length_mm, curl_deg, length_mm_sd=0.06 * length_mm, curl_deg_sd=20.0)
        pairs.append((age_h, ages.band_h()))
    assert 0.77 <= places(pairs)[1] <= 0.83


def test_bands_of_closed_discs_hold_four_fifths_of_true_ages():
    pairs = [
        (age_h, age_posterior(body.length_mm, None).band_h())
        for age_h, body, _ in draws(seed=23)
        if body.curl_deg >= 300.0
    ]
    assert len(pairs) > N_DRAWS / 3
    assert 0.77 <= places(pairs)[1] <= 0.83


def test_band_that_ignored_the_colony_would_be_too_narrow():
    # Guards the check above: a band for one known colony does not hold four fifths of all.
    narrow = []
    for age_h, body, _ in draws(seed=21):
        low_h, high_h = age_posterior(body.length_mm, body.curl_deg).band_h()
        middle_h, half_h = (low_h + high_h) / 2, (high_h - low_h) / 2
        narrow.append((age_h, (middle_h - 0.8 * half_h, middle_h + 0.8 * half_h)))
    assert places(narrow)[1] < 0.77


@pytest.mark.parametrize("curl_deg", CURLS_DEG)
def test_a_longer_larva_never_looks_younger_at_the_same_curl(curl_deg):
    looks_h = [looks_age_h(length_mm, curl_deg) for length_mm in LENGTHS_MM]
    assert (np.diff(looks_h) >= 0.0).all()
    assert looks_h[-1] > looks_h[0]


@pytest.mark.parametrize("curl_deg", CURLS_DEG)
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_longer_larva_never_gets_a_younger_band_at_the_same_curl(curl_deg, share):
    ages_h = [age_posterior(length_mm, curl_deg).quantile_h(share) for length_mm in LENGTHS_MM]
    assert (np.diff(ages_h) >= -1e-6).all()


@pytest.mark.parametrize("length_mm", [1.5, 2.2, 3.0])
def test_a_more_curled_larva_never_looks_younger_at_the_same_length(length_mm):
    looks_h = [looks_age_h(length_mm, float(curl_deg)) for curl_deg in range(0, 401, 5)]
    assert (np.diff(looks_h) >= 0.0).all()


def test_curl_alone_does_not_make_a_large_larva_young():
    # A larva of 48 h that lies open still looks far too old.
    assert looks_age_h(mean_length_mm(48.0), 100.0) > 30.0


@pytest.mark.parametrize("with_curl", [True, False], ids=["length and curl", "length alone"])
def test_looks_age_h_finds_the_age_of_mean_larvae(with_curl):
    for age_h in np.arange(0.0, AGE_MAX_H + 0.1, 0.5):
        curl_deg = mean_curl_deg(age_h) if with_curl else None
        assert looks_age_h(mean_length_mm(age_h), curl_deg) == pytest.approx(age_h, rel=0, abs=0.2)


@pytest.mark.parametrize("curl_deg", CURLS_DEG)
def test_lengths_beyond_the_model_stop_at_its_ends(curl_deg):
    assert looks_age_h(60.0, curl_deg) == AGE_MAX_H
    low_h, high_h = age_posterior(60.0, curl_deg).band_h()
    # In the fastest colonies larvae are as long from 78 h on, where the model stops growing.
    assert 80.0 < low_h < 94.0 < high_h <= AGE_MAX_H
    low_h, high_h = age_posterior(0.3, curl_deg).band_h()
    assert 0.0 <= low_h < high_h < 12.0
    assert looks_age_h(0.3, None) == 0.0


def test_a_closed_disc_is_read_as_old_as_its_curl_at_least():
    for length_mm in (2.0, 3.5, 6.0):
        closed_h = age_posterior(length_mm, None).quantile_h(0.5)
        assert closed_h > age_posterior(length_mm, 184.0).quantile_h(0.5)


@pytest.mark.parametrize("curl_deg", [103.0, 274.0, None])
def test_a_less_sure_length_gives_a_wider_band(curl_deg):
    widths_h = []
    for sd_mm in (0.0, 0.1, 0.3, 1.0):
        low_h, high_h = age_posterior(2.6, curl_deg, length_mm_sd=sd_mm).band_h()
        widths_h.append(high_h - low_h)
    assert (np.diff(widths_h) > 0.0).all()


def test_a_less_sure_curl_counts_less():
    length_mm = mean_length_mm(18.0)
    sure, unsure = (
        age_posterior(length_mm, 330.0, curl_deg_sd=sd_deg).quantile_h(0.5) for sd_deg in (0, 200)
    )
    assert abs(unsure - 18.0) < abs(sure - 18.0)


@pytest.mark.parametrize("length_mm", [0.2, 1.5, 2.5, 9.0, 30.0])
@pytest.mark.parametrize("curl_deg", [0.0, 184.0, 400.0, None])
def test_chances_make_one_whole_and_agree_with_the_band(length_mm, curl_deg):
    ages = age_posterior(length_mm, curl_deg)
    assert ages.weights.shape == ages.ages_h.shape
    assert (ages.weights >= 0.0).all()
    assert ages.weights.sum() == pytest.approx(1.0, rel=0, abs=1e-12)
    assert ages.chance_between(0.0, AGE_MAX_H) == pytest.approx(1.0, rel=0, abs=1e-12)
    parts = [ages.chance_between(a, b) for a, b in ((0, 6), (6, 30), (30, 96))]
    assert sum(parts) == pytest.approx(1.0, rel=0, abs=1e-12)
    low_h, high_h = ages.band_h()
    assert ages.chance_between(low_h, high_h) == pytest.approx(BAND_SHARE, rel=0, abs=1e-9)
    assert ages.chance_between(0.0, ages.quantile_h(0.5)) == pytest.approx(0.5, rel=0, abs=1e-9)


def test_a_measure_that_tells_nothing_leaves_every_hour_equally_likely():
    ages = age_posterior(2.0, 100.0, length_mm_sd=math.inf, curl_deg_sd=math.inf)
    assert ages.chance_between(0.0, 6.0) == pytest.approx(6.0 / 96.0, rel=0, abs=1e-9)
    assert ages.chance_between(90.0, 96.0) == pytest.approx(6.0 / 96.0, rel=0, abs=1e-9)
    assert ages.band_h() == pytest.approx((9.6, 86.4), rel=0, abs=1e-6)


def test_quantile_and_chance_share_the_weight_of_an_age_among_half_way_points():
    ages = AgePosterior(ages_h=np.array([10.0, 20.0, 40.0]), weights=np.array([0.2, 0.5, 0.3]))
    assert ages.quantile_h(0.0) == 10.0
    assert ages.quantile_h(0.2) == pytest.approx(15.0, rel=0, abs=1e-9)
    assert ages.quantile_h(0.7) == pytest.approx(30.0, rel=0, abs=1e-9)
    assert ages.quantile_h(1.0) == 40.0
    assert ages.chance_between(15.0, 22.5) == pytest.approx(0.25, rel=0, abs=1e-12)
    assert ages.chance_between(30.0, 96.0) == pytest.approx(0.3, rel=0, abs=1e-12)
    assert ages.chance_between(96.0, 99.0) == 0.0


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        *(("length_mm", {"length_mm": value}) for value in (0.0, -1.0, math.nan, math.inf)),
        *(("curl_deg", {"curl_deg": value}) for value in (-1.0, 400.1, math.nan)),
        *(("length_mm_sd", {"length_mm_sd": value}) for value in (-0.1, math.nan)),
        *(("curl_deg_sd", {"curl_deg_sd": value}) for value in (-0.1, math.nan)),
    ],
)
def test_values_no_measure_can_have_are_refused_by_name(name, arguments):
    with pytest.raises(ValueError, match=rf"^{name} must"):
        age_posterior(**{"length_mm": 2.0, "curl_deg": 100.0, **arguments})


@pytest.mark.parametrize("length_mm", [0.0, -1.0, math.nan])
def test_looks_age_h_refuses_a_length_that_is_none(length_mm):
    with pytest.raises(ValueError, match=r"^length_mm must"):
        looks_age_h(length_mm, 100.0)
