"""Which form the tables have, and bringing an older file to this version's form.

Alembic is imported only when a file really has another form than ``HEAD``.
"""

import sqlite3
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Final

from larvasight.records.clock import day_utc
from larvasight.records.copies import copy_database, free_path
from larvasight.records.engine import make_engine, plain_connection, writing
from larvasight.records.failures import damaged, too_new

# Oldest first, one for each script in ``migrations/versions``; append only.
REVISIONS: Final = ("0001", "0002", "0003", "0004", "0005", "0006", "0007")
HEAD: Final = REVISIONS[-1]
SCRIPTS: Final = Path(__file__).parent / "migrations"

_TABLES = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"


def revision_in(
    driver: sqlite3.Connection, path: Path, revisions: Sequence[str] = REVISIONS
) -> str | None:
    """Return the form of a file's tables, None for a file without tables.

    Raises
    ------
    StoreDamagedError
        If the tables are not those of records.
    StoreTooNewError
        If the form is of a newer version.
    """
    names = {name for (name,) in driver.execute(_TABLES)}
    if not names:
        return None
    if not {"alembic_version", "learner", "shown_cell"} <= names:
        raise damaged(path)
    found = driver.execute("SELECT version_num FROM alembic_version").fetchall()
    if len(found) != 1:
        raise damaged(path)
    revision: str = found[0][0]
    if revision not in revisions:
        raise too_new(path)
    return revision


def upgrade(
    path: Path,
    *,
    now: datetime,
    backups: Path | None,
    wait_ms: int = 2000,
    revisions: Sequence[str] = REVISIONS,
    scripts: Path = SCRIPTS,
) -> None:
    """Bring a file's tables to the newest form, all steps in one transaction.

    Parameters
    ----------
    path : Path
        Records file, of an older form or without tables.
    now : datetime
        Dates the copy made first.
    backups : Path or None
        Folder that takes the copy ``before-REVISION-DATE.db``; None makes none.
    wait_ms : int
        How long to wait for another program's lock.
    revisions : sequence of str
        Known forms, oldest first.
    scripts : Path
        Folder of the migration scripts.
    """
    head = revisions[-1]
    with plain_connection(path, "rw", wait_ms=wait_ms) as driver:
        revision = revision_in(driver, path, revisions)
        if revision == head:
            return
        if revision is not None and backups is not None:
            backups.mkdir(parents=True, exist_ok=True)
            copy_database(driver, free_path(backups, f"before-{head}-{day_utc('now', now)}"))
    _run_scripts(path, head, scripts, wait_ms)


def _run_scripts(path: Path, head: str, scripts: Path, wait_ms: int) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(scripts).replace("%", "%%"))
    engine = make_engine(path, wait_ms=wait_ms, foreign_keys=False)
    try:
        with writing(engine) as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, head)
            if connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
                raise damaged(path)
    finally:
        engine.dispose()
