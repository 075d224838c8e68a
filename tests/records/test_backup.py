import re
import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest

from larvasight.errors import (
    LarvasightError,
    StoreDamagedError,
    StoreFullError,
    StoreReadOnlyError,
    StoreTooNewError,
)
from larvasight.records.backup import (
    N_DAILY,
    daily_backup,
    newest_good_backup,
    restore_db,
    set_aside,
)
from larvasight.records.place import (
    VARIABLE,
    backups_folder,
    data_folder,
    photos_folder,
    records_path,
)
from larvasight.records.store import Store


@pytest.fixture
def folder(path):
    return backups_folder(path.parent)


@pytest.fixture
def practised(store, learner, make_round, give, now):
    for _ in range(20):
        shown = make_round(learner.id, n_cells=30)
        store.show_round(shown)
        store.end_round(shown.id, [give(cell) for cell in shown.cells], now=now)
    return learner


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def garble(path):
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2] + b"\xa5" * (len(whole) // 2))


def test_a_backup_is_made_once_a_day(store, practised, folder, now):
    made = daily_backup(store, folder, now=now)
    assert made == folder / "records-2026-05-20.db"
    before = made.read_bytes()
    store.add_learner("Noor", now=now)
    assert daily_backup(store, folder, now=now + timedelta(hours=9)) == made
    assert made.read_bytes() == before
    daily_backup(store, folder, now=now + timedelta(hours=20))
    assert names(folder) == ["records-2026-05-20.db", "records-2026-05-21.db"]


def test_a_backup_is_one_file_with_all_in_it(store, practised, folder, now):
    made = daily_backup(store, folder, now=now)
    assert made.read_bytes()[18:20] == b"\x01\x01"  # needs no log beside it
    with Store.open(made, now=now) as copy:
        assert copy.learners() == store.learners()
        assert len(copy.answers(practised.id)) == 600


def test_the_newest_fourteen_are_kept(store, folder, now):
    folder.mkdir()
    (folder / "records-of-mine.db").write_bytes(b"kept")
    (folder / "before-0002-2026-01-01.db").write_bytes(b"kept")
    for day in range(17):
        daily_backup(store, folder, now=now + timedelta(days=day))
    daily = [name for name in names(folder) if re.match(r"records-\d", name)]
    assert (len(daily), N_DAILY) == (14, 14)
    assert (daily[0], daily[-1]) == ("records-2026-05-23.db", "records-2026-06-05.db")
    assert {"records-of-mine.db", "before-0002-2026-01-01.db"} < set(names(folder))


def test_this_days_backup_stays_when_the_clock_was_wrong(store, folder, now):
    for day in range(100, 114):
        daily_backup(store, folder, now=now + timedelta(days=day))
    assert daily_backup(store, folder, now=now).exists()


def test_damaged_records_make_no_backup_and_remove_none(store, practised, path, folder, now):
    for day in range(14):
        daily_backup(store, folder, now=now + timedelta(days=day))
    before = names(folder)
    store.close()
    with Store.open(path, now=now) as opened:
        with closing(sqlite3.connect(path)) as driver:
            driver.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        garble(path)
        with pytest.raises(StoreDamagedError):
            daily_backup(opened, folder, now=now + timedelta(days=20))
    assert names(folder) == before


def test_a_backup_that_finds_no_room_leaves_nothing(mount, store, practised, tmp_path, now):
    folder = mount(tmp_path / "small", "-t", "tmpfs", "-o", "size=100k", "tmpfs")
    with pytest.raises(StoreFullError, match="disk is full"):
        daily_backup(store, folder, now=now)
    assert names(folder) == []


def test_a_backup_folder_that_cannot_be_made(store, tmp_path, now):
    (tmp_path / "taken").write_text("no folder")
    with pytest.raises(StoreReadOnlyError, match="cannot be written"):
        daily_backup(store, tmp_path / "taken" / "backups", now=now)


def test_newest_good_backup_is_found(store, practised, folder, now):
    assert newest_good_backup(folder) is None
    made = [daily_backup(store, folder, now=now + timedelta(days=day)) for day in range(4)]
    assert newest_good_backup(folder) == made[3]
    garble(made[3])
    made[2].write_bytes(b"")
    assert newest_good_backup(folder) == made[1]
    with closing(sqlite3.connect(made[1])) as driver, driver:
        driver.execute("UPDATE alembic_version SET version_num = '9999'")
    assert newest_good_backup(folder) == made[0]
    later = folder / "before-0002-2026-05-20.db"
    later.write_bytes(made[0].read_bytes())
    assert newest_good_backup(folder) == later
    garble(later)
    assert newest_good_backup(folder) == made[0]
    made[0].unlink()
    assert newest_good_backup(folder) is None


def test_looking_at_backups_leaves_no_trace(store, folder, now):
    daily_backup(store, folder, now=now)
    newest_good_backup(folder)
    assert names(folder) == ["records-2026-05-20.db"]


def test_damaged_records_are_set_aside_and_a_backup_takes_their_place(
    store, practised, path, folder, now
):
    daily_backup(store, folder, now=now)
    store.close()
    garble(path)
    damaged = path.read_bytes()
    path.with_name("records.db-wal").write_bytes(b"written ahead")
    with pytest.raises(StoreDamagedError):
        Store.open(path, now=now)
    aside = set_aside(path, now=now)
    assert aside == path.with_name("damaged-2026-05-20.db")
    assert aside.read_bytes() == damaged
    assert restore_db(newest_good_backup(folder), path, now=now) is None
    with Store.open(path, now=now) as again:
        assert len(again.answers(practised.id)) == 600
    assert names(folder) == ["records-2026-05-20.db"]


def test_what_was_set_aside_is_never_replaced(path, now):
    path.parent.mkdir()
    for number, name in enumerate(["damaged-2026-05-20.db", "damaged-2026-05-20-2.db"]):
        path.write_text(f"damaged {number}")
        assert set_aside(path, now=now) == path.with_name(name)
    assert path.with_name("damaged-2026-05-20.db").read_text() == "damaged 0"
    assert set_aside(path, now=now) is None
    path.with_name("records.db-wal").write_bytes(b"left over")
    assert set_aside(path, now=now) == path.with_name("damaged-2026-05-20-3.db")
    assert path.with_name("damaged-2026-05-20-3.db-wal").read_bytes() == b"left over"


def test_a_backup_sets_aside_what_lies_in_its_place(store, learner, path, folder, now):
    backup = daily_backup(store, folder, now=now)
    store.close()
    path.write_bytes(b"damaged")
    path.with_name("records.db-wal").write_bytes(b"of other records")
    aside = restore_db(backup, path, now=now)
    assert aside == path.with_name("damaged-2026-05-20.db")
    assert aside.read_bytes() == b"damaged"
    assert path.with_name("damaged-2026-05-20.db-wal").read_bytes() == b"of other records"
    with Store.open(path, now=now) as again:
        assert again.learners() == [learner]


def test_a_backup_that_cannot_be_copied_leaves_all_in_its_place(
    mount, store, practised, folder, tmp_path, now
):
    backup = daily_backup(store, folder, now=now)
    data = mount(tmp_path / "small", "-t", "tmpfs", "-o", "size=100k", "tmpfs")
    (data / "records.db").write_bytes(b"damaged")
    with pytest.raises(StoreFullError):
        restore_db(backup, data / "records.db", now=now)
    assert names(data) == ["records.db"]
    assert (data / "records.db").read_bytes() == b"damaged"


def learners_in(backup, now):
    with Store.open(backup, now=now) as copy:
        return [learner.name for learner in copy.learners()]


def test_a_backup_made_anew_takes_the_place_of_one_that_holds_no_more(
    store, learner, folder, now, make_round, give
):
    daily_backup(store, folder, now=now)
    shown = make_round(learner.id)
    store.show_round(shown)
    store.end_round(shown.id, [give(cell) for cell in shown.cells], now=now)
    store.add_learner("Noor", now=now)
    made = daily_backup(store, folder, now=now, anew=True)
    assert names(folder) == ["records-2026-05-20.db"]
    assert learners_in(made, now) == ["Mira", "Noor"]


@pytest.mark.parametrize("fewer", ["learners", "answers", "unreadable"])
def test_a_backup_that_holds_more_is_kept_beside_the_newer_one(
    store, practised, folder, tmp_path, now, fewer
):
    former = daily_backup(store, folder, now=now)
    if fewer == "learners":
        store.delete_learner(practised.id)
        store.add_learner("Noor", now=now)
    elif fewer == "answers":
        with closing(sqlite3.connect(store.path)) as driver, driver:
            driver.execute("DELETE FROM shown_cell WHERE position = 7")
    else:
        former.write_bytes(b"whatever this is")
    before = former.read_bytes()
    for _ in range(2):  # the second time there is nothing more to keep
        assert daily_backup(store, folder, now=now, anew=True) == former
        assert (folder / "records-2026-05-20-2.db").read_bytes() == before
    assert names(folder) == ["records-2026-05-20-2.db", "records-2026-05-20.db"]
    former.unlink()
    if fewer != "unreadable":
        assert newest_good_backup(folder) == folder / "records-2026-05-20-2.db"


def test_backups_kept_beside_go_with_their_day(store, learner, folder, now):
    daily_backup(store, folder, now=now)
    store.delete_learner(learner.id)
    daily_backup(store, folder, now=now, anew=True)
    for day in range(1, 14):
        daily_backup(store, folder, now=now + timedelta(days=day))
    assert {"records-2026-05-20-2.db", "records-2026-05-20.db"} < set(names(folder))
    daily_backup(store, folder, now=now + timedelta(days=14))
    assert len(names(folder)) == N_DAILY
    assert names(folder)[0] == "records-2026-05-21.db"


@pytest.mark.parametrize("kind", [StoreDamagedError, StoreTooNewError])
def test_a_bad_backup_takes_no_place(store, practised, tmp_path, folder, now, kind):
    backup = daily_backup(store, folder, now=now)
    if kind is StoreTooNewError:
        with closing(sqlite3.connect(backup)) as driver, driver:
            driver.execute("UPDATE alembic_version SET version_num = '9999'")
    else:
        garble(backup)
    with pytest.raises(LarvasightError) as caught:
        restore_db(backup, tmp_path / "elsewhere" / "records.db", now=now)
    assert type(caught.value) is kind
    assert not (tmp_path / "elsewhere").exists()


def test_everything_lies_in_one_folder(monkeypatch, tmp_path):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "mine"))
    folder = data_folder()
    assert folder == tmp_path / "mine"
    monkeypatch.delenv(VARIABLE)
    assert data_folder().name == "larvasight"
    monkeypatch.setenv(VARIABLE, "")
    assert data_folder().name == "larvasight"
    assert records_path(folder) == folder / "records.db"
    assert {records_path(folder).parent, backups_folder(folder).parent} == {folder}
    assert photos_folder(folder) == folder / "photos"
    assert not folder.exists()
