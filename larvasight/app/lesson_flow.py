"""Leading a learner through the combs of a lesson, one after the other."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from uuid import UUID

from larvasight.app.comb_supply import ReadyComb, ready_comb
from larvasight.app.context import Context
from larvasight.app.jobs import Job
from larvasight.desk.homework import Standing, kept_lesson, standing
from larvasight.desk.keeping import Keeper
from larvasight.desk.lesson import comb_of
from larvasight.errors import HomeworkInvalidError, LarvasightError, StoreBusyError
from larvasight.grading import Limits
from larvasight.records.store import Store

# How long to wait for answers that are just being stored.
_FLUSH_S = 20.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LessonComb:
    """The next comb of a lesson, None once all are done; ``limits`` are the lesson's own."""

    standing: Standing
    ready: ReadyComb | None
    limits: Limits

    @property
    def words(self) -> str:
        """Which comb of the lesson it is."""
        at = (self.standing.next_task or 0) + 1
        return f"{self.standing.title}, comb {at} of {self.standing.n_tasks}."


class LessonFlow:
    """Knows which lesson is worked on, and fetches its combs.

    Parameters
    ----------
    context : Context
        The records, and who is practising.
    show : callable
        Gets the next comb of the lesson.
    fail : callable
        Gets the error when there is none to be had.
    """

    def __init__(
        self,
        context: Context,
        show: Callable[[LessonComb], None],
        fail: Callable[[LarvasightError], None],
    ) -> None:
        self._context, self._show, self._fail = context, show, fail
        self._lesson_id: UUID | None = None
        self._job: Job | None = None

    @property
    def is_on(self) -> bool:
        """Whether a lesson is worked on."""
        return self._lesson_id is not None

    @property
    def lesson_id(self) -> UUID | None:
        """The lesson that is worked on."""
        return self._lesson_id

    def join(self, lesson_id: UUID) -> None:
        """Work on a lesson, one comb of which lies before the learner."""
        self.leave()
        self._lesson_id = lesson_id

    def leave(self) -> None:
        """Work on no lesson any more."""
        if self._job is not None:
            self._job.forget()
        self._lesson_id = self._job = None

    def fetch_next(self) -> None:
        """Fetch the comb that is to be done next; it is handed to ``show``."""
        learner, lesson_id = self._context.learner, self._lesson_id
        if learner is None or lesson_id is None or self._job is not None:
            return
        context = self._context
        work = partial(_next, context.store, context.keeper, learner.id, lesson_id)
        self._job = Job(work, self._arrived, self._failed).start()

    def _arrived(self, found: LessonComb) -> None:
        self._job = None
        self._show(found)

    def _failed(self, error: LarvasightError) -> None:
        self.leave()
        self._fail(error)


def _next(store: Store, keeper: Keeper, learner_id: UUID, lesson_id: UUID) -> LessonComb:
    if not keeper.flush(_FLUSH_S):  # else the comb just done would be asked again
        msg = "Your answers are not stored yet; go on with the lesson in a moment."
        raise StoreBusyError(msg)
    lesson = kept_lesson(store, lesson_id)
    if lesson is None:
        msg = "This lesson is not on this computer any more; open its file again."
        raise HomeworkInvalidError(msg)
    found = standing(store, learner_id, lesson)
    at = found.next_task
    ready = None if at is None else ready_comb(comb_of(lesson, at))
    return LessonComb(standing=found, ready=ready, limits=lesson.limits)
