"""The known age of a comb: what its larvae can be, by the hours of laying."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from larvasight.desk.known_age import (
    age_of_times,
    disagreement,
    known_range,
    known_to_dict,
    known_words,
    taken_at,
)
from larvasight.growth import EGG_STAGE_H, EGG_STAGE_SD_H
from larvasight.records.types import KnownAge
from larvasight.sheet import Cell, Content

BEGAN = datetime(2027, 5, 10, 10, 0, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")


def wall(told):
    """Return a time as a clock on the wall shows it."""
    return datetime.fromisoformat(told)


def known(caged_h, taken_h):
    return KnownAge(
        laid_from_utc=BEGAN,
        laid_to_utc=BEGAN + timedelta(hours=caged_h),
        taken_at_utc=BEGAN + timedelta(hours=taken_h),
    )


def larva(low_h=None, high_h=None):
    return Cell(
        row=0,
        col=0,
        centre_xy_px=(0.0, 0.0),
        px_per_mm=10.0,
        content=Content.LARVA,
        age_h_lo=low_h,
        age_h_hi=high_h,
    )


@pytest.mark.reference(
    "Buechler et al. 2013, Standard methods for rearing and selection of queens, 2.1.5: "
    "confine the queen to a comb for 12-24 h, four days before grafting"
)
@pytest.mark.parametrize("caged_h", [12.0, 24.0])
def test_four_days_after_confining_larvae_of_the_right_age_are_there(caged_h):
    found = known_range(known(caged_h, 96.0))
    assert found.lo_h <= 12.0
    assert 20.0 <= found.hi_h <= 30.0


def test_the_range_reaches_from_the_last_slow_egg_to_the_first_quick_one():
    found = known_range(known(12.0, 120.0))
    assert (found.lo_h, found.hi_h) == (120.0 - 12.0 - 78.0, 120.0 - 70.0)


@pytest.mark.parametrize("caged_h", [4.0, 12.0, 24.0])
def test_of_larvae_hatched_by_chance_at_least_four_in_five_lie_within(caged_h):
    rng = np.random.default_rng(4)
    stage_h = rng.normal(EGG_STAGE_H.value, EGG_STAGE_SD_H.value, 20_000)
    ages_h = 110.0 - rng.uniform(0.0, caged_h, 20_000) - stage_h
    found = known_range(known(caged_h, 110.0))
    share = ((ages_h >= found.lo_h) & (ages_h <= found.hi_h)).mean()
    assert share >= 0.8


def test_before_any_egg_can_hatch_it_says_so():
    age = known(12.0, 60.0)
    assert not known_range(age).has_larvae
    assert known_words(age) == (
        "The queen laid here for 12 h: no egg can have hatched yet, the first may in 10 h."
    )
    assert "no egg of this comb can have hatched" in disagreement(larva(), known_range(age))


def test_hours_are_true_hours_in_the_night_when_clocks_are_changed():
    # In Germany clocks go from 2 to 3 h on 28 March 2027, and back on 31 October.
    spring = age_of_times(
        wall("2027-03-27 12:00"), wall("2027-03-28 12:00"), wall("2027-03-31 12:00"), BERLIN
    )
    assert spring.laid_to_utc - spring.laid_from_utc == timedelta(hours=23)
    assert known_range(spring).hi_h == 95.0 - 70.0
    autumn = age_of_times(
        wall("2027-10-30 12:00"), wall("2027-10-31 12:00"), wall("2027-11-03 12:00"), BERLIN
    )
    assert autumn.laid_to_utc - autumn.laid_from_utc == timedelta(hours=25)


@pytest.mark.parametrize(
    ("hours", "words"),
    [((0, -1, 90), "let go after"), ((0, 12, -2), "taken after"), ((0, 120, 200), "at most")],
)
def test_times_that_cannot_be_are_said_in_one_sentence(hours, words):
    begin = wall("2027-05-10 10:00")
    with pytest.raises(ValueError, match=words):
        age_of_times(*(begin + timedelta(hours=h) for h in hours), UTC)


def test_a_year_mistyped_is_told_and_no_larva_is_thousands_of_hours_old():
    begin = datetime(2025, 5, 14, 8)  # noqa: DTZ001
    times = (begin, begin + timedelta(days=1), begin.replace(year=2026, day=18))
    with pytest.raises(ValueError, match="368 days after the queen was let go"):
        age_of_times(*times, UTC)
    # A frame taken out when its youngest larvae are about to be capped can still be a photo.
    late = age_of_times(*times[:2], times[1] + timedelta(days=8), UTC)
    assert known_range(late).lo_h == pytest.approx(192.0 - 78.0, abs=0.01)


def test_a_photo_from_the_future_is_told_and_another_zone_is_none():
    now = datetime(2026, 5, 18, 8, tzinfo=UTC)
    begin = datetime(2026, 5, 14, 8)  # noqa: DTZ001
    times = (begin, begin + timedelta(days=1))
    assert age_of_times(*times, datetime(2026, 5, 18, 22), UTC, now=now)  # noqa: DTZ001
    with pytest.raises(ValueError, match="after today"):
        age_of_times(*times, datetime(2026, 5, 20, 8), UTC, now=now)  # noqa: DTZ001


def test_a_band_that_does_not_touch_what_is_known_is_said_plainly():
    found = known_range(known(12.0, 120.0))
    assert disagreement(larva(26.0, 34.0), found) == ""
    assert disagreement(larva(), found) == ""
    assert disagreement(larva(4.0, 12.0), found).startswith("Measured younger than it can be: 4")
    assert disagreement(larva(60.0, 70.0), found).startswith("Measured older than it can be")
    egg = Cell(row=0, col=0, centre_xy_px=(0.0, 0.0), px_per_mm=10.0, content=Content.EGG)
    assert disagreement(egg, found) == ""


def test_what_is_known_is_told_as_plain_values():
    told = known_to_dict(known(12.0, 120.0))
    assert told["age_h_lo"] == 30.0
    assert told["age_h_hi"] == 50.0
    assert told["laid_from"] == "2027-05-10T10:00:00+00:00"
    assert told["egg_stage_h"] == 74.0


def test_a_photo_without_notes_has_no_time(tmp_path):
    assert taken_at(tmp_path / "none.jpg") is None
