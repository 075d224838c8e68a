"""Start the window."""

import os
import sys
import traceback
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QApplication

from larvasight.app.dressing import Dressing
from larvasight.app.settings import WindowSettings
from larvasight.errors import LarvasightError

if TYPE_CHECKING:
    from larvasight.app.window import Window


def run_window(arguments: list[str]) -> int:
    """Open the window and return the program's exit status once it is closed.

    Parameters
    ----------
    arguments : list of str
        The command line, the program's name first.
    """
    from larvasight.app.window import Window

    app = QApplication(arguments)
    app.setApplicationName("larvasight")
    app.setApplicationDisplayName("larvasight")
    app.setDesktopFileName("larvasight")
    settings = WindowSettings(_own_folder())
    dressing = Dressing(app, settings.look, settings.text_px)
    window = Window(dressing, settings)
    # Combs are drawn in a worker meanwhile: a click must not wait long for its turn.
    sys.setswitchinterval(0.001)
    sys.excepthook = partial(_own_fault, window)
    window.show()
    return app.exec()


def _own_fault(
    window: "Window",
    kind: type[BaseException],
    error: BaseException,
    trace: TracebackType | None,
) -> None:
    """Say what went wrong; the window goes on, answers are kept."""
    if isinstance(error, LarvasightError):
        window.trouble.remark(str(error))
        return
    traceback.print_exception(kind, error, trace)
    window.trouble.remark(
        f"Something went wrong, which is our fault; your answers so far are kept. ({error!r})"
    )


def _own_folder() -> Path | None:
    """Return the folder that holds everything where the person chose one."""
    chosen = os.environ.get("LARVASIGHT_DATA")
    return Path(chosen) if chosen else None


if __name__ == "__main__":
    sys.exit(run_window(sys.argv))
