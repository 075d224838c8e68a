"""A class at a glance: one line for each learner, and what the next lesson should be about."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, tzinfo
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from larvasight.grading import Limits
from larvasight.practice.line import ladder_of, n_latest, spans_of
from larvasight.practice.measuring import seen_ages_h
from larvasight.practice.progress import TOO_FEW, DayScore, local_days
from larvasight.practice.scoring import Outcome, Score, outcomes, scores_by_group
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
        All counted answers; its pace is left out.
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
    if not learners:
        return ()
    joined = _Joined.of([table for _, table, _ in learners], tz)
    scores, days, edges = _scores(joined), _days(joined), _edges(joined)
    lines = [
        _line(name, limits, _Found(score=scores[k], days=days[k], edges=edges[k]), today)
        for k, (name, _, limits) in enumerate(learners)
    ]
    return tuple(sorted(lines, key=_need))


def _need(line: ClassLine) -> tuple[int, float, date, str]:
    past_h = 0.0 if line.old is None else line.old_limit_h - line.old.hi
    order = list(State).index(line.state)
    return order, past_h, line.next_day or date.max, line.name.casefold()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Joined:
    """The answers of all learners in one table, each with its learner's place and local day.

    What costs as much for one learner as for all is then done once.
    """

    table: AnswerTable
    owner: NDArray[np.intp]
    day: NDArray[np.int64]
    counted: NDArray[np.int8]
    starts: tuple[int, ...]

    @classmethod
    def of(cls, tables: Sequence[AnswerTable], tz: tzinfo) -> "_Joined":
        columns = {
            each.name: np.concatenate([getattr(table, each.name) for table in tables])
            for each in fields(AnswerTable)
        }
        table = AnswerTable(**columns)
        sizes = [len(each) for each in tables]
        is_empty = not len(table)
        return cls(
            table=table,
            owner=np.repeat(np.arange(len(tables)), sizes),
            day=np.zeros(0, np.int64) if is_empty else local_days(table.answered_utc_ms, tz),
            counted=np.where(table.is_measuring, np.int8(Outcome.HIDDEN), outcomes(table)),
            starts=(0, *np.cumsum(sizes).tolist()),
        )

    @property
    def n_learners(self) -> int:
        return len(self.starts) - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class _Edges:
    """Edges of the latest cells, the day before the last and the last; None of too few cells."""

    now: EdgePosterior | None
    before: EdgePosterior | None
    last: EdgePosterior | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """All that is computed of one learner."""

    score: Score
    days: tuple[DayScore, ...]
    edges: _Edges


def _scores(joined: _Joined) -> list[Score]:
    none_ms = np.full(len(joined.table), np.nan)
    return scores_by_group(joined.counted, none_ms, joined.owner, joined.n_learners)


def _days(joined: _Joined) -> list[tuple[DayScore, ...]]:
    days: list[list[DayScore]] = [[] for _ in range(joined.n_learners)]
    # A learner and a day in one whole number, so that both are told apart in one go.
    span = 1 + int(joined.day.max(initial=0))
    keys, group = np.unique(joined.owner * span + joined.day, return_inverse=True)
    none_ms = np.full(len(joined.table), np.nan)
    scores = scores_by_group(joined.counted, none_ms, group, len(keys))
    for key, each in zip(keys.tolist(), scores, strict=True):
        owner, ordinal = divmod(key, span)
        days[owner].append(DayScore(day=date.fromordinal(ordinal), score=each))
    return [tuple(each) for each in days]


def _edges(joined: _Joined) -> list[_Edges]:
    """Return the edges of every learner, all at once and none from too few cells."""
    ages_h = seen_ages_h(joined.table)
    none = np.zeros(0, dtype=np.intp)
    parts: list[NDArray[np.intp]] = []
    for owner in range(joined.n_learners):
        latest, before, last = _parts(joined, owner, ages_h)
        # One day alone tells of no move.
        is_pair = min(len(before), len(last)) >= TOO_FEW
        parts += [latest, before, last] if is_pair else [latest, none, none]
    told = [part for part in parts if len(part) >= TOO_FEW]
    rows = np.concatenate([none, *told])
    posteriors = iter(
        edges_of_groups(
            ages_h[rows],
            joined.table.taken[rows],
            np.repeat(np.arange(len(told)), [len(part) for part in told]),
            len(told),
        )
    )
    found = [next(posteriors) if len(part) >= TOO_FEW else None for part in parts]
    return [
        _Edges(now=found[k], before=found[k + 1], last=found[k + 2])
        for k in range(0, len(found), 3)
    ]


def _parts(
    joined: _Joined, owner: int, ages_h: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Return rows of the latest cells, of the days before the last and of the last.

    They are those of the learner's own line, which says the same.
    """
    start, end = joined.starts[owner : owner + 2]
    telling = start + np.flatnonzero(~np.isnan(ages_h[start:end]))
    if not len(telling):
        return telling, telling, telling
    spans = spans_of(joined.day[telling])
    before, last = (telling[begin:end] for begin, end in [(0, 0), (0, 0), *spans][-2:])
    return telling[-n_latest(spans) :], before, last


def _line(name: str, limits: Limits, found: _Found, today: date) -> ClassLine:
    days, edges = found.days, found.edges
    is_told = edges.now is not None and found.score.n_answers >= TOO_FEW
    now = edges.now if is_told else None
    moved = None
    if now is not None and edges.before is not None and edges.last is not None:
        moved = edge_difference(edges.before, edges.last, "old")
    ladder = ladder_of(days, {})
    next_day = None if ladder is None else ladder.due_on
    old = None if now is None else now.old_edge_h
    return ClassLine(
        name=name,
        state=State.NEW if old is None else _state(old, moved, next_day, limits, today),
        n_cells=found.score.n_answers,
        young=None if now is None else now.young_edge_h,
        old=old,
        score=found.score,
        moved=moved,
        last_day=days[-1].day if days else None,
        next_day=next_day,
        old_limit_h=limits.old_h,
    )


def _state(
    old: Estimate,
    moved: Estimate | None,
    next_day: date | None,
    limits: Limits,
    today: date,
) -> State:
    if old.hi > limits.old_h:
        return State.PAST if old.lo > limits.old_h else State.PERHAPS
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
