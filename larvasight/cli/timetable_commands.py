"""The command ``timetable``: when to do what for a day of grafting."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated
from uuid import NAMESPACE_URL, uuid5

import typer

from larvasight.timetable.spec import (
    CAGED_SPAN_H,
    LEAD_SPANS_H,
    SEALED_SPAN_C,
    SETTLE_SPAN_H,
    USUAL_LEAD_H,
    USUAL_SETTLE_H,
    Anchor,
    PlanSpec,
    Start,
)


def add_to(app: typer.Typer) -> None:
    """Add this command to the command line."""
    app.command()(timetable)


def timetable(
    graft: Annotated[
        str, typer.Option("--graft", metavar="WHEN", help="Day and hour, as 2027-05-14T10:00.")
    ],
    caged_h: Annotated[
        float,
        typer.Option(
            "--caged-h",
            min=CAGED_SPAN_H[0],
            max=CAGED_SPAN_H[1],
            help="How long the queen is confined, hours.",
        ),
    ] = 24.0,
    start: Annotated[
        Start, typer.Option("--start", help="Hatching edge, comb in the nest, or confined queen.")
    ] = Start.CONFINED,
    lead_h: Annotated[
        float | None,
        typer.Option("--lead-h", help="Hours from the start to grafting, without it the usual."),
    ] = None,
    settle_h: Annotated[
        float | None,
        typer.Option(
            "--settle-h",
            min=SETTLE_SPAN_H[0],
            max=SETTLE_SPAN_H[1],
            help="Hours until the queen lays, without it the usual.",
        ),
    ] = None,
    sealed_c: Annotated[
        float,
        typer.Option(
            "--sealed-c",
            min=SEALED_SPAN_C[0],
            max=SEALED_SPAN_C[1],
            help="Temperature of sealed cells, degrees C.",
        ),
    ] = 34.5,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of lines.")] = False,
    ics: Annotated[
        Path | None,
        typer.Option("--ics", metavar="FILE", dir_okay=False, help="Also write a calendar file."),
    ] = None,
) -> None:
    """Tell when to do what for a grafting, and what ages to expect on the comb."""
    from larvasight.desk.reporting import local_zone
    from larvasight.desk.timetabling import save_calendar, wall_time
    from larvasight.errors import PlanInvalidError
    from larvasight.grading import Limits
    from larvasight.timetable import NamedPlan, make_plan
    from larvasight.timetable.telling import plan_json, plan_text

    tz, limits = local_zone(), Limits()
    try:
        at = wall_time(graft, tz)
    except PlanInvalidError as error:
        raise typer.BadParameter(str(error), param_hint="--graft") from error
    lead = USUAL_LEAD_H[start] if lead_h is None else lead_h
    settle = USUAL_SETTLE_H[start] if settle_h is None else settle_h
    _check(start, lead, caged_h, settle)
    spec = PlanSpec(
        anchor=Anchor.GRAFT,
        anchor_at=at,
        start=start,
        lead_h=lead,
        caged_h=caged_h,
        settle_h=settle,
        sealed_c=sealed_c,
    )
    plan = make_plan(spec, tz, limits)
    # The same day gives the same entries, so that a calendar replaces them.
    name = f"grafting {at.date().isoformat()}"
    named = NamedPlan(id=uuid5(NAMESPACE_URL, f"larvasight {at.isoformat()}"), name=name, plan=plan)
    if ics is not None:
        save_calendar(ics, [named], now=datetime.now(UTC))
    if as_json:
        typer.echo(json.dumps(plan_json(named, limits), ensure_ascii=False, indent=2))
        return
    typer.echo(plan_text(named, limits))
    if ics is not None:
        typer.echo(f"The calendar file is {ics}.")


def _check(start: Start, lead_h: float, caged_h: float, settle_h: float) -> None:
    low, high = LEAD_SPANS_H[start]
    if not low <= lead_h <= high:
        msg = f"must lie between {low:g} and {high:g} for this start, got {lead_h:g}"
        raise typer.BadParameter(msg, param_hint="--lead-h")
    if start is Start.CONFINED and settle_h >= caged_h:
        msg = f"must be less than the {caged_h:g} h of confinement, got {settle_h:g}"
        raise typer.BadParameter(msg, param_hint="--settle-h")
