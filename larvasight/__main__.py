"""Start larvasight: the window without arguments, commands otherwise."""

import os
import sys


def main() -> None:
    """Open the window, or run the command line, and end with the exit status."""
    if len(sys.argv) > 1 or not _has_screen():
        from larvasight.cli.main import run

        raise SystemExit(run())
    from larvasight.app.main import run_window

    raise SystemExit(run_window(sys.argv))


def _has_screen() -> bool:
    """Tell whether a window could be shown; Qt itself would only abort."""
    if not sys.platform.startswith("linux"):
        return True
    names = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    return any(os.environ.get(name) for name in names)


if __name__ == "__main__":
    main()
