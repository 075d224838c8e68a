"""What is kept: open it, back it up, bring it back, set a damaged file aside."""

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from larvasight.records.store import Store


def folder() -> Path:
    """Return the folder where everything is kept."""
    from larvasight.records.place import data_folder

    return data_folder()


def open_store(data: Path, *, now: datetime) -> "Store":
    """Open the records of a data folder, making them if need be, and back them up once a day.

    Raises
    ------
    LarvasightError
        If they cannot be opened or written.
    """
    from larvasight.records.backup import daily_backup
    from larvasight.records.place import backups_folder, records_path
    from larvasight.records.store import Store

    store = Store.open(records_path(data), now=now)
    try:
        daily_backup(store, backups_folder(data), now=now)
    except BaseException:
        store.close()
        raise
    return store


def back_up_day(store: "Store", data: Path, *, now: datetime) -> None:
    """Put what is kept now into this day's backup."""
    from larvasight.records.backup import daily_backup
    from larvasight.records.place import backups_folder

    daily_backup(store, backups_folder(data), now=now, anew=True)


def newest_backup(data: Path) -> Path | None:
    """Return the newest good backup of a data folder, None where there is none."""
    from larvasight.records.backup import newest_good_backup
    from larvasight.records.place import backups_folder

    return newest_good_backup(backups_folder(data))


def replace_damaged(data: Path, backup: Path | None, *, now: datetime) -> None:
    """Set the records of a data folder aside and put a backup, or nothing, in their place."""
    from larvasight.records.backup import restore_db, set_aside
    from larvasight.records.place import records_path

    set_aside(records_path(data), now=now)
    if backup is not None:
        restore_db(backup, records_path(data))


def back_up(store: "Store", data: Path, file: Path) -> tuple[str, ...]:
    """Write everything that is kept into one file; return photos missing or damaged, left out."""
    from larvasight.records.backup import backup_to
    from larvasight.records.place import photos_folder

    return backup_to(store, photos_folder(data), file)


def restore(file: Path, data: Path, *, now: datetime) -> Path | None:
    """Bring back everything from such a file; return where the records before it are kept."""
    from larvasight.records.backup import restore_from

    return restore_from(file, data, now=now)
