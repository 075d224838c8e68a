"""A whole plan: all steps in the order of time."""

from dataclasses import dataclass
from datetime import datetime, tzinfo
from uuid import UUID

from larvasight.grading import Limits
from larvasight.timetable.after import earliest_emergence_h, steps_after
from larvasight.timetable.before import steps_before
from larvasight.timetable.expected import ExpectedAges, expected_ages
from larvasight.timetable.spec import PlanSpec, graft_at, later
from larvasight.timetable.steps import Step


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One batch from its drones to its first eggs.

    Attributes
    ----------
    spec : PlanSpec
        What was decided.
    graft_at : datetime
        In the plan's zone.
    earliest_emergence_at : datetime
        When queens from larvae older than thought may emerge.
    steps : tuple of Step
        By the beginning of their windows.
    ages : ExpectedAges
        On the comb at grafting.
    """

    spec: PlanSpec
    graft_at: datetime
    earliest_emergence_at: datetime
    steps: tuple[Step, ...]
    ages: ExpectedAges

    def step(self, key: str) -> Step:
        """Return the step of this key; KeyError if the plan has none."""
        for step in self.steps:
            if step.key == key:
                return step
        raise KeyError(key)

    def has(self, key: str) -> bool:
        """Return whether the plan has a step of this key."""
        return any(step.key == key for step in self.steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedPlan:
    """A plan with the name it goes by and an id that stays."""

    id: UUID
    name: str
    plan: Plan


def make_plan(spec: PlanSpec, tz: tzinfo, limits: Limits | None = None) -> Plan:
    """Compute a plan.

    Hours that biology counts are elapsed hours, whatever clocks do; what is known to the day only
    keeps its time of day.

    Parameters
    ----------
    spec : PlanSpec
        What was decided.
    tz : tzinfo
        The zone of all dates.
    limits : Limits, optional
        Best and usable ages; the usual ones without them.
    """
    at = graft_at(spec, tz)
    steps = [*steps_before(spec, tz), *steps_after(spec, tz)]
    # Grafting comes before what the same hour allows as well.
    steps.sort(key=lambda step: (step.from_at, step.usual_at))
    return Plan(
        spec=spec,
        graft_at=at,
        earliest_emergence_at=later(at, earliest_emergence_h(spec), tz),
        steps=tuple(steps),
        ages=expected_ages(spec, limits),
    )
