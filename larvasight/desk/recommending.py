"""What a learner should practise today, and the edges that the next combs are laid by."""

from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import TYPE_CHECKING
from uuid import UUID

from larvasight.practice import DRILLS, Drill, drill_of, summarise
from larvasight.practice.line import line_of
from larvasight.stats import EdgePosterior

if TYPE_CHECKING:
    from larvasight.records.store import Store


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """Where a learner stands: ``edges`` is None before the first answer.

    ``drills`` holds what is planned for today first, the others behind it; ``why`` is the reason
    for the first.
    """

    edges: EdgePosterior | None
    drills: tuple[Drill, ...]
    why: str


def standing_of(store: "Store", learner_id: UUID, *, now: datetime, tz: tzinfo = UTC) -> Standing:
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

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    table = store.answers(learner_id)
    line = line_of(table, summarise(table, tz), tz, now.astimezone(tz).date())
    first = [drill_of(key) for key in line.today.keys]
    return Standing(
        edges=line.edges if len(table) else None,
        drills=tuple(dict.fromkeys([*first, *DRILLS])),
        why=line.today.why,
    )
