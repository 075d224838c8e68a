"""How learners come along: for the window, for a page of paper, for the teacher's table."""

import csv
import io
import math
from datetime import datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import UUID

from larvasight import __version__
from larvasight.errors import LarvasightError
from larvasight.practice.progress import Progress, summarise
from larvasight.practice.scoring import Score, detection_of
from larvasight.sheet import write_whole

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import Learner


class LearnerUnknownError(LarvasightError):
    """No learner has this name."""


def local_zone() -> tzinfo:
    """Return this computer's time zone, with its summer times."""
    from tzlocal import get_localzone

    return get_localzone()


def progress_of(store: "Store", learner_id: UUID, tz: tzinfo) -> Progress:
    """Return how one learner comes along; scores are computed here, never stored."""
    return summarise(store.answers(learner_id), tz)


def find_learner(store: "Store", name: str) -> "Learner":
    """Return the learner of this name, ignoring case.

    Raises
    ------
    LearnerUnknownError
        If there is none.
    """
    learners = store.learners()
    for learner in learners:
        if learner.name.casefold() == name.strip().casefold():
            return learner
    known = ", ".join(learner.name for learner in learners) or "nobody yet"
    msg = f"No learner is called {name}; the records know {known}."
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

    report = LearnerReport(
        name=learner.name,
        made_on=now.astimezone(tz).date(),
        limits=store.limits(learner.id),
        progress=progress_of(store, learner.id, tz),
        program_version=__version__,
    )
    save_report(path, report)


COLUMNS = (
    *("learner", "day", "cells_shown", "picks", "right_picks", "right_share_lo", "right_share_hi"),
    *("too_old", "eggs", "no_larva", "right_ones", "right_ones_left", "pace_ms"),
    *("d_prime", "criterion"),
)


def teacher_table(store: "Store", tz: tzinfo) -> str:
    """Return all learners day by day as CSV text, with d' and criterion of all their answers.

    d' and criterion rest on all days together and stand on each learner's last line, "all".
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
            writer.writerow([name, day.day.isoformat(), *_figures(day.score), "", ""])
        d = ["", ""] if found is None else [f"{found.d_prime:.3f}", f"{found.criterion:.3f}"]
        writer.writerow([name, "all", *_figures(told.score), *d])
    return text.getvalue()


def save_teacher_table(store: "Store", path: Path, tz: tzinfo) -> None:
    """Write the teacher's table; OutputFolderError if it cannot be written."""
    write_whole(path, teacher_table(store, tz).encode())


def cell_text(text: str) -> str:
    """Return text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def _figures(score: Score) -> list[object]:
    right = ["", ""] if score.right is None else [f"{score.right.lo:.3f}", f"{score.right.hi:.3f}"]
    pace = "" if math.isnan(score.pace_ms) else round(score.pace_ms)
    return [
        *(score.n_answers, score.n_picks, score.n_right, *right),
        *(score.n_too_old, score.n_egg, score.n_no_larva, score.n_good, score.n_missed, pace),
    ]
