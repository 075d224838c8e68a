"""A class at a glance: one line for each learner, and what the next lesson should be about."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, tzinfo
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from larvasight.grading import Limits
from larvasight.practice.line import LATEST_CELLS, ladder_of
from larvasight.practice.measuring import seen_ages_h
from larvasight.practice.progress import TOO_FEW, Progress, local_days, summarise
from larvasight.practice.scoring import Score
from larvasight.practice.spacing import is_drift
from larvasight.practice.table import AnswerTable
from larvasight.stats import EdgePosterior, Estimate, edge_difference, edges_of_groups

# Wrong answers of one kind are a topic from this many on.
_TOPIC_LEAST = 10
# ... and from these shares on, of all picks and of all larvae of the right age.
_WRONG_SHARE, _MISSED_SHARE = 0.05, 0.2
_WRONG_TOPICS = {
    "n_too_old": "larvae that are too old, first by size, then by how far the curve has closed",
    "n_egg": "eggs beside larvae just hatched, a rod beside a bow",
    "n_no_larva": "looking down to the floor, since cells without a larva were taken",
}


class State(StrEnum):
    """How a learner stands, the one who needs the teacher most first."""

    PAST = "past"
    PERHAPS = "perhaps"
    MOVED = "moved"
    DUE = "due"
    PRACTISING = "practising"
    NEW = "new"


STATE_WORDS: dict[State, str] = {
    State.PAST: "takes too old ones",
    State.PERHAPS: "perhaps past the limit",
    State.MOVED: "the line has moved",
    State.DUE: "practice is due",
    State.PRACTISING: "practising",
    State.NEW: "too few cells to tell",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassLine:
    """One learner of a class. With fewer than 40 cells nothing but ``n_cells`` is to be told.

    Attributes
    ----------
    name : str
        The learner's name.
    state : State
        ``PAST`` where the whole interval of the oldest age taken lies past the limit, ``PERHAPS``
        where its upper end does.
    n_cells : int
        Cells judged in all.
    young, old : Estimate or None
        Youngest and oldest age taken, h, from the latest cells.
    score : Score
        All counted answers.
    moved : Estimate or None
        By how much the oldest age moved from the last day but one to the last, h.
    last_day, next_day : date or None
        Last practice, and when the next is due.
    old_limit_h : float
        The teacher's limit for this learner.
    """

    name: str
    state: State
    n_cells: int
    young: Estimate | None
    old: Estimate | None
    score: Score
    moved: Estimate | None
    last_day: date | None
    next_day: date | None
    old_limit_h: float

    @property
    def too_old_per_100(self) -> float | None:
        """Too old among 100 counted picks; None without picks."""
        if self.score.n_picks == 0:
            return None
        return 100.0 * self.score.n_too_old / self.score.n_picks


def class_lines(
    learners: Sequence[tuple[str, AnswerTable, Limits]], tz: tzinfo, today: date
) -> tuple[ClassLine, ...]:
    """Return a line for each learner, who needs the teacher most first; there are no ranks.

    Parameters
    ----------
    learners : sequence of (str, AnswerTable, Limits)
        Name, all answers and limits in force of each.
    tz : tzinfo
        The class's time zone.
    today : date
        The day there.
    """
    edges = _edges([table for _, table, _ in learners], tz)
    lines = [
        _line(name, summarise(table, tz), limits, found, today)
        for (name, table, limits), found in zip(learners, edges, strict=True)
    ]
    return tuple(sorted(lines, key=_need))


def _need(line: ClassLine) -> tuple[int, float, date, str]:
    past_h = 0.0 if line.old is None else line.old_limit_h - line.old.hi
    order = list(State).index(line.state)
    return order, past_h, line.next_day or date.max, line.name.casefold()


_Edges = tuple[EdgePosterior, EdgePosterior, EdgePosterior, bool, bool]


def _edges(tables: Sequence[AnswerTable], tz: tzinfo) -> list[_Edges]:
    """Return edges of the latest cells, the day before the last and the last, all at once."""
    if not tables:
        return []
    ages = [seen_ages_h(table) for table in tables]
    parts = [
        (k, part)
        for k, (table, ages_h) in enumerate(zip(tables, ages, strict=True))
        for part in _parts(table, ages_h, tz)
    ]
    sizes = [len(part) for _, part in parts]
    found = edges_of_groups(
        np.concatenate([ages[k][part] for k, part in parts]),
        np.concatenate([tables[k].taken[part] for k, part in parts]),
        np.repeat(np.arange(len(parts)), sizes),
        len(parts),
    )
    enough = [size >= TOO_FEW for size in sizes]
    return [
        (found[k], found[k + 1], found[k + 2], enough[k], enough[k + 1] and enough[k + 2])
        for k in range(0, len(parts), 3)
    ]


def _parts(
    table: AnswerTable, ages_h: NDArray[np.float64], tz: tzinfo
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Return rows of the latest cells, of the day before the last and of the last."""
    telling = np.flatnonzero(~np.isnan(ages_h))
    if not len(telling):
        return telling, telling, telling
    days = local_days(table.answered_utc_ms[telling], tz)
    is_last = days == days[-1]
    before = days[~is_last]
    is_before = days == before[-1] if len(before) else ~is_last
    return telling[-LATEST_CELLS:], telling[is_before], telling[is_last]


def _line(name: str, progress: Progress, limits: Limits, edges: _Edges, today: date) -> ClassLine:
    now, before, last, is_enough, is_twice = edges
    days = progress.days
    is_told = is_enough and progress.is_enough
    moved = edge_difference(before, last, "old") if is_told and is_twice else None
    ladder = ladder_of(days, {})
    next_day = None if ladder is None else ladder.due_on
    return ClassLine(
        name=name,
        state=_state(now, moved, next_day, limits, today) if is_told else State.NEW,
        n_cells=progress.score.n_answers,
        young=now.young_edge_h if is_told else None,
        old=now.old_edge_h if is_told else None,
        score=progress.score,
        moved=moved,
        last_day=days[-1].day if days else None,
        next_day=next_day,
        old_limit_h=limits.old_h,
    )


def _state(
    now: EdgePosterior,
    moved: Estimate | None,
    next_day: date | None,
    limits: Limits,
    today: date,
) -> State:
    if now.old_edge_h.hi > limits.old_h:
        return State.PAST if now.old_edge_h.lo > limits.old_h else State.PERHAPS
    if moved is not None and is_drift(moved):
        return State.MOVED
    if next_day is not None and next_day <= today:
        return State.DUE
    return State.PRACTISING


def topic_sentence(lines: Sequence[ClassLine]) -> str:
    """Return what the next lesson should be about.

    Wrong picks come first, by their share of all picks, since those cost queens; right larvae that
    were left only where no kind of wrong pick is common.
    """
    scores = [line.score for line in lines if line.state is not State.NEW]
    n_picks, n_good = (sum(getattr(s, name) for s in scores) for name in ("n_picks", "n_good"))
    wrong = {topic: sum(getattr(s, name) for s in scores) for name, topic in _WRONG_TOPICS.items()}
    topic, n = max(wrong.items(), key=lambda item: item[1])
    if n >= _TOPIC_LEAST and n >= _WRONG_SHARE * n_picks:
        return f"The next lesson: {topic} ({n} of {n_picks} picks)."
    n_missed = sum(s.n_missed for s in scores)
    if n_missed >= _TOPIC_LEAST and n_missed >= _MISSED_SHARE * n_good:
        return (
            f"The next lesson: larvae of the right age that are left ({n_missed} of {n_good} were)."
        )
    return "No kind of mistake stands out in the class."
