"""Rows of lessons, and of rounds that were answered on another computer."""

from collections.abc import Iterable
from datetime import datetime
from typing import Final
from uuid import UUID

from sqlalchemy import Connection, select, update
from sqlalchemy.dialects.sqlite import insert

from larvasight.errors import HomeworkInvalidError
from larvasight.records import learners, rounds
from larvasight.records.clock import at_utc, utc_ms
from larvasight.records.schema import comb_round, lesson
from larvasight.records.types import KeptLesson, RoundBroughtIn

_ALL_BUT_FILE: Final = [column for column in lesson.c if column.name != "file"]


def put(
    connection: Connection,
    lesson_id: UUID,
    *,
    title: str,
    file: bytes,
    is_homework: bool,
    now: datetime,
) -> None:
    """Store a lesson; one that is there stays, may become homework, and comes back if removed."""
    at_ms = utc_ms("now", now)
    row = insert(lesson).values(
        id=str(lesson_id), title=title, is_homework=is_homework, added_utc_ms=at_ms, file=file
    )
    again: dict[str, object] = {"removed_utc_ms": None}
    if is_homework:
        again |= {"is_homework": True}
    connection.execute(row.on_conflict_do_update(index_elements=["id"], set_=again))


def every(connection: Connection, *, with_removed: bool = False) -> list[KeptLesson]:
    """Return all lessons, the newest first."""
    rows = connection.execute(
        select(*_ALL_BUT_FILE).order_by(lesson.c.added_utc_ms.desc(), lesson.c.title)
    )
    return [
        KeptLesson(
            id=UUID(row.id),
            title=row.title,
            is_homework=bool(row.is_homework),
            added_at_utc=at_utc(row.added_utc_ms),
            is_removed=row.removed_utc_ms is not None,
        )
        for row in rows
        if with_removed or row.removed_utc_ms is None
    ]


def file_of(connection: Connection, lesson_id: UUID) -> bytes | None:
    """Return a lesson's file, None where there is no such lesson."""
    found = connection.scalar(select(lesson.c.file).where(lesson.c.id == str(lesson_id)))
    return None if found is None else bytes(found)


def remove(connection: Connection, lesson_id: UUID, now: datetime) -> None:
    """Take a lesson out of the list; its row stays, since rounds name it."""
    done = connection.execute(
        update(lesson)
        .where(lesson.c.id == str(lesson_id))
        .values(removed_utc_ms=utc_ms("now", now))
    )
    if done.rowcount != 1:
        msg = f"lesson_id must be a known lesson's, got {lesson_id}"
        raise ValueError(msg)


def bring_in(
    connection: Connection,
    learner_id: UUID,
    name: str,
    brought: Iterable[RoundBroughtIn],
    now: datetime,
) -> int:
    """Store rounds of a learner, who is added when not known; return how many were new."""
    learners.ensure(connection, learner_id, name, now)
    n_new = 0
    for one in brought:
        of_round = select(comb_round.c.learner_id).where(comb_round.c.id == str(one.shown.id))
        owner = connection.scalar(of_round)
        if owner not in (None, str(learner_id)):
            msg = f"The answers of {name} are here as somebody else's, so nothing was changed."
            raise HomeworkInvalidError(msg)
        if owner is not None:
            continue
        rounds.show(connection, one.shown)
        rounds.end(connection, one.shown.id, one.givens, one.ended_at_utc)
        n_new += 1
    return n_new
