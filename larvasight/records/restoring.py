"""Bringing a backup file back: all is checked beside the records before anything changes."""

import shutil
import sqlite3
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from sqlalchemy.exc import SQLAlchemyError

from larvasight.errors import StoreDamagedError, StoreTooNewError
from larvasight.records.clock import day_utc, utc_ms
from larvasight.records.copies import (
    copy_database,
    free_path,
    move_with_companions,
    put_in_place,
    quick_check,
)
from larvasight.records.engine import plain_connection
from larvasight.records.failures import busy, full, plain_errors
from larvasight.records.place import photos_folder, records_path
from larvasight.records.revisions import REVISIONS, revision_in, upgrade
from larvasight.records.schema import metadata
from larvasight.records.store import Store
from larvasight.records.unpacking import (
    RECORDS,
    check_about,
    invalid,
    open_backup,
    too_new,
    unpack,
)

_STAGE: Final = ".restore-"
_SPARE_BYTES: Final = 16 << 20
# Whatever the clocks were, nobody practised before or after.
_BEGIN_UTC_MS: Final = 0
_END_UTC_MS: Final = utc_ms("end", datetime(2200, 1, 1, tzinfo=UTC))
# What reading rows raises whose values are no ids, no times, no limits or no JSON.
_UNFIT: Final = (
    ArithmeticError,
    AttributeError,
    LookupError,
    RecursionError,
    SQLAlchemyError,
    TypeError,
    ValueError,
    sqlite3.Error,
)
# The table that holds the revision is made by a library, whose words for it may change.
_SCHEMA: Final = """
SELECT type, name, tbl_name,
       CASE name WHEN 'alembic_version' THEN substr(sql, 1, 28) ELSE sql END
FROM sqlite_master
WHERE type <> 'index' OR name NOT LIKE 'sqlite_autoindex_alembic_version_%'
ORDER BY type, name
"""


def restore_from(file: Path, data_folder: Path, *, now: datetime) -> Path | None:
    """Bring back all records and photos of a backup file.

    The records must be closed. Photos that are there already stay.

    Parameters
    ----------
    file : Path
        File written by ``backup_to``, or by anyone: nothing in it is trusted.
    data_folder : Path
        Folder of all that is kept.
    now : datetime
        Dates the replaced records.

    Returns
    -------
    Path or None
        Where the replaced records are now, ``replaced-DATE.db``; None when there were none.

    Raises
    ------
    BackupInvalidError
        If the file is none or damaged; nothing is changed then.
    StoreBusyError, StoreFullError, StoreReadOnlyError
        If the records are open or cannot be written.
    """
    target = records_path(data_folder)
    day = day_utc("now", now)
    with plain_errors(target):
        data_folder.mkdir(parents=True, exist_ok=True)
        for left_over in data_folder.glob(f"{_STAGE}*"):
            shutil.rmtree(left_over, ignore_errors=True)
        stage = Path(tempfile.mkdtemp(prefix=_STAGE, dir=data_folder))
        try:
            photos, records = _check(file, stage, target, now)
            replaced = free_path(data_folder, f"replaced-{day}")
            # Refused while others have the records open: nothing may have been placed by then.
            is_kept = _copy_aside(target, replaced)
            try:
                photos_folder(data_folder).mkdir(exist_ok=True)
                for photo in photos:
                    put_in_place(photo, photos_folder(data_folder) / photo.name)
            except BaseException:
                if is_kept:
                    replaced.unlink(missing_ok=True)
                raise
            # What could not be copied is damaged; it stays until all else is in place.
            is_kept = is_kept or move_with_companions(target, replaced)
            put_in_place(records, target)
        finally:
            shutil.rmtree(stage, ignore_errors=True)
    return replaced if is_kept else None


def _check(file: Path, stage: Path, target: Path, now: datetime) -> tuple[list[Path], Path]:
    """Unpack a backup and check all of it; return its photos and its records, up to date."""
    with open_backup(file) as archive:
        check_about(archive, file)
        needed_bytes = sum(member.file_size for member in archive.infolist())
        needed_bytes += 2 * archive.getinfo(RECORDS).file_size + _SPARE_BYTES
        needed_bytes += target.stat().st_size if target.exists() else 0
        if shutil.disk_usage(stage).free < needed_bytes:
            raise full(target)
        photos = unpack(archive, file, stage)
    records = stage / "checked.db"
    try:
        with plain_errors(target):
            _check_records(stage / RECORDS, stage / "fresh.db", now)
            with plain_connection(stage / RECORDS, "immutable") as driver:
                copy_database(driver, records)
            upgrade(records, now=now, backups=None)
            _check_times(records)
            _read_all(records, now)
    except StoreTooNewError as error:
        raise too_new(file) from error
    except (StoreDamagedError, *_UNFIT) as error:
        raise invalid(file, "holds damaged records") from error
    return photos, records


def _check_records(records: Path, fresh: Path, now: datetime) -> None:
    """Raise StoreDamagedError unless tables are the program's own and every row obeys them."""
    with plain_connection(records, "immutable") as driver:
        revision = revision_in(driver, records)
        if revision is None:
            raise StoreDamagedError
        known = REVISIONS[: REVISIONS.index(revision) + 1]
        fresh.touch()
        upgrade(fresh, now=now, backups=None, revisions=known)
        with plain_connection(fresh, "rw") as pattern:
            # No view or trigger of somebody else's, and every rule in force.
            if driver.execute(_SCHEMA).fetchall() != pattern.execute(_SCHEMA).fetchall():
                raise StoreDamagedError
        quick_check(driver, records, thorough=True)


def _check_times(records: Path) -> None:
    """Raise StoreDamagedError if a point in time lies where no calendar of the program goes."""
    with plain_connection(records, "rw") as driver:
        for table in metadata.sorted_tables:
            for name in (column.name for column in table.columns):
                outside = f"SELECT 1 FROM {table.name} WHERE {name} NOT BETWEEN ? AND ? LIMIT 1"
                limits = (_BEGIN_UTC_MS, _END_UTC_MS)
                if name.endswith("_utc_ms") and driver.execute(outside, limits).fetchone():
                    raise StoreDamagedError


def _read_all(records: Path, now: datetime) -> None:
    """Read what the window will read, so that what it cannot read is found now."""
    with Store.open(records, now=now) as store:
        for photo in store.photos():
            store.hand_marks(photo.sha256)
            store.hand_lattice(photo.sha256)
            store.known_age(photo.sha256)
        store.practice_photos()
        store.limits()
        store.plans(with_removed=True)
        store.batches()
        for learner in store.learners():
            store.limits(learner.id)
            store.unfinished_round(learner.id)
            store.answers(learner.id)


def _copy_aside(target: Path, replaced: Path) -> bool:
    """Keep a copy of the present records; False where there are none or they are damaged."""
    if not target.exists():
        return False
    try:
        with plain_errors(target), plain_connection(target, "rw") as driver:
            # Takes what was written ahead into the file; refused while others have it open.
            if driver.execute("PRAGMA journal_mode=DELETE").fetchone() != ("delete",):
                raise busy(target)
            copy_database(driver, replaced)
    except StoreDamagedError:
        return False
    return True
