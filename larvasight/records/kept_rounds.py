"""Whole rounds as they were answered, and how many answers there were of each drill."""

import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any, Final
from uuid import UUID

from sqlalchemy import ColumnElement, Connection, Row, func, or_, select

from larvasight.grading import Limits
from larvasight.practice import Answer
from larvasight.records.clock import at_utc, utc_ms
from larvasight.records.engine import driver_of
from larvasight.records.rounds import cell_of, given_of
from larvasight.records.schema import comb_round, shown_cell
from larvasight.records.types import AnswerCount, KeptRound, NamedAnswer
from larvasight.sheet import Content

_COUNTS: Final = """
SELECT drill, answer, count(*) FROM shown_cell
WHERE learner_id = ? AND is_final = 1 AND answered_utc_ms >= ?
GROUP BY drill, answer
"""
_TIMES: Final = """
SELECT answered_utc_ms FROM shown_cell
WHERE learner_id = ? AND is_final = 1 AND drill = ? AND answered_utc_ms >= ?
ORDER BY answered_utc_ms
"""
_NAMED: Final = """
SELECT round_id, position, content, age_h, looks_age_h, answer, response_ms, answered_utc_ms,
       young_h, best_young_h, best_old_h, old_h
FROM shown_cell
WHERE learner_id = ? AND is_final = 1 AND drill = ? AND answered_utc_ms < ?
ORDER BY answered_utc_ms DESC, position DESC
LIMIT ?
"""
_NO_END_MS: Final = 1 << 62


def read_rounds(
    connection: Connection,
    learner_id: UUID,
    drills: Iterable[str],
    *,
    mark: str | None = None,
    n_latest: int | None = None,
    n_cells: int | None = None,
) -> list[KeptRound]:
    """Return rounds of some drills and those whose recipe has ``mark``, oldest first."""
    wanted: ColumnElement[bool] = comb_round.c.drill.in_(list(drills))
    if mark is not None:
        wanted = or_(wanted, comb_round.c.recipe.contains(json.dumps(mark), autoescape=True))
    chosen = (
        select(comb_round)
        .where(comb_round.c.learner_id == str(learner_id), wanted)
        .order_by(comb_round.c.shown_utc_ms.desc())
        .limit(n_latest)
    )
    found = connection.execute(chosen).all()[::-1]
    if n_cells is not None:
        found = _newest_with(connection, found, n_cells)
    cells: dict[str, list[Row[Any]]] = {}
    ids = [row.id for row in found]
    of_rounds = select(shown_cell).where(shown_cell.c.round_id.in_(ids))
    for row in connection.execute(of_rounds.order_by(shown_cell.c.position)):
        cells.setdefault(row.round_id, []).append(row)
    return [_kept(row, cells[row.id]) for row in found]


def _newest_with(
    connection: Connection, rounds: Sequence[Row[Any]], n_cells: int
) -> list[Row[Any]]:
    """Return the newest rounds that together hold so many cells."""
    of_rounds = shown_cell.c.round_id.in_([row.id for row in rounds])
    each = select(shown_cell.c.round_id, func.count()).where(of_rounds)
    counts = {row[0]: row[1] for row in connection.execute(each.group_by(shown_cell.c.round_id))}
    kept: list[Row[Any]] = []
    for row in reversed(rounds):
        if sum(counts[one.id] for one in kept) >= n_cells:
            break
        kept.append(row)
    return kept[::-1]


def count_answers(connection: Connection, learner_id: UUID, since: datetime) -> list[AnswerCount]:
    """Return how many final answers of each kind were given in each drill since a moment."""
    rows = driver_of(connection).execute(_COUNTS, [str(learner_id), utc_ms("since", since)])
    return [AnswerCount(drill=drill, answer=Answer(answer), n=n) for drill, answer, n in rows]


def named_answers(
    connection: Connection,
    learner_id: UUID,
    drill: str,
    *,
    before: datetime | None = None,
    n_latest: int | None = None,
) -> list[NamedAnswer]:
    """Return the final answers of one drill, oldest first; only those before a moment."""
    end_ms = _NO_END_MS if before is None else utc_ms("before", before)
    values = [str(learner_id), drill, end_ms, -1 if n_latest is None else n_latest]
    rows = driver_of(connection).execute(_NAMED, values).fetchall()
    return [_named(*row) for row in reversed(rows)]


def answer_times(
    connection: Connection, learner_id: UUID, drill: str, since: datetime
) -> list[datetime]:
    """Return when the final answers of one drill were given since a moment, oldest first."""
    values = [str(learner_id), drill, utc_ms("since", since)]
    return [at_utc(ms) for (ms,) in driver_of(connection).execute(_TIMES, values)]


def _kept(row: Row[Any], cells: Sequence[Row[Any]]) -> KeptRound:
    first, recipe = cells[0], json.loads(row.recipe)
    return KeptRound(
        id=UUID(row.id),
        drill=row.drill,
        recipe=recipe if isinstance(recipe, dict) else {},
        limits=Limits(
            young_h=first.young_h,
            best_young_h=first.best_young_h,
            best_old_h=first.best_old_h,
            old_h=first.old_h,
        ),
        shown_at_utc=at_utc(row.shown_utc_ms),
        ended_at_utc=None if row.ended_utc_ms is None else at_utc(row.ended_utc_ms),
        cells=tuple(cell_of(each) for each in cells),
        givens=tuple(
            given_of(each) if each.answer or each.response_ms is not None else None
            for each in cells
        ),
    )


def _named(
    round_id: str,
    position: int,
    content: str,
    age_h: float | None,
    looks_age_h: float | None,
    answer: str,
    response_ms: int | None,
    answered_utc_ms: int,
    *spans_h: float,
) -> NamedAnswer:
    young_h, best_young_h, best_old_h, old_h = spans_h
    return NamedAnswer(
        round_id=UUID(round_id),
        position=position,
        content=Content(content),
        age_h=age_h,
        looks_age_h=looks_age_h,
        answer=Answer(answer),
        response_ms=response_ms,
        answered_at_utc=at_utc(answered_utc_ms),
        limits=Limits(
            young_h=young_h, best_young_h=best_young_h, best_old_h=best_old_h, old_h=old_h
        ),
    )
