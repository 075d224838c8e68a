"""Reads what a person typed for a plan, and says beside each field what is wrong with it."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta, tzinfo
from typing import TypeVar

from larvasight.timetable import facts
from larvasight.timetable.spec import (
    BARS_SPAN,
    CAGED_SPAN_H,
    CUPS_SPAN,
    LEAD_SPANS_H,
    NUCS_SPAN,
    QUEENS_SPAN,
    RATE_SPAN,
    SEALED_SPAN_C,
    SETTLE_SPAN_H,
    Anchor,
    PlanSpec,
    Start,
    Wanted,
    aware,
    graft_at,
)

Number = TypeVar("Number", int, float)
# Queens seen to emerge outside of these days after grafting cannot be of this batch.
EMERGED_SPAN_D = (9.0, 17.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What stands in the fields; moments without a zone, as a clock on the wall tells them."""

    start: Start
    anchor: Anchor
    anchor_at: datetime
    wanted: Wanted
    lead_h: str
    caged_h: str
    settle_h: str
    eggs_per_h: str
    sealed_c: str
    n_bars: str
    cups_per_bar: str
    n_nucs: str
    n_nucs_owned: str
    first_queen: str
    breeder: str
    starter: str
    emerged_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """A plan, or None with a sentence for each field that cannot be used."""

    spec: PlanSpec | None
    wrong: dict[str, str] = field(default_factory=dict)


def read_typed(typed: Typed, tz: tzinfo) -> Read:
    """Read all fields; everything that is wrong is told at once."""
    wrong: dict[str, str] = {}
    spans = {
        "lead_h": (LEAD_SPANS_H[typed.start], "h"),
        "settle_h": (SETTLE_SPAN_H, "h"),
        "eggs_per_h": (RATE_SPAN, "eggs"),
        "sealed_c": (SEALED_SPAN_C, "°C"),
    }
    if typed.start is Start.CONFINED:
        spans["caged_h"] = (CAGED_SPAN_H, "h")
    numbers = {
        name: _number(name, getattr(typed, name), span, unit, wrong)
        for name, (span, unit) in spans.items()
    }
    counts = {
        name: _count(name, getattr(typed, name), span, wrong)
        for name, span in (
            ("n_bars", BARS_SPAN),
            ("cups_per_bar", CUPS_SPAN),
            ("n_nucs", NUCS_SPAN),
            ("n_nucs_owned", NUCS_SPAN),
            ("first_queen", QUEENS_SPAN),
        )
    }
    anchor_at = aware(typed.anchor_at, tz)
    if anchor_at is None:
        wrong["anchor_at"] = _SKIPPED
    _check_confinement(typed, numbers, wrong)
    if wrong or anchor_at is None:
        return Read(spec=None, wrong=wrong)
    spec = PlanSpec(
        start=typed.start,
        anchor=typed.anchor,
        anchor_at=anchor_at,
        wanted=typed.wanted,
        lead_h=numbers["lead_h"],
        caged_h=numbers.get("caged_h", facts.CONFINED_MOST.value),
        settle_h=numbers["settle_h"],
        eggs_per_h=numbers["eggs_per_h"],
        sealed_c=numbers["sealed_c"],
        n_bars=counts["n_bars"],
        cups_per_bar=counts["cups_per_bar"],
        n_nucs=counts["n_nucs"],
        n_nucs_owned=counts["n_nucs_owned"],
        first_queen=counts["first_queen"],
        breeder=" ".join(typed.breeder.split()),
        starter=" ".join(typed.starter.split()),
    )
    return _with_emergence(spec, typed.emerged_at, tz)


_SKIPPED = "On that night clocks are put forward and skip this time: choose another."


def _with_emergence(spec: PlanSpec, emerged_at: datetime | None, tz: tzinfo) -> Read:
    if emerged_at is None:
        return Read(spec=spec)
    seen_at = aware(emerged_at, tz)
    if seen_at is None:
        return Read(spec=None, wrong={"emerged_at": _SKIPPED})
    days = (seen_at - graft_at(spec, tz)) / timedelta(days=1)
    low, high = EMERGED_SPAN_D
    if days <= 0.0:
        words = "Queens cannot emerge before they are grafted: look at both days again."
        return Read(spec=None, wrong={"emerged_at": words})
    if not low <= days <= high:
        words = (
            f"Queens emerge about 12 days after grafting, not after {days:.0f}; from {low:.0f} to "
            f"{high:.0f} days are taken."
        )
        return Read(spec=None, wrong={"emerged_at": words})
    return Read(spec=replace(spec, emerged_at=seen_at))


def _check_confinement(typed: Typed, numbers: dict[str, float], wrong: dict[str, str]) -> None:
    if typed.start is not Start.CONFINED or {"caged_h", "lead_h", "settle_h"} & set(wrong):
        return
    if numbers["caged_h"] > numbers["lead_h"]:
        wrong["caged_h"] = "She must be released before the grafting."
    elif numbers["settle_h"] >= numbers["caged_h"]:
        wrong["settle_h"] = "Less than she is confined, or she lays no egg."


def _number(
    name: str, text: str, span: tuple[float, float], unit: str, wrong: dict[str, str]
) -> float:
    value = _parsed(text, float)
    low, high = span
    if value is None:
        wrong[name] = f"Type a number, from {low:g} to {high:g} {unit}."
    elif not low <= value <= high:
        wrong[name] = f"From {low:g} to {high:g} {unit}, please."
    else:
        return value
    return low


def _count(name: str, text: str, span: tuple[int, int], wrong: dict[str, str]) -> int:
    value = _parsed(text, int)
    low, high = span
    if value is None:
        wrong[name] = f"Type a whole number, from {low} to {high}."
    elif not low <= value <= high:
        wrong[name] = f"From {low} to {high}, please."
    else:
        return value
    return low


def _parsed(text: str, kind: Callable[[str], Number]) -> Number | None:
    """Return a typed number, with a comma or a point, None for anything else."""
    tidy = text.strip().replace(",", ".").replace("\N{MINUS SIGN}", "-")
    try:
        return kind(tidy) if tidy.isascii() and "_" not in tidy else None
    except ValueError:
        return None
