"""Homework: a lesson taken in and worked on, its result sent back, results of many brought in."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final
from uuid import UUID, uuid5

from larvasight.desk.broken_off import as_it_was
from larvasight.desk.homework_zip import read_file
from larvasight.desk.lesson import Lesson, Task, asked_of, comb_of
from larvasight.desk.lesson_file import read_lesson
from larvasight.desk.practising import PreparedComb
from larvasight.desk.recipes import LESSON_MARK, TASK_MARK
from larvasight.desk.result_file import AnsweredTask, Result, read_result, result_bytes
from larvasight.desk.todays import MEASURED_LEAST
from larvasight.errors import HomeworkInvalidError, LarvasightError
from larvasight.practice import Given, ShownCell
from larvasight.practice.drills import FIND_YOUR_EDGES
from larvasight.sheet import write_whole

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import KeptRound, Learner, RoundBroughtIn, UnfinishedRound

# A clock may be set wrong by so much.
_AHEAD_MOST: Final = timedelta(days=2)
# A lesson that is done is offered so long for its result to be saved.
_TOLD_FOR: Final = timedelta(days=14)
_FILE_SIGNS = frozenset(" -_.,()&+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How far a learner is with a lesson; ``next_task`` is None once all of it is done.

    ``has_open`` says that one of its combs was broken off.
    """

    lesson_id: UUID
    title: str
    made_by: str
    note: str
    n_tasks: int
    n_done: int
    next_task: int | None
    latest_at_utc: datetime | None
    has_open: bool = False

    @property
    def is_done(self) -> bool:
        """Whether every comb was answered."""
        return self.next_task is None


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtIn:
    """What became of one result file; ``sentence`` says it, ``is_refused`` that it could not be.

    ``name`` is the learner's as it stands here, ``n_new`` how many combs were not here before.
    """

    file: str
    sentence: str
    is_refused: bool
    lesson_id: UUID | None = None
    name: str = ""
    n_new: int = 0


def open_lesson(store: "Store", path: Path, *, now: datetime) -> Lesson:
    """Take a lesson file in as homework; opening it again changes nothing.

    Raises
    ------
    HomeworkInvalidError
        If it is no lesson, is damaged, of a newer version, or not the one known by its id.
    LarvasightError
        If it cannot be stored.
    """
    data = read_file(path)
    lesson = read_lesson(data, path.name)
    kept = store.lesson_file(lesson.id)
    if kept is not None and kept != data:
        msg = f"{path.name} is not the lesson that is here under its name, so nothing was changed."
        raise HomeworkInvalidError(msg)
    store.put_lesson(lesson.id, title=lesson.title, file=data, is_homework=True, now=now)
    return lesson


def kept_lesson(store: "Store", lesson_id: UUID) -> Lesson | None:
    """Return a lesson that the records hold, None where there is none of this id."""
    data = store.lesson_file(lesson_id)
    return None if data is None else read_lesson(data, "This lesson", is_known=True)


def lesson_again(unfinished: "UnfinishedRound", store: "Store") -> PreparedComb | None:
    """Return the comb of a lesson that was broken off; None where it is not here any more."""
    told = unfinished.recipe.get(LESSON_MARK)
    lesson = kept_lesson(store, UUID(told)) if isinstance(told, str) else None
    at = None if lesson is None else _task_in(unfinished, lesson)
    return None if lesson is None or at is None else as_it_was(comb_of(lesson, at), unfinished)


def open_comb(store: "Store", learner_id: UUID, lesson_id: UUID) -> "UnfinishedRound | None":
    """Return the comb of a lesson that a learner broke off; None where none is open."""
    from larvasight.records.types import UnfinishedRound

    for one in reversed(store.kept_rounds(learner_id, [], mark=str(lesson_id))):
        is_of = one.recipe.get(LESSON_MARK) == str(lesson_id)
        givens = tuple(given for given in one.givens if given is not None)
        if is_of and one.ended_at_utc is None and givens:
            return UnfinishedRound(
                id=one.id,
                learner_id=learner_id,
                drill=one.drill,
                cells=one.cells,
                givens=givens,
                limits=one.limits,
                recipe=one.recipe,
                kind="lesson",
                shown_at_utc=one.shown_at_utc,
                model_version=None,
            )
    return None


def standing(store: "Store", learner_id: UUID, lesson: Lesson) -> Standing:
    """Return how far a learner is with a lesson."""
    done = done_combs(store, learner_id, lesson)
    left = [at for at in range(len(lesson.tasks)) if at not in done]
    ends = [one.ended_at_utc for one in done.values() if one.ended_at_utc is not None]
    return Standing(
        lesson_id=lesson.id,
        title=lesson.title,
        made_by=lesson.made_by,
        note=lesson.note,
        n_tasks=len(lesson.tasks),
        n_done=len(done),
        next_task=left[0] if left else None,
        latest_at_utc=max(ends, default=None),
        has_open=bool(left) and open_comb(store, learner_id, lesson.id) is not None,
    )


def homework(store: "Store", learner_id: UUID, *, now: datetime) -> list[Standing]:
    """Return the lessons that a learner has to do, and those done lately, the oldest first."""
    found = []
    for kept in reversed(store.lessons()):
        try:
            lesson = kept_lesson(store, kept.id) if kept.is_homework else None
        except HomeworkInvalidError:  # made by another version: the others are offered
            lesson = None
        if lesson is None:
            continue
        stands = standing(store, learner_id, lesson)
        if (
            stands.latest_at_utc is None
            or now - stands.latest_at_utc < _TOLD_FOR
            or not stands.is_done
        ):
            found.append(stands)
    return found


def result_of(store: "Store", learner: "Learner", lesson: Lesson, *, now: datetime) -> Result:
    """Return what a learner answered of a lesson so far.

    Raises
    ------
    HomeworkInvalidError
        If nothing of it is done yet.
    """
    done = done_combs(store, learner.id, lesson)
    if not done:
        msg = "No comb of this lesson is done yet, so there is no result to save."
        raise HomeworkInvalidError(msg)
    return Result(
        lesson_id=lesson.id,
        learner_id=learner.id,
        learner_name=learner.name,
        made_at_utc=now,
        rounds=tuple(_answered(at, one) for at, one in sorted(done.items())),
    )


def save_result(
    store: "Store", learner: "Learner", lesson: Lesson, path: Path, *, now: datetime
) -> None:
    """Write a learner's result file; OutputFolderError if it cannot be written."""
    write_whole(path, result_bytes(result_of(store, learner, lesson, now=now)))


def file_name(*words: str, ending: str) -> str:
    """Return a file name of these words, without signs that a system may refuse."""
    kept = ("".join(c if c.isalnum() or c in _FILE_SIGNS else " " for c in word) for word in words)
    name = " - ".join(" ".join(word.split())[:60] for word in kept)
    return f"{name.strip(' .-') or 'larvasight'}{ending}"


def bring_in_results(store: "Store", paths: Sequence[Path], *, now: datetime) -> list[BroughtIn]:
    """Bring result files in, one after the other; a bad one never stops the rest.

    Each is stored whole or not at all. One that was brought in before changes nothing, and a
    later result of the same learner adds what is new in it.
    """
    lessons: dict[UUID, Lesson | None] = {}
    return [_bring_in(store, path, lessons, now) for path in paths]


def done_combs(store: "Store", learner_id: UUID, lesson: Lesson) -> dict[int, "KeptRound"]:
    """Return the first round of each comb of a lesson that a learner brought to its end."""
    done: dict[int, KeptRound] = {}
    for one in store.kept_rounds(learner_id, [], mark=str(lesson.id)):
        at = _task_in(one, lesson)
        if at is None or at in done or one.ended_at_utc is None:
            continue
        if _is_whole(lesson.tasks[at], one.answers):
            done[at] = one
    return done


def _is_whole(task: Task, answers: Sequence[object | None]) -> bool:
    """Return whether a comb was answered to its end: one given up is to be done again.

    A drill that chooses its cells ends when it knows enough, and not all of them are asked.
    """
    n_asked = len(task.places)
    n_least = min(MEASURED_LEAST, n_asked) if task.drill == FIND_YOUR_EDGES else n_asked
    n_answered = sum(answer is not None for answer in answers)
    return len(answers) == n_asked and n_answered >= n_least


def _task_in(kept: "KeptRound | UnfinishedRound", lesson: Lesson) -> int | None:
    """Return which comb of a lesson a round was about, None where it was about none."""
    at = kept.recipe.get(TASK_MARK)
    if kept.recipe.get(LESSON_MARK) != str(lesson.id) or not isinstance(at, int):
        return None
    return at if 0 <= at < len(lesson.tasks) else None


def _answered(at: int, kept: "KeptRound") -> AnsweredTask:
    return AnsweredTask(
        round_id=kept.id,
        task=at,
        shown_at_utc=kept.shown_at_utc,
        ended_at_utc=kept.ended_at_utc or kept.shown_at_utc,
        answers=tuple(
            None
            if given is None or given.answer is None or not given.is_final
            else (given.answer, given.response_ms)
            for given in kept.givens
        ),
    )


def _bring_in(
    store: "Store", path: Path, lessons: dict[UUID, Lesson | None], now: datetime
) -> BroughtIn:
    lesson_id = None
    try:
        result = read_result(read_file(path), path.name)
        lesson_id = result.lesson_id
        if lesson_id not in lessons:
            lessons[lesson_id] = kept_lesson(store, lesson_id)
        lesson = lessons[lesson_id]
        if lesson is None:
            msg = (
                f"{path.name} is of a lesson that is not on this computer, so nothing was "
                "changed; open its lesson file here first."
            )
            raise HomeworkInvalidError(msg)
        rounds = _rounds(result, lesson, path.name, now)
        n_new = store.bring_in(result.learner_id, result.learner_name, rounds, now=now)
    except LarvasightError as error:
        said = str(error) if path.name in str(error) else f"{path.name}: {error}"
        return BroughtIn(file=path.name, sentence=said, is_refused=True, lesson_id=lesson_id)
    name = next(
        (one.name for one in store.learners() if one.id == result.learner_id), result.learner_name
    )
    return BroughtIn(
        file=path.name,
        sentence=_words(name, lesson, n_new, len(rounds)),
        is_refused=False,
        lesson_id=lesson_id,
        name=name,
        n_new=n_new,
    )


def brought_words(brought: Sequence[BroughtIn]) -> list[str]:
    """Return what became of many files, those refused each with its reason, in few lines."""
    refused = [one.sentence for one in brought if one.is_refused]
    new = [one.name for one in brought if not one.is_refused and one.n_new]
    again = [one.name for one in brought if not one.is_refused and not one.n_new]
    files = "1 file" if len(brought) == 1 else f"{len(brought)} files"
    lines = [f"{files}: {len(new)} brought in, {len(again)} here already, "]
    lines[0] += f"{len(refused)} refused."
    if new:
        lines.append(f"Brought in: {', '.join(new)}.")
    if again:
        lines.append(f"Here already: {', '.join(again)}.")
    return lines + refused


def _words(name: str, lesson: Lesson, n_new: int, n_rounds: int) -> str:
    n_tasks = len(lesson.tasks)
    if n_new == 0:
        return f"{name}: this was here already."
    part = f"{n_rounds} of {n_tasks} combs" if n_rounds < n_tasks else f"all {n_tasks} combs"
    added = "" if n_new == n_rounds else f", {n_new} of them new"
    return f"{name}: {part} of {lesson.title}{added}."


def _rounds(
    result: Result, lesson: Lesson, name: str, now: datetime
) -> "tuple[RoundBroughtIn, ...]":
    """Return a result's rounds with what the lesson says of their cells."""
    from larvasight.records.types import RoundBroughtIn, ShownRound

    brought = []
    for one in result.rounds:
        if one.task >= len(lesson.tasks):
            msg = f"{name} does not fit the lesson it names, so nothing was changed."
            raise HomeworkInvalidError(msg)
        task = lesson.tasks[one.task]
        if len(one.answers) != len(task.places) or one.ended_at_utc > now + _AHEAD_MOST:
            msg = f"{name} does not fit the lesson it names, so nothing was changed."
            raise HomeworkInvalidError(msg)
        if not _is_whole(task, one.answers):
            continue  # given up: the others count
        cells = tuple(
            replace(cell, id=uuid5(one.round_id, f"{position}"))
            for position, cell in enumerate(asked_of(task))
        )
        shown = ShownRound(
            id=one.round_id,
            learner_id=result.learner_id,
            drill=task.drill,
            cells=cells,
            limits=lesson.limits,
            recipe={LESSON_MARK: str(lesson.id), TASK_MARK: one.task, "seed": task.seed},
            kind="lesson",
            shown_at_utc=one.shown_at_utc,
        )
        brought.append(
            RoundBroughtIn(shown=shown, givens=_givens(cells, one), ended_at_utc=one.ended_at_utc)
        )
    if not brought:
        msg = f"{name} holds no comb that was done to its end, so nothing was changed."
        raise HomeworkInvalidError(msg)
    return tuple(brought)


def _givens(cells: Sequence[ShownCell], one: AnsweredTask) -> tuple[Given, ...]:
    return tuple(
        Given(cell_id=cell.id, answer=given[0], response_ms=given[1], is_final=True)
        for cell, given in zip(cells, one.answers, strict=True)
        if given is not None
    )
