"""A small painted lesson, and result files of invented students."""

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

from larvasight.desk.lesson import Lesson, Task, asked_of, encoded
from larvasight.desk.practising import prepare_comb
from larvasight.desk.result_file import AnsweredTask, Result, result_bytes
from larvasight.grading import Limits
from larvasight.practice import PICK_FROM_PATCH, TAKE_OR_LEAVE, Answer
from larvasight.practice.scoring import Outcome, outcome_of

MADE = datetime(2026, 5, 4, 18, 0, tzinfo=UTC)
BEGIN = datetime(2026, 5, 5, 19, 0, tzinfo=UTC)
LIMITS = Limits(young_h=8.0, best_young_h=12.0, best_old_h=22.0, old_h=28.0, by="Ilse")


WEEK_ONE = UUID("7d0a4f06-4b5e-4cf0-9a6f-0f5a4f2d9c11")


def small_lesson(lesson_id=WEEK_ONE):
    """Return a lesson of two painted combs: one to pick from, one asked cell by cell."""
    return Lesson(
        id=lesson_id,
        title="Week one",
        made_by="Ilse",
        note="Take your time.\nLeave what you cannot tell.",
        made_at_utc=MADE,
        limits=LIMITS,
        tasks=tuple(
            _task(drill, seed) for seed, drill in enumerate((PICK_FROM_PATCH, TAKE_OR_LEAVE), 3)
        ),
    )


def _task(drill, seed):
    comb = prepare_comb(drill, seed, size_px=(420, 320), limits=LIMITS)
    return Task(
        drill=drill,
        seed=seed,
        picture=encoded(comb.pixels),
        sheet=comb.sheet,
        places=comb.places,
    )


def right_answers(task):
    """Return for each cell asked what is right to answer."""
    taken = (outcome_of(cell, Answer.TAKE, LIMITS) for cell in asked_of(task))
    return [Answer.TAKE if one is Outcome.RIGHT else Answer.LEAVE for one in taken]


def answered(lesson, at, answers=None, round_id=None):
    """Return a comb of a lesson answered, all right or as told."""
    given = right_answers(lesson.tasks[at]) if answers is None else answers
    return AnsweredTask(
        round_id=uuid4() if round_id is None else round_id,
        task=at,
        shown_at_utc=BEGIN + timedelta(minutes=at),
        ended_at_utc=BEGIN + timedelta(minutes=at, seconds=40),
        answers=tuple((answer, 1500 + k) for k, answer in enumerate(given)),
    )


def result(lesson, name, tasks=(0, 1), learner_id=None, rounds=None):
    """Return what a student of this name did of a lesson."""
    return Result(
        lesson_id=lesson.id,
        learner_id=uuid4() if learner_id is None else learner_id,
        learner_name=name,
        made_at_utc=BEGIN + timedelta(hours=1),
        rounds=tuple(answered(lesson, at) for at in tasks) if rounds is None else rounds,
    )


def write_result(folder, made, name=None):
    """Write a result file; return its path."""
    path = folder / f"{name or made.learner_name}.lvresult"
    path.write_bytes(result_bytes(made))
    return path
