"""Set larvasight up if needed and start it.

Run with any Python 3.11 or newer: ``python3 tools/start.py``. Standard library only.
"""

from __future__ import annotations

import argparse
import subprocess
import sys

from _setup import (
    ROOT,
    SetupError,
    bin_path,
    child_environment,
    ensure_qt_libraries,
    has_screen,
    prepare,
    say,
)

DEMO = ["demo", "--out", "larvasight-demo"]


def choose_command() -> list[str]:
    """Return what larvasight is asked to do when the person asked for nothing.

    Without arguments it opens its window, which needs a screen.
    """
    if has_screen():
        return []
    say("There is no screen here, so here is the demonstration instead of the window.")
    say(f"It writes its pictures and report to {ROOT / 'larvasight-demo'}.")
    return DEMO


def split_arguments(arguments: list[str]) -> tuple[list[str], list[str]]:
    """Split the arguments at the first ``--``: ours before it, larvasight's after it."""
    if "--" not in arguments:
        return arguments, []
    at = arguments.index("--")
    return arguments[:at], arguments[at + 1 :]


def main(arguments: list[str]) -> int:
    """Set up, start, and return the exit status."""
    ours, passed_on = split_arguments(arguments)
    parser = argparse.ArgumentParser(
        prog="start.py",
        description="Sets larvasight up in .venv if needed (the first time takes a few minutes) "
        "and opens its window. Without a screen it runs the demonstration.",
        epilog="Everything after -- goes to larvasight, for example: "
        "python3 tools/start.py -- measure photo.jpg",
    )
    parser.add_argument("--setup-only", action="store_true", help="set up, but start nothing")
    options = parser.parse_args(ours)
    env = child_environment()
    try:
        prepare([], env)
        ensure_qt_libraries(screen=has_screen(), env=env)
    except SetupError as error:
        say(str(error))
        return 1
    if options.setup_only:
        say("larvasight is set up.")
        return 0
    if not has_screen():
        env.setdefault("QT_QPA_PLATFORM", "offscreen")
    folder = None if passed_on else ROOT
    command = [str(bin_path("python")), "-m", "larvasight", *(passed_on or choose_command())]
    return subprocess.run(command, cwd=folder, env=env, check=False).returncode


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
