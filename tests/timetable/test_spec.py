"""Decisions: what cannot be is refused beside its field, what can comes back as it was."""

import json
from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from larvasight.errors import PlanInvalidError
from larvasight.timetable import Anchor, PlanSpec, Start, Wanted, make_plan
from larvasight.timetable.reading import Typed, read_typed
from larvasight.timetable.spec_json import spec_from_json, spec_to_json

BERLIN = ZoneInfo("Europe/Berlin")
GRAFT = datetime.fromisoformat("2027-05-14T10:00")


def typed(**changed):
    told = {
        "start": Start.CONFINED,
        "anchor": Anchor.GRAFT,
        "anchor_at": GRAFT,
        "wanted": Wanted.LAYING,
        "lead_h": "96",
        "caged_h": "24",
        "settle_h": "0",
        "eggs_per_h": "30",
        "sealed_c": "34,5",
        "n_bars": "2",
        "cups_per_bar": "15",
        "n_nucs": "20",
        "n_nucs_owned": "20",
        "first_queen": "1",
        "breeder": " Alma ",
        "starter": "",
        "emerged_at": None,
    }
    return Typed(**{**told, **changed})


def test_what_is_typed_is_read_with_comma_or_point():
    read = read_typed(typed(), BERLIN)
    assert read.wrong == {}
    assert read.spec.sealed_c == 34.5
    assert read.spec.breeder == "Alma"
    assert read.spec.anchor_at == GRAFT.replace(tzinfo=BERLIN)


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("caged_h", "a day"),
        ("caged_h", ""),
        ("caged_h", "0"),
        ("caged_h", "nan"),
        ("caged_h", "inf"),
        ("lead_h", "-96"),
        ("lead_h", "9_6"),
        ("settle_h", "24"),
        ("eggs_per_h", "many"),
        ("sealed_c", "94"),
        ("n_bars", "1.5"),
        ("n_bars", "six"),
        ("cups_per_bar", "21"),
        ("n_nucs", "-1"),
        ("n_nucs_owned", "99999999999999999999"),
        ("n_nucs", "٣٣"),
    ],
)
def test_a_number_that_cannot_be_is_refused_beside_its_field(field, text):
    read = read_typed(typed(**{field: text}), BERLIN)
    assert read.spec is None
    assert set(read.wrong) == {field}
    assert read.wrong[field].endswith((".", "please."))


def test_all_wrong_fields_are_told_at_once():
    read = read_typed(typed(caged_h="x", n_bars="y", sealed_c="z"), BERLIN)
    assert set(read.wrong) == {"caged_h", "n_bars", "sealed_c"}


def test_a_field_that_does_not_count_for_this_start_may_hold_anything():
    assert read_typed(typed(start=Start.EDGE, lead_h="18", caged_h="x"), BERLIN).spec is not None


def test_emergence_before_grafting_is_refused():
    read = read_typed(typed(emerged_at=GRAFT - timedelta(days=1)), BERLIN)
    assert set(read.wrong) == {"emerged_at"}
    assert "before they are grafted" in read.wrong["emerged_at"]


@pytest.mark.parametrize("days", [3, 40])
def test_emergence_on_a_day_that_no_queen_needs_is_refused(days):
    read = read_typed(typed(emerged_at=GRAFT + timedelta(days=days)), BERLIN)
    assert set(read.wrong) == {"emerged_at"}


def test_emergence_that_was_seen_moves_what_follows():
    seen = GRAFT + timedelta(days=14)
    late = make_plan(read_typed(typed(emerged_at=seen), BERLIN).spec, BERLIN)
    usual = make_plan(read_typed(typed(), BERLIN).spec, BERLIN)
    assert late.step("emergence").usual_at == seen.replace(tzinfo=BERLIN)
    moved = late.step("emergence").usual_at - usual.step("emergence").usual_at
    for key in ("mating", "first-eggs"):
        gap = late.step(key).from_at - usual.step(key).from_at
        assert abs(gap - moved) < timedelta(minutes=2)
    assert late.step("ripe") == usual.step("ripe")


def test_an_hour_that_clocks_skip_is_refused():
    read = read_typed(typed(anchor_at=datetime.fromisoformat("2027-03-28T02:30")), BERLIN)
    assert set(read.wrong) == {"anchor_at"}


@pytest.mark.parametrize("start", list(Start))
def test_decisions_come_back_as_they_were(spec_of, start):
    spec = spec_of(
        start,
        anchor=Anchor.NEEDED,
        wanted=Wanted.CELLS,
        breeder="Älma “7”",
        emerged_at=datetime(2027, 5, 26, 10, 0, tzinfo=BERLIN),
    )
    assert spec_from_json(spec_to_json(spec)) == spec


def test_what_a_newer_program_added_is_passed_over(spec_of):
    told = json.loads(spec_to_json(spec_of()))
    told["moon"] = "waxing"
    assert spec_from_json(json.dumps(told)) == spec_of()


@pytest.mark.parametrize(
    "change",
    [
        {"version": 2},
        {"format": "other"},
        {"caged_h": "24"},
        {"caged_h": None},
        {"caged_h": -1.0},
        {"n_bars": 1.5},
        {"n_bars": True},
        {"start": "moon"},
        {"anchor_at": "2027-05-14T10:00"},
        {"anchor_at": 7},
        {"anchor_at": None},
        {"anchor_at": "0001-01-01T00:00+00:00"},
        {"anchor_at": "9999-12-31T23:00+00:00"},
    ],
)
def test_a_damaged_plan_is_refused_in_one_sentence(spec_of, change):
    told = {**json.loads(spec_to_json(spec_of())), **change}
    with pytest.raises(PlanInvalidError, match="cannot be read"):
        spec_from_json(json.dumps(told))


@pytest.mark.parametrize("text", ["", "[]", "null", "7", '{"format": 1', "[" * 100_000])
def test_what_is_no_plan_is_refused(text):
    with pytest.raises(PlanInvalidError):
        spec_from_json(text)


def test_wrong_calls_are_refused(spec_of):
    for change in (
        {"anchor_at": GRAFT},
        {"caged_h": 73.0},
        {"lead_h": 10.0},
        {"settle_h": 24.0},
        {"n_bars": 0},
        {"sealed_c": float("nan")},
    ):
        with pytest.raises(ValueError, match=next(iter(change))):
            replace(spec_of(), **change)
    assert PlanSpec(anchor_at=GRAFT.replace(tzinfo=BERLIN)).n_cups == 30
