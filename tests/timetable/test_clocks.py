"""Dates across the nights on which clocks change, and calendars that other programs read."""

from datetime import UTC, date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import icalendar
import pytest
import vobject

from larvasight.timetable import Anchor, NamedPlan, Start
from larvasight.timetable.calendar_file import calendar_file
from larvasight.timetable.spec import aware, by_days, days_to_wanted, later

BERLIN, YORK, SYDNEY = (
    ZoneInfo(name) for name in ("Europe/Berlin", "America/New_York", "Australia/Sydney")
)
NOW = datetime(2027, 2, 1, 12, 0, tzinfo=UTC)
PLAN_ID = UUID("3f0d8a66-5a0e-4a53-9f0f-0a4b6f1f7a10")
# Summer time begins on 28 March 2027 in Berlin, on 14 March in New York and ends on 31 October and
# 7 November; in Sydney it ends on 4 April and begins on 3 October.
CHANGES = [
    (BERLIN, datetime.fromisoformat("2027-03-30T10:00")),
    (BERLIN, datetime.fromisoformat("2027-11-02T10:00")),
    (YORK, datetime.fromisoformat("2027-03-16T10:00")),
    (SYDNEY, datetime.fromisoformat("2027-04-06T10:00")),
]
tz_rules = pytest.mark.reference(
    "IANA time zone database: clocks in Berlin, New York and Sydney in 2027"
)


@tz_rules
@pytest.mark.parametrize(("zone", "at"), CHANGES)
def test_hours_that_bees_count_are_elapsed_hours(plan_of, zone, at):
    plan = plan_of(tz=zone, anchor_at=at.replace(tzinfo=zone))
    confined = plan.step("confine").usual_at
    elapsed = plan.graft_at.astimezone(UTC) - confined.astimezone(UTC)
    assert elapsed == timedelta(hours=96)
    # One hour off on the clock, since clocks changed in between.
    assert abs(confined.hour - plan.graft_at.hour) == 1


@tz_rules
@pytest.mark.parametrize(("zone", "at"), CHANGES)
def test_what_is_known_to_the_day_keeps_its_day(plan_of, zone, at):
    # Ten days later, over the change, late in the evening.
    for hour in (0, 10, 23):
        begin = (at - timedelta(days=5)).replace(hour=hour, minute=30, tzinfo=zone)
        plan = plan_of(tz=zone, anchor_at=begin)
        ripe = plan.step("ripe").usual_at
        assert (ripe.date() - begin.date()).days == 10
        assert (ripe.hour, ripe.minute) == (hour, 30)


@tz_rules
def test_an_hour_that_clocks_skip_is_refused_and_one_told_twice_is_taken():
    assert aware(datetime.fromisoformat("2027-03-28T02:30"), BERLIN) is None
    assert aware(datetime.fromisoformat("2027-10-31T02:30"), BERLIN) is not None
    moved = by_days(datetime(2027, 3, 27, 2, 30, tzinfo=BERLIN), 1.0)
    assert moved.astimezone(UTC) == datetime(2027, 3, 28, 1, 30, tzinfo=UTC)
    assert moved.hour == 3


@tz_rules
def test_a_start_and_the_grafting_it_leads_to_are_elapsed_hours_apart(plan_of):
    seen = datetime(2027, 3, 27, 18, 0, tzinfo=BERLIN)
    plan = plan_of(Start.EDGE, anchor=Anchor.START, anchor_at=seen, lead_h=18.0)
    assert plan.graft_at == datetime(2027, 3, 28, 13, 0, tzinfo=BERLIN)
    assert plan.step("edge").usual_at == seen
    assert later(seen, 18.0, BERLIN) == plan.graft_at


@tz_rules
def test_the_day_of_need_is_counted_in_days_of_the_calendar(spec_of, plan_of):
    need = datetime(2027, 4, 10, 10, 0, tzinfo=BERLIN)
    plan = plan_of(anchor=Anchor.NEEDED, anchor_at=need)
    gap = days_to_wanted(plan.spec.wanted, plan.spec.sealed_c)
    assert (need.date() - plan.graft_at.date()).days == gap == 28
    assert plan.graft_at.hour == 10


def written(plan, name="Batch 1"):
    named = NamedPlan(id=PLAN_ID, name=name, plan=plan)
    return calendar_file([named], now=NOW, program_version="0.1.0")


@pytest.fixture
def over_the_change(plan_of):
    return plan_of(anchor_at=datetime(2027, 3, 30, 10, 0, tzinfo=BERLIN))


@pytest.mark.reference("RFC 5545, read back by the library icalendar")
def test_every_step_stands_in_the_calendar_at_its_time(over_the_change):
    calendar = icalendar.Calendar.from_ical(written(over_the_change))
    events = {str(event["summary"]): event for event in calendar.walk("VEVENT")}
    assert len(events) == len(over_the_change.steps)
    for step in over_the_change.steps:
        event = events[f"{step.title} (Batch 1)"]
        begin, end = event["dtstart"].dt, event["dtend"].dt
        if step.is_by_day:
            assert type(begin) is date
            assert (begin, end) == (
                step.from_at.date(),
                step.to_at.date() + timedelta(days=1),
            )
        else:
            assert begin == step.from_at.replace(second=0, microsecond=0)
            assert end >= begin + timedelta(minutes=30)
        assert step.why in str(event["description"])


@pytest.mark.reference("RFC 5545, read back by the library vobject with the file's own VTIMEZONE")
def test_another_reader_finds_the_same_moments(over_the_change):
    calendar = vobject.readOne(written(over_the_change).decode())
    assert calendar.vtimezone.tzid.value == "Europe/Berlin"
    events = {event.summary.value: event for event in calendar.vevent_list}
    timed = [step for step in over_the_change.steps if not step.is_by_day]
    assert len(events) == len(over_the_change.steps)
    assert len(timed) >= 6
    for step in over_the_change.steps:
        event = events[f"{step.title} (Batch 1)"]
        if step.is_by_day:
            assert event.dtstart.value == step.from_at.date()
        else:
            # Its zone is rebuilt from the rules in the file, past the system's database.
            assert event.dtstart.value.astimezone(UTC) == step.from_at.astimezone(UTC)
    # Confined in winter time, grafted in summer time.
    confined = events["Confine the queen to the comb (Batch 1)"].dtstart.value
    grafted = events["Graft (Batch 1)"].dtstart.value
    assert confined.utcoffset() == timedelta(hours=1)
    assert grafted.utcoffset() == timedelta(hours=2)


@pytest.mark.reference("RFC 5545, 3.1 and 3.8.4.7: lines of at most 75 octets, lasting UIDs")
def test_lines_are_folded_and_the_same_plan_keeps_its_uids(plan_of):
    first, second = written(plan_of()), written(plan_of(n_nucs=3), name="Renamed")
    assert max(len(line) for line in first.split(b"\r\n")) <= 75

    def uids(data):
        return {str(e["uid"]) for e in icalendar.Calendar.from_ical(data).walk("VEVENT")}

    assert uids(first) == uids(second)
    assert len(uids(first)) == len(plan_of().steps)


def test_work_has_a_reminder_and_rest_does_not_block_the_day(plan_of):
    calendar = icalendar.Calendar.from_ical(written(plan_of()))
    for event in calendar.walk("VEVENT"):
        is_work = event["categories"].to_ical() == b"do"
        assert bool(event.walk("VALARM")) == is_work
        if not is_work:
            assert event["transp"] == "TRANSPARENT"


def test_cautions_stand_in_the_entry_of_the_grafting(plan_of):
    text = written(plan_of()).decode().replace("\r\n ", "")
    assert "ask your bee inspector" in text
    assert "Stings can kill" in text


def test_a_zone_without_a_public_name_is_written_in_utc(plan_of):
    from datetime import timezone

    fixed = timezone(timedelta(hours=3))
    plan = plan_of(tz=fixed, anchor_at=datetime(2027, 5, 14, 10, 0, tzinfo=fixed))
    calendar = icalendar.Calendar.from_ical(written(plan))
    graft = next(e for e in calendar.walk("VEVENT") if str(e["summary"]).startswith("Graft"))
    assert graft["dtstart"].dt == plan.step("graft").from_at
    assert calendar.walk("VTIMEZONE") == []
