"""The store: who practises, what was shown, what was answered."""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from threading import Lock
from types import TracebackType
from typing import Self
from uuid import UUID

from sqlalchemy import Connection, Engine

from larvasight.errors import require_between
from larvasight.grading import Limits
from larvasight.grafts import Batch
from larvasight.practice import AnswerTable, Given
from larvasight.records import (
    answers,
    batches,
    kept_rounds,
    learners,
    plans,
    rounds,
    settings,
)
from larvasight.records.clock import utc_ms
from larvasight.records.copies import copy_database
from larvasight.records.engine import driver_of, make_engine, writing
from larvasight.records.failures import plain_errors
from larvasight.records.lesson_store import LessonStore
from larvasight.records.opening import make_ready
from larvasight.records.photo_store import PhotoStore
from larvasight.records.types import (
    CLASS,
    AnswerCount,
    HandMark,
    KeptRound,
    Learner,
    NamedAnswer,
    Photo,
    Plan,
    PrintedKey,
    ShownRound,
    UnfinishedRound,
)

__all__ = [
    "CLASS",
    "HandMark",
    "Learner",
    "Photo",
    "Plan",
    "ShownRound",
    "Store",
    "UnfinishedRound",
]


class Store(PhotoStore, LessonStore):
    """Records in one file. Every method may be called from any thread.

    A method that stores returns once all it stores is on the disk; when it raises, nothing
    of it is stored. All raise ``StoreBusyError``, ``StoreFullError``, ``StoreReadOnlyError``
    or ``StoreDamagedError`` for what a person can act on. Points in time are aware.

    Use ``Store.open``; close the store when no other thread uses it any more.
    """

    def __init__(self, path: Path, engine: Engine) -> None:
        self.path = path
        self._engine = engine
        self._turn = Lock()
        self._is_open = True

    @classmethod
    def open(cls, path: Path, *, now: datetime, wait_ms: int = 2000) -> Self:
        """Open a records file, after making it or bringing it to this version's form.

        Parameters
        ----------
        path : Path
            Records file; its folder is made if it is not there.
        now : datetime
            Dates the copy made before an older form is changed.
        wait_ms : int
            How long each step waits while another program holds the records locked.

        Raises
        ------
        StoreDamagedError, StoreTooNewError
            If the file is none that this version can open; it is left as it is.
        """
        utc_ms("now", now)
        require_between("wait_ms", wait_ms, 0, 600_000)
        with plain_errors(path):
            make_ready(path, now=now, wait_ms=wait_ms)
            return cls(path, make_engine(path, wait_ms=wait_ms))

    def close(self) -> None:
        """Close the file; closing twice does nothing."""
        with self._turn, plain_errors(self.path):
            self._is_open = False
            self._engine.dispose()

    def __enter__(self) -> Self:
        """Return the store, to be closed at the end of the block."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the file."""
        self.close()

    def learners(self) -> list[Learner]:
        """Return all learners by name."""
        with self._reading() as connection:
            return learners.all_learners(connection)

    def add_learner(self, name: str, *, now: datetime) -> Learner:
        """Add a learner.

        Raises
        ------
        NameInvalidError
            If no name of 1 to 60 characters is left without outer spaces.
        NameTakenError
            If there is a learner of that name, upper and lower case being the same.
        """
        with self._writing() as connection:
            return learners.add(connection, name, now)

    def rename_learner(self, learner_id: UUID, name: str) -> None:
        """Give a learner another name; the rules are those of ``add_learner``."""
        with self._writing() as connection:
            learners.rename(connection, learner_id, name)

    def delete_learner(self, learner_id: UUID) -> None:
        """Remove a learner with all rounds, answers and settings.

        Batches of grafts stay, under the name that was typed: they are the apiary's.
        """
        with self._writing() as connection:
            learners.remove(connection, learner_id)

    def limits(self, learner_id: UUID | None = None) -> Limits:
        """Return a learner's own limits, else the class's, else the usual ones."""
        with self._reading() as connection:
            return settings.limits_of(connection, CLASS if learner_id is None else learner_id)

    def set_limits(self, limits: Limits | None, learner_id: UUID | None = None) -> None:
        """Set the limits of a learner, or of the class where none is named.

        None takes own limits away again.
        """
        with self._writing() as connection:
            settings.put_limits(connection, limits, CLASS if learner_id is None else learner_id)

    def printed_key(self, number: int) -> PrintedKey | None:
        """Return what a sheet on paper is scored by, None of one not printed with these records."""
        with self._reading() as connection:
            return settings.printed_key(connection, number)

    def put_printed_key(self, number: int, key: PrintedKey) -> None:
        """Store what a sheet on paper is scored by, in the place of what was said before."""
        with self._writing() as connection:
            settings.put_printed_key(connection, number, key)

    def show_round(self, shown: ShownRound) -> None:
        """Store a round and all its cells, still without answers.

        The window hands a round to the thread that writes while it shows it. Its answers wait
        in line behind it: none is shown as given before both are stored. The same round stored
        again, as after a doubtful try, changes nothing.

        Raises
        ------
        ValueError
            If the learner is unknown, or another round or cell has one of these ids.
        """
        with self._writing() as connection:
            rounds.show(connection, shown)

    def keep(self, givens: Sequence[Given], *, now: datetime) -> None:
        """Store answers, all or none.

        Raises
        ------
        ValueError
            If a cell was never shown, or a final answer would change.
        """
        with self._writing() as connection:
            rounds.keep(connection, givens, now)

    def end_round(self, round_id: UUID, givens: Sequence[Given], *, now: datetime) -> None:
        """Store the last answers of a round together with its end.

        A round given up is ended without answers; ending it twice does nothing.
        """
        with self._writing() as connection:
            rounds.end(connection, round_id, givens, now)

    def put_round(self, shown: ShownRound, givens: Sequence[Given], *, now: datetime) -> None:
        """Store a round with its answers and its end at once, as it was answered on paper.

        Raises
        ------
        ValueError
            As of ``show_round`` and ``keep``.
        """
        with self._writing() as connection:
            rounds.show(connection, shown)
            rounds.end(connection, shown.id, givens, now)

    def unfinished_round(self, learner_id: UUID) -> UnfinishedRound | None:
        """Return the latest round of a learner that was shown and not ended."""
        with self._reading() as connection:
            return rounds.unfinished(connection, learner_id)

    def answers(self, learner_id: UUID) -> AnswerTable:
        """Return a learner's final answers, oldest first; an unknown learner has none."""
        with self._reading() as connection:
            return answers.read_answers(connection, learner_id)

    def class_answers(self) -> list[tuple[Learner, AnswerTable, Limits]]:
        """Return every learner by name with their final answers and the limits in force.

        All is read at one moment and far sooner than one learner after the other.
        """
        with self._reading() as connection:
            everyone = learners.all_learners(connection)
            ids = [learner.id for learner in everyone]
            tables = answers.read_many(connection, ids)
            limits = settings.limits_of_all(connection, ids)
        return list(zip(everyone, tables, limits, strict=True))

    def kept_rounds(
        self,
        learner_id: UUID,
        drills: Iterable[str],
        *,
        mark: str | None = None,
        n_latest: int | None = None,
        n_cells: int | None = None,
    ) -> list[KeptRound]:
        """Return a learner's rounds of some drills, by key, oldest first.

        With ``mark`` also those of any drill whose recipe has that key; with ``n_latest`` only
        the latest of them; with ``n_cells`` of these only the newest that hold so many cells.
        """
        with self._reading() as connection:
            return kept_rounds.read_rounds(
                connection, learner_id, drills, mark=mark, n_latest=n_latest, n_cells=n_cells
            )

    def named_answers(
        self,
        learner_id: UUID,
        drill: str,
        *,
        before: datetime | None = None,
        n_latest: int | None = None,
    ) -> list[NamedAnswer]:
        """Return a learner's final answers in one drill, by key, oldest first.

        With ``before`` only those of an earlier moment; with ``n_latest`` only the latest of them.
        """
        with self._reading() as connection:
            return kept_rounds.named_answers(
                connection, learner_id, drill, before=before, n_latest=n_latest
            )

    def count_answers(self, learner_id: UUID, *, since: datetime) -> list[AnswerCount]:
        """Return how many final answers of each kind a learner gave in each drill."""
        with self._reading() as connection:
            return kept_rounds.count_answers(connection, learner_id, since)

    def answer_times(self, learner_id: UUID, drill: str, *, since: datetime) -> list[datetime]:
        """Return when a learner gave final answers in one drill, oldest first."""
        with self._reading() as connection:
            return kept_rounds.answer_times(connection, learner_id, drill, since)

    def plans(self, *, with_removed: bool = False) -> list[Plan]:
        """Return all plans for combs, the newest first; those removed only when asked for."""
        with self._reading() as connection:
            return plans.every(connection, with_removed=with_removed)

    def put_plan(self, plan_id: UUID, *, name: str, spec: str, now: datetime) -> None:
        """Store a plan, new or in the place of what it said before; one removed comes back.

        Raises
        ------
        NameInvalidError
            If no name of 1 to 120 characters is left without outer spaces.
        ValueError
            If ``spec`` is no JSON text.
        """
        with self._writing() as connection:
            plans.put(connection, plan_id, name, spec, now)

    def remove_plan(self, plan_id: UUID, *, now: datetime) -> None:
        """Take a plan out of the list; batches of grafts that name it keep it."""
        with self._writing() as connection:
            plans.remove(connection, plan_id, now)

    def batches(self) -> list[Batch]:
        """Return all batches of grafts with their cups, the newest first."""
        with self._reading() as connection:
            return batches.every(connection)

    def put_batches(self, changed: Iterable[Batch], *, now: datetime) -> None:
        """Store batches of grafts with all their cups, all or none.

        One that is there already is replaced whole.

        Raises
        ------
        ValueError
            If a batch names a learner or a plan that is not known.
        """
        with self._writing() as connection:
            batches.put(connection, changed, now)

    def remove_batch(self, batch_id: UUID) -> None:
        """Remove a batch of grafts with all its cups."""
        with self._writing() as connection:
            batches.remove(connection, batch_id)

    def copy_to(self, target: Path, *, called: Path | None = None) -> None:
        """Copy all records into another file, whole and checked or not at all.

        Parameters
        ----------
        target : Path
            File to make; one of that name is replaced.
        called : Path or None
            File to name to the person when it fails, if not ``target``.

        Raises
        ------
        StoreDamagedError
            If the copy shows that the records are damaged.
        """
        with self._reading() as connection, plain_errors(called or target):
            copy_database(driver_of(connection), target)

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        self._require_open()
        with plain_errors(self.path), self._engine.begin() as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        # One thread after the other: waiting for one's turn here is quicker and fairer than
        # being refused by the file's lock and trying again.
        with self._turn:
            self._require_open()
            with plain_errors(self.path), writing(self._engine) as connection:
                yield connection

    def _require_open(self) -> None:
        if not self._is_open:
            msg = "store must be open, but it was closed"
            raise ValueError(msg)
