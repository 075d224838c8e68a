"""Checks without warm-up and the course day's test: read from stored answers, told at the end."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import UUID

from larvasight import __version__
from larvasight.desk.fresh_combs import SeenTiles
from larvasight.desk.kept_answers import table_of
from larvasight.grading import Limits
from larvasight.practice import AnswerTable, Score, score
from larvasight.practice.course_day import CourseDay, course_day
from larvasight.practice.drills import CHECK, COURSE_DAY_TEST, SCREEN_TEST
from larvasight.practice.measuring import edges_of
from larvasight.practice.scoring import outcomes
from larvasight.practice.spacing import SessionEnd, has_held, is_drift, old_edge_drift
from larvasight.sheet import write_whole
from larvasight.stats import EdgePosterior, Estimate

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import KeptRound

# Keys in the recipe of a round: which check it belongs to, and how many cells that has.
RUN_MARK = "check_run"
SIZE_MARK = "check_cells"
# Cells of one comb.
COMB_CELLS = 20


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Check:
    """One check that was answered to its end."""

    id: UUID
    day: date
    limits: Limits
    table: AnswerTable
    score: Score
    edges: EdgePosterior

    @property
    def session(self) -> SessionEnd:
        """What it came to, for comparing it with another one."""
        return SessionEnd(day=self.day, right=self.score.right, edges=self.edges)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToldCheck:
    """A check beside the one before it.

    ``has_held`` says whether the eye is as good as then, ``moved`` by how much the oldest age
    taken moved, h; both None without one before. ``has_moved`` is True where that is sure.
    """

    check: Check
    before: Check | None
    has_held: bool | None
    moved: Estimate | None

    @property
    def has_moved(self) -> bool:
        """Whether the oldest age taken has surely moved."""
        return self.moved is not None and is_drift(self.moved)


def marks_of_run(run_id: UUID, n_cells: int) -> dict[str, str]:
    """Return what the recipe of a comb tells of the check that it belongs to."""
    return {RUN_MARK: str(run_id), SIZE_MARK: str(n_cells)}


def checks_of(store: "Store", learner_id: UUID, drill: str, tz: tzinfo) -> tuple[Check, ...]:
    """Return a learner's checks of one drill that were answered to their end, oldest first.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    by_run: dict[str, list[KeptRound]] = {}
    for kept in store.kept_rounds(learner_id, [drill]):
        run = kept.recipe.get(RUN_MARK)
        if isinstance(run, str):
            by_run.setdefault(run, []).append(kept)
    found = [_check_of(run, rounds, tz) for run, rounds in by_run.items()]
    return tuple(check for check in found if check is not None)


def told_check(checks: Sequence[Check]) -> ToldCheck | None:
    """Return the latest check beside the one before it; None without any."""
    if not checks:
        return None
    now, before = checks[-1], checks[-2] if len(checks) > 1 else None
    if before is None:
        return ToldCheck(check=now, before=None, has_held=None, moved=None)
    return ToldCheck(
        check=now,
        before=before,
        has_held=has_held(before.session, now.session),
        moved=old_edge_drift(before.session, now.session),
    )


def seen_in_tests(
    store: "Store", learner_id: UUID, spent: frozenset[str] = frozenset()
) -> SeenTiles:
    """Return how often a learner has seen each test tile; ``spent`` are not to be shown again."""
    drills = [SCREEN_TEST.key, CHECK.key, COURSE_DAY_TEST.key]
    rounds = store.kept_rounds(learner_id, drills)
    times = Counter(cell.tile_id for kept in rounds for cell in kept.cells if cell.tile_id)
    return SeenTiles(spent=spent, times=times)


def course_day_of(check: Check) -> CourseDay:
    """Return what the course day's test tells."""
    return course_day(check.table)


def save_course_day_sheet(path: Path, check: Check, *, name: str) -> None:
    """Write the course day's sheet of one learner as PDF.

    Raises
    ------
    OutputFolderError
        If it cannot be written; nothing half-written is left.
    """
    from larvasight.paper.course_day_sheet import CourseDaySheet, course_day_pdf

    sheet = CourseDaySheet(
        name=name,
        day=check.day,
        limits=check.limits,
        told=course_day_of(check),
        program_version=__version__,
    )
    write_whole(path, course_day_pdf(sheet))


def _check_of(run: str, rounds: "Sequence[KeptRound]", tz: tzinfo) -> Check | None:
    """Return one check; None where it was broken off or its rounds do not tell what they are."""
    wanted = rounds[0].recipe.get(SIZE_MARK)
    table = table_of(rounds)
    ended_at: datetime | None = rounds[-1].ended_at_utc
    if ended_at is None or str(len(table)) != wanted:
        return None
    try:
        id_ = UUID(run)
    except ValueError:
        return None
    return Check(
        id=id_,
        day=ended_at.astimezone(tz).date(),
        limits=rounds[-1].limits,
        table=table,
        score=score(outcomes(table), table.response_ms),
        edges=edges_of(table),
    )
