"""The one place where what the database or the system refused becomes a plain sentence."""

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from larvasight.errors import (
    LarvasightError,
    RecordsLostError,
    StoreBusyError,
    StoreDamagedError,
    StoreFullError,
    StoreReadOnlyError,
    StoreTooNewError,
)

_BUSY = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_PROTOCOL}
_FULL = {sqlite3.SQLITE_FULL}
_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
_READ_ONLY = {
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_AUTH,
}
# The file of shared memory beside the records could not grow.
_FULL_EXTENDED = {sqlite3.SQLITE_IOERR_SHMSIZE}
# The file ends, or the disk's own sums fail, where content should be.
_DAMAGED_EXTENDED = {
    sqlite3.SQLITE_IOERR_SHORT_READ,
    sqlite3.SQLITE_IOERR_CORRUPTFS,
    sqlite3.SQLITE_IOERR_DATA,
}
_FULL_ERRNO = {errno.ENOSPC, errno.EDQUOT}


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn refusals of the database and the system into errors a person can act on.

    Parameters
    ----------
    path : Path
        The records file, named in the sentences.

    Raises
    ------
    StoreBusyError, StoreFullError, StoreReadOnlyError, StoreDamagedError
        By the code of what was refused; anything else passes unchanged.
    """
    try:
        yield
    except DBAPIError as error:
        plain = of_code(getattr(error.orig, "sqlite_errorcode", None), path)
        if plain is None:
            raise
        raise plain from error
    except sqlite3.Error as error:
        plain = of_code(getattr(error, "sqlite_errorcode", None), path)
        if plain is None:
            raise
        raise plain from error
    except OSError as error:
        raise (full(path) if error.errno in _FULL_ERRNO else read_only(path)) from error


def of_code(code: int | None, path: Path) -> LarvasightError | None:
    """Return the error for an (extended) SQLite result code, None for a fault of our own."""
    if code is None:
        return None
    primary = code & 0xFF
    if primary in _FULL or code in _FULL_EXTENDED:
        return full(path)
    if primary in _BUSY:
        return busy(path)
    if primary in _DAMAGED or code in _DAMAGED_EXTENDED:
        return damaged(path)
    return read_only(path) if primary in _READ_ONLY else None


def busy(path: Path) -> StoreBusyError:
    """Return the error for records locked by another program."""
    return StoreBusyError(
        f"Another program is using {path.name}, so this step was not stored and nothing stored "
        "before was lost; close that program and try again."
    )


def full(path: Path) -> StoreFullError:
    """Return the error for a full disk."""
    return StoreFullError(
        f"The disk is full, so {path.name} could not take this step and nothing stored before "
        "was lost; free some space and try again."
    )


def read_only(path: Path) -> StoreReadOnlyError:
    """Return the error for a file or folder that cannot be written."""
    return StoreReadOnlyError(
        f"{path.name} in {path.parent} cannot be written, so this step was not stored and "
        "nothing stored before was lost; make that folder writable and try again."
    )


def damaged(path: Path) -> StoreDamagedError:
    """Return the error for a file that is damaged or holds something else."""
    return StoreDamagedError(
        f"{path.name} is damaged or holds no records, and it was left as it is; go back to the "
        "last good backup."
    )


def lost(path: Path) -> RecordsLostError:
    """Return the error for records that are gone while backups of them are there."""
    return RecordsLostError(
        f"{path.name} in {path.parent} is missing, but backups of it are there; go back to the "
        "last good backup."
    )


def too_new(path: Path) -> StoreTooNewError:
    """Return the error for a file of a newer version of the program."""
    return StoreTooNewError(
        f"{path.name} was written by a newer version of larvasight, and it was left as it is; "
        "install that version to open it."
    )
