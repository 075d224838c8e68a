"""Connections to the records, and the transactions on them."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import URL, Connection, Engine, create_engine, event

# Execution option of a connection whose transactions write.
WRITES = "larvasight_writes"


def make_engine(path: Path, *, wait_ms: int, foreign_keys: bool = True) -> Engine:
    """Return an engine whose every stored step is on the disk before the commit returns.

    Transactions begin where SQLAlchemy begins them, never where the driver guesses, so that
    changes of tables are part of them, too. Those that write (``writing``) take the lock at
    the beginning, so that none is refused halfway.

    Parameters
    ----------
    path : Path
        The records file.
    wait_ms : int
        How long to wait for another program's lock.
    foreign_keys : bool
        Whether foreign keys are enforced; off only while tables are changed.
    """
    url = URL.create("sqlite", database=str(path))
    engine = create_engine(url, connect_args={"timeout": wait_ms / 1000.0})

    @event.listens_for(engine, "connect")
    def _set_up(driver: sqlite3.Connection, _record: object) -> None:
        driver.isolation_level = None
        driver.execute("PRAGMA synchronous=FULL")
        # On macOS only: there the disk is told to empty its own cache, too.
        driver.execute("PRAGMA fullfsync=ON")
        driver.execute(f"PRAGMA foreign_keys={'ON' if foreign_keys else 'OFF'}")
        driver.execute("PRAGMA trusted_schema=OFF")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get(WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Run one transaction that writes: all of it is kept, or nothing."""
    with engine.execution_options(**{WRITES: True}).begin() as connection:
        yield connection


def driver_of(connection: Connection) -> sqlite3.Connection:
    """Return the driver's own connection, for what SQLAlchemy has no words for."""
    driver: Any = connection.connection.driver_connection
    assert isinstance(driver, sqlite3.Connection)
    return driver


@contextmanager
def plain_connection(path: Path, mode: str, *, wait_ms: int = 2000) -> Iterator[sqlite3.Connection]:
    """Open a database file that is there already with the driver alone.

    Parameters
    ----------
    path : Path
        Database file.
    mode : str
        "rw", or "immutable" for a file that nobody changes; that leaves no trace beside it.
    wait_ms : int
        How long to wait for another program's lock.
    """
    how = "immutable=1" if mode == "immutable" else f"mode={mode}"
    place = path.absolute().as_posix()
    uri = f"file://{'' if place.startswith('/') else '/'}{quote(place)}?{how}"
    driver = sqlite3.connect(uri, uri=True, timeout=wait_ms / 1000.0, isolation_level=None)
    with closing(driver):
        driver.execute("PRAGMA trusted_schema=OFF")
        yield driver
