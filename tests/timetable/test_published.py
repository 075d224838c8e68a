"""Rows of the timetable against published ones; what only common practice says is marked so."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from larvasight.geometry.facts import Label
from larvasight.timetable import Anchor, Start, Wanted
from larvasight.timetable.facts import FACTS

BERLIN = ZoneInfo("Europe/Berlin")
BUECHLER = "Büchler et al. 2013, BEEBOOK queen rearing, "
CUSHMAN = "Cushman, grafting timetable (dave-cushman.net)"
CHUDA = "Chuda-Mickiewicz & Samborski 2015, Acta Sci. Pol. Zootechnica 14(4)"
common_practice = pytest.mark.reference("common practice")


def hours(plan, key, which="usual_at"):
    """Return hours from grafting to a moment of a step."""
    return (getattr(plan.step(key), which) - plan.graft_at).total_seconds() / 3600.0


def days(plan, key, which="usual_at"):
    """Return days of the calendar from grafting to a moment of a step."""
    return (getattr(plan.step(key), which).date() - plan.graft_at.date()).days


@pytest.mark.reference(BUECHLER + "2.1.5: confined 12-24 h, four days before grafting")
def test_the_queen_is_confined_four_days_before_for_at_most_a_day(plan_of):
    plan = plan_of(Start.CONFINED)
    assert hours(plan, "confine") == -96.0
    assert hours(plan, "release") == -96.0 + 24.0


@pytest.mark.reference(f"{CUSHMAN}: queen in the box on day -5")
def test_where_another_timetable_confines_a_day_earlier_it_is_told(plan_of):
    said = " ".join(plan_of(Start.CONFINED).step("confine").sources_differ)
    assert "five days" in said
    assert "Cushman" in said


@pytest.mark.reference(BUECHLER + "2.1.5: comb first set beside brood to be polished")
def test_the_comb_is_polished_before_she_is_confined(plan_of):
    plan = plan_of(Start.CONFINED)
    assert plan.step("polish").to_at < plan.step("confine").usual_at


@pytest.mark.reference(BUECHLER + "2.1.4: fed for three days or more before")
def test_colonies_are_fed_for_three_days_or_more(plan_of):
    for start in Start:
        plan = plan_of(start)
        first = next(k for k in ("edge", "comb-in", "confine") if plan.has(k))
        fed = plan.step("feed")
        assert plan.step(first).usual_at - fed.from_at >= timedelta(days=3) - timedelta(hours=1)
        assert fed.to_at == plan.graft_at


@pytest.mark.reference("Crailsheim et al. 2013, BEEBOOK artificial rearing, 4.2: after a few hours")
def test_laying_is_confirmed_some_hours_after_confinement(plan_of):
    assert -96.0 < hours(plan_of(Start.CONFINED), "lays") <= -96.0 + 6.0


@pytest.mark.reference(CUSHMAN + " (24 h) and " + BUECHLER + "2.1.4 (about two days)")
def test_cells_go_to_the_finisher_between_one_and_two_days_after(plan_of):
    plan = plan_of()
    assert (hours(plan, "finisher", "from_at"), hours(plan, "finisher", "to_at")) == (24.0, 48.0)
    said = plan.step("finisher").sources_differ
    assert any("Cushman" in text for text in said)
    assert any("BEEBOOK" in text for text in said)


@pytest.mark.reference("Rosecomb Apiaries 2012: sealed 5 d after grafting, some open at 4.5 d")
def test_cells_are_sealed_about_day_five(plan_of):
    plan = plan_of()
    assert days(plan, "sealed") == 5
    assert hours(plan, "sealed", "from_at") <= 4.5 * 24.0


@pytest.mark.reference(f"{CUSHMAN}: sealed some time during day 6")
def test_sealing_during_day_six_lies_in_the_window(plan_of):
    assert days(plan_of(), "sealed", "to_at") == 6


@pytest.mark.reference(f"{CUSHMAN}: ripe cells given on day 10, emergence day 12, day 11 possible")
def test_ripe_cells_on_day_ten_and_emergence_on_day_twelve(plan_of):
    for start in Start:
        plan = plan_of(start)
        assert days(plan, "ripe") == 10
        assert days(plan, "emergence") == 12
        assert days(plan, "emergence", "from_at") == 11
        assert plan.step("ripe").to_at < plan.earliest_emergence_at


@pytest.mark.reference(f"{CHUDA}: 16 d 1 h at 34.5 C, 17 d 4 h at 32 C")
def test_queens_emerge_a_day_and_three_hours_later_in_the_cool(plan_of):
    warm, cool = plan_of(sealed_c=34.5), plan_of(sealed_c=32.0)
    assert hours(cool, "emergence") - hours(warm, "emergence") == pytest.approx(27.0)
    # 16 d 1 h from an egg laid 74 h and the larva's age before.
    larva_h = 16 * 24 + 1 - 74.0 - hours(warm, "emergence")
    assert 6.0 < larva_h < 24.0
    assert hours(plan_of(sealed_c=33.25), "emergence") == pytest.approx(
        hours(warm, "emergence") + 13.5
    )
    assert hours(cool, "ripe") > hours(warm, "ripe")
    assert cool.step("ripe").to_at < cool.earliest_emergence_at


@pytest.mark.reference("15-17 d from egg to emergence (americasbeekeeper.com)")
def test_the_window_of_emergence_is_a_day_either_way(plan_of):
    assert plan_of().step("emergence").spread_h == pytest.approx((24.0, 24.0))


@pytest.mark.reference("The Apiarist: larvae 24-36 h older emerge up to a day and a half early")
def test_larvae_older_than_thought_are_warned_of(plan_of):
    plan = plan_of()
    early = plan.step("emergence").usual_at - plan.earliest_emergence_at
    assert early == timedelta(hours=36)
    assert "day and a half early" in plan.step("emergence").warning


@pytest.mark.reference("Connor, beeculture.com: egg to first egg 16 + 7 + 2 + 3 = 28 d or more")
def test_first_eggs_are_looked_for_from_day_twenty_four_on(plan_of):
    plan = plan_of()
    assert days(plan, "first-eggs", "from_at") == 24
    assert days(plan, "first-eggs", "to_at") == 28
    from_egg_d = 24 + (74.0 + 18.0) / 24.0
    assert from_egg_d == pytest.approx(28.0, abs=0.5)


@pytest.mark.reference("flights on day 20-24 from the egg (liquisearch)")
def test_mating_flights_are_on_the_published_days(plan_of):
    plan = plan_of()
    from_egg_d = (74.0 + 18.0) / 24.0
    first = hours(plan, "mating", "from_at") / 24.0 + from_egg_d
    last = hours(plan, "mating", "to_at") / 24.0 + from_egg_d
    assert 19.5 < first <= 22.0
    assert 24.0 <= last <= 26.0


@pytest.mark.reference("drone 24 d, ripe after 12 d (apiary101) to 14 d (kvbeekeeping)")
def test_drone_eggs_are_laid_early_enough_to_ripen_by_the_flights(plan_of):
    plan = plan_of()
    flights_d = hours(plan, "mating") / 24.0
    assert flights_d - hours(plan, "drones", "from_at") / 24.0 >= 24 + 14 - 0.5
    assert flights_d - hours(plan, "drones", "to_at") / 24.0 >= 24 + 12 - 0.5
    assert days(plan, "drones", "from_at") == -19
    assert days(plan, "drones", "to_at") == -17


@pytest.mark.reference(BUECHLER + "2.1.7 (80 %) and Wilkinson & Brown 2002 (81 % of 6,666)")
def test_acceptance_is_told_with_both_published_figures(plan_of):
    said = " ".join(plan_of().step("check").sources_differ)
    assert "80 %" in said
    assert "81 %" in said


@common_practice
def test_a_comb_is_put_in_four_to_five_days_ahead(plan_of):
    step = plan_of(Start.COMB).step("comb-in")
    assert days(plan_of(Start.COMB), "comb-in", "from_at") == -5
    assert days(plan_of(Start.COMB), "comb-in", "to_at") == -4
    assert {f.label for f in step.rests_on} >= {Label.COMMON_PRACTICE}


@common_practice
def test_rogue_cells_are_searched_before_the_bar_and_five_days_later(plan_of):
    plan = plan_of()
    assert plan.step("search").to_at == plan.graft_at
    assert days(plan, "search-again") == 5
    for key in ("search", "search-again"):
        assert "one virgin kills" in plan.step(key).why.lower().replace("one\n", "one ")
        assert {f.label for f in plan.step(key).rests_on} == {Label.COMMON_PRACTICE}


@common_practice
def test_cells_are_left_alone_from_sealing_to_the_day_before_they_are_ripe(plan_of):
    plan = plan_of()
    assert days(plan, "hands-off", "from_at") == 5
    assert days(plan, "hands-off", "to_at") == 9
    assert plan.step("hands-off").to_at < plan.step("ripe").from_at


@common_practice
def test_acceptance_is_looked_at_the_next_day(plan_of):
    assert days(plan_of(), "check") == 1


@pytest.mark.reference(f"{CUSHMAN} (cells day 10) and Connor, beeculture.com (28 d)")
def test_planned_from_the_day_of_need_everything_is_there_by_then(plan_of):
    need = datetime(2027, 6, 20, 10, 0, tzinfo=BERLIN)
    for wanted, key in (
        (Wanted.CELLS, "ripe"),
        (Wanted.VIRGINS, "emergence"),
        (Wanted.LAYING, "first-eggs"),
    ):
        plan = plan_of(Start.EDGE, anchor=Anchor.NEEDED, anchor_at=need, wanted=wanted)
        due = plan.step(key).usual_at if key == "ripe" else plan.step(key).to_at
        assert 0 <= (date(2027, 6, 20) - due.date()).days <= 1
        assert plan.graft_at.hour == 10


def test_every_step_has_a_reason_a_window_and_what_it_rests_on(plan_of):
    for start in Start:
        plan = plan_of(start)
        keys = [step.key for step in plan.steps]
        assert len(set(keys)) == len(keys)
        for step in plan.steps:
            assert step.why.endswith(".")
            assert step.from_at <= step.usual_at <= step.to_at
            assert step.rests_on
            assert all(fact in FACTS or fact.name == "egg stage" for fact in step.rests_on)
        begins = [step.from_at for step in plan.steps]
        assert begins == sorted(begins)
