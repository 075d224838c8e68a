"""Copies of the records made every day, and going back to one of them."""

import re
import sqlite3
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Final

from larvasight.errors import LarvasightError
from larvasight.records.archive import backup_to, restore_from
from larvasight.records.clock import day_utc
from larvasight.records.copies import (
    copy_database,
    free_path,
    move_with_companions,
    put_in_place,
    quick_check,
    remove_with_companions,
)
from larvasight.records.engine import plain_connection
from larvasight.records.failures import damaged, plain_errors
from larvasight.records.revisions import revision_in
from larvasight.records.store import Store

__all__ = [
    "N_DAILY",
    "backup_to",
    "daily_backup",
    "keep_day",
    "newest_good_backup",
    "restore_db",
    "restore_from",
    "set_aside",
]

N_DAILY: Final = 14
# The one of a day without a number is the newest of that day.
_DAILY = re.compile(r"records-(\d{4}-\d{2}-\d{2})(?:-\d+)?\.db")
_BEFORE = re.compile(r"before-[0-9a-z]+-(\d{4}-\d{2}-\d{2})(?:-\d+)?\.db")


def daily_backup(store: Store, folder: Path, *, now: datetime, anew: bool = False) -> Path:
    """Make the backup of this day unless it is there, and keep those of the newest 14 days.

    ``anew`` puts a newer one in the place of this day's, for the end of a sitting. One that
    holds a learner, answers or a batch of grafts that the newer one lacks is kept beside it,
    with a number.

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
    day = day_utc("now", now)
    target = folder / f"records-{day}.db"
    if target.exists() and not anew:
        return target
    fresh = folder / f"records-{day}.db.new"
    with plain_errors(target):
        folder.mkdir(parents=True, exist_ok=True)
        try:
            store.copy_to(fresh, called=target)
            if target.exists() and _lacks(fresh, target):
                keep_day(folder, now=now)
            put_in_place(fresh, target)
        finally:
            with suppress(OSError):
                fresh.unlink(missing_ok=True)
        _remove_old(folder, day)
    return target


def keep_day(folder: Path, *, now: datetime) -> None:
    """Give this day's backup a number, so that another one can be this day's."""
    target = folder / f"records-{day_utc('now', now)}.db"
    with plain_errors(target):
        if target.exists():
            target.replace(free_path(folder, target.stem))


def _lacks(fresh: Path, former: Path) -> bool:
    """Return whether a copy holds less of anything; what cannot be read may hold more."""
    try:
        found, before = _n_by_owner(fresh), _n_by_owner(former)
    except sqlite3.Error:
        return True
    return any(found.get(owner, -1) < n for owner, n in before.items())


def _n_by_owner(path: Path) -> dict[str, int]:
    """Return the answers of each learner and the cups of each batch of grafts."""
    answers = (
        "SELECT id, (SELECT count(*) FROM shown_cell WHERE learner_id = learner.id "
        "AND is_final = 1) FROM learner"
    )
    cups = "SELECT batch_id, count(*) FROM graft_cup GROUP BY batch_id"
    with plain_connection(path, "immutable") as driver:
        counted = dict(driver.execute(answers).fetchall())
        if revision_in(driver, path) != "0001":  # that form knew no grafts
            counted |= driver.execute(cups).fetchall()
    return counted


def _remove_old(folder: Path, today: str) -> None:
    """Remove the backups of all but the newest days; those of today stay whatever the clock."""
    by_day: dict[str, list[Path]] = {}
    for path in folder.iterdir():
        if named := _DAILY.fullmatch(path.name):
            by_day.setdefault(named[1], []).append(path)
    for day in sorted(by_day)[:-N_DAILY]:
        if day != today:
            for path in by_day[day]:
                path.unlink()


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


def restore_db(backup_db: Path, path: Path, *, now: datetime) -> Path | None:
    """Put a copy of a backup where the records belong; the backup stays.

    What lies there is set aside only when the whole copy lies checked beside it.

    Returns
    -------
    Path or None
        Where what lay there is now; None when nothing did.

    Raises
    ------
    StoreDamagedError, StoreTooNewError
        If the backup cannot be opened; nothing is changed then.
    StoreFullError, StoreReadOnlyError
        If it cannot be copied; nothing is changed then.
    """
    require_good(backup_db)
    fresh = path.with_name(f"{path.name}.new")
    with plain_errors(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            with plain_connection(backup_db, "immutable") as driver:
                copy_database(driver, fresh)
            aside = set_aside(path, now=now)
            put_in_place(fresh, path)
        finally:
            with suppress(OSError):
                remove_with_companions(fresh)
    return aside
