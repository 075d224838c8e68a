"""Rows of learners."""

import unicodedata
from datetime import datetime
from uuid import UUID, uuid4

from sqlalchemy import Connection, delete, insert, select, update

from larvasight.errors import NameInvalidError, NameTakenError
from larvasight.records.clock import at_utc, utc_ms
from larvasight.records.schema import learner, setting
from larvasight.records.types import Learner

NAME_CHARS_MAX = 60


def clean_name(name: str) -> str:
    """Return a name with its spaces tidied; NameInvalidError if no name is left."""
    clean = unicodedata.normalize("NFC", " ".join(name.split()))
    kinds = [unicodedata.category(char) for char in clean]
    # "L", "N", "P", "S" are what can be seen; "Cc" and "Cs" are control codes and half characters.
    seen = any(kind[0] in "LNPS" for kind in kinds)
    if not seen or {"Cc", "Cs"} & set(kinds) or len(clean) > NAME_CHARS_MAX:
        msg = (
            f"A name needs 1 to {NAME_CHARS_MAX} characters, so nothing was changed; type another."
        )
        raise NameInvalidError(msg)
    return clean


def _key(name: str) -> str:
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())


def _owner(connection: Connection, name: str) -> str | None:
    return connection.scalar(select(learner.c.id).where(learner.c.name_key == _key(name)))


def _refuse_taken(connection: Connection, name: str, learner_id: UUID | None) -> None:
    owner = _owner(connection, name)
    if owner is not None and owner != str(learner_id):
        msg = (
            f"There is a learner called {name} already, so nothing was changed; type another name."
        )
        raise NameTakenError(msg)


def require_learner(connection: Connection, learner_id: UUID) -> None:
    """Raise ValueError unless the learner is known."""
    if connection.scalar(select(learner.c.id).where(learner.c.id == str(learner_id))) is None:
        msg = f"learner_id must be a known learner's, got {learner_id}"
        raise ValueError(msg)


def all_learners(connection: Connection) -> list[Learner]:
    """Return all learners by name."""
    rows = connection.execute(
        select(learner.c.id, learner.c.name, learner.c.created_utc_ms).order_by(learner.c.name_key)
    )
    return [
        Learner(id=UUID(row.id), name=row.name, created_at_utc=at_utc(row.created_utc_ms))
        for row in rows
    ]


def add(connection: Connection, name: str, now: datetime) -> Learner:
    """Add a learner."""
    clean = clean_name(name)
    _refuse_taken(connection, clean, None)
    new = Learner(id=uuid4(), name=clean, created_at_utc=at_utc(utc_ms("now", now)))
    connection.execute(
        insert(learner).values(
            id=str(new.id), name=clean, name_key=_key(clean), created_utc_ms=utc_ms("now", now)
        )
    )
    return new


def ensure(connection: Connection, learner_id: UUID, name: str, now: datetime) -> None:
    """Add a learner of this id where there is none; a name that is taken gets a number."""
    if connection.scalar(select(learner.c.id).where(learner.c.id == str(learner_id))) is not None:
        return
    clean = free = clean_name(name)
    number = 1
    while _owner(connection, free) is not None:
        number += 1
        free = f"{clean[: NAME_CHARS_MAX - 6]} ({number})"
    connection.execute(
        insert(learner).values(
            id=str(learner_id), name=free, name_key=_key(free), created_utc_ms=utc_ms("now", now)
        )
    )


def rename(connection: Connection, learner_id: UUID, name: str) -> None:
    """Give a learner another name."""
    clean = clean_name(name)
    require_learner(connection, learner_id)
    _refuse_taken(connection, clean, learner_id)
    connection.execute(
        update(learner)
        .where(learner.c.id == str(learner_id))
        .values(name=clean, name_key=_key(clean))
    )


def remove(connection: Connection, learner_id: UUID) -> None:
    """Remove a learner with all rounds, cells and settings."""
    require_learner(connection, learner_id)
    connection.execute(delete(learner).where(learner.c.id == str(learner_id)))
    connection.execute(delete(setting).where(setting.c.scope == str(learner_id)))
