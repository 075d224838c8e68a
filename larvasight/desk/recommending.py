"""What a learner should practise today, and the edges that the next combs are laid by."""

from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, tzinfo
from typing import TYPE_CHECKING
from uuid import UUID

from larvasight.practice import TOO_FEW, AnswerTable, Drill, drill_of, outcomes, score
from larvasight.practice.drills import DRILLS
from larvasight.practice.measuring import edges_of
from larvasight.practice.today import Needs, plan_today
from larvasight.stats import EdgePosterior

if TYPE_CHECKING:
    from larvasight.records.store import Store

# An eye moves within weeks: older cells say little of it.
_LATEST_CELLS = 400
# Answers do not tell in which drill they were given: whoever has judged some cells counts as
# knowing the stages.
_STAGES_KNOWN = (True,) * 40


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
    today = now.astimezone(tz).date()
    if not len(table):
        return _standing(None, Needs(), today)
    latest = _latest(table)
    edges, told = edges_of(latest), score(outcomes(latest), latest.response_ms)
    last_ms = int(table.answered_utc_ms.max())
    last_day = datetime.fromtimestamp(last_ms / 1000.0, UTC).astimezone(tz).date()
    needs = Needs(
        n_cells_ever=len(table),
        stages_right=_STAGES_KNOWN,
        n_right=told.n_right,
        n_picks=told.n_picks,
        edges=edges,
        measured_on=last_day if len(table) >= TOO_FEW else None,
    )
    return _standing(edges, needs, today)


def _standing(edges: EdgePosterior | None, needs: Needs, today: date) -> Standing:
    known = {drill.key for drill in DRILLS}
    parts = [part for part in plan_today(needs, today) if part.key in known]
    first = [drill_of(part.key) for part in parts]
    others = [drill for drill in DRILLS if drill not in first]
    drills = tuple(dict.fromkeys([*first, *others]))
    return Standing(edges=edges, drills=drills, why=parts[0].why)


def _latest(table: AnswerTable) -> AnswerTable:
    return AnswerTable(**{f.name: getattr(table, f.name)[-_LATEST_CELLS:] for f in fields(table)})
