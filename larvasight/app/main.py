"""Start the window."""

import os
import sys
from pathlib import Path

from PySide6.QtWidgets import QApplication

from larvasight.app.dressing import Dressing
from larvasight.app.settings import WindowSettings


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
    window.show()
    return app.exec()


def _own_folder() -> Path | None:
    """Return the folder that holds everything where the person chose one."""
    chosen = os.environ.get("LARVASIGHT_DATA")
    return Path(chosen) if chosen else None


if __name__ == "__main__":
    sys.exit(run_window(sys.argv))
