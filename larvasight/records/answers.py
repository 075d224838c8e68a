"""Many final answers at once, as columns."""

from collections.abc import Iterable
from itertools import chain
from typing import Final
from uuid import UUID

import numpy as np
from sqlalchemy import Connection

from larvasight.practice import CONTENT_CODES, Answer, AnswerTable
from larvasight.practice.drills import FIND_YOUR_EDGES, SCREEN_TEST, TEACHERS_LINE
from larvasight.records.engine import driver_of

# Content, plainness and answer share one small number: each further column of a row costs
# about as much time as the database needs to find that row.
_CONTENT = " ".join(f"WHEN '{content.value}' THEN {i}" for i, content in enumerate(CONTENT_CODES))
# Every column goes through float64, which holds these whole numbers exactly.
_SELECT: Final = f"""
SELECT answered_utc_ms,
       8 * CASE content {_CONTENT} END + 4 * (drill = '{FIND_YOUR_EDGES.key}')
       + 2 * is_plain + (answer = '{Answer.TAKE.value}'),
       age_h, looks_age_h, response_ms, young_h, old_h
FROM shown_cell
WHERE learner_id = ? AND is_final = 1
      AND answer IN ('{Answer.TAKE.value}', '{Answer.LEAVE.value}')
      AND drill NOT IN ('{TEACHERS_LINE.key}', '{SCREEN_TEST.key}')
ORDER BY answered_utc_ms, position
"""
_N_COLUMNS: Final = 7


def read_answers(connection: Connection, learner_id: UUID) -> AnswerTable:
    """Return a learner's final answers of taking or leaving, oldest first.

    What a teacher marks to show where they draw the line is left out, and so are the picks of the
    screen test: nothing may tell of them before a try has ended.
    """
    (table,) = read_many(connection, [learner_id])
    return table


def read_many(connection: Connection, learner_ids: Iterable[UUID]) -> list[AnswerTable]:
    """Return ``read_answers`` of each learner."""
    driver = driver_of(connection)
    return [_table(driver.execute(_SELECT, [str(learner_id)])) for learner_id in learner_ids]


def _table(rows: Iterable[tuple[float, ...]]) -> AnswerTable:
    flat = np.fromiter(chain.from_iterable(rows), np.float64)
    answered, codes, age_h, looks_age_h, response_ms, young_h, old_h = np.ascontiguousarray(
        flat.reshape(-1, _N_COLUMNS).T
    )
    code = codes.astype(np.int8)
    return AnswerTable(
        answered_utc_ms=answered.astype(np.int64),
        content=code >> 3,
        age_h=age_h,
        looks_age_h=looks_age_h,
        is_plain=(code & 2).astype(np.bool_),
        taken=(code & 1).astype(np.bool_),
        response_ms=response_ms,
        young_h=young_h,
        old_h=old_h,
        is_measuring=(code & 4).astype(np.bool_),
    )
