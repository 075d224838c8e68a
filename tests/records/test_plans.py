"""Plans are kept, listed newest first, changed and taken away, and come through a backup."""

from datetime import timedelta
from uuid import uuid4

import pytest

from larvasight.errors import NameInvalidError
from larvasight.records.archive import backup_to, restore_from
from larvasight.records.store import Store

SPEC = '{"caged_h": 24, "grafted": "2027-05-14T10:00"}'


def test_a_plan_comes_back_as_it_was_put(store, now):
    plan_id = uuid4()
    store.put_plan(plan_id, name="  First  graft ", spec=SPEC, now=now)
    (plan,) = store.plans()
    assert (plan.id, plan.name, plan.spec, plan.made_at_utc) == (plan_id, "First graft", SPEC, now)
    assert not plan.is_removed


def test_the_newest_plan_stands_first(store, now):
    for k in range(3):
        store.put_plan(uuid4(), name=f"Plan {k}", spec="{}", now=now + timedelta(hours=k))
    assert [plan.name for plan in store.plans()] == ["Plan 2", "Plan 1", "Plan 0"]


def test_putting_a_plan_again_changes_it_and_keeps_its_day(store, now):
    plan_id = uuid4()
    store.put_plan(plan_id, name="Old", spec="{}", now=now)
    store.put_plan(plan_id, name="New", spec=SPEC, now=now + timedelta(days=1))
    (plan,) = store.plans()
    assert (plan.name, plan.spec, plan.made_at_utc) == ("New", SPEC, now)


def test_a_plan_taken_away_is_kept_out_of_the_list_only(store, now):
    plan_id = uuid4()
    store.put_plan(plan_id, name="May", spec=SPEC, now=now)
    store.remove_plan(plan_id, now=now)
    assert store.plans() == []
    (plan,) = store.plans(with_removed=True)
    assert (plan.name, plan.is_removed) == ("May", True)
    store.put_plan(plan_id, name="May", spec=SPEC, now=now)
    assert [plan.is_removed for plan in store.plans()] == [False]


@pytest.mark.parametrize("name", ["", "   ", "x" * 121, "a\x07b"])
def test_a_plan_without_a_fit_name_is_refused(store, now, name):
    with pytest.raises(NameInvalidError, match="1 to 120 characters"):
        store.put_plan(uuid4(), name=name, spec="{}", now=now)
    assert store.plans() == []


def test_a_plan_that_is_no_json_is_our_own_fault(store, now):
    with pytest.raises(ValueError, match="Expecting"):
        store.put_plan(uuid4(), name="May", spec="graft on Monday", now=now)


def test_taking_away_an_unknown_plan_is_our_own_fault(store, now):
    with pytest.raises(ValueError, match="plan_id"):
        store.remove_plan(uuid4(), now=now)


def test_plans_come_through_a_backup_with_those_taken_away(store, path, tmp_path, now):
    ids = [uuid4(), uuid4()]
    for plan_id in ids:
        store.put_plan(plan_id, name="May", spec=SPEC, now=now)
    store.remove_plan(ids[0], now=now)
    file = tmp_path / "all.larvasight"
    backup_to(store, path.parent / "photos", file, now=now)
    restore_from(file, tmp_path / "other", now=now)
    with Store.open(tmp_path / "other" / "records.db", now=now) as other:
        assert [plan.id for plan in other.plans()] == [ids[1]]
        assert other.plans(with_removed=True) == store.plans(with_removed=True)
