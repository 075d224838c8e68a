"""Batches of grafts are kept whole, outlast learner and plan, and come through every backup."""

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from uuid import UUID, uuid4

import pytest

from larvasight.errors import BackupInvalidError, StoreDamagedError
from larvasight.grafts import (
    AgeBand,
    Alternation,
    Batch,
    Cup,
    Factor,
    Fate,
    Feeding,
    Stage,
    Times,
    Tool,
    new_cups,
)
from larvasight.records.archive import backup_to, restore_from
from larvasight.records.backup import daily_backup
from larvasight.records.engine import plain_connection
from larvasight.records.place import backups_folder
from larvasight.records.store import Store

AT = datetime(2026, 5, 14, 10, 30, tzinfo=timezone(timedelta(hours=2)))


def full_batch(**changes):
    on = AT.date()
    emerged = {Stage.ACCEPTED: on + timedelta(days=1), Stage.EMERGED: on + timedelta(days=12)}
    values = {
        "id": uuid4(),
        "grafted_at": AT,
        "grafter": "Mira",
        "breeder": "Queen 7",
        "comb": "dark, box 2",
        "tool": Tool.BRUSH,
        "cup_kind": "plastic, brown",
        "is_primed": True,
        "feeding": Feeding.WELL_FED,
        "age_band": AgeBand.FROM_12,
        "times": Times.SINGLE,
        "magnification": 2.5,
        "light": "cold lamp",
        "place": "honey room",
        "room_c": 24.5,
        "humidity_pct": 60.0,
        "out_min": 12.0,
        "is_covered": False,
        "alternation": Alternation(factor=Factor.TOOL, value="rigid"),
        "notes": "Windy.\nSecond try.",
        "cups": (
            Cup(number=1, reached=Stage.EMERGED, days=emerged),
            Cup(number=2, fate=Fate.LOST),
            Cup(number=3, reached=Stage.CAPPED, fate=Fate.GIVEN_AWAY),
        ),
    }
    return Batch(**(values | changes))


def bare_batch(**changes):
    values = {"id": uuid4(), "grafted_at": AT, "grafter": "Noor", "cups": new_cups(2)}
    return Batch(**(values | changes))


@pytest.mark.parametrize("make", [full_batch, bare_batch])
def test_a_batch_comes_back_as_it_was_put(store, now, make):
    batch = make()
    store.put_batches([batch], now=now)
    assert store.batches() == [batch]
    assert store.batches()[0].grafted_at.utcoffset() == timedelta(hours=2)


def test_the_newest_batch_stands_first(store, now):
    old, new = bare_batch(), bare_batch(grafted_at=AT + timedelta(days=1))
    store.put_batches([new, old], now=now)
    assert [batch.id for batch in store.batches()] == [new.id, old.id]


def test_a_batch_put_again_is_replaced_whole(store, now):
    batch = full_batch()
    store.put_batches([batch], now=now)
    changed = replace(batch, tool=None, alternation=None, cups=new_cups(1))
    store.put_batches([changed], now=now)
    assert store.batches() == [changed]


def test_deleting_a_batch_leaves_no_cup_behind(store, path, now):
    batch, other = full_batch(), bare_batch()
    store.put_batches([batch, other], now=now)
    store.remove_batch(batch.id)
    assert store.batches() == [other]
    with plain_connection(path, "rw") as driver:
        left = driver.execute("SELECT DISTINCT batch_id FROM graft_cup").fetchall()
    assert left == [(str(other.id),)]
    with pytest.raises(ValueError, match="batch_id"):
        store.remove_batch(batch.id)


def test_a_batch_outlasts_its_learner_and_its_plan(store, learner, now):
    plan_id = uuid4()
    store.put_plan(plan_id, name="May", spec="{}", now=now)
    batch = full_batch(learner_id=learner.id, plan_id=plan_id)
    store.put_batches([batch], now=now)
    store.remove_plan(plan_id, now=now)
    assert store.batches() == [batch]
    store.delete_learner(learner.id)
    assert store.batches() == [replace(batch, learner_id=None)]


@pytest.mark.parametrize("named", ["learner_id", "plan_id"])
def test_an_unknown_learner_or_plan_stores_nothing_at_all(store, now, named):
    with pytest.raises(ValueError, match=named):
        store.put_batches([bare_batch(), bare_batch(**{named: uuid4()})], now=now)
    assert store.batches() == []


def test_batches_come_through_a_backup(store, learner, path, tmp_path, now):
    store.put_batches([full_batch(learner_id=learner.id), bare_batch()], now=now)
    file = tmp_path / "all.larvasight"
    backup_to(store, path.parent / "photos", file, now=now)
    restore_from(file, tmp_path / "other", now=now)
    with Store.open(tmp_path / "other" / "records.db", now=now) as other:
        assert other.batches() == store.batches()


def test_a_backup_whose_batches_cannot_be_is_refused(store, path, tmp_path, now):
    store.put_batches([full_batch()], now=now)
    changes = (
        "UPDATE graft_batch SET room_c = 9e999",
        "UPDATE graft_batch SET id = 'x'",
        "UPDATE graft_batch SET second_value = 'spoon'",
        "UPDATE graft_cup SET emerged_on = '2026-02-31' WHERE number = 1",
        "UPDATE graft_cup SET emerged_on = '2026-05-01' WHERE number = 1",
        "UPDATE graft_cup SET number = 7 WHERE number = 2",
        "UPDATE graft_batch SET grafted_utc_ms = 7258118400001",
        "DELETE FROM graft_cup",
        "UPDATE graft_batch SET plan_id = 'nobody'",
    )
    for k, change in enumerate(changes):
        changed = tmp_path / f"{k}.db"
        store.copy_to(changed)
        with plain_connection(changed, "rw") as driver:
            driver.execute(change)
        file = tmp_path / f"{k}.larvasight"
        _pack(changed, file)
        with pytest.raises(BackupInvalidError):
            restore_from(file, tmp_path / "other", now=now)
    assert not (tmp_path / "other" / "records.db").exists()


def _pack(records, file):
    import json
    import zipfile

    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("about.json", json.dumps({"format": "larvasight.backup", "version": 1}))
        archive.write(records, "records.db")


def test_a_day_on_which_a_batch_was_deleted_keeps_its_earlier_backup(store, path, now):
    folder = backups_folder(path.parent)
    batch = full_batch()
    store.put_batches([batch], now=now)
    daily_backup(store, folder, now=now)
    store.remove_batch(batch.id)
    daily_backup(store, folder, now=now, anew=True)
    assert len(list(folder.glob("records-*.db"))) == 2
    store.put_batches([bare_batch()], now=now)
    daily_backup(store, folder, now=now, anew=True)
    assert len(list(folder.glob("records-*.db"))) == 2


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE graft_cup SET reached = 'honey'",
        "UPDATE graft_cup SET fate = 'honey'",
        "UPDATE graft_cup SET accepted_on = 'May'",
        "UPDATE graft_cup SET number = 101",
        "UPDATE graft_batch SET tool = 'spoon'",
        "UPDATE graft_batch SET is_practice = 2",
        "UPDATE graft_batch SET second_factor = NULL",
        "UPDATE graft_batch SET utc_offset_min = 5000",
    ],
)
def test_the_tables_themselves_refuse_what_cannot_be(store, path, now, change):
    import sqlite3

    store.put_batches([full_batch()], now=now)
    with plain_connection(path, "rw") as driver, pytest.raises(sqlite3.IntegrityError):
        driver.execute(change)


def test_ids_are_uuids(store, now):
    store.put_batches([bare_batch()], now=now)
    assert isinstance(store.batches()[0].id, UUID)


def test_a_closed_store_takes_no_batch(path, now):
    store = Store.open(path, now=now)
    store.close()
    with pytest.raises(ValueError, match="closed"):
        store.put_batches([bare_batch()], now=now)


def test_a_damaged_file_is_told(path, now):
    path.parent.mkdir(parents=True)
    path.write_bytes(b"no database" * 1000)
    with pytest.raises(StoreDamagedError):
        Store.open(path, now=now)
