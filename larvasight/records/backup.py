"""Copies of the records made every day, and going back to one of them."""

import re
from datetime import datetime
from pathlib import Path
from typing import Final

from larvasight.errors import LarvasightError
from larvasight.records.archive import backup_to, restore_from
from larvasight.records.clock import day_utc
from larvasight.records.copies import (
    COMPANIONS,
    copy_database,
    free_path,
    move_with_companions,
    quick_check,
)
from larvasight.records.engine import plain_connection
from larvasight.records.failures import damaged, plain_errors
from larvasight.records.revisions import revision_in
from larvasight.records.store import Store

__all__ = [
    "N_DAILY",
    "backup_to",
    "daily_backup",
    "newest_good_backup",
    "restore_db",
    "restore_from",
    "set_aside",
]

N_DAILY: Final = 14
_DAILY = re.compile(r"records-(\d{4}-\d{2}-\d{2})\.db")
_BEFORE = re.compile(r"before-[0-9a-z]+-(\d{4}-\d{2}-\d{2})(?:-\d+)?\.db")


def daily_backup(store: Store, folder: Path, *, now: datetime, anew: bool = False) -> Path:
    """Make the backup of this day unless it is there, and keep the newest 14.

    ``anew`` puts a newer one in the place of this day's, for the end of a sitting.

    Returns
    -------
    Path
        This day's backup, ``records-YYYY-MM-DD.db``.

    Raises
    ------
    StoreDamagedError
        If the records turn out to be damaged; older backups stay then.
    StoreFullError, StoreReadOnlyError
        If it cannot be written.
    """
    target = folder / f"records-{day_utc('now', now)}.db"
    if target.exists() and not anew:
        return target
    with plain_errors(target):
        folder.mkdir(parents=True, exist_ok=True)
        store.copy_to(target)
        days = sorted(path for path in folder.iterdir() if _DAILY.fullmatch(path.name))
        for old in days[:-N_DAILY]:
            if old != target:
                old.unlink()
    return target


def newest_good_backup(folder: Path) -> Path | None:
    """Return the newest backup that is whole and that this version can open.

    Daily backups and those made before the records changed their form count; None when
    there is none.
    """
    found = []
    for path in folder.iterdir() if folder.is_dir() else ():
        named = _DAILY.fullmatch(path.name) or _BEFORE.fullmatch(path.name)
        if named is not None and path.is_file():
            found.append((named[1], path.stat().st_mtime_ns, path))
    for _, _, path in sorted(found, reverse=True):
        try:
            require_good(path)
        except LarvasightError:
            continue
        return path
    return None


def require_good(path: Path) -> None:
    """Raise StoreDamagedError or StoreTooNewError unless a backup is whole and can be opened."""
    with plain_errors(path), plain_connection(path, "immutable") as driver:
        if revision_in(driver, path) is None:
            raise damaged(path)
        quick_check(driver, path)


def set_aside(path: Path, *, now: datetime) -> Path | None:
    """Move damaged records, and what belongs to them, to ``damaged-DATE.db`` beside.

    Returns
    -------
    Path or None
        Where they are now; None when nothing was there.
    """
    day = day_utc("now", now)
    with plain_errors(path):
        target = free_path(path.parent, f"damaged-{day}")
        return target if move_with_companions(path, target) else None


def restore_db(backup_db: Path, path: Path) -> None:
    """Copy a backup to where the records belong; the backup stays.

    Raises
    ------
    ValueError
        If something lies there: set it aside first.
    StoreDamagedError, StoreTooNewError
        If the backup cannot be opened; nothing is put there then.
    """
    if any(path.with_name(path.name + end).exists() for end in ("", *COMPANIONS)):
        msg = f"path must be free, got {path}"
        raise ValueError(msg)
    require_good(backup_db)
    with plain_errors(path), plain_connection(backup_db, "immutable") as driver:
        path.parent.mkdir(parents=True, exist_ok=True)
        copy_database(driver, path)
