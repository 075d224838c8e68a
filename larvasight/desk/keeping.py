"""One thread writes all answers, in their order, and never gives one up."""

import threading
from collections import deque
from collections.abc import Callable
from typing import TYPE_CHECKING

from larvasight.errors import LarvasightError

if TYPE_CHECKING:
    from larvasight.records.store import Store

_RETRY_S = 2.0

Write = Callable[["Store"], object]
Told = Callable[[], None]


class Keeper:
    """Writes answers to the records one after the other, in a thread of its own.

    A write that fails because the disk is full, the folder read-only or the file locked stays
    first in line and is tried again every two seconds: nothing behind it overtakes it.

    Parameters
    ----------
    store : Store
        The records.
    tell : callable
        Gets each ``stored`` callback to be run, called in the keeper's thread; the window
        passes it on to its own.
    trouble : callable
        Gets one plain sentence when writing fails, and an empty one when it works again;
        called in the keeper's thread.
    """

    def __init__(
        self, store: "Store", *, tell: Callable[[Told], None], trouble: Callable[[str], None]
    ) -> None:
        self._store = store
        self._tell = tell
        self._trouble = trouble
        self._waiting: deque[tuple[Write, Told | None]] = deque()
        self._change = threading.Condition()
        self._is_closing = False
        self._try_now = False
        self._thread = threading.Thread(target=self._run, name="keeper", daemon=True)
        self._thread.start()

    @property
    def n_waiting(self) -> int:
        """Number of writes that are not stored yet."""
        with self._change:
            return len(self._waiting)

    def hand(self, write: Write, stored: Told | None) -> None:
        """Put a write in line; ``stored`` is told once it is committed."""
        with self._change:
            self._waiting.append((write, stored))
            self._change.notify_all()

    def try_again(self) -> None:
        """Try at once what failed."""
        with self._change:
            self._try_now = True
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
        in_trouble = False
        while (work := self._next()) is not None:
            write, stored = work
            try:
                write(self._store)
            except LarvasightError as error:
                in_trouble = True
                self._trouble(str(error))
                self._pause()
                continue
            except Exception as error:  # a fault of ours: the line must go on behind it
                in_trouble = True
                self._trouble(f"One answer could not be stored, which is our fault: {error!r}.")
                stored = None
            else:
                if in_trouble:
                    in_trouble = False
                    self._trouble("")
            with self._change:
                self._waiting.popleft()
                self._change.notify_all()
            if stored is not None:
                self._tell(stored)

    def _next(self) -> tuple[Write, Told | None] | None:
        with self._change:
            self._change.wait_for(lambda: self._waiting or self._is_closing)
            return None if self._is_closing or not self._waiting else self._waiting[0]

    def _pause(self) -> None:
        with self._change:
            self._change.wait_for(lambda: self._try_now or self._is_closing, _RETRY_S)
            self._try_now = False
