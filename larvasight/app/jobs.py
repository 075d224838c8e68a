"""Work that lasts, done beside the window: one generic job."""

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, QRunnable, QThreadPool, Signal, Slot

from larvasight.errors import LarvasightError


class _Report(QObject):
    """Carries a job's end to the window's thread."""

    done = Signal(object)
    failed = Signal(object)


class Job(QRunnable):
    """Runs one function in a worker thread and tells the window what became of it.

    The function touches no widget and returns plain values, arrays or images.

    Parameters
    ----------
    work : callable
        What to do.
    done : callable
        Gets the function's result, in the window's thread.
    failed : callable
        Gets the error, whose text is one plain sentence, in the window's thread.
    """

    def __init__(
        self,
        work: Callable[[], Any],
        done: Callable[[Any], None],
        failed: Callable[[LarvasightError], None],
    ) -> None:
        super().__init__()
        self._work = work
        self._report = _Report()
        self._wanted = True
        self._done = done
        self._failed = failed
        self._report.done.connect(self._tell_done)
        self._report.failed.connect(self._tell_failed)
        self.setAutoDelete(False)

    def start(self) -> "Job":
        """Hand the job to a worker; it returns itself, to be kept until its end."""
        _running.add(self)
        QThreadPool.globalInstance().start(self)
        return self

    def forget(self) -> None:
        """Let the job run out without telling anybody."""
        self._wanted = False

    @Slot()
    def run(self) -> None:
        """Do the work; called by the worker."""
        try:
            result = self._work()
        except LarvasightError as error:
            self._report.failed.emit(error)
        except Exception as error:  # a fault of ours must not end the window
            told = LarvasightError(f"That did not work, which is our fault: {error!r}.")
            self._report.failed.emit(told)
        else:
            self._report.done.emit(result)

    def _tell_done(self, result: object) -> None:
        _running.discard(self)
        if self._wanted:
            self._done(result)

    def _tell_failed(self, error: LarvasightError) -> None:
        _running.discard(self)
        if self._wanted:
            self._failed(error)


_running: set[Job] = set()


def wait_for_jobs(limit_ms: int = 10_000) -> bool:
    """Wait for all jobs before the program ends; False when one did not end in time."""
    for job in list(_running):
        job.forget()
    return QThreadPool.globalInstance().waitForDone(limit_ms)
