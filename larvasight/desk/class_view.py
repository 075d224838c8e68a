"""The class: a line for each learner, as a table and as a page of paper."""

import csv
import io
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from larvasight import __version__
from larvasight.desk.files import cell_text
from larvasight.grading import Limits
from larvasight.practice.class_line import (
    STATE_WORDS,
    ClassLine,
    State,
    class_lines,
    topic_sentence,
)
from larvasight.sheet import write_whole
from larvasight.stats import Estimate

if TYPE_CHECKING:
    from larvasight.records.store import Store

COLUMNS = (
    *("learner", "state", "cells_judged", "young_h", "young_lo_h", "young_hi_h"),
    *("old_h", "old_lo_h", "old_hi_h", "old_limit_h", "picks", "right_picks"),
    *("right_share_lo", "right_share_hi", "too_old_per_100", "moved_h", "moved_lo_h", "moved_hi_h"),
    *("last_day", "next_day"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassTold:
    """What is told of a class on a day; ``limits`` are the class's."""

    lines: tuple[ClassLine, ...]
    topic: str
    today: date
    limits: Limits


def class_of(store: "Store", *, now: datetime, tz: tzinfo) -> ClassTold:
    """Return a line for every learner in the records.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    today = now.astimezone(tz).date()
    learners = [(learner.name, table, limits) for learner, table, limits in store.class_answers()]
    lines = class_lines(learners, tz, today)
    return ClassTold(lines=lines, topic=topic_sentence(lines), today=today, limits=store.limits())


def class_table(told: ClassTold) -> str:
    """Return the class as CSV text; what is not to be told is left empty."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for line in told.lines:
        writer.writerow([cell_text(line.name), STATE_WORDS[line.state], *_values(line)])
    return text.getvalue()


def save_class_table(told: ClassTold, path: Path) -> None:
    """Write the class as CSV; OutputFolderError if it cannot be written."""
    write_whole(path, class_table(told).encode("utf-8-sig"))


def save_class_report(told: ClassTold, path: Path) -> None:
    """Write the class as a PDF; OutputFolderError if it cannot be written."""
    from larvasight.paper.class_report import class_pdf  # Qt only when it is wanted

    pdf = class_pdf(
        told.lines,
        told.topic,
        limits=told.limits,
        made_on=told.today,
        program_version=__version__,
    )
    write_whole(path, pdf)


def _values(line: ClassLine) -> list[object]:
    if line.state is State.NEW:
        return [line.n_cells, *[""] * (len(COLUMNS) - 3)]
    score, right = line.score, line.score.right
    share = ["", ""] if right is None else [f"{right.lo:.3f}", f"{right.hi:.3f}"]
    too_old = "" if line.too_old_per_100 is None else f"{line.too_old_per_100:.1f}"
    return [
        *(line.n_cells, *_estimate(line.young), *_estimate(line.old), f"{line.old_limit_h:g}"),
        *(score.n_picks, score.n_right, *share, too_old, *_estimate(line.moved)),
        *("" if day is None else day.isoformat() for day in (line.last_day, line.next_day)),
    ]


def _estimate(found: Estimate | None) -> list[str]:
    if found is None:
        return ["", "", ""]
    return [f"{value:.1f}" for value in (found.value, found.lo, found.hi)]
