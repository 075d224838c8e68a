"""The command timetable: what scripts read of it, and what it refuses."""

import json
from datetime import datetime
from zoneinfo import ZoneInfo

import icalendar
import pytest

from larvasight.cli.main import run

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture(autouse=True)
def berlin(monkeypatch):
    monkeypatch.setattr("larvasight.desk.reporting.local_zone", lambda: BERLIN)


def told(capsys, *arguments):
    assert run(["timetable", *arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.reference(
    "worked by hand: egg stage 74 +- 4 h (72-76 h, honeybeesuite.com), laying even over the hours"
)
@pytest.mark.parametrize(
    ("caged_h", "percent"), [(4, (0, 3, 80, 17)), (12, (0, 24, 70, 7)), (24, (12, 47, 38, 3))]
)
def test_expected_ages_are_told_in_percent(capsys, caged_h, percent):
    ages = told(capsys, "--graft", "2027-05-14T10:00", "--caged-h", str(caged_h))["expected_ages"]
    assert list(ages) == ["unhatched", "h0_12", "h12_24", "over_24"]
    assert list(ages.values()) == pytest.approx(percent, abs=2.0)
    assert sum(ages.values()) == pytest.approx(100.0, abs=0.3)


def test_steps_are_told_in_the_order_of_time_with_offsets(capsys):
    steps = told(capsys, "--graft", "2027-05-14T10:00")["steps"]
    begins = [datetime.fromisoformat(step["from"]) for step in steps]
    assert begins == sorted(begins)
    graft = next(step for step in steps if step["key"] == "graft")
    assert graft["usual"] == "2027-05-14T10:00:00+02:00"
    assert all(step["why"] and step["rests_on"] for step in steps)


def test_without_json_lines_are_for_people(capsys):
    assert run(["timetable", "--graft", "2027-05-14T10:00"]) == 0
    text = capsys.readouterr().out
    assert text.startswith("Grafting Fri 14\xa0May, 10:00, from a confined queen.")
    assert "Mon 10\xa0May, 09:00\N{EN DASH}11:00" in text
    assert "ask your own authority" in text


def test_the_calendar_file_is_written_beside(capsys, tmp_path):
    file = tmp_path / "plan.ics"
    told(capsys, "--graft", "2027-03-30T10:00", "--ics", str(file))
    calendar = icalendar.Calendar.from_ical(file.read_bytes())
    begins = {str(e["summary"]).split(" (")[0]: e["dtstart"].dt for e in calendar.walk("VEVENT")}
    assert begins["Graft"] == datetime(2027, 3, 30, 8, 0, tzinfo=BERLIN)
    # Four days of 24 hours before 10 o'clock in summer time is 9 o'clock in winter time.
    assert begins["Confine the queen to the comb"] == datetime(2027, 3, 26, 8, 0, tzinfo=BERLIN)


def test_other_starts_have_their_usual_hours(capsys):
    edge = told(capsys, "--graft", "2027-05-14T10:00", "--start", "edge")
    assert (edge["lead_h"], edge["caged_h"]) == (18.0, None)
    comb = told(capsys, "--graft", "2027-05-14T10:00", "--start", "comb")
    assert comb["lead_h"] == 108.0


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["--graft", "tomorrow"],
        ["--graft", "2027-02-30T10:00"],
        ["--graft", "2027-03-28T02:30"],
        ["--graft", ""],
        ["--graft", "0001-01-01T00:00"],
        ["--graft", "9999-12-31T23:00"],
        ["--graft", "2027-05-14T10:00", "--caged-h", "a day"],
        ["--graft", "2027-05-14T10:00", "--caged-h", "0"],
        ["--graft", "2027-05-14T10:00", "--caged-h", "nan"],
        ["--graft", "2027-05-14T10:00", "--caged-h", "12", "--settle-h", "12"],
        ["--graft", "2027-05-14T10:00", "--lead-h", "10"],
        ["--graft", "2027-05-14T10:00", "--start", "moon"],
    ],
)
def test_a_wrong_call_ends_with_two_and_no_traceback(capsys, arguments):
    assert run(["timetable", *arguments]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "Traceback" not in said.err


def test_a_calendar_file_that_cannot_be_written_is_one_line(capsys, tmp_path):
    (tmp_path / "file").write_text("here", encoding="utf-8")
    file = tmp_path / "file" / "plan.ics"
    assert run(["timetable", "--graft", "2027-05-14T10:00", "--ics", str(file)]) == 1
    said = capsys.readouterr()
    assert len(said.err.splitlines()) == 1
    assert said.out == ""
