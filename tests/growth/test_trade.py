"""What people who graft teach holds for the mean larva; common practice, without a source."""

import numpy as np
import pytest

from larvasight.growth import (
    EGG_STAGE_H,
    looks_age_h,
    mean_curl_deg,
    mean_length_mm,
    mean_width_mm,
)
from larvasight.growth.egg import EGG_LENGTH_MM, EGG_WIDTH_MM

BEST_H = (12.0, 24.0)
C_DEG = 270.0

common_practice = pytest.mark.reference("common practice")
best_ages = pytest.mark.parametrize("age_h", np.linspace(*BEST_H, 7))


@common_practice
@best_ages
def test_a_larva_of_the_best_age_is_curving_but_not_yet_a_c(age_h):
    assert 90.0 < mean_curl_deg(age_h) < C_DEG


@common_practice
def test_a_larva_is_a_c_by_a_day_and_a_half():
    assert mean_curl_deg(30.0) < C_DEG < mean_curl_deg(36.0)


@common_practice
@best_ages
def test_a_larva_of_the_best_age_is_not_much_bigger_than_an_egg(age_h):
    # 1.29 times as long as a new-laid egg at 12 h, 1.64 times at 24 h.
    assert 1.25 <= mean_length_mm(age_h) / EGG_LENGTH_MM.value <= 1.65
    assert 1.25 <= mean_width_mm(age_h) / EGG_WIDTH_MM.value <= 1.65


@common_practice
def test_a_larva_of_two_days_is_plainly_bigger_than_an_egg():
    assert mean_length_mm(48.0) / EGG_LENGTH_MM.value > 2.5


@common_practice
def test_the_curled_body_hardly_widens_while_the_line_grows():
    # So a share of the cell's width tells little between comma and C: the span of the mean
    # arc, tip to tip or across the ring, stays within 15 % while the length grows by half.
    spans_mm = []
    for age_h in (12.0, 18.0, 24.0, 30.0, 36.0):
        sweep_rad = np.radians(mean_curl_deg(age_h))
        radius_mm = mean_length_mm(age_h) / sweep_rad
        reach_mm = 2 * radius_mm * np.sin(min(sweep_rad, np.pi) / 2)
        spans_mm.append(reach_mm + mean_width_mm(age_h))
    assert max(spans_mm) / min(spans_mm) < 1.15
    assert mean_length_mm(36.0) / mean_length_mm(12.0) > 1.5


@common_practice
def test_larvae_are_best_three_and_a_half_to_four_days_after_laying():
    from_d, to_d = ((EGG_STAGE_H.value + age_h) / 24.0 for age_h in BEST_H)
    assert from_d == pytest.approx(3.6, rel=0, abs=0.05)
    assert to_d == pytest.approx(4.1, rel=0, abs=0.05)


@common_practice
@pytest.mark.parametrize("put_in_d", [4.0, 4.25, 4.5, 4.75, 5.0])
def test_a_comb_put_in_four_to_five_days_before_grafting_can_hold_the_best_larvae(put_in_d):
    # Up to a day passes until the queen lays in it.
    delays_h = np.linspace(0.0, 24.0, 97)
    ages_h = put_in_d * 24.0 - delays_h - EGG_STAGE_H.value
    assert ((ages_h >= BEST_H[0]) & (ages_h <= BEST_H[1])).any()


@common_practice
@pytest.mark.parametrize(("put_in_d", "why"), [(3.5, "not old enough"), (6.5, "too old")])
def test_a_comb_put_in_much_later_or_earlier_cannot(put_in_d, why):
    delays_h = np.linspace(0.0, 24.0, 97)
    ages_h = put_in_d * 24.0 - delays_h - EGG_STAGE_H.value
    if why == "too old":
        assert ages_h.min() > BEST_H[1]
    else:
        assert ages_h.max() < BEST_H[0]


@common_practice
def test_a_large_larva_lying_open_is_not_young():
    # Curl alone does not tell youth: size and curl are judged together.
    for age_h in (42.0, 48.0, 60.0):
        assert looks_age_h(mean_length_mm(age_h), mean_curl_deg(18.0)) > BEST_H[1]
