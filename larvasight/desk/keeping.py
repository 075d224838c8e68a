"""One thread writes all answers, in their order, and gives none up that can still be stored."""

import threading
from collections import deque
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from larvasight.errors import (
    LarvasightError,
    StoreBusyError,
    StoreDamagedError,
    StoreFullError,
    StoreReadOnlyError,
)

if TYPE_CHECKING:
    from larvasight.records.store import Store

_RETRY_S = 2.0
_RETRY_DAMAGED_S = 30.0
# What a person can put right while the program runs.
_PASSING = (StoreBusyError, StoreFullError, StoreReadOnlyError)

Write = Callable[["Store"], object]
Told = Callable[[], None]
Failed = Callable[[str], None]


class Keeper:
    """Writes answers to the records one after the other, in a thread of its own.

    A write that fails because the disk is full, the folder read-only or the file locked stays
    first in line and is tried again every two seconds: nothing behind it overtakes it. One that
    finds the records damaged stays first, too, and is tried again every thirty seconds: what
    is in line may still be stored once the file is put right. A write that fails for any other
    reason is given up, since it would fail for ever, and the line goes on behind it: ``failed``
    is told once, and ``trouble`` shows it until ``try_again``.

    Parameters
    ----------
    store : Store
        The records.
    tell : callable
        Gets each ``stored`` or ``failed`` callback to be run, called in the keeper's thread;
        the window passes it on to its own.
    trouble : callable
        Gets one plain sentence when writing fails. When it works again, it gets the sentence
        about a write that was given up, or an empty one; called in the keeper's thread.
    """

    def __init__(
        self, store: "Store", *, tell: Callable[[Told], None], trouble: Callable[[str], None]
    ) -> None:
        self._store = store
        self._tell = tell
        self._trouble = trouble
        self._waiting: deque[tuple[Write, Told | None, Failed | None]] = deque()
        self._change = threading.Condition()
        self._is_closing = False
        self._try_now = False
        self._given_up = ""
        self._is_read = False
        self._thread = threading.Thread(target=self._run, name="keeper", daemon=True)
        self._thread.start()

    @property
    def n_waiting(self) -> int:
        """Number of writes that are not stored yet."""
        with self._change:
            return len(self._waiting)

    def hand(self, write: Write, stored: Told | None, failed: Failed | None = None) -> None:
        """Put a write in line.

        ``stored`` is told once it is committed; ``failed`` gets one plain sentence when it is
        given up.
        """
        with self._change:
            self._waiting.append((write, stored, failed))
            self._change.notify_all()

    def try_again(self) -> None:
        """Try at once what failed; what was said of a write given up has been read by then."""
        with self._change:
            self._try_now = True
            self._is_read = bool(self._given_up)
            self._given_up = ""
            self._change.notify_all()

    def flush(self, limit_s: float) -> bool:
        """Wait until everything in line is stored; False when the time was too short."""
        with self._change:
            self._change.wait_for(lambda: not self._waiting or self._is_closing, limit_s)
            return not self._waiting

    def close(self, limit_s: float = 5.0) -> bool:
        """Store what is in line and end the thread; False when something could not be stored."""
        done = self.flush(limit_s)
        with self._change:
            self._is_closing = True
            self._change.notify_all()
        self._thread.join(limit_s)
        return done

    def _run(self) -> None:
        is_trying_again = False
        while (work := self._next()) is not None:
            write, stored, failed = work
            told = stored
            try:
                write(self._store)
            except (*_PASSING, StoreDamagedError) as error:
                is_trying_again = True
                self._trouble(str(error))
                self._pause(_RETRY_DAMAGED_S if isinstance(error, StoreDamagedError) else _RETRY_S)
                continue
            except Exception as error:  # a fault of ours: the line must go on behind it
                is_trying_again = False
                told = self._give_up(error, failed)
            else:
                if is_trying_again:
                    is_trying_again = False
                    self._trouble(self._given_up)
            with self._change:
                self._waiting.popleft()
                self._change.notify_all()
            if told is not None:
                self._tell(told)

    def _give_up(self, error: Exception, failed: Failed | None) -> Told | None:
        """Say that a write is given up; return what is to be told of it."""
        is_plain = isinstance(error, LarvasightError)
        ours = f"One answer could not be stored, which is our fault: {error!r}."
        sentence = str(error) if is_plain else ours
        with self._change:
            self._given_up = sentence
        self._trouble(sentence)
        return None if failed is None else partial(failed, sentence)

    def _next(self) -> tuple[Write, Told | None, Failed | None] | None:
        while True:
            with self._change:
                self._change.wait_for(lambda: self._waiting or self._is_closing or self._is_read)
                if self._is_closing:
                    return None
                if not self._is_read:
                    return self._waiting[0]
                self._is_read = False
            self._trouble(self._given_up)

    def _pause(self, limit_s: float) -> None:
        with self._change:
            self._change.wait_for(lambda: self._try_now or self._is_closing, limit_s)
            self._try_now = False
