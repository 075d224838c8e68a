"""Open the records after the first paint, and what to do when they cannot be used."""

import atexit
import shutil
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from larvasight.app.asking import ask_backup_file
from larvasight.app.jobs import Job
from larvasight.app.parts import button
from larvasight.desk import keepsakes
from larvasight.errors import (
    LarvasightError,
    RecordsLostError,
    StoreBusyError,
    StoreDamagedError,
    StoreFullError,
    StoreReadOnlyError,
)

if TYPE_CHECKING:
    from larvasight.app.window import Window
    from larvasight.records.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """The open records; ``remark`` is said for as long as they are open."""

    store: "Store"
    folder: Path
    remark: str = ""


def open_records(window: "Window") -> None:
    """Open the records in a worker; the window goes on by itself."""
    if not window.lock(keepsakes.folder()):
        again = button("Try again", lambda: open_records(window), "main")
        words = "Another window has these records open. Go on there, or close it first."
        window.show_failed("larvasight is open already", words, again)
        return
    _wait(window)

    def work() -> Opened:
        # The pages and all they need are imported here, while the window can be seen.
        import larvasight.app.furnish

        del larvasight
        folder = keepsakes.folder()
        return Opened(store=keepsakes.open_store(folder, now=datetime.now(UTC)), folder=folder)

    Job(work, window.show_opened, lambda error: _refused(window, error)).start()


def _wait(window: "Window") -> None:
    """Take the buttons away: a second press would open the records twice."""
    window.notice.say("Opening your records ...", "")


def _refused(window: "Window", error: LarvasightError) -> None:
    again = button("Try again", lambda: open_records(window), "main")
    without = button("Practise without keeping anything", lambda: _without(window))
    if isinstance(error, StoreDamagedError):
        _damaged(window, error)
    elif isinstance(error, StoreBusyError):
        window.show_failed("Your records are in use", str(error), again)
    elif isinstance(error, StoreFullError):
        window.show_failed("The disk is full", str(error), again, without)
    elif isinstance(error, StoreReadOnlyError):
        window.show_failed("Your records cannot be written", str(error), again, without)
    else:
        window.show_failed("Your records cannot be opened", str(error), again, without)


def _damaged(window: "Window", error: LarvasightError) -> None:
    """Offer the newest good backup, a backup file or empty records for what is damaged or gone."""
    is_gone = isinstance(error, RecordsLostError)
    title = "Your records are missing" if is_gone else "Your records are damaged"
    kept = "" if is_gone else " The damaged file is kept beside."
    backup = keepsakes.newest_backup(keepsakes.folder())
    fresh = button("Begin with empty records", lambda: _replace(window, None))
    other = button("Choose a backup file ...", lambda: _bring_back(window))
    if backup is None:
        words = f"{error} No good backup was found.{kept}"
        window.show_failed(title, words, other, fresh)
        return
    day = datetime.fromtimestamp(backup.stat().st_mtime, UTC).astimezone().strftime("%d %B %Y")
    words = f"{error} The newest good backup is of {day}.{kept}"
    use = button(f"Use the backup of {day}", lambda: _replace(window, backup), "main")
    window.show_failed(title, words, use, other, fresh)


def _replace(window: "Window", backup: Path | None) -> None:
    """Put a backup or nothing in the place of the records, and open that."""
    _wait(window)

    def work() -> Opened:
        folder, now = keepsakes.folder(), datetime.now(UTC)
        keepsakes.replace_damaged(folder, backup, now=now)
        store = keepsakes.open_store(folder, now=now, fresh=backup is None)
        return Opened(store=store, folder=folder)

    Job(work, window.show_opened, lambda error: _refused(window, error)).start()


def _bring_back(window: "Window") -> None:
    """Let the person choose a backup file to take the damaged records' place."""
    file = ask_backup_file(window)
    if file is None:
        return
    _wait(window)

    def work() -> Opened:
        folder, now = keepsakes.folder(), datetime.now(UTC)
        keepsakes.restore(file, folder, now=now)
        return Opened(store=keepsakes.open_store(folder, now=now), folder=folder)

    Job(work, window.show_opened, lambda error: _refused(window, error)).start()


def _without(window: "Window") -> None:
    _wait(window)

    def work() -> Opened:
        folder = Path(tempfile.mkdtemp(prefix="larvasight-"))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
        store = keepsakes.open_store(folder, now=datetime.now(UTC))
        remark = "Nothing is kept this time: what you practise is gone when you close the window."
        return Opened(store=store, folder=folder, remark=remark)

    Job(work, window.show_opened, lambda error: _refused(window, error)).start()
