"""Rows of photos; the files lie in the photos folder."""

import re
from datetime import datetime

from sqlalchemy import Connection, delete, select, update
from sqlalchemy.dialects.sqlite import insert

from larvasight.records.clock import at_utc, utc_ms
from larvasight.records.schema import photo
from larvasight.records.types import Photo

SHA256_PATTERN = r"[0-9a-f]{64}"
SUFFIX_PATTERN = r"\.[0-9a-z]{1,5}"


def _require(name: str, value: str, pattern: str) -> None:
    if re.fullmatch(pattern, value) is None:
        msg = f"{name} must match {pattern}, got {value!r}"
        raise ValueError(msg)


def add(connection: Connection, sha256: str, name: str, suffix: str, now: datetime) -> Photo:
    """Add a photo; one that is there already stays as it is."""
    _require("sha256", sha256, SHA256_PATTERN)
    _require("suffix", suffix, SUFFIX_PATTERN)
    connection.execute(
        insert(photo)
        .values(sha256=sha256, name=name, suffix=suffix, added_utc_ms=utc_ms("now", now))
        .on_conflict_do_nothing()
    )
    return next(found for found in every(connection) if found.sha256 == sha256)


def every(connection: Connection) -> list[Photo]:
    """Return all photos, the newest first."""
    rows = connection.execute(
        select(photo.c.sha256, photo.c.name, photo.c.suffix, photo.c.added_utc_ms).order_by(
            photo.c.added_utc_ms.desc(), photo.c.name
        )
    )
    return [
        Photo(sha256=row.sha256, name=row.name, suffix=row.suffix, added_at_utc=at_utc(row[3]))
        for row in rows
    ]


def sheet_of(connection: Connection, sha256: str) -> str | None:
    """Return the sheet measured from a photo as JSON text, None when it was not measured."""
    row = connection.execute(select(photo.c.sheet).where(photo.c.sha256 == sha256)).first()
    if row is None:
        raise _unknown(sha256)
    sheet: str | None = row.sheet
    return sheet


def put_sheet(connection: Connection, sha256: str, sheet: str | None) -> None:
    """Store the sheet measured from a photo as JSON text."""
    done = connection.execute(update(photo).where(photo.c.sha256 == sha256).values(sheet=sheet))
    if done.rowcount != 1:
        raise _unknown(sha256)


def remove(connection: Connection, sha256: str) -> None:
    """Remove a photo and its sheet; its file is left to the caller."""
    done = connection.execute(delete(photo).where(photo.c.sha256 == sha256))
    if done.rowcount != 1:
        raise _unknown(sha256)


def _unknown(sha256: str) -> ValueError:
    return ValueError(f"sha256 must be a known photo's, got {sha256!r}")
