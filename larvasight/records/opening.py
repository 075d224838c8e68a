"""Looking at a records file before it is opened for good."""

import sqlite3
from datetime import datetime
from pathlib import Path

from larvasight.records.copies import quick_check
from larvasight.records.engine import plain_connection
from larvasight.records.failures import damaged
from larvasight.records.place import backups_folder
from larvasight.records.revisions import HEAD, revision_in, upgrade


def make_ready(path: Path, *, now: datetime, wait_ms: int) -> None:
    """Make, check or bring up to date a records file, so that it can be read and written.

    Nothing in the file is changed before all of it was found sound.

    Raises
    ------
    StoreDamagedError, StoreTooNewError
        If the file is none that this version can open.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    backups = backups_folder(path.parent)
    # SQLite takes a file of one byte for an empty one, too.
    if not path.exists() or path.stat().st_size <= 1:
        if path.exists() and any(backups.glob("records-*.db")):
            # Backups were made once, so these records were emptied by something else.
            raise damaged(path)
        path.touch()
    with plain_connection(path, "rw", wait_ms=wait_ms) as driver:
        revision = revision_in(driver, path)
        if revision is not None:
            quick_check(driver, path)
        _make_writable(driver)
    if revision != HEAD:
        upgrade(path, now=now, backups=backups, wait_ms=wait_ms)


def _make_writable(driver: sqlite3.Connection) -> None:
    """Turn on the write-ahead log, and find out now whether writing is refused."""
    driver.execute("PRAGMA journal_mode=WAL")
    driver.execute("BEGIN IMMEDIATE")
    driver.execute("ROLLBACK")
