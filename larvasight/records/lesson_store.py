"""What the store keeps of lessons and of results that come back."""

from collections.abc import Iterable
from contextlib import AbstractContextManager
from datetime import datetime
from uuid import UUID

from sqlalchemy import Connection

from larvasight.records import lessons
from larvasight.records.types import KeptLesson, RoundBroughtIn


class LessonStore:
    """The part of ``Store`` that is about lessons."""

    def _reading(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def _writing(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def put_lesson(
        self, lesson_id: UUID, *, title: str, file: bytes, is_homework: bool, now: datetime
    ) -> None:
        """Store a lesson with its pictures.

        One that is there stays as it was; it may become homework, and comes back if removed.
        """
        with self._writing() as connection:
            lessons.put(
                connection, lesson_id, title=title, file=file, is_homework=is_homework, now=now
            )

    def lessons(self, *, with_removed: bool = False) -> list[KeptLesson]:
        """Return all lessons, the newest first; those removed only when asked for."""
        with self._reading() as connection:
            return lessons.every(connection, with_removed=with_removed)

    def lesson_file(self, lesson_id: UUID) -> bytes | None:
        """Return a lesson as the file that goes out, None where there is no such lesson."""
        with self._reading() as connection:
            return lessons.file_of(connection, lesson_id)

    def remove_lesson(self, lesson_id: UUID, *, now: datetime) -> None:
        """Take a lesson out of the list; what was answered of it stays."""
        with self._writing() as connection:
            lessons.remove(connection, lesson_id, now)

    def bring_in(
        self, learner_id: UUID, name: str, brought: Iterable[RoundBroughtIn], *, now: datetime
    ) -> int:
        """Store rounds that a learner answered on another computer, all or none.

        Parameters
        ----------
        learner_id : UUID
            The learner, who is added when not known here.
        name : str
            The learner's name; a number is added where somebody else has it.
        brought : iterable of RoundBroughtIn
            The rounds; those that are here already change nothing.
        now : datetime
            When a learner is added.

        Returns
        -------
        int
            How many rounds were new.

        Raises
        ------
        NameInvalidError
            If no name of 1 to 60 characters is left without outer spaces.
        HomeworkInvalidError
            If a round of one of these ids is another learner's.
        """
        with self._writing() as connection:
            return lessons.bring_in(connection, learner_id, name, brought, now)
