"""Where a learner's own eye draws the line now, how that moved, and what to practise next."""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date, timedelta, tzinfo

import numpy as np
from numpy.typing import NDArray

from larvasight.practice.drills import DRILLS, drill_of
from larvasight.practice.measuring import seen_ages_h
from larvasight.practice.progress import (
    TOO_FEW,
    AgeShare,
    DayScore,
    Progress,
    TakenShare,
    local_days,
    summarise,
)
from larvasight.practice.readiness import TryState
from larvasight.practice.spacing import LadderState, SessionEnd, climb, due_list
from larvasight.practice.table import AnswerTable
from larvasight.practice.today import LOOK_FOR, Needs, Planned, plan_today
from larvasight.stats import EdgePosterior, Estimate, edge_difference, edges_of_groups

# The line rests on the latest cells only, two or three sessions or one long day: an eye moves
# within weeks.
LATEST_CELLS = 200
DAYS_MOST = 24
_CURVE_AGES_H = np.arange(0.0, 72.5, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineDay:
    """The oldest age taken, h, by ``n`` cells of the days from ``first`` to ``last``."""

    first: date
    last: date
    n: int
    old: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Next:
    """What to practise next: a drill's title, how long it takes, from which day on, and why."""

    title: str
    minutes: float
    day: date
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Today:
    """The parts of today's plan, those that exist, in the order of doing."""

    parts: tuple[Planned, ...]

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys of its drills, each once."""
        return tuple(dict.fromkeys(part.key for part in self.parts))

    @property
    def why(self) -> str:
        """Why the first comes first."""
        return self.parts[0].why if self.parts else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """What bears on a day's plan and is not in the answers taken or left.

    Attributes
    ----------
    stages_right : sequence of bool
        Answers in "Name the stage", the latest last.
    measured_on : date or None
        Day of the last measuring; None before the first.
    grafts_on, checks_done_on : sequence of date
        Days of planned grafts, and of checks without warm-up.
    test : TryState or None
        Where an open try at the screen test stands.
    screen_check_from : date or None
        First day of the check that ends it.
    has_pace : bool
        Whether the usual time for a right answer is known.
    """

    stages_right: Sequence[bool] = ()
    measured_on: date | None = None
    grafts_on: Sequence[date] = ()
    checks_done_on: Sequence[date] = ()
    test: TryState | None = None
    screen_check_from: date | None = None
    has_pace: bool = True


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A learner's line, from the latest cells that held an egg or a larva.

    Attributes
    ----------
    n, n_taken : int
        Cells that it rests on, and how many of them were taken.
    young, old : Estimate
        Youngest and oldest age taken half of the time, h. Not to be told unless ``is_enough``.
    is_clear : bool
        False where the line is so gradual that both ages are rough.
    ages : tuple of AgeShare
        Share taken of these cells by the age they look.
    eggs : TakenShare
        The same of eggs.
    curve : tuple of (float, float)
        Age, h, and the share that the learner would take of such larvae.
    days : tuple of LineDay
        Oldest first, the latest 24; days with too few cells are put together.
    moved : Estimate or None
        By how much the oldest age moved from the last but one of ``days`` to the last, h.
    next : Next
        What to practise next, when it is due.
    today : Today
        What to practise if it is done today.
    edges : EdgePosterior
        What the latest cells tell, for the next combs to be laid by.
    """

    n: int
    n_taken: int
    young: Estimate
    old: Estimate
    is_clear: bool
    ages: tuple[AgeShare, ...]
    eggs: TakenShare
    curve: tuple[tuple[float, float], ...]
    days: tuple[LineDay, ...]
    moved: Estimate | None
    next: Next
    today: Today
    edges: EdgePosterior = field(repr=False)

    @property
    def is_enough(self) -> bool:
        """Whether anything but the number of cells is to be told."""
        return self.n >= TOO_FEW and self.n_taken > 0


def line_of(
    table: AnswerTable,
    progress: Progress,
    tz: tzinfo,
    today: date,
    beside: Beside | None = None,
) -> Line:
    """Return where a learner draws the line.

    Parameters
    ----------
    table : AnswerTable
        All answers of one learner.
    progress : Progress
        What ``summarise`` made of them.
    tz : tzinfo
        The learner's own time zone.
    today : date
        The day in that zone.
    beside : Beside, optional
        What else bears on what is to be practised; without it the last day of practice counts as
        that of the last measuring.
    """
    ages_h = seen_ages_h(table)
    telling = np.flatnonzero(~np.isnan(ages_h))
    ordinals = local_days(table.answered_utc_ms[telling], tz) if len(telling) else telling
    spans = spans_of(ordinals)
    latest = telling[-n_latest(spans) :]
    # The last group is the latest cells; the others are the days.
    rows = [telling[begin:end] for begin, end in spans] + [latest]
    group = np.repeat(np.arange(len(rows)), [len(each) for each in rows])
    all_rows = np.concatenate(rows)
    *edges, now = edges_of_groups(ages_h[all_rows], table.taken[all_rows], group, len(rows))
    days = tuple(
        LineDay(
            first=date.fromordinal(int(ordinals[begin])),
            last=date.fromordinal(int(ordinals[end - 1])),
            n=end - begin,
            old=posterior.old_edge_h,
        )
        for (begin, end), posterior in zip(spans, edges, strict=True)
    )
    told = summarise(_rows(table, latest), tz)
    needs = _needs(progress, told, now, list(zip(days, edges, strict=True)), today, beside)
    return Line(
        n=len(latest),
        n_taken=int(table.taken[latest].sum()),
        young=now.young_edge_h,
        old=now.old_edge_h,
        is_clear=now.has_clear_window,
        ages=told.ages,
        eggs=told.eggs,
        curve=tuple(
            zip(_CURVE_AGES_H.tolist(), now.pick_share(_CURVE_AGES_H).tolist(), strict=True)
        ),
        days=days,
        moved=edge_difference(edges[-2], edges[-1], "old") if len(edges) > 1 else None,
        next=_next(needs, progress, today),
        today=_today(needs, today),
        edges=now,
    )


def latest_edges(table: AnswerTable) -> EdgePosterior:
    """Return what the latest cells of one learner tell of the edges, for laying the next comb."""
    ages_h = seen_ages_h(table)
    latest = np.flatnonzero(~np.isnan(ages_h))[-LATEST_CELLS:]
    group = np.zeros(len(latest), dtype=np.int64)
    return edges_of_groups(ages_h[latest], table.taken[latest], group, 1)[0]


def n_latest(spans: Sequence[tuple[int, int]]) -> int:
    """Return how many of the latest cells a line rests on, by ``spans_of`` their days."""
    # All of the last day at least: else its own mark beside it would say something else.
    return max(LATEST_CELLS, spans[-1][1] - spans[-1][0]) if spans else LATEST_CELLS


def spans_of(ordinals: NDArray[np.int64]) -> list[tuple[int, int]]:
    """Return begin and end of each day, oldest first: from the latest back, few go together."""
    begins = np.flatnonzero(np.diff(ordinals, prepend=-1)).tolist()
    found: list[tuple[int, int]] = []
    end = len(ordinals)
    for begin in reversed(begins):
        if end - begin >= TOO_FEW and len(found) < DAYS_MOST:
            found.append((begin, end))
            end = begin
    return found[::-1]


def _needs(
    progress: Progress,
    told: Progress,
    now: EdgePosterior,
    days: Sequence[tuple[LineDay, EdgePosterior]],
    today: date,
    beside: Beside | None,
) -> Needs:
    measured = {day.last: edges for day, edges in days if day.first == day.last}
    if beside is None:
        beside = Beside(measured_on=progress.days[-1].day if progress.is_enough else None)
    dues = due_list(
        ladder_of(progress.days, measured),
        today,
        grafts_on=beside.grafts_on,
        checks_done_on=beside.checks_done_on,
        screen_check_from=beside.screen_check_from,
    )
    return Needs(
        n_cells_ever=progress.score.n_answers,
        stages_right=beside.stages_right,
        n_right=told.score.n_right,
        n_picks=told.score.n_picks,
        edges=now if progress.days else None,
        measured_on=beside.measured_on,
        dues=dues,
        test=beside.test,
        has_pace=beside.has_pace,
    )


def _next(needs: Needs, progress: Progress, today: date) -> Next:
    # Before anything can be told there is no waiting.
    day = max(needs.dues[0].day, today) if progress.is_enough else today
    part = next(part for part in _there(needs, day) if part.key != LOOK_FOR)
    return Next(title=drill_of(part.key).title, minutes=part.minutes, day=day, why=part.why)


def _today(needs: Needs, today: date) -> Today:
    return Today(parts=tuple(_there(needs, today)))


def _there(needs: Needs, day: date) -> list[Planned]:
    """Return what is planned for a day, of the drills that exist."""
    known = {LOOK_FOR, *(drill.key for drill in DRILLS)}
    return list(plan_today(needs, day, known))


def ladder_of(days: Sequence[DayScore], measured: dict[date, EdgePosterior]) -> LadderState | None:
    """Return where the days lead on the ladder; one before its time leads no step up."""
    state = None
    for each in days:
        end = SessionEnd(day=each.day, right=each.score.right, edges=measured.get(each.day))
        climbed = climb(state, end)
        if state is not None and each.day < state.due_on:
            climbed = replace(climbed, step=min(climbed.step, state.step))
        state = climbed
    return state


def when_text(day: date, today: date) -> str:
    """Return a day to come as it is said: today, tomorrow, in so many days."""
    days = (day - today) // timedelta(days=1)
    if days <= 0:
        return "today"
    return "tomorrow" if days == 1 else f"in {days} days"


def _rows(table: AnswerTable, rows: NDArray[np.intp]) -> AnswerTable:
    return replace(table, **{f.name: getattr(table, f.name)[rows] for f in fields(table)})
