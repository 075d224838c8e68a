"""Rows of settings: the class's and each learner's own."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, select
from sqlalchemy.dialects.sqlite import insert

from larvasight.grading import Limits
from larvasight.records.learners import require_learner
from larvasight.records.schema import setting
from larvasight.records.types import CLASS, PrintedKey, Scope

LIMITS = "limits"
_PRINTED = "printed-sheet-{}"


def get(connection: Connection, key: str, scope: Scope) -> Any:  # noqa: ANN401 - any JSON value
    """Return a setting's JSON value, None when it was never set."""
    found = connection.scalar(
        select(setting.c.value).where(setting.c.scope == str(scope), setting.c.key == key)
    )
    return None if found is None else json.loads(found)


def put(connection: Connection, key: str, value: Any, scope: Scope) -> None:  # noqa: ANN401
    """Set a setting to a JSON value."""
    if scope != CLASS:
        require_learner(connection, scope)
    text = json.dumps(value, ensure_ascii=False, allow_nan=False)
    connection.execute(
        insert(setting)
        .values(scope=str(scope), key=key, value=text)
        .on_conflict_do_update(index_elements=["scope", "key"], set_={"value": text})
    )


def limits_of(connection: Connection, scope: Scope) -> Limits:
    """Return a learner's own limits, else the class's, else the usual ones."""
    found = get(connection, LIMITS, scope)
    if found is None and scope != CLASS:
        found = get(connection, LIMITS, CLASS)
    return Limits() if found is None else Limits(**found)


def limits_of_all(connection: Connection, learner_ids: Sequence[UUID]) -> list[Limits]:
    """Return ``limits_of`` each learner, read at once."""
    rows = connection.execute(
        select(setting.c.scope, setting.c.value).where(setting.c.key == LIMITS)
    )
    kept = {row.scope: json.loads(row.value) for row in rows}
    known = {scope: Limits(**value) for scope, value in kept.items() if value is not None}
    usual = known.get(str(CLASS), Limits())
    return [known.get(str(learner_id), usual) for learner_id in learner_ids]


def put_limits(connection: Connection, limits: Limits | None, scope: Scope) -> None:
    """Set the limits of the class or a learner; None leaves it to the class's or the usual."""
    put(connection, LIMITS, None if limits is None else asdict(limits), scope)


def printed_key(connection: Connection, number: int) -> PrintedKey | None:
    """Return what a printed sheet is scored by, None of one that is not known."""
    found = get(connection, _PRINTED.format(number), CLASS)
    if found is None:
        return None
    return PrintedKey(limits=Limits(**found["limits"]), cells=found["cells"])


def put_printed_key(connection: Connection, number: int, key: PrintedKey) -> None:
    """Set what a printed sheet is scored by."""
    put(connection, _PRINTED.format(number), asdict(key), CLASS)
