"""Rows of plans for combs. What a plan says is the timetable's matter; here it is JSON text."""

import json
from datetime import datetime
from typing import Final
from uuid import UUID

from sqlalchemy import Connection, select, update
from sqlalchemy.dialects.sqlite import insert

from larvasight.errors import NameInvalidError
from larvasight.records.clock import at_utc, utc_ms
from larvasight.records.schema import comb_plan
from larvasight.records.types import Plan

NAME_CHARS_MAX: Final = 120


def every(connection: Connection, *, with_removed: bool = False) -> list[Plan]:
    """Return all plans, the newest first; those removed only when asked for."""
    rows = connection.execute(
        select(comb_plan).order_by(comb_plan.c.made_utc_ms.desc(), comb_plan.c.name)
    )
    return [
        Plan(
            id=UUID(row.id),
            name=row.name,
            made_at_utc=at_utc(row.made_utc_ms),
            spec=row.spec,
            is_removed=row.removed_utc_ms is not None,
        )
        for row in rows
        if with_removed or row.removed_utc_ms is None
    ]


def put(connection: Connection, plan_id: UUID, name: str, spec: str, now: datetime) -> None:
    """Store a plan, new or in the place of what it said before; one removed comes back."""
    json.loads(spec)
    clean = " ".join(name.split())
    if not 1 <= len(clean) <= NAME_CHARS_MAX or not clean.isprintable():
        msg = (
            f"A plan's name needs 1 to {NAME_CHARS_MAX} characters, so nothing was changed; "
            "type another."
        )
        raise NameInvalidError(msg)
    changed = {"name": clean, "spec": spec, "removed_utc_ms": None}
    connection.execute(
        insert(comb_plan)
        .values(id=str(plan_id), made_utc_ms=utc_ms("now", now), **changed)
        .on_conflict_do_update(index_elements=["id"], set_=changed)
    )


def remove(connection: Connection, plan_id: UUID, now: datetime) -> None:
    """Take a plan out of the list; its row stays, since batches of grafts may name it."""
    done = connection.execute(
        update(comb_plan)
        .where(comb_plan.c.id == str(plan_id))
        .values(removed_utc_ms=utc_ms("now", now))
    )
    if done.rowcount != 1:
        msg = f"plan_id must be a known plan's, got {plan_id}"
        raise ValueError(msg)
