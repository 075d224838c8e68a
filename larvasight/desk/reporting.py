"""How learners come along: for the window, for a page of paper, for the teacher's table."""

import csv
import io
import math
import unicodedata
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import UUID

from larvasight import __version__
from larvasight.desk.files import cell_text
from larvasight.desk.stage_bout import stage_table_of
from larvasight.desk.todays import beside_of, morning_line, todays_of
from larvasight.errors import LearnerUnknownError
from larvasight.practice.line import Line, line_of
from larvasight.practice.progress import Progress, summarise
from larvasight.practice.scoring import Score, detection_of
from larvasight.practice.stages import StageTable
from larvasight.sheet import write_whole
from larvasight.stats import Detection

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import Learner


# More names than this are too many for a sentence.
_NAMES_TOLD = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnerSummary:
    """One learner in a list; ``last_day`` is in this computer's zone, None before any answer."""

    name: str
    n_answers: int
    last_day: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a learner's page tells, as of ``today`` in the learner's own zone.

    ``minutes_left`` is about how long what was begun today and is not done takes.
    """

    progress: Progress
    line: Line
    today: date
    stages: StageTable
    minutes_left: float = 0.0


def local_zone() -> tzinfo:
    """Return this computer's time zone, with its summer times."""
    from tzlocal import get_localzone

    return get_localzone()


def progress_of(store: "Store", learner_id: UUID, tz: tzinfo) -> Progress:
    """Return how one learner comes along; scores are computed here, never stored."""
    return summarise(store.answers(learner_id), tz)


def told_of(store: "Store", learner_id: UUID, *, now: datetime, tz: tzinfo) -> Told:
    """Return how one learner comes along, and where the learner's own eye draws the line."""
    table, today = store.answers(learner_id), now.astimezone(tz).date()
    progress = summarise(table, tz)
    beside = beside_of(store, learner_id, now=now, tz=tz)
    line = line_of(table, progress, tz, today, beside)
    stages = stage_table_of(store, learner_id)
    left = 0.0
    if progress.days and progress.days[-1].day == today < line.next.day:
        begun = morning_line(store, learner_id, table, now=now, tz=tz).today.parts
        left = todays_of(store, learner_id, begun, now=now, tz=tz).minutes_left
    return Told(progress=progress, line=line, today=today, stages=stages, minutes_left=left)


def save_learner_charts(
    store: "Store", learner: "Learner", folder: Path, *, now: datetime, tz: tzinfo
) -> tuple[Path, ...]:
    """Write every chart of a learner's page as PNG and SVG; return the files.

    Raises
    ------
    LarvasightError
        If one cannot be written.
    """
    from larvasight.paper.chart_files import save_charts  # Qt only when it is wanted

    told = told_of(store, learner.id, now=now, tz=tz)
    return save_charts(folder, told.progress, told.line, limits=store.limits(learner.id))


def summaries(store: "Store", tz: tzinfo) -> list[LearnerSummary]:
    """Return all learners by name, with how much each judged and when last."""
    found = []
    for learner in store.learners():
        told = progress_of(store, learner.id, tz)
        last_day = told.days[-1].day if told.days else None
        found.append(
            LearnerSummary(name=learner.name, n_answers=told.score.n_answers, last_day=last_day)
        )
    return found


def find_learner(store: "Store", name: str) -> "Learner":
    """Return the learner of this name; case, spaces and spelling variants do not matter.

    Raises
    ------
    LearnerUnknownError
        If there is none.
    """
    learners = store.learners()
    for learner in learners:
        if _folded(learner.name) == _folded(name):
            return learner
    names = [learner.name for learner in learners]
    known = ", ".join(names[:_NAMES_TOLD]) or "nobody yet"
    if len(names) > _NAMES_TOLD:
        known += f" and {len(names) - _NAMES_TOLD} more"
    msg = f'No learner is called "{" ".join(name.split())}"; the records know {known}.'
    raise LearnerUnknownError(msg)


def save_learner_report(
    store: "Store", learner: "Learner", path: Path, *, now: datetime, tz: tzinfo
) -> None:
    """Write a learner's one-page report as PDF.

    Raises
    ------
    LarvasightError
        If it cannot be written.
    """
    from larvasight.paper.report import LearnerReport, save_report  # Qt only when it is wanted

    told = told_of(store, learner.id, now=now, tz=tz)
    report = LearnerReport(
        name=learner.name,
        made_on=told.today,
        limits=store.limits(learner.id),
        progress=told.progress,
        line=told.line,
        program_version=__version__,
        stages=told.stages,
    )
    save_report(path, report)


COLUMNS = (
    *("learner", "day", "cells_shown", "picks", "right_picks", "right_share_lo", "right_share_hi"),
    *("too_old", "eggs", "no_larva", "right_ones", "right_ones_left", "pace_ms"),
    *("d_prime", "d_prime_sd", "criterion"),
)


def teacher_table(store: "Store", tz: tzinfo) -> str:
    """Return all learners day by day as CSV text, with d' and criterion of all their answers.

    d' with its standard deviation and criterion rest on all days together and stand on each
    learner's last line, "all".
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for learner in store.learners():
        table = store.answers(learner.id)
        told = summarise(table, tz)
        found = detection_of(table)
        name = cell_text(learner.name)
        for day in told.days:
            writer.writerow([name, day.day.isoformat(), *_figures(day.score), *_detection(None)])
        writer.writerow([name, "all", *_figures(told.score), *_detection(found)])
    return text.getvalue()


def save_teacher_table(store: "Store", path: Path, tz: tzinfo) -> None:
    """Write the teacher's table; OutputFolderError if it cannot be written.

    The mark at its beginning tells spreadsheets that names are in UTF-8.
    """
    write_whole(path, teacher_table(store, tz).encode("utf-8-sig"))


def _folded(name: str) -> str:
    """Return a name as the records compare it: no two learners share one."""
    tidy = unicodedata.normalize("NFKC", " ".join(name.split()))
    return unicodedata.normalize("NFKC", tidy.casefold())


def _figures(score: Score) -> list[object]:
    right = ["", ""] if score.right is None else [f"{score.right.lo:.3f}", f"{score.right.hi:.3f}"]
    pace = "" if math.isnan(score.pace_ms) else round(score.pace_ms)
    return [
        *(score.n_answers, score.n_picks, score.n_right, *right),
        *(score.n_too_old, score.n_egg, score.n_no_larva, score.n_good, score.n_missed, pace),
    ]


def _detection(found: Detection | None) -> list[str]:
    if found is None:
        return ["", "", ""]
    values = (found.d_prime, found.d_prime_sd, found.criterion)
    return [f"{round(value, 3) + 0.0:.3f}" for value in values]  # never "-0.000"
