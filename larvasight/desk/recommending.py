"""What a learner should practise today, and the edges that the next combs are laid by."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from typing import TYPE_CHECKING
from uuid import UUID

from larvasight.desk.clock import clock_of
from larvasight.desk.todays import Todays, morning_line, todays_of
from larvasight.practice import DRILLS, Drill, drill_of
from larvasight.practice.drills import AGAINST_THE_CLOCK
from larvasight.practice.line import latest_edges
from larvasight.practice.today import LOOK_FOR
from larvasight.stats import EdgePosterior

if TYPE_CHECKING:
    from larvasight.records.store import Store


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """Where a learner stands: ``edges`` is None before the first answer.

    ``drills`` holds what is planned for today first, the others behind it; ``why`` is the reason
    for the first. ``today`` is the plan as the day began with what is done of it, None where the
    records could not be read. ``missing`` tells, by a drill's key, what is still needed for it.
    """

    edges: EdgePosterior | None
    drills: tuple[Drill, ...]
    why: str
    today: Todays | None = None
    missing: Mapping[str, str] = field(default_factory=dict)


def standing_of(
    store: "Store",
    learner_id: UUID,
    *,
    now: datetime,
    tz: tzinfo = UTC,
    has_looked: bool = False,
) -> Standing:
    """Return where a learner stands.

    Parameters
    ----------
    store : Store
        The open records.
    learner_id : UUID
        Who practises; an unknown learner has no answers.
    now : datetime
        The time, UTC.
    tz : tzinfo
        The learner's time zone.
    has_looked : bool
        Whether "What to look for" was opened in this sitting.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    table = store.answers(learner_id)
    line = morning_line(store, learner_id, table, now=now, tz=tz)
    first = [drill_of(key) for key in line.today.keys if key != LOOK_FOR]
    today = todays_of(store, learner_id, line.today.parts, now=now, tz=tz, has_looked=has_looked)
    return Standing(
        edges=latest_edges(table) if len(table) else None,
        drills=tuple(dict.fromkeys([*first, *DRILLS])),
        why=line.today.why,
        today=today,
        missing={AGAINST_THE_CLOCK.key: clock_of(store, learner_id).missing},
    )
