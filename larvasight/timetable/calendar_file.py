"""A plan as a calendar file (iCalendar, RFC 5545) in the keeper's own zone."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from uuid import uuid5

from icalendar import Alarm, Calendar, Event

from larvasight.timetable.cautions import DISEASE, LARVAE, STINGS
from larvasight.timetable.plan import NamedPlan
from larvasight.timetable.steps import Kind, Step

# When to remind of work: before its hour, and on the evening before a day.
_BEFORE_HOUR = timedelta(hours=-12)
_BEFORE_DAY = timedelta(hours=-6)


def calendar_file(plans: Sequence[NamedPlan], *, now: datetime, program_version: str) -> bytes:
    """Return plans as a calendar file.

    What is known to the hour is an entry with times in the plan's zone, whose rules of summer time
    stand in the file; what is known to the day is an entry of whole days. Work has a reminder.

    Parameters
    ----------
    plans : sequence of NamedPlan
        What stands in it; their ids make a later file replace the entries of an earlier one.
    now : datetime
        The moment of making it, aware.
    program_version : str
        Stands in the file.
    """
    calendar = Calendar()
    calendar.add("prodid", f"-//larvasight//larvasight {program_version}//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    for named in plans:
        for step in named.plan.steps:
            calendar.add_component(_event(named, step, now))
    years = [step.from_at.year for named in plans for step in named.plan.steps] or [now.year]
    # Rules of summer time for the years needed, and one at either side.
    calendar.add_missing_timezones(date(min(years) - 1, 1, 1), date(max(years) + 2, 1, 1))
    data: bytes = calendar.to_ical()
    return data


def _event(named: NamedPlan, step: Step, now: datetime) -> Event:
    event = Event()
    event.add("uid", f"{uuid5(named.id, step.key)}@larvasight")
    event.add("dtstamp", now.astimezone(UTC))
    event.add("summary", f"{step.title} ({named.name})")
    event.add("description", _description(step))
    event.add("categories", [step.kind.value])
    begin, end = _span(step)
    event.add("dtstart", begin)
    event.add("dtend", end)
    is_work = step.kind is Kind.DO
    event.add("transp", "OPAQUE" if is_work and not step.is_by_day else "TRANSPARENT")
    if is_work:
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", f"{step.title} ({named.name})")
        alarm.add("trigger", _BEFORE_DAY if step.is_by_day else _BEFORE_HOUR)
        event.add_component(alarm)
    return event


def _span(step: Step) -> tuple[date, date] | tuple[datetime, datetime]:
    if step.is_by_day:
        return step.from_at.date(), step.to_at.date() + timedelta(days=1)
    # The end stands outside; a moment gets a length that calendars show.
    to_at = max(step.to_at, step.from_at + timedelta(minutes=30))
    return _in_zone(step.from_at), _in_zone(to_at)


def _in_zone(at: datetime) -> datetime:
    """Return whole minutes in a zone that has a public name, else in UTC."""
    named = at if getattr(at.tzinfo, "key", None) else at.astimezone(UTC)
    return named.replace(second=0, microsecond=0)


def _description(step: Step) -> str:
    parts = [step.why]
    if step.warning:
        parts.append(step.warning)
    if step.sources_differ:
        parts.append("Sources differ: " + "; ".join(step.sources_differ) + ".")
    if step.key == "graft":
        parts += [DISEASE, STINGS, LARVAE]
    rests = [f"{fact.name} ({fact.label.value})" for fact in step.rests_on]
    parts.append("Rests on: " + "; ".join(rests) + ".")
    return "\n\n".join(parts)
