"""A season at a glance: what phases each batch goes through, and from which day to which."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from larvasight.timetable.plan import NamedPlan, Plan


class Phase(StrEnum):
    """What a batch takes up."""

    COMB = "comb"
    CELLS = "cells"
    NUCS = "nucs"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One phase of a batch, from its first day to its last."""

    phase: Phase
    first: date
    last: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One batch on the chart; ``emergence`` is the usual window, ``name`` what it is called."""

    name: str
    bars: tuple[Bar, ...]
    graft: date
    emergence: tuple[date, date]
    eggs: date


def season_rows(plans: Sequence[NamedPlan]) -> tuple[Row, ...]:
    """Return one row for each batch, the earliest grafting first."""
    ordered = sorted(plans, key=lambda named: named.plan.graft_at)
    return tuple(_row(named.name, named.plan) for named in ordered)


def season_span(rows: Sequence[Row], today: date) -> tuple[date, date]:
    """Return the first and last day that a chart of these rows and today needs."""
    firsts = [bar.first for row in rows for bar in row.bars]
    lasts = [bar.last for row in rows for bar in row.bars]
    return min([*firsts, today]), max([*lasts, today])


def _row(name: str, plan: Plan) -> Row:
    begin = min(
        step.from_at.date() for step in plan.steps if step.key in ("edge", "comb-in", "confine")
    )
    polish = [step.from_at.date() for step in plan.steps if step.key == "polish"]
    graft, ripe = plan.graft_at.date(), plan.step("ripe").usual_at.date()
    eggs, out = plan.step("first-eggs"), plan.step("emergence")
    return Row(
        name=name,
        bars=(
            Bar(phase=Phase.COMB, first=min([begin, *polish]), last=graft),
            Bar(phase=Phase.CELLS, first=graft, last=ripe),
            Bar(phase=Phase.NUCS, first=ripe, last=eggs.to_at.date()),
        ),
        graft=graft,
        emergence=(out.from_at.date(), out.to_at.date()),
        eggs=eggs.from_at.date(),
    )
