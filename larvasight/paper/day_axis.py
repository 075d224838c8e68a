"""Days on a chart: when to put days together, and which dates to name."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby, pairwise

from larvasight.paper.plot import Scale
from larvasight.practice import DayScore
from larvasight.stats import Interval, wilson_interval

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_STEPS_DAYS = (1, 2, 7, 14)
_STEPS_MONTHS = (1, 2, 3, 6, 12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """Picks of one day, week or month; ``day`` is an ordinal, the middle of what it holds."""

    day: float
    n_picks: int
    n_right: int
    right: Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """What is drawn: one point for each ``unit`` with picks, oldest first."""

    unit: str
    all: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DateMark:
    """A named date under the axis; ``year`` is None where it is plain from the one before."""

    ordinal: int
    label: str
    year: str | None


def points_of(days: Sequence[DayScore], width_px: float, least_px: float) -> Points:
    """Return days with picks as points, put together by week or month where they would crowd.

    Parameters
    ----------
    days : sequence of DayScore
        Oldest first.
    width_px : float
        Width of the plot.
    least_px : float
        Least distance of two points.

    Returns
    -------
    Points
        Months are the coarsest unit, however close they lie.
    """
    picked = [day for day in days if day.score.n_picks]
    span_days = max(1, (picked[-1].day - picked[0].day).days) if picked else 1
    units: tuple[tuple[str, Callable[[DayScore], object]], ...] = (
        ("day", lambda each: each.day),
        ("week", lambda each: tuple(each.day.isocalendar())[:2]),
        ("month", lambda each: (each.day.year, each.day.month)),
    )
    found = Points(unit="day", all=())
    for unit, key in units:
        groups = [list(group) for _, group in groupby(picked, key)]
        found = Points(unit=unit, all=tuple(map(_point, groups)))
        gaps = [after.day - before.day for before, after in pairwise(found.all)]
        if not gaps or min(gaps) * width_px / span_days >= least_px:
            break
    return found


def date_marks(
    points: Points, days: Scale, width_of: Callable[[str], float], gap_px: float
) -> list[DateMark]:
    """Return the dates to name: every practice day if they fit, else regular ones.

    Parameters
    ----------
    points : Points
        What is drawn.
    days : Scale
        From ordinals to px.
    width_of : callable
        Width of a label, px.
    gap_px : float
        Least room between two labels.

    Returns
    -------
    list of DateMark
        Oldest first; at least one if there is a point.
    """
    if points.unit == "day":
        own = _marks([date.fromordinal(round(point.day)) for point in points.all], "day")
        if _fit(own, days, width_of, gap_px):
            return own
    first = date.fromordinal(round(points.all[0].day))
    last = date.fromordinal(round(points.all[-1].day))
    regular = [_marks(chosen, unit) for chosen, unit in _choices(first, last) if chosen]
    return next((m for m in regular if _fit(m, days, width_of, gap_px)), regular[-1][:1])


def _point(group: list[DayScore]) -> Point:
    n_picks = sum(day.score.n_picks for day in group)
    n_right = sum(day.score.n_right for day in group)
    right = wilson_interval(n_right, n_picks) or Interval(lo=0.0, hi=1.0)
    middle = (group[0].day.toordinal() + group[-1].day.toordinal()) / 2.0
    return Point(day=middle, n_picks=n_picks, n_right=n_right, right=right)


def _choices(first: date, last: date) -> Iterator[tuple[list[date], str]]:
    """Yield dates from the first to the last day, ever fewer."""
    n_days = (last - first).days
    for step in _STEPS_DAYS:
        yield [first + timedelta(days=d) for d in range(0, n_days + 1, step)], "day"
    n_months = 12 * (last.year - first.year) + last.month - first.month
    starts = [
        date(first.year + (first.month - 1 + m) // 12, (first.month - 1 + m) % 12 + 1, 1)
        for m in range(n_months + 1)
    ]
    inside = [day for day in starts if day >= first]
    for step in _STEPS_MONTHS:
        yield [day for day in inside if (day.month - 1) % step == 0], "month"
    yield [first], "day"


def _marks(chosen: list[date], unit: str) -> list[DateMark]:
    years = [None, *(day.year for day in chosen)]
    return [
        DateMark(
            ordinal=day.toordinal(),
            label=MONTHS[day.month - 1]
            if unit == "month"
            else f"{day.day} {MONTHS[day.month - 1]}",
            year=str(day.year) if day.year != before else None,
        )
        for day, before in zip(chosen, years, strict=False)
    ]


def _fit(
    marks: list[DateMark], days: Scale, width_of: Callable[[str], float], gap_px: float
) -> bool:
    spots = [(days.at(mark.ordinal), width_of(mark.label) / 2.0) for mark in marks]
    return all(x1 + half1 + gap_px <= x2 - half2 for (x1, half1), (x2, half2) in pairwise(spots))
