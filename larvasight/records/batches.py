"""Rows of batches of grafts and of their cups."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta, timezone
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Row, delete, select
from sqlalchemy.dialects.sqlite import insert

from larvasight.grafts import (
    DATED,
    AgeBand,
    Alternation,
    Batch,
    Cup,
    Factor,
    Fate,
    Feeding,
    Stage,
    Times,
    Tool,
)
from larvasight.records.clock import at_utc, utc_ms
from larvasight.records.schema import comb_plan, graft_batch, graft_cup, learner

# Stored under their own names, as they are.
_PLAIN = (
    "grafter",
    "breeder",
    "comb",
    "cup_kind",
    "is_primed",
    "magnification",
    "light",
    "place",
    "room_c",
    "humidity_pct",
    "out_min",
    "is_covered",
    "is_practice",
    "notes",
)


def every(connection: Connection) -> list[Batch]:
    """Return all batches with their cups, the newest first."""
    cups: dict[str, list[Cup]] = {}
    for row in connection.execute(select(graft_cup).order_by(graft_cup.c.number)):
        cups.setdefault(row.batch_id, []).append(_cup(row))
    newest_first = graft_batch.c.grafted_utc_ms.desc()
    rows = connection.execute(
        select(graft_batch).order_by(newest_first, graft_batch.c.made_utc_ms.desc())
    )
    return [_batch(row, cups.get(row.id, ())) for row in rows]


def put(connection: Connection, batches: Iterable[Batch], now: datetime) -> None:
    """Store batches, each new or whole in the place of what it was before."""
    learner_ids = set(connection.scalars(select(learner.c.id)))
    plan_ids = set(connection.scalars(select(comb_plan.c.id)))
    for batch in batches:
        for name, known in (("learner_id", learner_ids), ("plan_id", plan_ids)):
            got = getattr(batch, name)
            if got is not None and str(got) not in known:
                msg = f"batches must name a known {name} or none, got {got}"
                raise ValueError(msg)
        values = _values(batch)
        connection.execute(
            insert(graft_batch)
            .values(id=str(batch.id), made_utc_ms=utc_ms("now", now), **values)
            .on_conflict_do_update(index_elements=["id"], set_=values)
        )
        connection.execute(delete(graft_cup).where(graft_cup.c.batch_id == str(batch.id)))
        connection.execute(insert(graft_cup), [_cup_row(batch.id, cup) for cup in batch.cups])


def remove(connection: Connection, batch_id: UUID) -> None:
    """Remove a batch with all its cups."""
    done = connection.execute(delete(graft_batch).where(graft_batch.c.id == str(batch_id)))
    if done.rowcount != 1:
        msg = f"batch_id must be a known batch's, got {batch_id}"
        raise ValueError(msg)


def _values(batch: Batch) -> dict[str, Any]:
    offset = batch.grafted_at.utcoffset()
    assert offset is not None  # a batch refuses a time without one
    second = batch.alternation
    return {
        **{name: getattr(batch, name) for name in _PLAIN},
        "grafted_utc_ms": utc_ms("grafted_at", batch.grafted_at),
        "utc_offset_min": offset // timedelta(minutes=1),
        "learner_id": None if batch.learner_id is None else str(batch.learner_id),
        "plan_id": None if batch.plan_id is None else str(batch.plan_id),
        "tool": _text(batch.tool),
        "feeding": _text(batch.feeding),
        "age_band": _text(batch.age_band),
        "times": _text(batch.times),
        "second_factor": None if second is None else second.factor.value,
        "second_value": None if second is None else second.value,
    }


def _text(kind: Tool | Feeding | AgeBand | Times | None) -> str | None:
    return None if kind is None else kind.value


def _cup_row(batch_id: UUID, cup: Cup) -> dict[str, Any]:
    days = {f"{stage}_on": cup.days.get(stage) for stage in DATED}
    return {
        "batch_id": str(batch_id),
        "number": cup.number,
        "reached": cup.reached.value,
        "fate": cup.fate.value,
        **{name: None if day is None else day.isoformat() for name, day in days.items()},
    }


def _cup(row: Row[Any]) -> Cup:
    found = {stage: getattr(row, f"{stage}_on") for stage in DATED}
    return Cup(
        number=row.number,
        reached=Stage(row.reached),
        fate=Fate(row.fate),
        days={stage: date.fromisoformat(day) for stage, day in found.items() if day is not None},
    )


def _batch(row: Row[Any], cups: Sequence[Cup]) -> Batch:
    zone = timezone(timedelta(minutes=row.utc_offset_min))
    plain = {name: getattr(row, name) for name in _PLAIN}
    for name in ("is_primed", "is_covered", "is_practice"):
        plain[name] = None if plain[name] is None else bool(plain[name])
    second = None
    if row.second_factor is not None:
        second = Alternation(factor=Factor(row.second_factor), value=row.second_value)
    return Batch(
        **plain,
        id=UUID(row.id),
        grafted_at=at_utc(row.grafted_utc_ms).astimezone(zone),
        learner_id=None if row.learner_id is None else UUID(row.learner_id),
        plan_id=None if row.plan_id is None else UUID(row.plan_id),
        tool=None if row.tool is None else Tool(row.tool),
        feeding=None if row.feeding is None else Feeding(row.feeding),
        age_band=None if row.age_band is None else AgeBand(row.age_band),
        times=None if row.times is None else Times(row.times),
        alternation=second,
        cups=tuple(cups),
    )
