"""Rows about own combs: cells laid by hand, the known age of a comb, photos practised on."""

import json
import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, Table, delete, select
from sqlalchemy.dialects.sqlite import insert

from larvasight.records.clock import at_utc, utc_ms
from larvasight.records.schema import hand_lattice, known_age, photo, practice_photo
from larvasight.records.types import HandLattice, KnownAge, PlacedCell, PracticePhoto

CELLS_MOST: Final = 20_000
_NAME_MOST: Final = 100_000
_N_NUMBERS: Final = 8


def lattice_of(connection: Connection, sha256: str) -> HandLattice | None:
    """Return where a person laid the cells of a photo, None where nobody did."""
    row = _row(connection, hand_lattice, sha256)
    if row is None:
        return None
    return HandLattice(
        kind=row.kind, cells=_cells(json.loads(row.cells)), made_at_utc=at_utc(row.made_utc_ms)
    )


def put_lattice(connection: Connection, sha256: str, lattice: HandLattice | None) -> None:
    """Store where the cells of a photo lie; None leaves it to what is found in the picture."""
    if lattice is None:
        _remove(connection, hand_lattice, sha256)
        return
    cells = [[round(v, 3) for v in cell] for cell in _cells(lattice.cells)]
    values = {
        "kind": lattice.kind,
        "cells": json.dumps(cells, separators=(",", ":")),
        "made_utc_ms": utc_ms("made_at_utc", lattice.made_at_utc),
    }
    _put(connection, hand_lattice, sha256, values)


def age_of(connection: Connection, sha256: str) -> KnownAge | None:
    """Return what is known of the age of a photo's comb, None where nothing is."""
    row = _row(connection, known_age, sha256)
    if row is None:
        return None
    return KnownAge(
        laid_from_utc=at_utc(row.laid_from_utc_ms),
        laid_to_utc=at_utc(row.laid_to_utc_ms),
        taken_at_utc=at_utc(row.taken_utc_ms),
    )


def put_age(connection: Connection, sha256: str, age: KnownAge | None, now: datetime) -> None:
    """Store what is known of the age of a photo's comb; None takes it away."""
    if age is None:
        _remove(connection, known_age, sha256)
        return
    values = {
        "laid_from_utc_ms": utc_ms("laid_from_utc", age.laid_from_utc),
        "laid_to_utc_ms": utc_ms("laid_to_utc", age.laid_to_utc),
        "taken_utc_ms": utc_ms("taken_at_utc", age.taken_at_utc),
        "made_utc_ms": utc_ms("now", now),
    }
    _put(connection, known_age, sha256, values)


def practice_photos(connection: Connection) -> list[PracticePhoto]:
    """Return the photos that are practised on, the newest set first."""
    rows = connection.execute(
        select(practice_photo).order_by(
            practice_photo.c.made_utc_ms.desc(), practice_photo.c.photo_sha256
        )
    )
    return [
        PracticePhoto(
            sha256=row.photo_sha256,
            is_all_checked=bool(row.is_all_checked),
            made_at_utc=at_utc(row.made_utc_ms),
        )
        for row in rows
    ]


def put_practice_photo(connection: Connection, made: PracticePhoto) -> None:
    """Let a photo be practised on."""
    values = {
        "is_all_checked": made.is_all_checked,
        "made_utc_ms": utc_ms("made_at_utc", made.made_at_utc),
    }
    _put(connection, practice_photo, made.sha256, values)


def remove_practice_photo(connection: Connection, sha256: str) -> None:
    """Let a photo no longer be practised on; rounds that showed it stay."""
    _remove(connection, practice_photo, sha256)


def _row(connection: Connection, table: Table, sha256: str) -> Any:  # noqa: ANN401 - rows differ
    return connection.execute(select(table).where(table.c.photo_sha256 == sha256)).first()


def _put(connection: Connection, table: Table, sha256: str, values: Mapping[str, object]) -> None:
    known = connection.execute(select(photo.c.sha256).where(photo.c.sha256 == sha256)).first()
    if known is None:
        msg = f"sha256 must be a known photo's, got {sha256!r}"
        raise ValueError(msg)
    connection.execute(
        insert(table)
        .values(photo_sha256=sha256, **values)
        .on_conflict_do_update(index_elements=["photo_sha256"], set_=dict(values))
    )


def _remove(connection: Connection, table: Table, sha256: str) -> None:
    connection.execute(delete(table).where(table.c.photo_sha256 == sha256))


def _cells(values: Iterable[Iterable[float]]) -> tuple[PlacedCell, ...]:
    """Return cells laid by hand; ValueError for what are none."""
    cells = tuple(tuple(float(v) for v in cell) for cell in values)
    if not 1 <= len(cells) <= CELLS_MOST:
        msg = f"cells must be 1 to {CELLS_MOST}, got {len(cells)}"
        raise ValueError(msg)
    if any(len(cell) != _N_NUMBERS or not all(map(math.isfinite, cell)) for cell in cells):
        msg = f"cells must each have {_N_NUMBERS} finite numbers"
        raise ValueError(msg)
    if any(abs(name) > _NAME_MOST or name % 1.0 for cell in cells for name in cell[:2]):
        msg = "cells must have whole rows and columns"
        raise ValueError(msg)
    if len({cell[:2] for cell in cells}) < len(cells):
        msg = "cells must each have a name of their own"
        raise ValueError(msg)
    return tuple(
        (int(row), int(col), x, y, ax, ay, bx, by) for row, col, x, y, ax, ay, bx, by in cells
    )
