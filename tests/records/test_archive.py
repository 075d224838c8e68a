import hashlib
import json
import random
import re
import sqlite3
import zipfile
from contextlib import closing
from datetime import timedelta

import pytest

import larvasight
from larvasight.desk.broken_off import open_round
from larvasight.errors import (
    BackupInvalidError,
    StoreBusyError,
    StoreFullError,
    StoreReadOnlyError,
)
from larvasight.grading import Limits
from larvasight.records.backup import backup_to, restore_from
from larvasight.records.store import Store
from larvasight.records.unpacking import MEMBERS_MAX, PHOTO_BYTES_MAX
from larvasight.vision.photo import FILE_MB_MAX

PICTURES = {".jpg": b"first photo " * 50, ".heic": b"second photo " * 70}


def sha256_of(content):
    return hashlib.sha256(content).hexdigest()


@pytest.fixture
def photos(path, store, now):
    folder = path.parent / "photos"
    folder.mkdir()
    for suffix, content in PICTURES.items():
        (folder / f"{sha256_of(content)}{suffix}").write_bytes(content)
        store.add_photo(sha256_of(content), name=f"frame{suffix}", suffix=suffix, now=now)
    return folder


@pytest.fixture
def practised(store, learner, make_round, give, now):
    for _ in range(3):
        shown = make_round(learner.id)
        store.show_round(shown)
        store.end_round(shown.id, [give(cell) for cell in shown.cells], now=now)
    store.show_round(make_round(learner.id))
    store.set_limits(Limits(old_h=28.0), learner.id)
    return learner


@pytest.fixture
def backup(store, practised, photos, tmp_path, now):
    file = tmp_path / "all.larvasight"
    assert backup_to(store, photos, file, now=now) == ()
    return file


@pytest.fixture
def elsewhere(tmp_path):
    """A data folder with records and a photo of its own, which a bad file must not touch."""
    folder = tmp_path / "elsewhere"
    (folder / "photos").mkdir(parents=True)
    (folder / "photos" / "mine.jpg").write_bytes(b"mine")
    return folder


def all_files(folder):
    found = {path for path in folder.rglob("*") if path.is_file()}
    return {str(path.relative_to(folder)): path.read_bytes() for path in found}


def members(file):
    with zipfile.ZipFile(file) as archive:
        return {entry.filename: archive.read(entry) for entry in archive.infolist()}


def write_zip(file, content, **options):
    with zipfile.ZipFile(file, "w", **options) as archive:
        for name, data in content.items():
            archive.writestr(name, data)
    return file


def refuse(file, folder, now):
    """Check that a file is refused in one sentence and nothing around it is changed."""
    root = folder.parent
    before = all_files(root)
    with pytest.raises(BackupInvalidError) as caught:
        restore_from(file, folder, now=now)
    sentence = str(caught.value)
    assert re.fullmatch(r"[^\n]+, so nothing was changed; [a-z ]+\.", sentence), sentence
    assert sentence.startswith(file.name)
    assert all_files(root) == before
    assert not list(folder.glob(".restore-*"))
    return sentence


def changed_records(backup, tmp_path, *statements):
    """Return a backup whose records were changed by SQL."""
    content = members(backup)
    records = tmp_path / "changed.db"
    records.write_bytes(content["records.db"])
    with closing(sqlite3.connect(records, isolation_level=None)) as driver:
        driver.execute("PRAGMA ignore_check_constraints=ON")
        driver.execute("PRAGMA writable_schema=ON")
        for statement in statements:
            driver.execute(statement)
    content["records.db"] = records.read_bytes()
    records.unlink()
    return write_zip(tmp_path / "changed.larvasight", content)


def test_a_backup_is_one_file(backup, now):
    content = members(backup)
    names = {f"photos/{sha256_of(data)}{suffix}" for suffix, data in PICTURES.items()}
    assert set(content) == {"about.json", "records.db"} | names
    assert json.loads(content["about.json"]) == {
        "format": "larvasight.backup",
        "version": 1,
        "program_version": larvasight.__version__,
        "made_at_utc": now.isoformat(),
    }
    assert [path.name for path in backup.parent.iterdir() if "part" in path.name] == []


def test_everything_comes_back_elsewhere(backup, store, practised, tmp_path, now):
    folder = tmp_path / "new" / "place"
    assert restore_from(backup, folder, now=now) is None
    assert sorted(path.name for path in folder.iterdir()) == ["photos", "records.db"]
    for suffix, data in PICTURES.items():
        assert (folder / "photos" / f"{sha256_of(data)}{suffix}").read_bytes() == data
    with Store.open(folder / "records.db", now=now) as again:
        assert again.learners() == store.learners()
        assert again.photos() == store.photos()
        assert again.limits(practised.id) == Limits(old_h=28.0)
        assert again.unfinished_round(practised.id) == store.unfinished_round(practised.id)
        assert len(again.answers(practised.id)) == 12


def test_replaced_records_are_set_aside(backup, store, path, practised, now):
    noor = store.add_learner("Noor", now=now)
    store.close()
    for number in ("", "-2"):
        replaced = restore_from(backup, path.parent, now=now)
        assert replaced == path.with_name(f"replaced-2026-05-20{number}.db")
    with Store.open(path, now=now) as again:
        assert again.learners() == [practised]
    with Store.open(path.with_name("replaced-2026-05-20.db"), now=now) as old:
        assert old.learners() == [practised, noor]


@pytest.mark.parametrize("content", [b"xy", b"garbage " * 999, b"SQLite format 3\0" * 99])
def test_damaged_records_are_replaced_and_set_aside(backup, store, path, practised, now, content):
    store.close()
    path.write_bytes(content)
    path.with_name("records.db-wal").write_bytes(content)
    replaced = restore_from(backup, path.parent, now=now)
    assert replaced.read_bytes() == content
    with Store.open(path, now=now) as again:
        assert again.learners() == [practised]


def test_open_records_are_not_replaced(backup, store, path, learner, now):
    before = {name: data for name, data in all_files(path.parent).items() if "-" not in name}
    with pytest.raises(StoreBusyError):
        restore_from(backup, path.parent, now=now)
    assert before == {n: data for n, data in all_files(path.parent).items() if "-" not in n}
    store.rename_learner(learner.id, "Noor")
    assert not list(path.parent.glob("replaced-*"))


def test_a_restore_refused_by_open_records_places_no_photo(backup, store, photos, path, now):
    for photo in photos.iterdir():
        photo.unlink()
    photos.rmdir()
    with pytest.raises(StoreBusyError):
        restore_from(backup, path.parent, now=now)
    assert sorted(found.name for found in path.parent.iterdir() if "-" not in found.name) == [
        "records.db"
    ]
    assert not list(path.parent.glob("replaced-*"))


@pytest.mark.parametrize("is_damaged", [False, True])
def test_photos_that_cannot_be_placed_leave_the_records(
    backup, store, practised, photos, path, now, is_damaged
):
    store.close()
    for photo in photos.iterdir():
        photo.unlink()
    photos.rmdir()
    photos.write_text("A file where the folder should be.")
    if is_damaged:
        path.write_bytes(b"garbage " * 999)
    with pytest.raises(StoreReadOnlyError):
        restore_from(backup, path.parent, now=now)
    assert sorted(found.name for found in path.parent.iterdir()) == ["photos", "records.db"]
    if is_damaged:
        assert path.read_bytes() == b"garbage " * 999
    else:
        with Store.open(path, now=now) as again:
            assert again.learners() == [practised]


def test_missing_and_damaged_photos_are_left_out_and_named(store, practised, photos, tmp_path, now):
    first, second = sorted(photos.iterdir(), key=lambda path: path.suffix)
    first.write_bytes(b"other content")
    second.unlink()
    file = tmp_path / "all.larvasight"
    assert sorted(backup_to(store, photos, file, now=now)) == ["frame.heic", "frame.jpg"]
    restore_from(file, tmp_path / "new", now=now)
    assert list((tmp_path / "new" / "photos").iterdir()) == []


def test_a_backup_replaces_an_older_one_whole_or_not_at_all(mount, store, practised, photos, now):
    folder = mount(photos.parent.parent / "stick", "-t", "tmpfs", "-o", "size=200k", "tmpfs")
    file = folder / "all.larvasight"
    file.write_bytes(b"the older one")
    draw = random.Random(3)
    content = draw.randbytes(150_000)
    (photos / f"{sha256_of(content)}.jpg").write_bytes(content)
    store.add_photo(sha256_of(content), name="large.jpg", suffix=".jpg", now=now)
    with pytest.raises(StoreFullError):
        backup_to(store, photos, file, now=now)
    assert all_files(folder) == {"all.larvasight": b"the older one"}


def test_a_backup_into_a_missing_folder(store, photos, tmp_path):
    with pytest.raises(StoreReadOnlyError, match=r"all.larvasight in .*missing cannot be written"):
        backup_to(store, photos, tmp_path / "missing" / "all.larvasight")


@pytest.mark.parametrize(
    "name",
    [
        "../outside.db",
        "photos/../../outside.jpg",
        "/tmp/outside.jpg",
        "C:\\outside.jpg",
        "photos\\" + "a" * 64 + ".jpg",
        "photos/" + "a" * 64 + ".jpg/../../x",
        "photos/" + "a" * 64,
        "photos/" + "A" * 64 + ".jpg",
        "photos/" + "a" * 64 + ".jpg\n",
        "photos/",
        "records.db-wal",
        "backups/records-2026-05-20.db",
    ],
)
def test_other_names_are_refused(backup, elsewhere, now, name):
    refuse(write_zip(backup, members(backup) | {name: b"x"}), elsewhere, now)


def test_doubled_names_are_refused(backup, elsewhere, now):
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(backup, "a") as archive:
        archive.writestr("records.db", b"another")
    refuse(backup, elsewhere, now)


def test_links_come_out_as_nothing(backup, elsewhere, now):
    content = members(backup)
    entry = zipfile.ZipInfo(f"photos/{'a' * 64}.jpg")
    entry.external_attr = 0o120777 << 16
    refuse(write_zip(backup, content | {entry: b"/etc/passwd"}), elsewhere, now)


@pytest.mark.parametrize("left_out", ["about.json", "records.db"])
def test_files_without_a_part_are_no_backups(backup, elsewhere, now, left_out):
    content = members(backup)
    del content[left_out]
    assert "no backup" in refuse(write_zip(backup, content), elsewhere, now)


@pytest.mark.parametrize(
    "about",
    [
        b"",
        b"{",
        b"[]",
        b"\xff\xfe",
        b"[" * 60_000,
        b'{"format": "other", "version": 1}',
        b'{"format": "larvasight.backup"}',
        b'{"format": "larvasight.backup", "version": true}',
        b'{"format": "larvasight.backup", "version": 0}',
        b" " * 70_000,
    ],
)
def test_other_descriptions_are_refused(backup, elsewhere, now, about):
    refuse(write_zip(backup, members(backup) | {"about.json": about}), elsewhere, now)


def test_a_backup_of_a_newer_version(backup, elsewhere, tmp_path, now):
    about = {"format": "larvasight.backup", "version": 2}
    newer = write_zip(tmp_path / "n", members(backup) | {"about.json": json.dumps(about)})
    assert "newer version" in refuse(newer, elsewhere, now)
    change = "UPDATE alembic_version SET version_num = '9999'"
    assert "newer version" in refuse(changed_records(backup, tmp_path, change), elsewhere, now)


def test_a_photo_that_is_not_what_its_name_says(backup, elsewhere, now):
    name = f"photos/{'a' * 64}.jpg"
    assert "damaged" in refuse(write_zip(backup, members(backup) | {name: b"x"}), elsewhere, now)


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_other_ways_of_packing_are_refused(backup, elsewhere, now, method):
    refuse(write_zip(backup, members(backup), compression=method), elsewhere, now)


def test_bombs_are_refused_before_they_are_unpacked(backup, elsewhere, now, monkeypatch):
    bomb = bytes(60_000_000)
    name = f"photos/{sha256_of(bomb)}.jpg"
    content = members(backup) | {name: bomb}
    write_zip(backup, content, compression=zipfile.ZIP_DEFLATED)
    assert backup.stat().st_size < 200_000
    monkeypatch.setattr(zipfile.ZipFile, "open", None)
    assert "more than a backup holds" in refuse(backup, elsewhere, now)


def test_bombs_that_lie_about_their_size_are_refused(backup, elsewhere, now):
    bomb = bytes(60_000_000)
    name = f"photos/{sha256_of(bomb)}.jpg"
    content = members(backup) | {name: bomb}
    write_zip(backup, content, compression=zipfile.ZIP_DEFLATED)
    said = len(bomb).to_bytes(4, "little")
    data = backup.read_bytes()
    assert data.count(said) == 2
    backup.write_bytes(data.replace(said, (1000).to_bytes(4, "little")))
    refuse(backup, elsewhere, now)


def test_too_many_members_are_refused(backup, elsewhere, now):
    many = {f"photos/{k:064x}.jpg": b"" for k in range(MEMBERS_MAX)}
    refuse(write_zip(backup, members(backup) | many), elsewhere, now)


def test_photos_up_to_the_size_that_is_opened_come_back():
    assert PHOTO_BYTES_MAX == FILE_MB_MAX * 1_000_000


@pytest.mark.parametrize("share", [0.0, 0.02, 0.5, 0.98, 0.999])
def test_truncated_files_are_refused(backup, elsewhere, now, share):
    whole = backup.read_bytes()
    backup.write_bytes(whole[: int(len(whole) * share)])
    refuse(backup, elsewhere, now)


@pytest.mark.parametrize("seed", range(60))
def test_garbled_files_are_refused_or_whole(backup, elsewhere, now, seed):
    draw = random.Random(seed)
    data = bytearray(backup.read_bytes())
    for _ in range(draw.choice([1, 8])):
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
    if seed % 2:  # the list of contents is what is read first, and most
        place = data.rindex(b"PK\x01\x02") + draw.randrange(40)
        data[place] ^= 1 << draw.randrange(8)
    backup.write_bytes(data)
    try:
        restore_from(backup, elsewhere, now=now)
    except BackupInvalidError:
        assert all_files(elsewhere) == {"photos/mine.jpg": b"mine"}
    else:
        Store.open(elsewhere / "records.db", now=now).close()


def test_other_files_are_no_backups(elsewhere, tmp_path, now):
    other = tmp_path / "photo.jpg"
    other.write_bytes(b"\xff\xd8\xff" * 100)
    refuse(other, elsewhere, now)
    refuse(write_zip(tmp_path / "other.zip", {"letter.txt": b"Dear Noor"}), elsewhere, now)
    assert "cannot be read" in refuse(tmp_path / "missing.zip", elsewhere, now)
    assert "cannot be read" in refuse(elsewhere.parent, elsewhere, now)


@pytest.mark.parametrize(
    "statement",
    [
        "CREATE VIEW honey AS SELECT * FROM learner",
        "CREATE TRIGGER t AFTER INSERT ON learner BEGIN DELETE FROM shown_cell; END",
        "CREATE TRIGGER t AFTER UPDATE ON alembic_version BEGIN DELETE FROM learner; END",
        "CREATE TABLE honey (id)",
        "ALTER TABLE learner ADD COLUMN honey",
        "UPDATE sqlite_master SET sql = replace(sql, 'CHECK (length(sha256) = 64', 'CHECK (1')",
        "DROP INDEX ix_shown_cell_final",
        "DROP TABLE photo",
        "DELETE FROM alembic_version",
        "DROP TABLE alembic_version",
        "UPDATE photo SET suffix = '/../../../x'",
        "UPDATE photo SET sha256 = '../x' WHERE suffix = '.jpg'",
        "UPDATE shown_cell SET content = 'honey'",
        "UPDATE shown_cell SET learner_id = 'nobody'",
        "DELETE FROM learner",
        "UPDATE learner SET id = 'nobody'",
        "UPDATE setting SET value = '['",
        "UPDATE setting SET value = '[1, 2]'",
        """UPDATE setting SET value = '{"young_h": 40.0}'""",
        """UPDATE setting SET value = '{"honey_h": 40.0}'""",
        "UPDATE comb_round SET recipe = '{'",
        "DELETE FROM shown_cell",
        "UPDATE shown_cell SET id = round_id || position",
        "UPDATE learner SET created_utc_ms = 9223372036854775807",
        "UPDATE shown_cell SET answered_utc_ms = -1 WHERE answer IS NOT NULL",
        "UPDATE shown_cell SET answered_utc_ms = 7258118400001 WHERE answer IS NOT NULL",
        "UPDATE shown_cell SET shown_utc_ms = 253402300800000",
        "UPDATE comb_round SET ended_utc_ms = -62135596800001",
        "UPDATE photo SET added_utc_ms = 7258118400001",
    ],
)
def test_records_that_break_their_own_rules_are_refused(
    backup, elsewhere, tmp_path, now, statement
):
    changed = changed_records(backup, tmp_path, "PRAGMA foreign_keys=OFF", statement)
    refuse(changed, elsewhere, now)


@pytest.mark.parametrize("end_utc_ms", [0, 7258118400000])
def test_records_of_any_year_that_can_be_are_restored(backup, practised, tmp_path, now, end_utc_ms):
    change = f"UPDATE shown_cell SET answered_utc_ms = {end_utc_ms} WHERE answer IS NOT NULL"
    folder = tmp_path / "new"
    restore_from(changed_records(backup, tmp_path, change), folder, now=now)
    with Store.open(folder / "records.db", now=now) as again:
        assert set(again.answers(practised.id).answered_utc_ms) == {end_utc_ms}


@pytest.mark.parametrize("recipe", ["[]", "7", '"comb"', "null"])
def test_what_cannot_be_gone_on_with_comes_back_and_is_put_away(
    backup, practised, tmp_path, now, recipe
):
    changed = changed_records(
        backup,
        tmp_path,
        f"UPDATE comb_round SET recipe = '{recipe}', drill = 'weigh-honey'",
        "UPDATE shown_cell SET drill = 'weigh-honey'",
    )
    folder = tmp_path / "new"
    restore_from(changed, folder, now=now)
    with Store.open(folder / "records.db", now=now) as again:
        found = again.unfinished_round(practised.id)
        assert (found.drill, found.recipe) == ("weigh-honey", {})
        assert open_round(again, practised.id, now=now) is None
        assert again.unfinished_round(practised.id) is None
        assert len(again.answers(practised.id)) == 12


@pytest.mark.parametrize("content", [b"", b"no database" * 500, bytes(100_000)])
def test_records_that_are_none_are_refused(backup, elsewhere, now, content):
    refuse(write_zip(backup, members(backup) | {"records.db": content}), elsewhere, now)


def test_damaged_records_in_a_backup_are_refused(backup, elsewhere, now):
    content = members(backup)
    records = bytearray(content["records.db"])
    records[8192:12288] = random.Random(5).randbytes(4096)
    refuse(write_zip(backup, content | {"records.db": bytes(records)}), elsewhere, now)


def test_a_restore_that_finds_no_room_changes_nothing(mount, backup, tmp_path, now):
    folder = mount(tmp_path / "small", "-t", "tmpfs", "-o", "size=150k", "tmpfs")
    (folder / "records.db").write_bytes(b"as it was")
    with pytest.raises(StoreFullError):
        restore_from(backup, folder, now=now)
    assert all_files(folder) == {"records.db": b"as it was"}


def test_what_a_broken_off_restore_left_is_removed(backup, tmp_path, now):
    left_over = tmp_path / "new" / ".restore-abc"
    left_over.mkdir(parents=True)
    (left_over / "records.db").write_bytes(b"half")
    restore_from(backup, tmp_path / "new", now=now + timedelta(days=1))
    assert not left_over.exists()
