"""The known age of a comb: when the queen could lay there tells how old its larvae can be."""

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from larvasight.growth import CAPPED_BY_D, EGG_STAGE_H, EGG_STAGE_SD_H
from larvasight.sheet import Cell, Content
from larvasight.vision.photo_time import noted_time

if TYPE_CHECKING:
    from larvasight.records.types import KnownAge

# Beyond this nobody calls a comb's age known: brood of many days lies on it.
LAYING_MOST_H = 96.0
# Clocks of camera and computer may be so far apart, and in other zones.
_AHEAD_MOST_H = 26.0

# Stands before what contradicts the known age.
AGAINST = "\N{BLACK UP-POINTING TRIANGLE}"


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownRange:
    """The ages that larvae of a comb can have, h after hatching; ``hi`` below 0: none hatched."""

    lo_h: float
    hi_h: float

    @property
    def has_larvae(self) -> bool:
        """Whether any egg of the comb can have hatched."""
        return self.hi_h >= 0.0

    def touches(self, low_h: float, high_h: float) -> bool:
        """Return whether a band of ages has any hour in common with it."""
        return low_h <= self.hi_h and high_h >= self.lo_h


def known_range(age: "KnownAge") -> KnownRange:
    """Return the ages that larvae can have where the queen laid within a known time.

    The youngest was laid last and hatched slowly, the oldest was laid first and hatched quickly:
    the egg stage is counted 4 h shorter and longer than its mean (``EGG_STAGE_H``,
    ``EGG_STAGE_SD_H``). About one larva in ten lies a little outside where laying took hours.
    A queen who went on laying until the photo was taken leaves eggs, too: no larva is younger
    than 0 h.
    """
    since_first_h = _hours(age.taken_at_utc - age.laid_from_utc)
    since_last_h = max(0.0, _hours(age.taken_at_utc - age.laid_to_utc))
    short_h = EGG_STAGE_H.value - EGG_STAGE_SD_H.value
    long_h = EGG_STAGE_H.value + EGG_STAGE_SD_H.value
    hi_h = since_first_h - short_h
    return KnownRange(lo_h=min(max(0.0, since_last_h - long_h), hi_h), hi_h=hi_h)


def age_of_times(
    laid_from: datetime,
    laid_to: datetime,
    taken: datetime,
    tz: tzinfo | None = None,
    *,
    now: datetime | None = None,
) -> "KnownAge":
    """Return a known age from clock times of the place.

    Parameters
    ----------
    laid_from, laid_to, taken : datetime
        Without a zone, as a clock on the wall shows them; hours are counted in true time, also
        over the night in which the clock is changed.
    tz : tzinfo, optional
        The zone of the place, the computer's own without it.
    now : datetime, optional
        The time, UTC; a photo taken later is refused.

    Raises
    ------
    ValueError
        If the times cannot follow each other, or no larva of that age lies open, with a plain
        sentence.
    """
    from larvasight.records.types import KnownAge

    at = [_in_utc(moment, tz) for moment in (laid_from, laid_to, taken)]
    if at[1] <= at[0]:
        msg = "The queen must have been let go after she was confined."
        raise ValueError(msg)
    if at[2] < at[0]:
        msg = "The photo must have been taken after the queen was confined."
        raise ValueError(msg)
    if _hours(at[1] - at[0]) > LAYING_MOST_H:
        msg = f"The queen can have been confined for {LAYING_MOST_H:.0f} hours at most."
        raise ValueError(msg)
    days = _hours(at[2] - at[1]) / 24.0
    if days > CAPPED_BY_D.value:
        msg = (
            f"The photo was taken {days:.0f} days after the queen was let go: all brood would be "
            "capped by then. Look at the days and years again."
        )
        raise ValueError(msg)
    if now is not None and _hours(at[2] - now) > _AHEAD_MOST_H:
        msg = "The photo cannot have been taken after today."
        raise ValueError(msg)
    return KnownAge(laid_from_utc=at[0], laid_to_utc=at[1], taken_at_utc=at[2])


def taken_at(path: Path, tz: tzinfo | None = None) -> datetime | None:
    """Return when a photo was taken as a clock of the place showed it, None where not noted."""
    noted = noted_time(path)
    if noted is None or noted.tzinfo is None:
        return noted
    return noted.astimezone(tz).replace(tzinfo=None)


def wall_time(at_utc: datetime, tz: tzinfo | None = None) -> datetime:
    """Return a moment as a clock of the place shows it, without a zone."""
    return at_utc.astimezone(tz).replace(tzinfo=None)


def known_words(age: "KnownAge") -> str:
    """Say what is known of a comb's age in one sentence."""
    found = known_range(age)
    laid_h = _hours(age.laid_to_utc - age.laid_from_utc)
    laid = f"The queen laid here for {_number(laid_h)} h"
    if not found.has_larvae:
        left_h = math.ceil(-found.hi_h)
        return f"{laid}: no egg can have hatched yet, the first may in {left_h} h."
    return f"{laid}: by that larvae are {range_words(found)} old."


def range_words(found: KnownRange) -> str:
    """Return a range of ages as words."""
    return f"{found.lo_h:.0f}\N{EN DASH}{found.hi_h:.0f} h"


def disagreement(cell: Cell, found: KnownRange) -> str:
    """Say plainly that what was measured of a larva cannot be by the comb's known age.

    Returns
    -------
    str
        Empty where both can be true, or nothing was measured.
    """
    if cell.content is not Content.LARVA:
        return ""
    if not found.has_larvae:
        return (
            "By the known times no egg of this comb can have hatched yet. Either the times or "
            "this cell is not right."
        )
    if cell.age_h_lo is None or cell.age_h_hi is None:
        return ""
    if found.touches(cell.age_h_lo, cell.age_h_hi):
        return ""
    side = "older" if cell.age_h_lo > found.hi_h else "younger"
    return (
        f"Measured {side} than it can be: {cell.age_h_lo:.0f}\N{EN DASH}{cell.age_h_hi:.0f} h "
        f"against {range_words(found)} known."
    )


def known_to_dict(age: "KnownAge") -> dict[str, object]:
    """Return what is known of a comb's age as JSON values for its sheet."""
    found = known_range(age)
    return {
        "laid_from": age.laid_from_utc.isoformat(),
        "laid_to": age.laid_to_utc.isoformat(),
        "taken_at": age.taken_at_utc.isoformat(),
        "egg_stage_h": EGG_STAGE_H.value,
        "egg_stage_h_sd": EGG_STAGE_SD_H.value,
        "age_h_lo": round(found.lo_h, 2),
        "age_h_hi": round(found.hi_h, 2),
    }


def _in_utc(at: datetime, tz: tzinfo | None) -> datetime:
    return (at.astimezone() if tz is None else at.replace(tzinfo=tz)).astimezone(UTC)


def _hours(span: timedelta) -> float:
    return span / timedelta(hours=1)


def _number(hours: float) -> str:
    return f"{hours:.1f}".removesuffix(".0")
