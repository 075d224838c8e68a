"""Plans of one day of grafting."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from larvasight.timetable import PlanSpec, Start, make_plan
from larvasight.timetable.spec import USUAL_LEAD_H, USUAL_SETTLE_H

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def tz():
    return BERLIN


@pytest.fixture
def spec_of():
    """Return a function that decides a plan; the usual ones for its start where nothing is said."""

    def make(start=Start.CONFINED, **decided):
        usual = {
            "anchor_at": datetime(2027, 5, 14, 10, 0, tzinfo=BERLIN),
            "lead_h": USUAL_LEAD_H[start],
            "settle_h": USUAL_SETTLE_H[start],
        }
        return PlanSpec(start=start, **{**usual, **decided})

    return make


@pytest.fixture
def plan_of(spec_of):
    """Return a function that computes such a plan in Berlin's zone, or in another."""

    def make(start=Start.CONFINED, *, tz=BERLIN, **decided):
        return make_plan(spec_of(start, **decided), tz)

    return make
