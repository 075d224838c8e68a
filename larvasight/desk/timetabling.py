"""Plans for batches of queens: kept, told, put into a calendar and on paper."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Protocol
from uuid import UUID

from larvasight import __version__
from larvasight.errors import PlanInvalidError
from larvasight.grading import Limits
from larvasight.sheet import write_whole
from larvasight.timetable import NamedPlan, PlanSpec, make_plan
from larvasight.timetable.spec import YEARS_SPAN, aware
from larvasight.timetable.spec_json import spec_from_json, spec_to_json

if TYPE_CHECKING:
    from larvasight.records.types import Plan as Stored
    from larvasight.render.tiles import TileLibrary

_GRAFTING_HOUR = time(10, 0)
# Drones need as long as this before grafting, so that a new plan has nothing in the past.
_FIRST_DAYS = 21
_NAMES_MOST = 1000


class PlanStore(Protocol):
    """What keeping plans asks of the records."""

    def plans(self) -> "list[Stored]":
        """Return all plans, the newest first."""

    def put_plan(self, plan_id: UUID, *, name: str, spec: str, now: datetime) -> None:
        """Store a plan, new or in the place of what it said before."""

    def remove_plan(self, plan_id: UUID, *, now: datetime) -> None:
        """Take a plan out of the list."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlan:
    """A plan as it is kept; ``spec`` is None where it cannot be read, and ``trouble`` says why."""

    id: UUID
    name: str
    spec: PlanSpec | None
    trouble: str = ""


def kept_plans(store: PlanStore) -> list[KeptPlan]:
    """Return all plans, the newest first; one that cannot be read does not hide the others."""
    found = []
    for row in store.plans():
        try:
            found.append(KeptPlan(id=row.id, name=row.name, spec=spec_from_json(row.spec)))
        except PlanInvalidError as error:
            found.append(KeptPlan(id=row.id, name=row.name, spec=None, trouble=str(error)))
    return found


def keep_plan(store: PlanStore, plan: KeptPlan, *, now: datetime) -> None:
    """Store a plan.

    Raises
    ------
    LarvasightError
        If its name cannot be used or the records cannot be written.
    ValueError
        If it holds nothing.
    """
    if plan.spec is None:
        msg = f"plan must hold decisions, got none in {plan.name!r}"
        raise ValueError(msg)
    store.put_plan(plan.id, name=plan.name, spec=spec_to_json(plan.spec), now=now)


def remove_plan(store: PlanStore, plan_id: UUID, *, now: datetime) -> None:
    """Take a plan out of the list; one that was never stored is gone already."""
    if any(plan.id == plan_id for plan in store.plans()):
        store.remove_plan(plan_id, now=now)


def named_plans(kept: Sequence[KeptPlan], tz: tzinfo, limits: Limits) -> list[NamedPlan]:
    """Return computed plans for all that can be read."""
    return [
        NamedPlan(id=plan.id, name=plan.name, plan=make_plan(plan.spec, tz, limits))
        for plan in kept
        if plan.spec is not None
    ]


def first_spec(now: datetime, tz: tzinfo) -> PlanSpec:
    """Return what a new plan begins with: a grafting in three weeks, in the morning."""
    day = now.astimezone(tz).date() + timedelta(days=_FIRST_DAYS)
    at = datetime.combine(day, _GRAFTING_HOUR, tzinfo=tz)
    return PlanSpec(anchor_at=at)


def next_name(names: Sequence[str]) -> str:
    """Return a name for a new plan that no other has."""
    taken = {name.casefold() for name in names}
    free = (f"Batch {k}" for k in range(1, _NAMES_MOST))
    return next((name for name in free if name.casefold() not in taken), "Batch")


def wall_time(text: str, tz: tzinfo) -> datetime:
    """Return the moment that a text names, such as ``2027-05-14T10:00``, in its zone.

    Raises
    ------
    PlanInvalidError
        If it names no day and hour, or an hour that clocks skip on that night.
    """
    try:
        at = datetime.fromisoformat(text.strip())
    except ValueError as error:
        msg = f"{text!r} is no day and hour such as 2027-05-14T10:00."
        raise PlanInvalidError(msg) from error
    low, high = YEARS_SPAN
    if not low <= at.year <= high:
        msg = f"{text}: plans are for the years {low} to {high}."
        raise PlanInvalidError(msg)
    if at.tzinfo is not None:
        return at.astimezone(tz)
    meant = aware(at, tz)
    if meant is None:
        msg = f"{text}: on that night clocks are put forward and skip this time; choose another."
        raise PlanInvalidError(msg)
    return meant


def save_calendar(path: Path, plans: Sequence[NamedPlan], *, now: datetime) -> None:
    """Write plans as a calendar file; OutputFolderError if it cannot be written."""
    from larvasight.timetable.calendar_file import calendar_file

    write_whole(path, calendar_file(plans, now=now, program_version=__version__))


def save_grafting_sheet(
    path: Path,
    named: NamedPlan,
    limits: Limits,
    *,
    made_on: date,
    library: "TileLibrary | None" = None,
) -> None:
    """Write the page for the day of grafting as PDF.

    Raises
    ------
    AssetMissingError
        If the pictures that come with the program are missing.
    OutputFolderError
        If the file cannot be written; nothing half-written is left.
    """
    from larvasight.desk.age_chart import age_chart
    from larvasight.paper.grafting_sheet import GraftingSheet, grafting_sheet_pdf
    from larvasight.render.tiles import TileLibrary

    chart = age_chart(library or TileLibrary.load(), limits, made_on=made_on)
    sheet = GraftingSheet(
        named=named,
        limits=limits,
        cells=chart.cells,
        made_on=made_on,
        program_version=__version__,
    )
    write_whole(path, grafting_sheet_pdf(sheet))


def save_lid_labels(path: Path, named: NamedPlan, *, made_on: date) -> None:
    """Write two labels for lids as PDF; OutputFolderError if it cannot be written."""
    from larvasight.paper.lid_label import lid_labels_pdf

    write_whole(path, lid_labels_pdf(named, made_on=made_on, program_version=__version__))


def save_cell_list(path: Path, named: NamedPlan, *, made_on: date) -> None:
    """Write the list of cells and nucs as PDF; OutputFolderError if it cannot be written."""
    from larvasight.paper.cell_list import cell_list_pdf

    write_whole(path, cell_list_pdf(named, made_on=made_on, program_version=__version__))
