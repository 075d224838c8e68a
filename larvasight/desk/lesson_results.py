"""What a lesson's students answered: a line for each, and the cells that most of them got wrong."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from larvasight.desk.cut_cell import cut_cell
from larvasight.desk.files import cell_text
from larvasight.desk.homework import done_combs
from larvasight.desk.lesson import Lesson, decoded
from larvasight.grading import age_words
from larvasight.practice import Answer, ShownCell
from larvasight.practice.scoring import Outcome, Score, outcome_of, score
from larvasight.sheet import Content, write_whole

if TYPE_CHECKING:
    from collections.abc import Iterable

    from larvasight.records.store import Store
    from larvasight.records.types import KeptRound

COLUMNS: Final = (
    *("name", "combs_done", "combs", "picks", "right_picks"),
    *("too_old_picks", "egg_picks", "no_larva_picks", "right_ages_left", "right_ages"),
)
_WRONG = (Outcome.TOO_OLD, Outcome.EGG, Outcome.NO_LARVA, Outcome.MISSED)
# Fewer wrong answers to one cell than these are nothing to talk about.
_WRONG_LEAST = 2
_CONTENT_WORDS = {Content.EGG: "an egg", Content.LARVA: "a larva", Content.EMPTY: "an empty cell"}


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonLine:
    """One learner's part in a lesson."""

    name: str
    n_done: int
    score: Score


@dataclass(frozen=True, slots=True, kw_only=True)
class HardCell:
    """A cell that many got wrong: ``n_wrong`` of ``n`` students; ``task`` counts from 0."""

    task: int
    position: int
    n_wrong: int
    n: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonResults:
    """All that came back of a lesson; ``hard`` begins with the cell that most got wrong."""

    lesson: Lesson
    lines: tuple[LessonLine, ...]
    hard: tuple[HardCell, ...]


def lesson_results(store: "Store", lesson: Lesson) -> LessonResults:
    """Return a line for each learner who did a comb of a lesson, by name, and the hard cells."""
    done = {one: done_combs(store, one.id, lesson) for one in store.learners()}
    lines = tuple(
        LessonLine(name=learner.name, n_done=len(combs), score=_score(combs.values()))
        for learner, combs in done.items()
        if combs
    )
    return LessonResults(lesson=lesson, lines=lines, hard=_hard_cells(lesson, list(done.values())))


def results_table(results: LessonResults) -> str:
    """Return the lines as CSV, UTF-8; without a score there is no line."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for line in results.lines:
        told = line.score
        writer.writerow(
            [
                cell_text(line.name),
                *(line.n_done, len(results.lesson.tasks), told.n_picks, told.n_right),
                *(told.n_too_old, told.n_egg, told.n_no_larva, told.n_missed, told.n_good),
            ]
        )
    return stream.getvalue()


def save_results_table(results: LessonResults, path: Path) -> None:
    """Write the lines as CSV; OutputFolderError if it cannot be written."""
    write_whole(path, results_table(results).encode("utf-8-sig"))


def cell_picture(lesson: Lesson, hard: HardCell) -> NDArray[np.uint8]:
    """Return a square about a cell, (side, side, 3) RGB."""
    task = lesson.tasks[hard.task]
    cell = task.sheet.cells[task.places[hard.position]]
    pitch_px = cell.px_per_mm * task.sheet.scale.pitch_mm
    return cut_cell(decoded(task.picture), cell.centre_xy_px, pitch_px)


def _score(rounds: "Iterable[KeptRound]") -> Score:
    outcomes, times = [], []
    for one in rounds:
        for cell, given in zip(one.cells, one.givens, strict=True):
            if given is not None and given.is_final and given.answer is not None:
                outcomes.append(outcome_of(cell, given.answer, one.limits))
                times.append(np.nan if given.response_ms is None else float(given.response_ms))
    return score(np.array(outcomes, dtype=np.int8), np.array(times, dtype=np.float64))


def _hard_cells(lesson: Lesson, done: "list[dict[int, KeptRound]]") -> tuple[HardCell, ...]:
    found = []
    for at, task in enumerate(lesson.tasks):
        rounds = [combs[at] for combs in done if at in combs]
        for position in range(len(task.places)):
            hard = _hard_cell(lesson, rounds, at, position)
            if hard is not None:
                found.append(hard)
    return tuple(sorted(found, key=lambda hard: (-hard.n_wrong / hard.n, hard.task, hard.position)))


def _hard_cell(
    lesson: Lesson, rounds: "list[KeptRound]", at: int, position: int
) -> HardCell | None:
    given = [answer for one in rounds if (answer := one.answers[position]) is not None]
    if not given:
        return None
    cell = rounds[0].cells[position]
    n_wrong = sum(outcome_of(cell, answer, lesson.limits) in _WRONG for answer in given)
    if n_wrong < _WRONG_LEAST:
        return None
    what = _what(cell, lesson, at, position)
    did = "took" if outcome_of(cell, Answer.TAKE, lesson.limits) in _WRONG else "left"
    return HardCell(
        task=at,
        position=position,
        n_wrong=n_wrong,
        n=len(given),
        words=f"Comb {at + 1}: {n_wrong} of {len(given)} {did} {what}.",
    )


def _what(cell: ShownCell, lesson: Lesson, at: int, position: int) -> str:
    own = lesson.tasks[at].own
    if cell.content is Content.LARVA and cell.age_h is not None:
        age = own[position].words if own else age_words(cell.age_h, lesson.limits)
        return f"a larva of {age}"
    return _CONTENT_WORDS.get(cell.content, "a cell without a larva")
