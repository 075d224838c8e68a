"""A plan in words and as JSON: the same for the window, for paper and for the command."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from larvasight.geometry.facts import Fact, Label
from larvasight.grading import Limits
from larvasight.timetable.cautions import PLANNING
from larvasight.timetable.days import day_words, moment_words
from larvasight.timetable.expected import (
    ExpectedAges,
    best_confinement_h,
    best_lead_h,
    compare_starts,
    early_and_late,
    expected_ages,
    n_right,
    right_between,
)
from larvasight.timetable.plan import NamedPlan
from larvasight.timetable.spec import DAY_H, PlanSpec, Start, later
from larvasight.timetable.steps import Kind, Step

_DASH = "\N{EN DASH}"
_NO_BREAK = "\N{NO-BREAK SPACE}"
START_WORDS = {
    Start.EDGE: "a hatching edge",
    Start.COMB: "a drawn comb in the nest",
    Start.CONFINED: "a confined queen",
}
# What the start is, as the beginning of "... h before grafting".
START_EVENTS = {
    Start.EDGE: "Hatching edge seen",
    Start.COMB: "Comb put into the nest",
    Start.CONFINED: "Queen confined",
}
KIND_WORDS = {
    Kind.DO: "do",
    Kind.LOOK: "look",
    Kind.REST: "leave alone",
    Kind.HAPPENS: "happens",
}
LABEL_WORDS = {
    Label.PUBLISHED: "published",
    Label.DERIVED: "worked out",
    Label.COMMON_PRACTICE: "common practice",
    Label.FROM_MEMORY: "from memory, no source found",
}


def window_words(step: Step) -> str:
    """Return a step's window; times of day only where they mean something."""
    first, last = step.from_at, step.to_at
    if step.is_by_day:
        if first.date() == last.date():
            return day_words(first.date())
        return f"{day_words(first.date())} {_DASH} {day_words(last.date())}"
    if first == last:
        return moment_words(first)
    if first.date() == last.date():
        return f"{day_words(first.date())}, {first:%H:%M}{_DASH}{last:%H:%M}"
    return f"{moment_words(first)} {_DASH} {moment_words(last)}"


def until_words(step: Step) -> str:
    """Return a step's window as it is said under the day on which it begins."""
    first, last = step.from_at, step.to_at
    is_one_day = first.date() == last.date()
    if step.is_by_day:
        return "" if is_one_day else f"to {day_words(last.date())}"
    if first == last:
        return f"{first:%H:%M}"
    if is_one_day:
        return f"{first:%H:%M}{_DASH}{last:%H:%M}"
    return f"{first:%H:%M} to {moment_words(last)}"


def spread_words(step: Step) -> str:
    """Return what is aimed at in a window and how far it may lie from that, or nothing."""
    before_h, after_h = step.spread_h
    if step.is_by_day and before_h + after_h <= DAY_H / 2.0:
        return f"best on {day_words(step.usual_at.date())}, give or take half a day"
    aim = day_words(step.usual_at.date()) if step.is_by_day else moment_words(step.usual_at)
    if before_h + after_h == 0.0:
        return ""
    if abs(before_h - after_h) < 1e-6:
        return f"about {aim}, {_span(before_h)} either way"
    if before_h == 0.0:
        return f"best {aim}, {_end(step)} at the latest"
    if after_h == 0.0:
        return f"{aim} at the latest, up to {_span(before_h)} before"
    return f"about {aim}, {_span(before_h)} before to {_span(after_h)} after"


def _end(step: Step) -> str:
    return day_words(step.to_at.date()) if step.is_by_day else moment_words(step.to_at)


def _span(hours: float) -> str:
    if hours < 1.5 * DAY_H and hours % DAY_H:
        return f"{hours:.3g}{_NO_BREAK}h"
    days = hours / DAY_H
    return f"{days:.2g} day" if abs(days - 1.0) < 1e-6 else f"{days:.2g} days"


def rests_words(fact: Fact) -> str:
    """Return what a duration is, how far it can be trusted and where it is from."""
    unit = {"d": "days", "h": "h", "degC": "°C"}.get(fact.unit, "")
    value = f"{100.0 * fact.value:g}{_NO_BREAK}%" if fact.unit == "share" else f"{fact.value:g}"
    told = f"{fact.name}: {value}{_NO_BREAK + unit if unit else ''}"
    word = LABEL_WORDS[fact.label]
    if fact.label is Label.FROM_MEMORY:
        return f"{told} ({word})"
    return f"{told} ({word}: {fact.source})" if fact.source else f"{told} ({word})"


def percent(share: float) -> str:
    """Return a share as whole percent."""
    return f"{100.0 * share:.0f}{_NO_BREAK}%"


def ages_words(spec: PlanSpec, ages: ExpectedAges, limits: Limits) -> str:
    """Return in a sentence or two what larvae to expect."""
    low, high = (100.0 * share for share in right_between(spec, limits))
    best = f"{limits.best_young_h:.0f}{_DASH}{limits.best_old_h:.0f}{_NO_BREAK}h"
    about = f"About {100.0 * ages.right_of_larvae:.0f} of 100 larvae will be {best} old"
    if spec.start is not Start.EDGE and high - low >= 1.0:
        about += f" ({low:.0f} to {high:.0f}, as fast as eggs hatch in your colony)"
    young, old = ages.most_larvae_h
    most = f"most are {max(young, 0.0):.0f}{_DASH}{old:.0f}{_NO_BREAK}h"
    return f"{about}; {most}."


def advice(spec: PlanSpec, limits: Limits) -> tuple[str, ...]:
    """Return sentences on what would give better ages or enough larvae."""
    said = []
    best_h = best_lead_h(spec, limits)
    now = expected_ages(spec, limits).right_of_larvae
    best = expected_ages(_at_lead(spec, best_h), limits).right_of_larvae
    event = START_EVENTS[spec.start].lower()
    if best - now >= 0.02:
        moved_h = best_h - spec.lead_h
        way = "later" if moved_h > 0.0 else "earlier"
        said.append(
            f"Best hour: {best_h:.0f} h after \N{LEFT DOUBLE QUOTATION MARK}{event}"
            f"\N{RIGHT DOUBLE QUOTATION MARK}, {abs(moved_h):.0f} h {way} than planned: "
            f"{percent(best)} of larvae would be right instead of {percent(now)}."
        )
    else:
        said.append("The planned hour is as good as any.")
    said.append(_late_sentence(spec, limits))
    said.append(_enough_sentence(spec, limits))
    return tuple(said)


def _at_lead(spec: PlanSpec, lead_h: float) -> PlanSpec:
    return replace(spec, lead_h=lead_h)


def _late_sentence(spec: PlanSpec, limits: Limits) -> str:
    early, late = (expected_ages(spec, limits, late_h=hours) for hours in (-6.0, 6.0))
    right = [percent(ages.right_of_larvae) for ages in (early, late)]
    return (
        f"Six hours early: {right[0]} of the best ages, {percent(early.too_old_of_larvae)} too "
        f"old. Six hours late: {right[1]}, and {percent(late.too_old_of_larvae)}."
    )


def _enough_sentence(spec: PlanSpec, limits: Limits) -> str:
    found = n_right(spec, limits)
    many = f"about {_rounded(found)} larvae of the best ages for {spec.n_cups} cups"
    if spec.start is Start.EDGE:
        return f"Mark a patch large enough: two larvae for each of {spec.n_cups} cups."
    if spec.start is Start.COMB:
        return f"Expect {many}; look for them inside the oldest ring of brood."
    shortest_h = best_confinement_h(spec, limits)
    if shortest_h is None:
        return f"Expect {many}. No confinement up to two days gives enough: use a second comb."
    return (
        f"Expect {many}. Confined for {shortest_h:.0f} h she would lay enough for them; the "
        f"shorter, the more even the larvae (the usual is 12{_DASH}24 h)."
    )


def _rounded(n: float) -> int:
    return 10 * round(n / 10.0) if n >= 20.0 else round(n)


def starts_table(spec: PlanSpec, limits: Limits) -> list[tuple[str, ...]]:
    """Return the three starts, each grafted at its best hour, as rows under a heading."""
    rows: list[tuple[str, ...]] = [
        ("Larvae from", "graft after", "right", "too old", "right larvae")
    ]
    for found in compare_starts(spec, limits):
        many = f"about {_rounded(found.n_right)}"
        rows.append(
            (
                START_WORDS[found.spec.start],
                f"{found.spec.lead_h:.0f}{_NO_BREAK}h",
                percent(found.ages.right_of_larvae),
                percent(found.ages.too_old_of_larvae),
                "what you mark" if found.spec.start is Start.EDGE else many,
            )
        )
    return rows


def late_table(spec: PlanSpec, limits: Limits) -> list[tuple[str, ...]]:
    """Return what grafting early and late makes of the larvae, as rows under a heading."""
    rows: list[tuple[str, ...]] = [("Grafting", "right", "too old")]
    for told in early_and_late(spec, limits):
        hours = f"{abs(told.late_h):.0f}{_NO_BREAK}h"
        when = "as planned" if told.late_h == 0.0 else hours
        if told.late_h:
            when += " early" if told.late_h < 0.0 else " late"
        ages = told.ages
        rows.append((when, percent(ages.right_of_larvae), percent(ages.too_old_of_larvae)))
    return rows


def plan_json(named: NamedPlan, limits: Limits) -> dict[str, Any]:
    """Return a plan as JSON values; shares of ages in percent, moments with their offset."""
    plan, spec = named.plan, named.plan.spec
    ages = plan.ages
    best_h = best_lead_h(spec, limits)
    return {
        "format": "larvasight.timetable",
        "version": 1,
        "name": named.name,
        "graft_at": plan.graft_at.isoformat(),
        "zone": getattr(plan.graft_at.tzinfo, "key", None),
        "start": spec.start.value,
        "lead_h": spec.lead_h,
        "caged_h": spec.caged_h if spec.start is Start.CONFINED else None,
        "settle_h": spec.settle_h,
        "sealed_c": spec.sealed_c,
        "expected_ages": {
            "unhatched": _pct(ages.unhatched),
            "h0_12": _pct(ages.h0_12),
            "h12_24": _pct(ages.h12_24),
            "over_24": _pct(ages.over_24),
        },
        "mean_age_h": round(ages.mean_h, 1),
        "right_of_larvae": _pct(ages.right_of_larvae),
        "best_graft_at": later(
            plan.graft_at, best_h - spec.lead_h, plan.graft_at.tzinfo or UTC
        ).isoformat(),
        "earliest_emergence_at": _minute(plan.earliest_emergence_at).isoformat(),
        "starts": [
            {
                "start": found.spec.start.value,
                "lead_h": found.spec.lead_h,
                "right_of_larvae": _pct(found.ages.right_of_larvae),
                "too_old_of_larvae": _pct(found.ages.too_old_of_larvae),
            }
            for found in compare_starts(spec, limits)
        ],
        "early_and_late": [
            {
                "late_h": told.late_h,
                "right_of_larvae": _pct(told.ages.right_of_larvae),
                "too_old_of_larvae": _pct(told.ages.too_old_of_larvae),
            }
            for told in early_and_late(spec, limits)
        ],
        "steps": [_step_json(step) for step in plan.steps],
        "cautions": list(PLANNING),
    }


def plan_text(named: NamedPlan, limits: Limits) -> str:
    """Return a plan as plain lines for a terminal."""
    plan = named.plan
    ages = plan.ages
    lines = [
        f"Grafting {moment_words(plan.graft_at)}, from {START_WORDS[plan.spec.start]}.",
        "",
        "On the comb then, of all brood: "
        f"not hatched {percent(ages.unhatched)}, 0-12 h {percent(ages.h0_12)}, "
        f"12-24 h {percent(ages.h12_24)}, over 24 h {percent(ages.over_24)}.",
        ages_words(plan.spec, ages, limits),
        *advice(plan.spec, limits),
        "",
        *_lines(starts_table(plan.spec, limits)),
        "",
    ]
    width = max(len(window_words(step)) for step in plan.steps)
    for step in plan.steps:
        lines.append(f"{window_words(step):<{width}}  {step.title}")
        lines += [f"{'':<{width}}    {text}" for text in (step.why, step.warning) if text]
    lines += ["", *PLANNING]
    return "\n".join(lines)


def _lines(table: list[tuple[str, ...]]) -> list[str]:
    """Return the rows of a table as lines with their columns aligned."""
    widths = [max(len(row[k]) for row in table) for k in range(len(table[0]))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in table
    ]


def _step_json(step: Step) -> dict[str, Any]:
    return {
        "key": step.key,
        "title": step.title,
        "kind": step.kind.value,
        "from": _minute(step.from_at).isoformat(),
        "usual": _minute(step.usual_at).isoformat(),
        "to": _minute(step.to_at).isoformat(),
        "by_day": step.is_by_day,
        "why": step.why,
        "warning": step.warning,
        "sources_differ": list(step.sources_differ),
        "rests_on": [
            {
                "name": fact.name,
                "value": fact.value,
                "unit": fact.unit,
                "label": fact.label.value,
                "source": fact.source,
            }
            for fact in step.rests_on
        ],
    }


def _minute(at: datetime) -> datetime:
    return at.replace(second=0, microsecond=0)


def _pct(share: float) -> float:
    return round(100.0 * share, 1)


def queen_numbers(spec: PlanSpec, year: int) -> tuple[str, ...]:
    """Return the numbers of a batch's queens, such as ``27-001``: one for each nuc."""
    return tuple(f"{year % 100:02d}-{spec.first_queen + k:03d}" for k in range(spec.n_nucs))


def mark_colour(year: int) -> str:
    """Return the colour with which queens of a year are marked, as is common practice."""
    return ("blue", "white", "yellow", "red", "green")[year % 5]
