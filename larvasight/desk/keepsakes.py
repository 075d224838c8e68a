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


def open_store(data: Path, *, now: datetime, fresh: bool = False) -> "Store":
    """Open the records of a data folder, making them if need be, and back them up once a day.

    Parameters
    ----------
    data : Path
        Folder where everything is kept.
    now : datetime
        Dates the backup.
    fresh : bool
        Whether empty records were chosen where good backups are there.

    Raises
    ------
    RecordsLostError
        If the records are gone and good backups are there, unless ``fresh``.
    LarvasightError
        If they cannot be opened or written.
    """
    from larvasight.records.backup import daily_backup
    from larvasight.records.failures import lost
    from larvasight.records.place import backups_folder, records_path
    from larvasight.records.store import Store

    path = records_path(data)
    if not fresh and not path.exists() and newest_backup(data) is not None:
        raise lost(path)
    store = Store.open(path, now=now)
    try:
        daily_backup(store, backups_folder(data), now=now)
    except BaseException:
        store.close()
        raise
    return store


def back_up_day(store: "Store", data: Path, *, now: datetime) -> None:
    """Put what is kept now into this day's backup; one that holds more is kept beside it."""
    from larvasight.records.backup import daily_backup
    from larvasight.records.place import backups_folder

    daily_backup(store, backups_folder(data), now=now, anew=True)


def newest_backup(data: Path) -> Path | None:
    """Return the newest good backup of a data folder, None where there is none."""
    from larvasight.records.backup import newest_good_backup
    from larvasight.records.place import backups_folder

    return newest_good_backup(backups_folder(data))


def replace_damaged(data: Path, backup: Path | None, *, now: datetime) -> None:
    """Put a backup, or nothing, in the place of records that are damaged or gone.

    The records are set aside only when the whole copy of the backup lies beside them. Before
    nothing takes their place, this day's backup is kept under a name that stays. Open what
    is there now with ``fresh`` where it is nothing.
    """
    from larvasight.records.backup import keep_day, restore_db, set_aside
    from larvasight.records.place import backups_folder, records_path

    if backup is not None:
        restore_db(backup, records_path(data), now=now)
        return
    keep_day(backups_folder(data), now=now)
    set_aside(records_path(data), now=now)


def back_up(store: "Store", data: Path, file: Path) -> tuple[str, ...]:
    """Write everything that is kept into one file; return photos missing or damaged, left out."""
    from larvasight.records.backup import backup_to
    from larvasight.records.place import photos_folder

    return backup_to(store, photos_folder(data), file)


def restore(file: Path, data: Path, *, now: datetime) -> Path | None:
    """Bring back everything from such a file; return where the records before it are kept."""
    from larvasight.records.backup import restore_from

    return restore_from(file, data, now=now)
