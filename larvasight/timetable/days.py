"""Days and moments as they are said."""

from datetime import date, datetime

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_NO_BREAK = "\N{NO-BREAK SPACE}"


def day_words(day: date) -> str:
    """Return a day as it is said, such as ``Fri 14 May``."""
    return f"{_WEEKDAYS[day.weekday()]} {day.day}{_NO_BREAK}{_MONTHS[day.month - 1]}"


def moment_words(at: datetime) -> str:
    """Return a moment to the minute, such as ``Fri 14 May, 10:00``."""
    return f"{day_words(at.date())}, {at:%H:%M}"
