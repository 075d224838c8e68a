"""Ages on the comb: a worked table, chance drawn a hundred thousand times, and common sense."""

from dataclasses import replace

import numpy as np
import pytest

from larvasight.grading import Limits
from larvasight.timetable import Start, expected_ages
from larvasight.timetable.expected import (
    best_confinement_h,
    best_lead_h,
    compare_starts,
    early_and_late,
    n_right,
    right_between,
    taken_age_h,
)
from larvasight.timetable.spec import ages_at_graft, laying_h

# Confined for, grafting after, then percent not hatched, 0-12, 12-24 and over 24 h, mean age.
WORKED = [
    (4, 90, (0, 32, 67, 1), 14),
    (4, 96, (0, 3, 80, 17), 20),
    (12, 90, (3, 62, 35, 0), 10),
    (12, 96, (0, 24, 70, 7), 16),
    (12, 102, (0, 3, 61, 36), 22),
    (24, 96, (12, 47, 38, 3), 10),
    (24, 102, (1, 32, 49, 18), 16),
    (24, 108, (0, 12, 47, 42), 22),
]
N_DRAWN = 400_000


def shares_of(ages):
    return ages.unhatched, ages.h0_12, ages.h12_24, ages.over_24


@pytest.mark.reference(
    "worked by hand: egg stage 74 +- 4 h (72-76 h, honeybeesuite.com), laying even over the hours"
)
@pytest.mark.parametrize(("caged_h", "lead_h", "percent", "mean_h"), WORKED)
def test_ages_agree_with_a_worked_table_within_two_percent(
    spec_of, caged_h, lead_h, percent, mean_h
):
    ages = expected_ages(spec_of(caged_h=float(caged_h), lead_h=float(lead_h)))
    assert np.abs(100.0 * np.array(shares_of(ages)) - percent).max() <= 2.0
    assert ages.mean_h == pytest.approx(mean_h, abs=0.5)


@pytest.mark.parametrize("settle_h", [0.0, 3.0])
@pytest.mark.parametrize(("caged_h", "lead_h", "_percent", "_mean_h"), WORKED)
def test_ages_agree_with_eggs_laid_by_chance(spec_of, caged_h, lead_h, settle_h, _percent, _mean_h):
    rng = np.random.default_rng(1000 * caged_h + lead_h)
    laid_h = rng.uniform(settle_h, caged_h, N_DRAWN)
    ages_h = lead_h - laid_h - rng.normal(74.0, 4.0, N_DRAWN)
    drawn = np.histogram(ages_h, [-1e9, 0.0, 12.0, 24.0, 1e9])[0] / N_DRAWN
    spec = spec_of(caged_h=float(caged_h), lead_h=float(lead_h), settle_h=settle_h)
    ages = expected_ages(spec)
    # Four standard errors of a share of one half.
    assert np.abs(np.array(shares_of(ages)) - drawn).max() < 4 * 0.5 / np.sqrt(N_DRAWN)
    larvae = ages_h[ages_h > 0.0]
    assert ages.most_larvae_h == pytest.approx(np.quantile(larvae, [0.1, 0.9]), abs=0.1)
    usable = larvae[(larvae > 6.0) & (larvae < 30.0)]
    assert taken_age_h(spec) == pytest.approx(usable.mean(), abs=0.1)


@pytest.mark.parametrize(("start", "lead_h"), [(Start.EDGE, 18.0), (Start.COMB, 108.0)])
def test_ages_of_the_other_starts_agree_with_chance(spec_of, start, lead_h):
    rng = np.random.default_rng(7)
    if start is Start.EDGE:  # a patch laid in four hours, half of it just hatched
        ages_h = lead_h + rng.uniform(-2.0, 2.0, N_DRAWN) + rng.normal(0.0, 4.0, N_DRAWN)
    else:  # laid in from half a day after it was put in until it is taken out
        ages_h = lead_h - rng.uniform(12.0, lead_h, N_DRAWN) - rng.normal(74.0, 4.0, N_DRAWN)
    drawn = np.histogram(ages_h, [-1e9, 0.0, 12.0, 24.0, 1e9])[0] / N_DRAWN
    ages = expected_ages(spec_of(start, lead_h=lead_h))
    assert np.abs(np.array(shares_of(ages)) - drawn).max() < 4 * 0.5 / np.sqrt(N_DRAWN)


@pytest.mark.parametrize("start", list(Start))
def test_shares_add_up_to_one(spec_of, start):
    for late_h in (-6.0, 0.0, 5.0):
        assert sum(shares_of(expected_ages(spec_of(start), late_h=late_h))) == pytest.approx(1.0)


@pytest.mark.reference("common practice: the shorter she is confined, the more even the larvae")
def test_shorter_confinement_gives_more_even_larvae(spec_of):
    right = []
    for caged_h in (4.0, 12.0, 24.0, 48.0):
        spec = spec_of(caged_h=caged_h)
        best = replace(spec, lead_h=best_lead_h(spec))
        right.append(expected_ages(best).right_of_larvae)
    assert right == sorted(right, reverse=True)
    assert right[0] > 0.8
    assert right[-1] < 0.5


def test_the_best_hour_is_better_than_every_other_whole_hour(spec_of):
    spec = spec_of(caged_h=12.0)
    best_h = best_lead_h(spec)
    best = expected_ages(replace(spec, lead_h=best_h)).right_of_larvae
    others = [expected_ages(replace(spec, lead_h=float(h))).right_of_larvae for h in range(78, 145)]
    assert best == max(others)
    # In the middle of laying plus the egg stage plus the middle of the best ages.
    assert best_h == pytest.approx(6.0 + 74.0 + 18.0, abs=1.0)


def test_a_queen_who_settles_late_moves_the_best_hour_by_half_as_much(spec_of):
    spec = spec_of(caged_h=12.0)
    assert best_lead_h(replace(spec, settle_h=6.0)) - best_lead_h(spec) == pytest.approx(3, abs=1)


def test_later_grafting_makes_more_too_old_and_earlier_none(spec_of):
    told = early_and_late(spec_of(caged_h=12.0))
    too_old = [late.ages.too_old_of_larvae for late in told]
    assert [late.late_h for late in told] == sorted(late.late_h for late in told)
    assert too_old == sorted(too_old)
    assert too_old[0] < 0.001 < too_old[-1]


def test_eggs_laid_meanwhile_on_an_open_comb_stay_eggs_when_grafting_late(spec_of):
    spec = spec_of(Start.COMB)
    late = expected_ages(spec, late_h=6.0)
    again = expected_ages(replace(spec, lead_h=spec.lead_h + 6.0))
    assert shares_of(late) == pytest.approx(shares_of(again))


def test_enough_larvae_decide_how_long_she_is_confined(spec_of):
    few = best_confinement_h(spec_of(n_bars=1, cups_per_bar=10))
    many = best_confinement_h(spec_of(n_bars=5, cups_per_bar=20))
    assert few < many
    spec = spec_of(n_bars=5, cups_per_bar=20, caged_h=many)
    assert n_right(replace(spec, lead_h=best_lead_h(spec))) >= 2 * 100
    assert best_confinement_h(spec_of(n_bars=5, cups_per_bar=20, eggs_per_h=1.0)) is None


def test_larvae_found_are_what_was_laid_in_the_right_hours(spec_of):
    spec = spec_of(caged_h=12.0, eggs_per_h=40.0)
    assert laying_h(spec) == 12.0
    assert n_right(spec) == pytest.approx(480.0 * expected_ages(spec).h12_24)
    # A comb laid in day and night holds the larvae of twelve hours.
    open_comb = spec_of(Start.COMB, lead_h=130.0, eggs_per_h=40.0)
    assert n_right(open_comb) == pytest.approx(480.0, rel=0.01)


@pytest.mark.reference("72-76 h at nest temperature (honeybeesuite.com)")
def test_the_share_of_right_larvae_is_told_with_the_doubt_of_the_egg_stage(spec_of):
    spec = spec_of(caged_h=24.0)
    low, high = right_between(spec)
    assert low < expected_ages(spec).right_of_larvae < high
    assert high - low > 0.03
    edge = spec_of(Start.EDGE)
    assert right_between(edge)[0] == right_between(edge)[1]


def test_the_three_starts_are_compared_the_preferred_first(spec_of):
    edge, comb, confined = compare_starts(spec_of(caged_h=24.0))
    assert [c.spec.start for c in (edge, comb, confined)] == list(Start)
    assert edge.ages.right_of_larvae > 0.8
    assert edge.ages.right_of_larvae > confined.ages.right_of_larvae > comb.ages.right_of_larvae


def test_the_teachers_ages_are_the_ones_that_count(spec_of):
    spec = spec_of(caged_h=12.0)
    younger = Limits(young_h=2.0, best_young_h=6.0, best_old_h=12.0, old_h=20.0)
    assert best_lead_h(spec, younger) < best_lead_h(spec)


def test_ages_refuse_an_oldest_below_the_youngest(spec_of):
    ages = ages_at_graft(spec_of())
    with pytest.raises(ValueError, match="youngest_h"):
        replace(ages, youngest_h=ages.oldest_h + 1.0)
