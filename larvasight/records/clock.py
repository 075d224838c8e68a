"""Points in time as the records keep them: whole milliseconds since 1970 UTC."""

from datetime import UTC, datetime, timedelta

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def utc_ms(name: str, moment: datetime) -> int:
    """Return milliseconds since 1970-01-01 UTC.

    Parameters
    ----------
    name : str
        Argument name put into the message.
    moment : datetime
        Aware, any zone.

    Raises
    ------
    ValueError
        If ``moment`` knows no zone.
    """
    if moment.utcoffset() is None:
        msg = f"{name} must know its time zone, got {moment}"
        raise ValueError(msg)
    return (moment - _EPOCH) // timedelta(milliseconds=1)


def at_utc(moment_utc_ms: int) -> datetime:
    """Return the aware time of a stored moment."""
    return _EPOCH + timedelta(milliseconds=moment_utc_ms)


def day_utc(name: str, moment: datetime) -> str:
    """Return the day in UTC as ``YYYY-MM-DD``; ValueError for a moment without a zone."""
    return at_utc(utc_ms(name, moment)).date().isoformat()
