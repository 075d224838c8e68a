"""Today: ten to fifteen minutes for one learner, what of it is done, and when to come back."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import date, datetime, timedelta, tzinfo
from typing import TYPE_CHECKING
from uuid import UUID

import numpy as np

from larvasight.desk.clock import clock_of
from larvasight.desk.screen_test import Now, midnight, screen_test_of
from larvasight.desk.stage_bout import stages_named
from larvasight.practice import PICK_FROM_PATCH, Answer, AnswerTable, summarise
from larvasight.practice.drills import CHECK, DRILLS, FIND_YOUR_EDGES, SCREEN_TEST
from larvasight.practice.line import Beside, Line, line_of, when_text
from larvasight.practice.ordering import ROW_CELLS
from larvasight.practice.today import (
    LOOK_FOR,
    PUT_IN_ORDER,
    YOUNGER_OF_TWO,
    Planned,
)

if TYPE_CHECKING:
    from larvasight.records.store import Store

# A measuring block of fewer cells was broken off.
MEASURED_LEAST = 20
# Grafts farther off have no bearing yet.
_GRAFT_AHEAD_DAYS = 14
# Measuring and checks longer ago have no bearing on today.
_BACK_DAYS = 30
_STAGES_READ = 60
_UNITS = {
    PICK_FROM_PATCH.key: ("pick", "picks"),
    SCREEN_TEST.key: ("pick", "picks"),
    YOUNGER_OF_TWO: ("pair", "pairs"),
    PUT_IN_ORDER: ("row", "rows"),
    LOOK_FOR: ("picture", "pictures"),
}
# Answers that one pair or one row takes.
_ANSWERS_OF = {PUT_IN_ORDER: ROW_CELLS, YOUNGER_OF_TWO: 2}
_LOOK_FOR_TITLE = "What to look for"


@dataclass(frozen=True, slots=True, kw_only=True)
class TodayPart:
    """One part of today: ``n_done`` of ``n`` cells, pairs, rows or picks are done."""

    key: str
    title: str
    n: int
    n_done: int
    why: str
    minutes: float
    is_done: bool

    @property
    def amount(self) -> str:
        """How much it is, with its unit."""
        one, more = _UNITS.get(self.key, ("cell", "cells"))
        at_most = "up to " if self.key == FIND_YOUR_EDGES.key else ""
        return f"{at_most}{self.n} {one if self.n == 1 else more}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Todays:
    """What one learner does today, in the order of doing."""

    parts: tuple[TodayPart, ...]

    @property
    def next_part(self) -> TodayPart | None:
        """What comes next; None when all is done."""
        return next((part for part in self.parts if not part.is_done), None)

    @property
    def minutes(self) -> float:
        """About how long all of it takes."""
        return sum(part.minutes for part in self.parts)

    @property
    def minutes_left(self) -> float:
        """About how long what is not done takes."""
        left = (part for part in self.parts if not part.is_done)
        return sum(part.minutes * (1.0 - part.n_done / part.n) for part in left)

    def part_of(self, drill: str) -> TodayPart | None:
        """Return the part of a drill, by key; None where today has none."""
        return next((part for part in self.parts if part.key == drill), None)


def morning_line(
    store: "Store", learner_id: UUID, table: AnswerTable, *, now: datetime, tz: tzinfo
) -> Line:
    """Return where a learner stood as the day began: its plan stays what it is all day."""
    today = now.astimezone(tz).date()
    begin = midnight(today, tz)
    before = _rows_before(table, begin)
    beside = beside_of(store, learner_id, now=now, tz=tz, until=begin)
    return line_of(before, summarise(before, tz), tz, today, beside)


def todays_of(
    store: "Store",
    learner_id: UUID,
    planned: Sequence[Planned],
    *,
    now: datetime,
    tz: tzinfo,
    has_looked: bool = False,
) -> Todays:
    """Return today's plan with what is done of it.

    Parameters
    ----------
    store : Store
        The open records.
    learner_id : UUID
        Who practises.
    planned : sequence of Planned
        The plan as the day began.
    now : datetime
        The time, UTC.
    tz : tzinfo
        The learner's time zone.
    has_looked : bool
        Whether "What to look for" was opened; it leaves no answers.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    counts = _counts_of_today(store, learner_id, now=now, tz=tz)
    is_test_done, n_test = False, 0
    if any(part.key == SCREEN_TEST.key for part in planned):
        is_test_done, n_test = _test_done(store, learner_id, now=now, tz=tz)
    titles = {drill.key: drill.title for drill in DRILLS} | {LOOK_FOR: _LOOK_FOR_TITLE}
    parts = []
    for part in planned:
        n_done = counts[part.key]
        is_done = n_done >= _enough(part.key, part.n)
        if part.key == LOOK_FOR:
            is_done = has_looked or bool(counts.total())
        elif part.key == SCREEN_TEST.key:
            n_done, is_done = n_test, is_test_done
        parts.append(
            TodayPart(
                key=part.key,
                title=titles[part.key],
                n=part.n,
                n_done=min(n_done, part.n),
                why=part.why,
                minutes=part.minutes,
                is_done=is_done,
            )
        )
    return Todays(parts=tuple(parts))


def is_part_done(
    store: "Store", learner_id: UUID, part: TodayPart, *, now: datetime, tz: tzinfo
) -> bool:
    """Return whether a part of today that is drilled comb after comb is done by now."""
    counts = _counts_of_today(store, learner_id, now=now, tz=tz)
    return counts[part.key] >= _enough(part.key, part.n)


def is_warm(store: "Store", learner_id: UUID, *, now: datetime, tz: tzinfo) -> bool:
    """Return whether a learner has practised today already; tests and checks are no practice."""
    begin = midnight(now.astimezone(tz).date(), tz)
    cold = (SCREEN_TEST.key, CHECK.key)
    return any(count.drill not in cold for count in store.count_answers(learner_id, since=begin))


def next_time_words(store: "Store", learner_id: UUID, *, now: datetime, tz: tzinfo) -> str:
    """Say when to practise next, by all that was answered until now.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    today = now.astimezone(tz).date()
    table = store.answers(learner_id)
    beside = beside_of(store, learner_id, now=now, tz=tz)
    line = line_of(table, summarise(table, tz), tz, today, beside)
    day = max(line.next.day, today + timedelta(days=1))
    return f"Next time: {when_text(day, today)}."


def beside_of(
    store: "Store",
    learner_id: UUID,
    *,
    now: datetime,
    tz: tzinfo,
    until: datetime | None = None,
) -> Beside:
    """Return what bears on a learner's plan beside the cells taken or left.

    Parameters
    ----------
    store : Store
        The open records.
    learner_id : UUID
        Who practises.
    now : datetime
        The time, UTC.
    tz : tzinfo
        The learner's time zone.
    until : datetime, optional
        Only what was answered before counts; without it all does.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    limits = store.limits(learner_id)
    today = now.astimezone(tz).date()
    end = until or now + timedelta(days=1)
    since = now - timedelta(days=_BACK_DAYS)

    def days_of(drill: str, n_least: int) -> list[date]:
        times = [at for at in store.answer_times(learner_id, drill, since=since) if at < end]
        n_on = Counter(at.astimezone(tz).date() for at in times)
        return sorted(day for day, n in n_on.items() if n >= n_least)

    measured = days_of(FIND_YOUR_EDGES.key, MEASURED_LEAST)
    test = screen_test_of(store, learner_id, limits, now=now, tz=tz, until=until)
    going_on = test.open_try
    return Beside(
        stages_right=_stages_right(store, learner_id, end),
        measured_on=measured[-1] if measured else None,
        grafts_on=_grafts_on(store, today, tz),
        checks_done_on=days_of(CHECK.key, MEASURED_LEAST),
        test=None if going_on is None else going_on.result.state,
        screen_check_from=None if going_on is None else going_on.result.check_from,
        has_pace=clock_of(store, learner_id, until=until).is_open,
    )


def _counts_of_today(
    store: "Store", learner_id: UUID, *, now: datetime, tz: tzinfo
) -> Counter[str]:
    """Return how many cells, pairs, rows or picks of each drill were done today, by key."""
    begin = midnight(now.astimezone(tz).date(), tz)
    counts: Counter[str] = Counter()
    for count in store.count_answers(learner_id, since=begin):
        if count.drill != PICK_FROM_PATCH.key or count.answer is Answer.TAKE:
            counts[count.drill] += count.n
    return Counter({key: n // _ANSWERS_OF.get(key, 1) for key, n in counts.items()})


def _enough(drill: str, n: int) -> int:
    """Return how many of ``n`` make a part done: measuring ends as soon as it has told enough."""
    return min(n, MEASURED_LEAST) if drill == FIND_YOUR_EDGES.key else n


def _grafts_on(store: "Store", today: date, tz: tzinfo) -> tuple[date, ...]:
    """Return the days of planned grafts that are near."""
    if not store.plans():
        return ()
    from larvasight.desk.timetabling import kept_plans  # only where there are plans
    from larvasight.timetable.spec import graft_at

    days = [graft_at(plan.spec, tz).date() for plan in kept_plans(store) if plan.spec is not None]
    last = today + timedelta(days=_GRAFT_AHEAD_DAYS)
    return tuple(sorted({day for day in days if today <= day <= last}))


def _stages_right(store: "Store", learner_id: UUID, end: datetime) -> tuple[bool, ...]:
    found = stages_named(store, learner_id, before=end, n_latest=_STAGES_READ)
    return tuple(true is named for true, named in found)


def _test_done(store: "Store", learner_id: UUID, *, now: datetime, tz: tzinfo) -> tuple[bool, int]:
    """Return whether nothing more of the screen test can be done today, and its picks of today."""
    test = screen_test_of(store, learner_id, store.limits(learner_id), now=now, tz=tz)
    going_on = test.open_try
    n = 0 if going_on is None else going_on.result.n_check or going_on.n_today
    return test.now not in (Now.PICK, Now.MEASURE, Now.CHECK), n


def _rows_before(table: AnswerTable, begin: datetime) -> AnswerTable:
    is_before = table.answered_utc_ms < round(begin.timestamp() * 1000.0)
    if bool(np.all(is_before)):
        return table
    return replace(table, **{f.name: getattr(table, f.name)[is_before] for f in fields(table)})
