"""What is typed is read or refused in one sentence beside its field, and comes back as typed."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest

from larvasight.grafts import Alternation, Factor, Tool
from larvasight.grafts.typed import FIELDS, read_batch, typed_of

ZONE = ZoneInfo("Europe/Berlin")
NOW = datetime(2027, 6, 20, 9, tzinfo=UTC)
LEAST = {"day": "2027-05-14", "time": "10:30", "grafter": "Mira", "n_cups": "20"}
FULL = LEAST | {
    "breeder": "Queen 7",
    "comb": "dark comb, box 2",
    "tool": "brush",
    "second_tool": "rigid",
    "cup_kind": "plastic, brown",
    "primed": "yes",
    "feeding": "well-fed",
    "age": "12-24-h",
    "times": "single",
    "magnification": "2,5",
    "light": "cold lamp",
    "place": "honey room",
    "room_c": "24.5",
    "humidity_pct": "60",
    "out_min": "12",
    "covered": "no",
    "practice": "no",
    "notes": "Windy.\nSecond try.",
}


def read(typed, **changes):
    return read_batch(typed, **({"batch_id": uuid4(), "zone": ZONE, "now": NOW} | changes))


def test_day_time_name_and_number_are_enough():
    found = read(LEAST)
    assert found.problems == {}
    assert found.batch.grafted_at.isoformat() == "2027-05-14T10:30:00+02:00"
    assert len(found.batch.cups) == 20
    assert (found.batch.tool, found.batch.is_primed, found.batch.room_c) == (None, None, None)


def test_everything_is_read():
    batch = read(FULL).batch
    assert (batch.tool, batch.is_primed, batch.magnification) == (Tool.BRUSH, True, 2.5)
    assert batch.alternation == Alternation(factor=Factor.TOOL, value="rigid")
    assert (batch.is_covered, batch.is_practice, batch.out_min) == (False, False, 12.0)
    assert batch.notes == "Windy.\nSecond try."


@pytest.mark.parametrize("typed", [LEAST, FULL], ids=["least", "full"])
def test_a_batch_comes_back_from_what_it_would_be_typed_as(typed):
    batch = read(typed).batch
    assert set(typed_of(batch)) == set(FIELDS)
    assert read(typed_of(batch), batch_id=batch.id).batch == batch


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        (
            "n_cups",
            "400",
            "A batch has 1 to 100 cups, a whole number; for more begin another batch.",
        ),
        ("n_cups", "-3", "A batch has 1 to 100 cups"),
        ("n_cups", "2.5", "whole number"),
        ("n_cups", "many", "whole number"),
        ("n_cups", "", "whole number"),
        ("n_cups", "1e1", "whole number"),
        ("n_cups", "9" * 400, "whole number"),
        ("room_c", "warm", 'from -10 to 50 \N{DEGREE SIGN}C; "warm" is not'),
        ("room_c", "nan", "The room's temperature is a number"),
        ("room_c", "75", "The room's temperature is a number"),
        ("humidity_pct", "-1", "The room's humidity is a number from 0 to 100 %"),
        ("out_min", "1_0", "The time out of the hive is a number"),
        ("magnification", "0", "The magnification is a number from 1 to 40 times"),
        ("grafter", "  ", "Type who grafted."),
        ("grafter", "x" * 61, "60 characters at most"),
        ("breeder", "a\x00b", "cannot be read"),
        ("day", "14.5.2027", "Type the day of grafting as 2027-05-14."),
        ("day", "1027-05-14", "Type the day"),
        ("day", "2027-06-21", "This day has not come yet"),
        ("time", "half past ten", "Type the time of grafting as 10:30."),
        ("tool", "spoon", "rigid, flexible, brush, other"),
        ("primed", "perhaps", "yes, no"),
        ("second_age", "old", "under-12-h"),
        ("second_tool", "brush", "Every second cup must differ"),
        ("second_primed", "no", "one thing only"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(field, value, sentence):
    found = read(FULL | {field: value})
    assert found.batch is None
    assert set(found.problems) == {field}
    assert sentence in found.problems[field]
    assert found.problems[field].count(".") - found.problems[field].count("0.") <= 2


def test_all_fields_that_are_wrong_are_told_at_once():
    found = read(FULL | {"n_cups": "400", "room_c": "warm", "grafter": ""})
    assert set(found.problems) == {"n_cups", "room_c", "grafter"}


def test_a_time_today_that_has_not_come_is_told_at_the_time():
    found = read(LEAST | {"day": "2027-06-20", "time": "23:00"})
    assert set(found.problems) == {"time"}


def test_a_bar_that_alternates_says_how_both_halves_are():
    found = read(LEAST | {"second_tool": "rigid"})
    assert found.problems == {"tool": "Say how the other cups are, too."}


def test_cups_marked_already_are_kept_and_more_are_added(make_cups):
    batch = read(LEAST | {"n_cups": "5"}, cups=make_cups("ax")).batch
    assert batch.cups == make_cups("axooo")
    assert read(LEAST | {"n_cups": "2"}, cups=make_cups("axo")).batch.cups == make_cups("ax")


def test_a_batch_does_not_shrink_below_its_last_cup_marked(make_cups):
    found = read(LEAST | {"n_cups": "2"}, cups=make_cups("aoxo"))
    assert found.problems == {
        "n_cups": "Something is noted of cup 3, so there are 3 cups at least."
    }


def test_grafting_moved_behind_what_was_seen_is_refused(make_batch):
    from larvasight.grafts import Stage
    from larvasight.grafts.marking import reached

    batch = make_batch("o")
    seen_on = batch.grafted_on + timedelta(days=12)
    cups = reached(batch, 1, Stage.EMERGED, seen_on=seen_on, today=NOW.date()).cups
    found = read(LEAST | {"n_cups": "1", "day": "2027-06-01"}, cups=cups)
    assert "cannot have emerged on 26 May 2027" in found.problems["day"]
