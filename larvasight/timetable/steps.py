"""One step of a timetable: a window in time, why it is there, what it rests on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from enum import StrEnum

from larvasight.geometry.facts import Fact
from larvasight.timetable.spec import by_days, later


class Kind(StrEnum):
    """What the keeper has to do in a window."""

    DO = "do"
    LOOK = "look"
    REST = "leave alone"
    HAPPENS = "happens"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One window of a plan.

    Attributes
    ----------
    key : str
        Names the step for programs; never changed.
    title : str
        What is done or happens, in a few words.
    kind : Kind
        Whether the keeper does something.
    from_at, usual_at, to_at : datetime
        The window and the moment aimed at, in the plan's zone.
    is_by_day : bool
        Known to the day only; its times of day say nothing.
    why : str
        The reason in a plain sentence or two.
    rests_on : tuple of Fact
        The durations it is computed from, each with its source.
    sources_differ : tuple of str
        What different sources say where they disagree.
    warning : str
        What can go wrong, or empty.
    """

    key: str
    title: str
    kind: Kind
    from_at: datetime
    usual_at: datetime
    to_at: datetime
    is_by_day: bool
    why: str
    rests_on: tuple[Fact, ...]
    sources_differ: tuple[str, ...] = ()
    warning: str = ""

    @property
    def spread_h(self) -> tuple[float, float]:
        """Hours by which it may come before and after the moment aimed at."""
        before = (self.usual_at - self.from_at).total_seconds() / 3600.0
        after = (self.to_at - self.usual_at).total_seconds() / 3600.0
        return before, after


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What is said of a step."""

    key: str
    title: str
    kind: Kind
    why: str
    sources_differ: tuple[str, ...] = ()
    warning: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """Builds steps at distances from one moment, ``zero_at`` in ``tz``."""

    zero_at: datetime
    tz: tzinfo

    def by_hour(self, span_h: tuple[float, float, float], words: Words, *rests_on: Fact) -> Step:
        """Return a step at elapsed hours: earliest, usual, latest."""
        times = [later(self.zero_at, hours, self.tz) for hours in span_h]
        return _step(times, words, rests_on, is_by_day=False)

    def by_day(self, span_d: tuple[float, float, float], words: Words, *rests_on: Fact) -> Step:
        """Return a step at days of the calendar: earliest, usual, latest."""
        times = [by_days(self.zero_at, days) for days in span_d]
        return _step(times, words, rests_on, is_by_day=True)


def _step(
    times: Sequence[datetime], words: Words, rests_on: tuple[Fact, ...], *, is_by_day: bool
) -> Step:
    from_at, usual_at, to_at = times
    return Step(
        key=words.key,
        title=words.title,
        kind=words.kind,
        from_at=from_at,
        usual_at=usual_at,
        to_at=to_at,
        is_by_day=is_by_day,
        why=words.why,
        rests_on=rests_on,
        sources_differ=words.sources_differ,
        warning=words.warning,
    )
