"""What is kept: opened, backed up once a day, brought back, and set aside when it is damaged."""

from contextlib import closing
from datetime import UTC, datetime, timedelta

import pytest

from larvasight.desk import keepsakes
from larvasight.errors import (
    BackupInvalidError,
    RecordsLostError,
    StoreDamagedError,
    StoreFullError,
    StoreReadOnlyError,
)
from larvasight.records import backup as backing_up
from larvasight.records.store import Store

NOW = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)
DAY = timedelta(days=1)


@pytest.fixture
def data(tmp_path):
    return tmp_path / "data"


def names_in(data, now=NOW):
    with closing(keepsakes.open_store(data, now=now)) as store:
        return [learner.name for learner in store.learners()]


def add(data, name, *, now=NOW):
    with closing(keepsakes.open_store(data, now=now)) as store:
        store.add_learner(name, now=now)


def backups(data):
    return sorted(path.name for path in (data / "backups").iterdir())


def damage(data):
    (data / "records.db").write_bytes(b"This is no database." * 400)


def test_the_folder_can_be_chosen(monkeypatch, tmp_path):
    monkeypatch.setenv("LARVASIGHT_DATA", str(tmp_path / "class"))
    assert keepsakes.folder() == tmp_path / "class"
    monkeypatch.delenv("LARVASIGHT_DATA")
    usual = keepsakes.folder()
    assert usual.is_absolute()
    assert usual.name == "larvasight"


def test_records_are_made_when_there_are_none(data):
    assert names_in(data) == []
    assert (data / "records.db").is_file()


def test_what_is_kept_is_there_the_next_time(data):
    add(data, "Mira")
    assert names_in(data) == ["Mira"]


def test_one_backup_a_day_is_made_when_the_records_are_opened(data):
    add(data, "Mira", now=NOW)
    add(data, "Jonne", now=NOW + timedelta(hours=3))
    assert backups(data) == ["records-2026-05-20.db"]
    add(data, "Zoi", now=NOW + DAY)
    assert backups(data) == ["records-2026-05-20.db", "records-2026-05-21.db"]
    with Store.open(data / "backups" / "records-2026-05-21.db", now=NOW) as copy:
        assert [learner.name for learner in copy.learners()] == ["Jonne", "Mira"]


def test_records_that_cannot_be_backed_up_are_closed_again(data, tmp_path):
    data.mkdir()
    (data / "backups").write_text("A file where the folder should be.", encoding="utf-8")
    with pytest.raises(StoreReadOnlyError):
        keepsakes.open_store(data, now=NOW)
    # Were they still open, they could not be moved and deleted everywhere.
    (data / "backups").unlink()
    assert names_in(data) == []


def test_the_newest_backup_is_found(data):
    assert keepsakes.newest_backup(data) is None
    add(data, "Mira", now=NOW)
    add(data, "Jonne", now=NOW + DAY)
    newest = keepsakes.newest_backup(data)
    assert newest == data / "backups" / "records-2026-05-21.db"
    newest.write_bytes(b"damaged as well")
    assert keepsakes.newest_backup(data) == data / "backups" / "records-2026-05-20.db"


def test_damaged_records_are_refused_and_left_as_they_are(data):
    add(data, "Mira")
    damage(data)
    before = (data / "records.db").read_bytes()
    with pytest.raises(StoreDamagedError):
        keepsakes.open_store(data, now=NOW)
    assert (data / "records.db").read_bytes() == before


def test_a_backup_takes_the_place_of_damaged_records(data):
    add(data, "Mira", now=NOW)
    add(data, "Jonne", now=NOW + DAY)
    damage(data)
    damaged = (data / "records.db").read_bytes()
    keepsakes.replace_damaged(data, keepsakes.newest_backup(data), now=NOW + 2 * DAY)
    assert names_in(data, NOW + 2 * DAY) == ["Mira"]
    assert (data / "damaged-2026-05-22.db").read_bytes() == damaged


def test_without_a_backup_one_begins_anew(data):
    add(data, "Mira")
    for backup in (data / "backups").iterdir():
        backup.unlink()
    damage(data)
    keepsakes.replace_damaged(data, None, now=NOW)
    assert names_in(data) == []
    assert (data / "damaged-2026-05-20.db").is_file()


def test_a_backup_that_cannot_be_copied_leaves_the_damaged_file_where_it_is(data, monkeypatch):
    add(data, "Mira")
    damage(data)
    damaged = (data / "records.db").read_bytes()

    def refuse(*_args):
        msg = "The disk is full."
        raise StoreFullError(msg)

    monkeypatch.setattr(backing_up, "copy_database", refuse)
    with pytest.raises(StoreFullError):
        keepsakes.replace_damaged(data, keepsakes.newest_backup(data), now=NOW)
    assert (data / "records.db").read_bytes() == damaged
    with pytest.raises(StoreDamagedError):
        keepsakes.open_store(data, now=NOW)


def lose(data):
    for path in data.glob("records.db*"):
        path.unlink()


def test_records_that_are_gone_are_not_begun_anew_unasked(data):
    add(data, "Mira")
    keepsakes.open_store(data, now=NOW + DAY).close()
    lose(data)
    with pytest.raises(RecordsLostError, match=r"^records\.db in .* is missing, but backups"):
        keepsakes.open_store(data, now=NOW + DAY)
    assert not (data / "records.db").exists()
    keepsakes.replace_damaged(data, keepsakes.newest_backup(data), now=NOW + DAY)
    assert names_in(data, NOW + DAY) == ["Mira"]
    assert not list(data.glob("damaged-*"))


def test_records_that_are_gone_without_a_good_backup_are_made(data):
    add(data, "Mira")
    lose(data)
    for backup in (data / "backups").iterdir():
        backup.write_bytes(b"damaged as well")
    assert names_in(data) == []


@pytest.mark.parametrize("lost", [damage, lose])
def test_empty_records_leave_the_backup_of_the_day_that_has_answers(data, lost):
    add(data, "Mira", now=NOW)
    with closing(keepsakes.open_store(data, now=NOW)) as store:
        keepsakes.back_up_day(store, data, now=NOW)
    lost(data)
    keepsakes.replace_damaged(data, None, now=NOW)
    assert backups(data) == ["records-2026-05-20-2.db"]
    with closing(keepsakes.open_store(data, now=NOW, fresh=True)) as store:
        assert store.learners() == []
        keepsakes.back_up_day(store, data, now=NOW)
    assert backups(data) == ["records-2026-05-20-2.db", "records-2026-05-20.db"]
    (data / "backups" / "records-2026-05-20.db").unlink()
    with Store.open(keepsakes.newest_backup(data), now=NOW) as copy:
        assert [learner.name for learner in copy.learners()] == ["Mira"]


def test_the_day_ends_with_a_backup_that_loses_nothing(data):
    add(data, "Mira")
    with closing(keepsakes.open_store(data, now=NOW)) as store:
        keepsakes.back_up_day(store, data, now=NOW)
        (mira,) = store.learners()
        store.delete_learner(mira.id)
        keepsakes.back_up_day(store, data, now=NOW)
    assert backups(data) == ["records-2026-05-20-2.db", "records-2026-05-20.db"]


def test_everything_goes_into_one_file_and_comes_back_elsewhere(data, tmp_path):
    add(data, "Mira")
    file = tmp_path / "class.larvabackup"
    with closing(keepsakes.open_store(data, now=NOW)) as store:
        assert keepsakes.back_up(store, data, file) == ()
    other = tmp_path / "other"
    assert keepsakes.restore(file, other, now=NOW) is None
    assert names_in(other) == ["Mira"]


def test_what_was_there_is_set_aside_when_a_backup_comes_back(data, tmp_path):
    add(data, "Mira")
    file = tmp_path / "class.larvabackup"
    with closing(keepsakes.open_store(data, now=NOW)) as store:
        keepsakes.back_up(store, data, file)
    add(data, "Jonne")
    aside = keepsakes.restore(file, data, now=NOW)
    assert names_in(data) == ["Mira"]
    with Store.open(aside, now=NOW) as before:
        assert [learner.name for learner in before.learners()] == ["Jonne", "Mira"]


def test_a_file_that_is_no_backup_changes_nothing(data, tmp_path):
    add(data, "Mira")
    file = tmp_path / "letter.larvabackup"
    file.write_text("Dear all,", encoding="utf-8")
    with pytest.raises(BackupInvalidError):
        keepsakes.restore(file, data, now=NOW)
    assert names_in(data) == ["Mira"]
