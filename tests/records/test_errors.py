"""What the disk, other programs or damage refuse becomes one plain sentence; nothing is lost."""

import random
import re
import sqlite3
from contextlib import closing

import pytest

from larvasight.errors import (
    StoreBusyError,
    StoreDamagedError,
    StoreFullError,
    StoreReadOnlyError,
    StoreTooNewError,
)
from larvasight.records.engine import driver_of
from larvasight.records.failures import of_code, plain_errors
from larvasight.records.store import Store

PAGE_BYTES = 4096


@pytest.fixture
def filled(path, now, make_round, give):
    """Records of 40 combs, closed, and whose they are."""
    with Store.open(path, now=now) as store:
        learner = store.add_learner("Mira", now=now)
        for _ in range(40):
            shown = make_round(learner.id, n_cells=30)
            store.show_round(shown)
            store.end_round(shown.id, [give(cell) for cell in shown.cells], now=now)
    return learner


def refused(kind, call):
    with pytest.raises(kind) as caught:
        call()
    sentence = str(caught.value)
    assert re.fullmatch(r"[A-Za-z][^\n]*[a-z]\.", sentence), sentence
    assert not re.search(r"\. [A-Z]|sqlite|errno|database", sentence, re.IGNORECASE)
    return sentence


def test_records_locked_by_another_program(store, learner, path, now, make_round, give):
    shown = make_round(learner.id)
    store.show_round(shown)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        given = [give(shown.cells[0])]
        sentence = refused(StoreBusyError, lambda: store.keep(given, now=now))
        assert sentence.startswith("Another program is using records.db")
        refused(StoreBusyError, lambda: Store.open(path, now=now, wait_ms=20))
        assert len(store.answers(learner.id)) == 0
        other.execute("ROLLBACK")
    store.keep(given, now=now)
    assert len(store.answers(learner.id)) == 1


def test_new_file_locked_by_another_program(path, now):
    path.parent.mkdir()
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        other.execute("CREATE TABLE learner (id)")
        refused(StoreBusyError, lambda: Store.open(path, now=now, wait_ms=20))


def test_disk_without_room(store, learner, now, make_round, give):
    shown = make_round(learner.id)
    store.show_round(shown)
    with store._engine.connect() as connection:
        driver = driver_of(connection)
        pages = driver.execute("PRAGMA page_count").fetchone()[0]
        driver.execute(f"PRAGMA max_page_count={pages}")
    lost = make_round(learner.id, n_cells=400)
    sentence = refused(StoreFullError, lambda: store.show_round(lost))
    assert sentence.startswith("The disk is full")
    store.keep([give(shown.cells[0])], now=now)
    assert store.unfinished_round(learner.id).id == shown.id
    assert len(store.answers(learner.id)) == 1


def test_disk_that_fills_up_and_is_cleared_again(mount, tmp_path, now, make_round, give):
    folder = mount(tmp_path / "small", "-t", "tmpfs", "-o", "size=1500k", "tmpfs")
    kept, filler = [], folder / "filler"
    with Store.open(folder / "records.db", now=now) as store:
        learner = store.add_learner("Mira", now=now)
        filler.write_bytes(bytes(600_000))

        def practise():
            while len(kept) < 20_000:
                shown = make_round(learner.id)
                store.show_round(shown)
                store.keep([give(shown.cells[0])], now=now)
                kept.append(shown.id)

        refused(StoreFullError, practise)
        assert kept
        assert len(store.answers(learner.id)) == len(kept)
        filler.unlink()
        shown = make_round(learner.id)
        store.show_round(shown)
        store.keep([give(shown.cells[0])], now=now)
    with Store.open(folder / "records.db", now=now) as store:
        assert len(store.answers(learner.id)) == len(kept) + 1


def test_disk_without_room_for_new_records(mount, tmp_path, now):
    folder = mount(tmp_path / "tiny", "-t", "tmpfs", "-o", "size=40k", "tmpfs")
    (folder / "filler").write_bytes(bytes(24_000))
    refused(StoreFullError, lambda: Store.open(folder / "records.db", now=now))
    (folder / "filler").unlink()


def test_folder_that_cannot_be_written(mount, filled, path, now):
    mount(path.parent, "--bind", str(path.parent))
    mount(path.parent, "-o", "remount,bind,ro")
    sentence = refused(StoreReadOnlyError, lambda: Store.open(path, now=now))
    assert str(path.parent) in sentence
    refused(StoreReadOnlyError, lambda: Store.open(path.with_name("new.db"), now=now))


def test_file_that_cannot_be_written(filled, path):
    # A file opened for reading only is what a missing permission comes to, for root as well.
    with (
        closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as driver,
        pytest.raises(StoreReadOnlyError),
        plain_errors(path),
    ):
        driver.execute("DELETE FROM learner")


def test_folder_whose_place_is_taken_by_a_file(tmp_path, now):
    (tmp_path / "data").write_text("no folder")
    refused(StoreReadOnlyError, lambda: Store.open(tmp_path / "data" / "records.db", now=now))


def test_records_whose_place_is_taken_by_a_folder(path, now):
    path.mkdir(parents=True)
    refused(StoreReadOnlyError, lambda: Store.open(path, now=now))


@pytest.mark.parametrize("share", [0.9, 0.5, 0.1, 0.001])
def test_truncated_records(filled, path, now, share):
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    damaged = path.read_bytes()
    sentence = refused(StoreDamagedError, lambda: Store.open(path, now=now))
    assert "records.db is damaged" in sentence
    assert path.read_bytes() == damaged


def test_records_emptied_to_nothing(filled, path, now):
    (path.parent / "backups").mkdir()
    (path.parent / "backups" / "records-2026-05-19.db").write_bytes(path.read_bytes())
    path.write_bytes(b"")
    refused(StoreDamagedError, lambda: Store.open(path, now=now))


def test_records_with_an_overwritten_header(filled, path, now):
    with path.open("rb+") as file:
        file.write(b"not a database\0\0")
    refused(StoreDamagedError, lambda: Store.open(path, now=now))


@pytest.mark.parametrize("seed", range(8))
def test_records_with_garbage_in_the_middle(filled, path, now, seed):
    draw = random.Random(seed)
    n_pages = path.stat().st_size // PAGE_BYTES
    with path.open("rb+") as file:
        file.seek(draw.randrange(1, n_pages) * PAGE_BYTES)
        file.write(draw.randbytes(PAGE_BYTES))
    damaged = path.read_bytes()
    refused(StoreDamagedError, lambda: Store.open(path, now=now))
    assert path.read_bytes() == damaged


def test_damage_that_comes_later(store, learner, path, now, make_round, give):
    for _ in range(40):
        shown = make_round(learner.id, n_cells=30)
        store.show_round(shown)
        store.end_round(shown.id, [give(cell) for cell in shown.cells], now=now)
    with closing(sqlite3.connect(path)) as driver:
        driver.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    with store._engine.connect() as connection:
        driver_of(connection).execute("PRAGMA shrink_memory")
    size = path.stat().st_size
    with path.open("rb+") as file:
        file.seek(PAGE_BYTES)
        file.write(b"\xa5" * (size - PAGE_BYTES))
    # Another connection, so that no page is still in memory.
    refused(StoreDamagedError, lambda: Store.open(path, now=now))


@pytest.mark.parametrize("content", [b"", b"name,age\nMira,12\n" * 400, bytes(8192), b"SQLite"])
def test_other_files_are_no_records(path, now, content):
    path.parent.mkdir()
    path.write_bytes(content)
    if not content:
        Store.open(path, now=now).close()
        return
    refused(StoreDamagedError, lambda: Store.open(path, now=now))
    assert path.read_bytes() == content


def test_a_database_of_something_else_is_left_alone(path, now):
    path.parent.mkdir()
    with closing(sqlite3.connect(path)) as driver, driver:
        driver.execute("CREATE TABLE recipe (id)")
    before = path.read_bytes()
    refused(StoreDamagedError, lambda: Store.open(path, now=now))
    assert path.read_bytes() == before


@pytest.mark.parametrize("versions", [[], ["0001", "0001"]])
def test_records_that_do_not_know_their_form(filled, path, now, versions):
    with closing(sqlite3.connect(path)) as driver, driver:
        driver.execute("CREATE TABLE other (version_num)")
        driver.execute("DROP TABLE alembic_version")
        driver.execute("ALTER TABLE other RENAME TO alembic_version")
        driver.executemany("INSERT INTO alembic_version VALUES (?)", [(v,) for v in versions])
    refused(StoreDamagedError, lambda: Store.open(path, now=now))


def test_records_of_a_newer_version(filled, path, now):
    with closing(sqlite3.connect(path)) as driver, driver:
        driver.execute("UPDATE alembic_version SET version_num = '9999'")
    before = path.read_bytes()
    sentence = refused(StoreTooNewError, lambda: Store.open(path, now=now))
    assert "newer version" in sentence
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("code", "kind"),
    [
        (sqlite3.SQLITE_BUSY, StoreBusyError),
        (sqlite3.SQLITE_BUSY_SNAPSHOT, StoreBusyError),
        (sqlite3.SQLITE_LOCKED, StoreBusyError),
        (sqlite3.SQLITE_FULL, StoreFullError),
        (sqlite3.SQLITE_IOERR_SHMSIZE, StoreFullError),
        (sqlite3.SQLITE_READONLY_DIRECTORY, StoreReadOnlyError),
        (sqlite3.SQLITE_CANTOPEN, StoreReadOnlyError),
        (sqlite3.SQLITE_IOERR_WRITE, StoreReadOnlyError),
        (sqlite3.SQLITE_PERM, StoreReadOnlyError),
        (sqlite3.SQLITE_CORRUPT, StoreDamagedError),
        (sqlite3.SQLITE_NOTADB, StoreDamagedError),
        (sqlite3.SQLITE_CONSTRAINT, type(None)),
        (None, type(None)),
    ],
)
def test_codes_have_their_errors(tmp_path, code, kind):
    assert isinstance(of_code(code, tmp_path / "records.db"), kind)


def test_faults_of_our_own_are_not_dressed_up(store, path):
    with pytest.raises(Exception, match="no such table"), store._reading() as connection:
        connection.exec_driver_sql("SELECT * FROM honey")
    with (
        closing(sqlite3.connect(path)) as driver,
        pytest.raises(sqlite3.Error, match="no such table"),
        plain_errors(path),
    ):
        driver.execute("SELECT * FROM honey")
