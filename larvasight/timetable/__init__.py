"""When to do what for a batch of queens, and what ages to expect on the comb."""

from larvasight.timetable.expected import ExpectedAges, expected_ages
from larvasight.timetable.facts import FACTS
from larvasight.timetable.plan import NamedPlan, Plan, make_plan
from larvasight.timetable.spec import Anchor, PlanSpec, Start, Wanted
from larvasight.timetable.steps import Kind, Step

__all__ = [
    "FACTS",
    "Anchor",
    "ExpectedAges",
    "Kind",
    "NamedPlan",
    "Plan",
    "PlanSpec",
    "Start",
    "Step",
    "Wanted",
    "expected_ages",
    "make_plan",
]
