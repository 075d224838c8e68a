"""Plans kept in real records, and what is written of them."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest

from larvasight.desk.timetabling import (
    KeptPlan,
    first_spec,
    keep_plan,
    kept_plans,
    named_plans,
    next_name,
    remove_plan,
    save_calendar,
    save_grafting_sheet,
    wall_time,
)
from larvasight.errors import AssetMissingError, NameInvalidError, PlanInvalidError
from larvasight.grading import Limits
from larvasight.records.store import Store
from larvasight.render.tiles import TileLibrary

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2027, 5, 1, 12, 0, tzinfo=UTC)


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "records.db", now=NOW) as opened:
        yield opened


def plan_called(name):
    return KeptPlan(id=uuid4(), name=name, spec=first_spec(NOW, BERLIN))


def test_a_plan_is_kept_changed_and_taken_away(store):
    plan = plan_called("Alma")
    keep_plan(store, plan, now=NOW)
    assert kept_plans(store) == [plan]
    remove_plan(store, plan.id, now=NOW)
    assert kept_plans(store) == []
    remove_plan(store, uuid4(), now=NOW)


def test_a_plan_that_cannot_be_read_hides_no_other(store):
    plan = plan_called("Alma")
    keep_plan(store, plan, now=NOW)
    store.put_plan(uuid4(), name="Broken", spec="{}", now=NOW + timedelta(hours=1))
    broken, found = kept_plans(store)
    assert found == plan
    assert broken.spec is None
    assert broken.trouble.endswith(".")
    assert [named.name for named in named_plans([broken, found], BERLIN, Limits())] == ["Alma"]
    with pytest.raises(ValueError, match="decisions"):
        keep_plan(store, broken, now=NOW)


def test_a_name_that_cannot_be_is_refused(store):
    with pytest.raises(NameInvalidError):
        keep_plan(store, plan_called("  "), now=NOW)


def test_a_new_plan_grafts_in_the_morning_three_weeks_on():
    at = first_spec(NOW, BERLIN).anchor_at
    assert at == datetime(2027, 5, 22, 10, 0, tzinfo=BERLIN)


def test_a_new_plan_has_a_name_that_is_free():
    assert next_name([]) == "Batch 1"
    assert next_name(["batch 1", "Other", "Batch 2"]) == "Batch 3"


@pytest.mark.reference("ISO 8601 days and hours")
def test_a_day_and_hour_are_those_of_the_place():
    assert wall_time("2027-05-14T10:00", BERLIN) == datetime(2027, 5, 14, 8, 0, tzinfo=UTC)
    assert wall_time("2027-05-14T10:00Z", BERLIN).hour == 12


@pytest.mark.parametrize(
    "text", ["", "soon", "2027-13-01T10:00", "2027-03-28T02:30", "0001-01-01T00:00"]
)
def test_what_is_no_day_and_hour_is_refused_in_one_sentence(text):
    with pytest.raises(PlanInvalidError):
        wall_time(text, BERLIN)


def test_a_calendar_holds_all_plans(tmp_path):
    named = named_plans([plan_called("Alma"), plan_called("Berta")], BERLIN, Limits())
    save_calendar(tmp_path / "all.ics", named, now=NOW)
    text = (tmp_path / "all.ics").read_text(encoding="utf-8").replace("\n ", "")
    assert "Graft (Alma)" in text
    assert "Graft (Berta)" in text


def test_the_sheet_shows_cells_that_come_with_the_program(tmp_path):
    (named,) = named_plans([plan_called("Alma")], BERLIN, Limits())
    path = tmp_path / "sheet.pdf"
    save_grafting_sheet(path, named, Limits(), made_on=NOW.date())
    assert path.read_bytes().startswith(b"%PDF")
    with pytest.raises(AssetMissingError):
        TileLibrary.load(tmp_path / "nothing")
