"""What a person decides about a batch of queens: the plan as it is kept."""

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, tzinfo
from enum import StrEnum

from larvasight.errors import require_between
from larvasight.growth import EGG_STAGE_H, EGG_STAGE_SD_H
from larvasight.timetable import facts
from larvasight.timetable.spread import AgeSpread

DAY_H = 24.0
# What a plan can be asked for, each with its least and most.
LEAD_SPANS_H = {"edge": (1.0, 72.0), "comb": (78.0, 168.0), "confined": (78.0, 144.0)}
CAGED_SPAN_H = (1.0, 72.0)
SETTLE_SPAN_H = (0.0, 48.0)
SEALED_SPAN_C = (31.0, 36.0)
BARS_SPAN = (1, 5)
CUPS_SPAN = (1, 20)
# Zones and calendar files are sure of these years only.
YEARS_SPAN = (1970, 2199)
NUCS_SPAN = (0, 500)
QUEENS_SPAN = (1, 9000)
RATE_SPAN = (1.0, 120.0)
NAME_CHARS_MAX = 60


class Start(StrEnum):
    """How larvae of the right age are come by, the best way first."""

    EDGE = "edge"
    COMB = "comb"
    CONFINED = "confined"


class Anchor(StrEnum):
    """Which moment was given; all others follow from it."""

    GRAFT = "graft"
    START = "start"
    NEEDED = "needed"


class Wanted(StrEnum):
    """What is needed on the day that queens are needed."""

    CELLS = "cells"
    VIRGINS = "virgins"
    LAYING = "laying"


USUAL_LEAD_H = {
    Start.EDGE: facts.EDGE_LEAD.value,
    Start.COMB: (facts.COMB_LEAD_LEAST.value + facts.COMB_LEAD_MOST.value) / 2.0 * DAY_H,
    Start.CONFINED: facts.CONFINED_LEAD.value * DAY_H,
}
USUAL_SETTLE_H = {Start.EDGE: 0.0, Start.COMB: facts.COMB_SETTLE.value, Start.CONFINED: 0.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSpec:
    """All that is decided for one batch.

    Attributes
    ----------
    anchor, anchor_at : Anchor, datetime
        The moment that was given, aware. For ``NEEDED`` its date is the day and its time of
        day the one of grafting.
    start : Start
        Where larvae come from.
    wanted : Wanted
        What is needed on the day; read for ``NEEDED`` only.
    lead_h : float
        From the start (edge seen, comb put in, queen confined) to grafting.
    caged_h : float
        How long the queen is confined; read for ``CONFINED`` only.
    settle_h : float
        How long she takes until the first egg.
    eggs_per_h : float
        How many eggs she lays an hour on this comb.
    sealed_c : float
        Temperature of sealed cells.
    n_bars, cups_per_bar : int
        Cups to be grafted.
    n_nucs, n_nucs_owned : int
        Nucs that this batch takes, and how many there are for all batches.
    first_queen : int
        The number of the first queen.
    breeder, starter : str
        Names of the two colonies, or empty.
    emerged_at : datetime or None
        When queens were seen to have emerged, aware.
    """

    anchor_at: datetime
    anchor: Anchor = Anchor.GRAFT
    start: Start = Start.EDGE
    wanted: Wanted = Wanted.LAYING
    lead_h: float = USUAL_LEAD_H[Start.EDGE]
    caged_h: float = facts.CONFINED_MOST.value
    settle_h: float = 0.0
    eggs_per_h: float = facts.EGGS_PER_HOUR.value
    sealed_c: float = facts.SEALED_WARM_C.value
    n_bars: int = 2
    cups_per_bar: int = 15
    n_nucs: int = 20
    n_nucs_owned: int = 20
    first_queen: int = 1
    breeder: str = ""
    starter: str = ""
    emerged_at: datetime | None = None

    def __post_init__(self) -> None:
        """Refuse numbers out of their spans and moments without a zone."""
        for name, moment in (("anchor_at", self.anchor_at), ("emerged_at", self.emerged_at)):
            if moment is not None and moment.tzinfo is None:
                msg = f"{name} must be aware of its time zone, got {moment}"
                raise ValueError(msg)
            if moment is not None:
                require_between(f"{name} year", moment.year, *YEARS_SPAN)
        require_between("lead_h", self.lead_h, *LEAD_SPANS_H[self.start])
        require_between("caged_h", self.caged_h, *CAGED_SPAN_H)
        require_between("settle_h", self.settle_h, *SETTLE_SPAN_H)
        require_between("eggs_per_h", self.eggs_per_h, *RATE_SPAN)
        require_between("sealed_c", self.sealed_c, *SEALED_SPAN_C)
        require_between("n_bars", self.n_bars, *BARS_SPAN)
        require_between("cups_per_bar", self.cups_per_bar, *CUPS_SPAN)
        require_between("n_nucs", self.n_nucs, *NUCS_SPAN)
        require_between("n_nucs_owned", self.n_nucs_owned, *NUCS_SPAN)
        require_between("first_queen", self.first_queen, *QUEENS_SPAN)
        if self.start is Start.CONFINED:
            most_h = min(self.lead_h, CAGED_SPAN_H[1])
            require_between("caged_h", self.caged_h, CAGED_SPAN_H[0], most_h)
            if self.settle_h >= self.caged_h:
                msg = f"settle_h must be below caged_h {self.caged_h}, got {self.settle_h}"
                raise ValueError(msg)

    @property
    def n_cups(self) -> int:
        """Cups on all bars together."""
        return self.n_bars * self.cups_per_bar


def ages_at_graft(spec: PlanSpec, *, egg_stage_h: float = EGG_STAGE_H.value) -> AgeSpread:
    """Return the ages on the comb at grafting.

    At a hatching edge half of the marked patch has just hatched, so that the egg stage does not
    count. A drawn comb is laid in until it is taken out; a confined queen lays until she is
    released.

    Parameters
    ----------
    spec : PlanSpec
        The plan.
    egg_stage_h : float
        Mean egg stage.
    """
    sd_h = EGG_STAGE_SD_H.value
    if spec.start is Start.EDGE:
        half_h = facts.EDGE_PATCH.value / 2.0
        return AgeSpread(youngest_h=spec.lead_h - half_h, oldest_h=spec.lead_h + half_h, sd_h=sd_h)
    oldest_h = spec.lead_h - spec.settle_h - egg_stage_h
    laid_h = spec.lead_h - spec.caged_h if spec.start is Start.CONFINED else 0.0
    return AgeSpread(youngest_h=laid_h - egg_stage_h, oldest_h=oldest_h, sd_h=sd_h)


def laying_h(spec: PlanSpec) -> float:
    """Return for how many hours eggs were laid among which the larvae are sought."""
    if spec.start is Start.EDGE:
        return facts.EDGE_PATCH.value
    most_h = spec.caged_h if spec.start is Start.CONFINED else spec.lead_h
    return most_h - spec.settle_h


def cool_delay_h(sealed_c: float) -> float:
    """Return how much later queens emerge than at 34.5 degrees, on a straight line to 32 degrees.

    Nothing is gained above 34.5 degrees: no figure was found.
    """
    step_c = facts.SEALED_WARM_C.value - facts.SEALED_COOL_C.value
    colder_c = max(0.0, facts.SEALED_WARM_C.value - sealed_c)
    return facts.COOL_DELAY.value * colder_c / step_c


def days_to_wanted(wanted: Wanted, sealed_c: float) -> int:
    """Return how many days before the day of need to graft, late ones counted in."""
    cool_h = cool_delay_h(sealed_c)
    days = {
        Wanted.CELLS: facts.RIPE.value,
        # A larva of the middle of the best ages, and the late end of the spread.
        Wanted.VIRGINS: (
            facts.QUEEN_TOTAL.value
            - EGG_STAGE_H.value
            - facts.EDGE_LEAD.value
            + facts.EMERGENCE_SPREAD.value
            + cool_h
        )
        / DAY_H,
        Wanted.LAYING: facts.FIRST_EGGS_LATE.value + cool_h / DAY_H,
    }
    return math.ceil(days[wanted] - 1e-9)


def graft_at(spec: PlanSpec, tz: tzinfo) -> datetime:
    """Return when to graft.

    From a start, elapsed hours are counted; from the day of need, days of the calendar.

    Parameters
    ----------
    spec : PlanSpec
        The plan.
    tz : tzinfo
        The zone whose days are counted.

    Returns
    -------
    datetime
        In this zone.
    """
    # Elapsed hours are added in UTC, where no clock is put forward.
    if spec.anchor is Anchor.START:
        return later(spec.anchor_at, spec.lead_h, tz)
    at = spec.anchor_at.astimezone(tz)
    if spec.anchor is Anchor.NEEDED:
        return by_days(at, -days_to_wanted(spec.wanted, spec.sealed_c))
    return at


def start_at(spec: PlanSpec, tz: tzinfo) -> datetime:
    """Return when the start is: the edge seen, the comb put in, the queen confined."""
    if spec.anchor is Anchor.START:
        return spec.anchor_at.astimezone(tz)
    return later(graft_at(spec, tz), -spec.lead_h, tz)


def anchored(spec: PlanSpec, anchor: Anchor, tz: tzinfo) -> PlanSpec:
    """Return the same plan told from another moment; grafting stays where it is."""
    at = graft_at(spec, tz)
    if anchor is Anchor.START:
        at = start_at(spec, tz)
    elif anchor is Anchor.NEEDED:
        at = by_days(at, days_to_wanted(spec.wanted, spec.sealed_c))
    return replace(spec, anchor=anchor, anchor_at=at)


def later(at: datetime, hours: float, tz: tzinfo) -> datetime:
    """Return the moment this many elapsed hours later, whatever clocks do in between."""
    return (at.astimezone(UTC) + timedelta(hours=hours)).astimezone(tz)


def by_days(at: datetime, days: float) -> datetime:
    """Return the moment this many days of the calendar later, at the same time of day.

    An hour that clocks leave out is told as the one after it.
    """
    whole = math.floor(days)
    moved = at + timedelta(days=whole)
    real = moved.astimezone(UTC).astimezone(at.tzinfo)
    return later(real, (days - whole) * DAY_H, real.tzinfo) if real.tzinfo else real


def aware(at: datetime, tz: tzinfo) -> datetime | None:
    """Return a time of the wall clock in its zone; None for one that clocks skip."""
    meant = at.replace(tzinfo=tz)
    return meant if meant.astimezone(UTC).astimezone(tz).replace(tzinfo=None) == at else None
