"""Copies of a database or a photo: whole and proven, or not there at all."""

import hashlib
import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from larvasight.records.failures import damaged

# What SQLite keeps beside a database.
COMPANIONS = ("-wal", "-shm", "-journal")


def quick_check(driver: sqlite3.Connection, path: Path, *, thorough: bool = False) -> None:
    """Raise StoreDamagedError unless the whole database can be read and makes sense.

    Parameters
    ----------
    driver : Connection
        Open database.
    path : Path
        File named in the sentence.
    thorough : bool
        Whether to hold indexes against tables and look for rows that belong to nothing, too.
    """
    check = "integrity_check" if thorough else "quick_check"
    is_sound = driver.execute(f"PRAGMA {check}(1)").fetchone() == ("ok",)
    if not is_sound or (thorough and driver.execute("PRAGMA foreign_key_check").fetchone()):
        raise damaged(path)


def copy_database(source: sqlite3.Connection, target: Path) -> None:
    """Copy a database while it may be in use.

    The copy is one file that needs none beside it, is checked, and takes its name last.

    Parameters
    ----------
    source : Connection
        Database to copy; others may go on writing to it.
    target : Path
        File to make; one of that name is replaced.

    Raises
    ------
    StoreDamagedError
        If the copy fails its check; nothing is left of it then.
    """
    part = target.with_name(f"{target.name}.part")
    remove_with_companions(part)
    try:
        with closing(sqlite3.connect(part, isolation_level=None)) as copy:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE")
            quick_check(copy, target)
        put_in_place(part, target)
    except BaseException:
        with suppress(OSError):
            remove_with_companions(part)
        raise


def put_in_place(part: Path, target: Path) -> None:
    """Give a finished file its name; it is on the disk before this returns."""
    with part.open("rb+") as file:
        os.fsync(file.fileno())
    part.replace(target)
    if os.name == "posix":
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def move_with_companions(path: Path, target: Path) -> bool:
    """Move a database and what SQLite keeps beside it; return whether there was anything."""
    found = False
    for end in ("", *COMPANIONS):
        part = path.with_name(path.name + end)
        if part.exists():
            part.replace(target.with_name(target.name + end))
            found = True
    return found


def free_path(folder: Path, stem: str, suffix: str = ".db") -> Path:
    """Return a path in a folder that nothing has yet: ``stem``, or ``stem-2`` and so on."""
    path = folder / f"{stem}{suffix}"
    number = 2
    while path.exists() or any(path.with_name(path.name + end).exists() for end in COMPANIONS):
        path = folder / f"{stem}-{number}{suffix}"
        number += 1
    return path


def remove_with_companions(path: Path) -> None:
    """Remove an unfinished copy and what SQLite left beside it."""
    for end in ("", *COMPANIONS):
        path.with_name(path.name + end).unlink(missing_ok=True)


def is_whole(path: Path, sha256: str) -> bool:
    """Return whether a file is there and its bytes have this checksum, hex."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest() == sha256
    except OSError:
        return False
