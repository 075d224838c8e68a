"""When to practise next: a ladder of days, the drift of the old edge, the day before a graft."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from larvasight.geometry.facts import Fact, Label
from larvasight.stats import EdgePosterior, Estimate, Interval, edge_difference

_LADDER_WHY = (
    "judgement: the second step, because sorters' own limits slid back within about a week of"
    " being set together (Akimoto & Kuroda 1981, abstract); the last, because 20 cases every two"
    " months kept readers of X-rays at their level for a year (Boutis et al. 2019, abstract)"
)
LADDER: tuple[Fact, ...] = tuple(
    Fact(
        name=f"days to the next session, step {step}",
        value=days,
        unit="d",
        label=Label.DERIVED,
        source=_LADDER_WHY,
    )
    for step, days in enumerate((1.0, 3.0, 7.0, 14.0, 28.0, 56.0), start=1)
)
DRIFT_MOST = Fact(
    name="drift of the old edge between sessions that sets a learner back",
    value=3.0,
    unit="h",
    label=Label.DERIVED,
    source="judgement: larvae of one age differ in size by about as much",
)
FACTS: tuple[Fact, ...] = (*LADDER, DRIFT_MOST)

LADDER_DAYS = tuple(round(fact.value) for fact in LADDER)
# Cells of a check between sessions, as in Boutis et al. 2019.
N_REFRESH = 20

_STEPS_BACK = 2
# How far the lower limit of the share right may fall from one session to the next.
_SHARE_FALL_MOST = 0.05


class DueKind(StrEnum):
    """What may be due."""

    SESSION = "session"
    GRAFT_CHECK = "graft-check"
    SCREEN_CHECK = "screen-check"


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionEnd:
    """What one session came to, in the learner's own days.

    ``right`` is the interval of the share of right picks, ``edges`` what its measuring told; None
    where there were no picks or nothing was measured.
    """

    day: date
    right: Interval | None = None
    edges: EdgePosterior | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderState:
    """Where a learner stands on the ladder: ``step`` counts from 0 into ``LADDER_DAYS``."""

    step: int
    last: SessionEnd

    @property
    def due_on(self) -> date:
        """The day of the next session."""
        return self.last.day + timedelta(days=LADDER_DAYS[self.step])


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One thing to do and its day; one whose day is past is still to do, and nothing is lost."""

    kind: DueKind
    day: date


def climb(state: LadderState | None, session: SessionEnd) -> LadderState:
    """Return where a learner stands after a session.

    The first session stands on the first step. Then one step up where the eye held, two back,
    never below the first, where it did not. A second session on one day moves nobody up.

    Parameters
    ----------
    state : LadderState or None
        Where the learner stood; None before the first session.
    session : SessionEnd
        What this session came to.

    Raises
    ------
    ValueError
        If the session is earlier than the last one.
    """
    if state is None:
        return LadderState(step=0, last=session)
    if session.day < state.last.day:
        msg = f"session must not be earlier than {state.last.day}, got {session.day}"
        raise ValueError(msg)
    if not has_held(state.last, session):
        step = max(state.step - _STEPS_BACK, 0)
    elif session.day > state.last.day:
        step = min(state.step + 1, len(LADDER_DAYS) - 1)
    else:
        step = state.step
    return LadderState(step=step, last=session)


def has_held(last: SessionEnd, session: SessionEnd) -> bool:
    """Return whether an eye is as good as in the session before.

    The lower limit of its share right may not have fallen by more than 5 in 100, and the old edge
    not have moved by 3 h or more, unless that may be chance. What is unknown is no fault.
    """
    if last.right and session.right and session.right.lo < last.right.lo - _SHARE_FALL_MOST:
        return False
    moved = old_edge_drift(last, session)
    return moved is None or not is_drift(moved)


def old_edge_drift(last: SessionEnd, session: SessionEnd) -> Estimate | None:
    """Return by how much the old edge moved, h, above 0 for older; None where not measured twice.

    The interval counts what is not known of either session.
    """
    if last.edges is None or session.edges is None:
        return None
    return edge_difference(last.edges, session.edges, "old")


def is_drift(moved: Estimate) -> bool:
    """Return whether an edge moved by 3 h or more and its interval leaves 0 out."""
    return abs(moved.value) >= DRIFT_MOST.value and not moved.lo <= 0.0 <= moved.hi


def due_list(
    state: LadderState | None,
    today: date,
    *,
    grafts_on: Sequence[date] = (),
    checks_done_on: Sequence[date] = (),
    screen_check_from: date | None = None,
) -> tuple[Due, ...]:
    """Return what is to be done, the earliest first.

    Parameters
    ----------
    state : LadderState or None
        Where the learner stands; None before the first session, which is due today.
    today : date
        The learner's own day.
    grafts_on : sequence of date
        Days of planned grafts; before each that is still to come, a check of ``N_REFRESH`` cells
        without warm-up is due on the day before, whatever the ladder says.
    checks_done_on : sequence of date
        Days of such checks already done.
    screen_check_from : date, optional
        First day of the check of the screen test, where one is open.
    """
    dues = [Due(kind=DueKind.SESSION, day=today if state is None else state.due_on)]
    for graft_on in sorted({day for day in grafts_on if day >= today}):
        eve = graft_on - timedelta(days=1)
        if not any(eve <= day <= graft_on for day in checks_done_on):
            dues.append(Due(kind=DueKind.GRAFT_CHECK, day=eve))
    if screen_check_from is not None:
        dues.append(Due(kind=DueKind.SCREEN_CHECK, day=screen_check_from))
    return tuple(sorted(dues, key=lambda due: due.day))


def due_today(dues: Sequence[Due], today: date) -> tuple[Due, ...]:
    """Return what is to be done today or was to be done before."""
    return tuple(due for due in dues if due.day <= today)
