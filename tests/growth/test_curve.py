"""The mean curves: rising, consistent with each other, and as first derived."""

import math

import numpy as np
import pytest

from larvasight.growth import (
    AGE_MAX_H,
    mean_curl_deg,
    mean_length_mm,
    mean_mass_mg,
    mean_width_mm,
)
from larvasight.growth.curve import BODY_DENSITY, BODY_FILL, MASS_KNOTS, mean_table, slenderness

AGES_H = np.linspace(0.0, AGE_MAX_H, 961)


@pytest.mark.parametrize("curve", [mean_mass_mg, mean_length_mm, mean_width_mm, mean_curl_deg])
def test_every_mean_curve_rises_all_the_time(curve):
    assert (np.diff([curve(age_h) for age_h in AGES_H]) > 0.0).all()


@pytest.mark.parametrize(
    ("age_h", "fact"), MASS_KNOTS, ids=lambda value: getattr(value, "name", "")
)
def test_mass_goes_through_its_knots(age_h, fact):
    assert mean_mass_mg(age_h) == pytest.approx(fact.value, rel=1e-9, abs=0)


def test_mass_has_no_jump_and_no_kink():
    step_h = AGES_H[1] - AGES_H[0]
    rates = np.diff([math.log(mean_mass_mg(age_h)) for age_h in AGES_H]) / step_h
    # Mass grows by 4-11 % an hour at every age.
    assert rates.min() > 0.03
    assert rates.max() < 0.12
    assert np.abs(np.diff(rates)).max() < 0.01


@pytest.mark.parametrize("age_h", [0.0, 5.0, 12.0, 30.0, 96.0])
def test_mass_length_and_width_describe_one_body(age_h):
    length_mm, width_mm = mean_length_mm(age_h), mean_width_mm(age_h)
    mass_mg = BODY_DENSITY.value * BODY_FILL.value * length_mm * width_mm**2
    assert mass_mg == pytest.approx(mean_mass_mg(age_h), rel=1e-9, abs=0)
    assert length_mm / width_mm == pytest.approx(slenderness(age_h), rel=1e-12, abs=0)


def test_slenderness_eases_to_its_settled_value():
    assert slenderness(0.0) == pytest.approx(4.4, rel=0, abs=1e-12)
    assert slenderness(6.0) == pytest.approx(4.1, rel=0, abs=1e-12)
    assert {slenderness(age_h) for age_h in (12.0, 40.0, 96.0)} == {4.0}


@pytest.mark.parametrize("curve", [mean_mass_mg, mean_length_mm, mean_width_mm])
@pytest.mark.parametrize("age_h", [-0.1, 96.1, math.nan])
def test_ages_outside_the_larval_span_are_refused(curve, age_h):
    with pytest.raises(ValueError, match="age_h must lie between"):
        curve(age_h)


def test_mean_table_holds_the_curves_and_cannot_be_changed():
    ages_h, lengths_mm, curls_deg = mean_table()
    assert (ages_h[0], ages_h[-1]) == (0.0, AGE_MAX_H)
    at = int(np.argmin(np.abs(ages_h - 24.0)))
    assert lengths_mm[at] == pytest.approx(mean_length_mm(24.0), rel=0, abs=1e-6)
    assert curls_deg[at] == pytest.approx(mean_curl_deg(24.0), rel=0, abs=1e-6)
    for array in (ages_h, lengths_mm, curls_deg):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1.0


# The age table as first derived from the knots and proportions: our own numbers, rounded.
@pytest.mark.frozen
@pytest.mark.parametrize(
    ("age_h", "mass_mg", "length_mm", "width_mm", "curl_deg"),
    [
        (0, 0.11, 1.42, 0.32, 62),
        (6, 0.20, 1.65, 0.40, 78),
        (12, 0.34, 1.95, 0.48, 103),
        (18, 0.49, 2.20, 0.55, 139),
        (24, 0.69, 2.46, 0.61, 184),
        (30, 1.03, 2.81, 0.70, 232),
        (36, 1.55, 3.22, 0.81, 274),
        (42, 2.32, 3.68, 0.92, 306),
        (48, 3.6, 4.27, 1.07, 328),
        (60, 11.0, 6.2, 1.55, 350),
        (72, 30.0, 8.65, 2.16, 357),
    ],
)
def test_age_table_is_as_first_derived(age_h, mass_mg, length_mm, width_mm, curl_deg):
    assert mean_mass_mg(age_h) == pytest.approx(mass_mg, rel=0.03, abs=0)
    assert mean_length_mm(age_h) == pytest.approx(length_mm, rel=0, abs=0.02)
    assert mean_width_mm(age_h) == pytest.approx(width_mm, rel=0, abs=0.01)
    assert mean_curl_deg(age_h) == pytest.approx(curl_deg, rel=0, abs=0.6)
