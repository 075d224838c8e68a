"""Rows of rounds and of the cells shown in them."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Row, bindparam, insert, select, update
from sqlalchemy.exc import IntegrityError

import larvasight
from larvasight.grading import Limits
from larvasight.practice import Answer, Given, ShownCell
from larvasight.records.clock import at_utc, utc_ms
from larvasight.records.learners import require_learner
from larvasight.records.schema import comb_round, shown_cell
from larvasight.records.types import ShownRound, UnfinishedRound
from larvasight.sheet import Content, Jelly

_KEEP = (
    update(shown_cell)
    .where(shown_cell.c.id == bindparam("cell"), shown_cell.c.is_final == 0)
    .values(
        answer=bindparam("answer"),
        response_ms=bindparam("response_ms"),
        is_final=bindparam("is_final"),
        answered_utc_ms=bindparam("answered_utc_ms"),
    )
)


def show(connection: Connection, shown: ShownRound) -> None:
    """Write a round and one row for each of its cells."""
    require_learner(connection, shown.learner_id)
    round_row, cell_rows = _round_row(shown), _cell_rows(shown)
    if _is_kept(connection, round_row, cell_rows):
        return
    try:
        connection.execute(insert(comb_round).values(**round_row))
        connection.execute(insert(shown_cell), [{**row, "is_final": False} for row in cell_rows])
    except IntegrityError as error:
        msg = f"shown must be a new round with new cells, got {shown.id}: {error.orig}"
        raise ValueError(msg) from error


def _common(shown: ShownRound) -> dict[str, Any]:
    return {
        "learner_id": str(shown.learner_id),
        "drill": shown.drill.key,
        "feedback": shown.drill.feedback.value,
        "shown_utc_ms": utc_ms("shown_at_utc", shown.shown_at_utc),
    }


def _round_row(shown: ShownRound) -> dict[str, Any]:
    return {
        **_common(shown),
        "id": str(shown.id),
        "kind": shown.kind,
        "recipe": json.dumps(shown.recipe, ensure_ascii=False, allow_nan=False),
    }


def _cell_rows(shown: ShownRound) -> list[dict[str, Any]]:
    every_cell = {
        **_common(shown),
        **{name: value for name, value in asdict(shown.limits).items() if name != "by"},
        "round_id": str(shown.id),
        "program_version": larvasight.__version__,
        "model_version": shown.model_version,
    }
    return [
        {**every_cell, **_columns(cell), "position": position}
        for position, cell in enumerate(shown.cells)
    ]


def _is_kept(
    connection: Connection, round_row: dict[str, Any], cell_rows: list[dict[str, Any]]
) -> bool:
    """Return whether this very round is there already, as after a doubtful try."""
    of_round = select(comb_round).where(comb_round.c.id == round_row["id"])
    found = connection.execute(of_round).mappings().first()
    if found is None:
        return False
    of_cells = select(shown_cell).where(shown_cell.c.round_id == round_row["id"])
    cells = connection.execute(of_cells.order_by(shown_cell.c.position)).mappings().all()
    kept = [found, *cells]
    wanted = [round_row, *cell_rows]
    return len(kept) == len(wanted) and all(
        row[name] == value
        for row, values in zip(kept, wanted, strict=True)
        for name, value in values.items()
    )


def _columns(cell: ShownCell) -> dict[str, Any]:
    return {
        "id": str(cell.id),
        "row": cell.row,
        "col": cell.col,
        "tile_id": cell.tile_id,
        "content": cell.content.value,
        "age_h": cell.age_h,
        "looks_age_h": cell.looks_age_h,
        "length_mm": cell.length_mm,
        "curl_deg": cell.curl_deg,
        "jelly": None if cell.jelly is None else cell.jelly.value,
        "is_plain": cell.is_plain,
    }


def keep(connection: Connection, givens: Sequence[Given], now: datetime) -> None:
    """Write answers into the rows of their cells."""
    now_utc_ms = utc_ms("now", now)
    for given in givens:
        if given.is_final and given.answer is None:
            msg = f"givens must have an answer where they are final, got none for {given.cell_id}"
            raise ValueError(msg)
        if given.response_ms is not None and given.response_ms < 0:
            msg = f"givens must have a response_ms of 0 or more, got {given.response_ms}"
            raise ValueError(msg)
        done = connection.execute(
            _KEEP,
            {
                "cell": str(given.cell_id),
                "answer": None if given.answer is None else given.answer.value,
                "response_ms": given.response_ms,
                "is_final": given.is_final,
                "answered_utc_ms": None if given.answer is None else now_utc_ms,
            },
        )
        if done.rowcount != 1:
            _require_same(connection, given)


def _require_same(connection: Connection, given: Given) -> None:
    """Let a final answer be kept once more, as after a doubtful try, but never changed."""
    kept = connection.scalar(
        select(shown_cell.c.answer).where(shown_cell.c.id == str(given.cell_id))
    )
    if kept is None:
        msg = f"givens must be of cells that were shown, got {given.cell_id}"
        raise ValueError(msg)
    if given.answer != kept or not given.is_final:
        msg = f"givens must not change a final answer, got {given.answer} for {given.cell_id}"
        raise ValueError(msg)


def end(connection: Connection, round_id: UUID, givens: Sequence[Given], now: datetime) -> None:
    """Write the last answers of a round, and its end."""
    ended = connection.execute(
        update(comb_round)
        .where(comb_round.c.id == str(round_id), comb_round.c.ended_utc_ms.is_(None))
        .values(ended_utc_ms=utc_ms("now", now))
    )
    is_known = select(comb_round.c.id).where(comb_round.c.id == str(round_id))
    if ended.rowcount != 1 and connection.scalar(is_known) is None:
        msg = f"round_id must be of a round that was shown, got {round_id}"
        raise ValueError(msg)
    keep(connection, givens, now)


def unfinished(connection: Connection, learner_id: UUID) -> UnfinishedRound | None:
    """Return the latest round of a learner that was shown and not ended.

    A recipe that is no object draws nothing: it comes back as an empty one.
    """
    found = connection.execute(
        select(comb_round)
        .where(comb_round.c.learner_id == str(learner_id), comb_round.c.ended_utc_ms.is_(None))
        .order_by(comb_round.c.shown_utc_ms.desc())
        .limit(1)
    ).first()
    if found is None:
        return None
    rows = connection.execute(
        select(shown_cell).where(shown_cell.c.round_id == found.id).order_by(shown_cell.c.position)
    ).all()
    first, recipe = rows[0], json.loads(found.recipe)
    givens = [given_of(row) for row in rows if row.answer or row.response_ms is not None]
    return UnfinishedRound(
        id=UUID(found.id),
        learner_id=learner_id,
        drill=found.drill,
        cells=tuple(cell_of(row) for row in rows),
        givens=tuple(givens),
        limits=Limits(
            young_h=first.young_h,
            best_young_h=first.best_young_h,
            best_old_h=first.best_old_h,
            old_h=first.old_h,
        ),
        recipe=recipe if isinstance(recipe, dict) else {},
        kind=found.kind,
        shown_at_utc=at_utc(found.shown_utc_ms),
        model_version=first.model_version,
    )


def cell_of(row: Row[Any]) -> ShownCell:
    """Return the cell of a row as it was put before the learner."""
    return ShownCell(
        id=UUID(row.id),
        row=row.row,
        col=row.col,
        content=Content(row.content),
        age_h=row.age_h,
        looks_age_h=row.looks_age_h,
        length_mm=row.length_mm,
        curl_deg=row.curl_deg,
        jelly=None if row.jelly is None else Jelly(row.jelly),
        is_plain=bool(row.is_plain),
        tile_id=row.tile_id,
    )


def given_of(row: Row[Any]) -> Given:
    """Return what was answered of the cell of a row."""
    return Given(
        cell_id=UUID(row.id),
        answer=None if row.answer is None else Answer(row.answer),
        response_ms=row.response_ms,
        is_final=bool(row.is_final),
    )
