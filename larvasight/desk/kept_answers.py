"""Rounds that were kept, turned into what scores, edges and tests are computed from."""

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from larvasight.practice import CONTENT_CODES, Answer, AnswerTable, ShownCell
from larvasight.practice.scoring import Outcome, outcomes

if TYPE_CHECKING:
    from larvasight.records.types import KeptRound

_CODES = {content: code for code, content in enumerate(CONTENT_CODES)}
_TOLD = (Answer.TAKE, Answer.LEAVE)


def table_of(rounds: "Sequence[KeptRound]") -> AnswerTable:
    """Return the cells of some rounds that were finally taken or left, in the order of asking.

    Each counts at the time at which its round ended, or was shown where it was not ended.
    """
    told = [(kept, k, answer) for kept in rounds for k, answer in _told(kept)]
    cells = [kept.cells[k] for kept, k, _ in told]
    times = [(kept.ended_at_utc or kept.shown_at_utc).timestamp() for kept, _, _ in told]
    givens = [kept.givens[k] for kept, k, _ in told]
    return AnswerTable(
        answered_utc_ms=np.array([round(1000.0 * at) for at in times], dtype=np.int64),
        content=np.array([_CODES[cell.content] for cell in cells], dtype=np.int8),
        age_h=_column(cell.age_h for cell in cells),
        looks_age_h=_column(cell.looks_age_h for cell in cells),
        is_plain=np.array([cell.is_plain for cell in cells], dtype=np.bool_),
        taken=np.array([answer is Answer.TAKE for _, _, answer in told], dtype=np.bool_),
        response_ms=_column(None if given is None else given.response_ms for given in givens),
        young_h=_column(kept.limits.young_h for kept, _, _ in told),
        old_h=_column(kept.limits.old_h for kept, _, _ in told),
    )


def outcomes_of(kept: "KeptRound") -> list[tuple[ShownCell, Outcome]]:
    """Return each cell of a round that was finally taken or left, and what that was."""
    found = outcomes(table_of([kept]))
    cells = [kept.cells[k] for k, _ in _told(kept)]
    return list(zip(cells, (Outcome(int(code)) for code in found), strict=True))


def _told(kept: "KeptRound") -> list[tuple[int, Answer]]:
    return [(k, answer) for k, answer in enumerate(kept.answers) if answer in _TOLD and answer]


def _column(values: Iterable[float | None]) -> NDArray[np.float64]:
    return np.array([math.nan if value is None else value for value in values], dtype=np.float64)
