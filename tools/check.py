"""Run every check that a change must pass, as continuous integration does.

Run with any Python 3.11 or newer: ``python3 tools/check.py``. Standard library only.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import time

from _setup import (
    ROOT,
    SetupError,
    apt_install,
    bin_path,
    can_use_apt,
    child_environment,
    ensure_qt_libraries,
    prepare,
    say,
)

# What the tests of the window run: a screen in memory, and a hand that clicks on it.
TEST_PROGRAMS = {"Xvfb": "xvfb", "xdotool": "xdotool"}

# Files stay whole: what a file's tests share is made once.
_TWO_AT_ONCE = ("-n", "2", "--dist", "loadfile")


def steps(*, long: bool) -> dict[str, list[str]]:
    """Return the checks in order, each name with its command."""
    python = str(bin_path("python"))
    return {
        "format": [python, "-m", "ruff", "format", "--check", "."],
        "lint": [python, "-m", "ruff", "check", "."],
        "types": [python, "-m", "mypy"],
        "imports": [str(bin_path("lint-imports"))],
        "tests": [python, "-m", "pytest", *_TWO_AT_ONCE, *(["--long"] if long else [])],
    }


def ensure_test_programs() -> None:
    """Install the programs that tests of the window need, or say which are missing."""
    missing = [package for name, package in TEST_PROGRAMS.items() if shutil.which(name) is None]
    if not missing or not sys.platform.startswith("linux"):
        return
    if can_use_apt():
        apt_install(missing)
        return
    say(f"Tests of the window need: sudo apt-get install {' '.join(missing)}")


def run_step(name: str, command: list[str], env: dict[str, str]) -> bool:
    """Run one check in the repository's folder and print how it went and how long it took."""
    say(f"== {name}")
    begun_s = time.monotonic()
    status = subprocess.run(command, cwd=ROOT, env=env, check=False).returncode
    outcome = "ok" if status == 0 else "FAILED"
    say(f"== {name}: {outcome} ({time.monotonic() - begun_s:.1f} s)")
    return status == 0


def main(arguments: list[str]) -> int:
    """Set up, run all checks, and return 0 only if every one passed."""
    parser = argparse.ArgumentParser(
        prog="check.py",
        description="Runs all checks: format, lint, types, imports, tests.",
    )
    parser.add_argument("--long", action="store_true", help="also run the tests that take long")
    options = parser.parse_args(arguments)
    begun_s = time.monotonic()
    env = child_environment()
    env.setdefault("QT_QPA_PLATFORM", "offscreen")
    try:
        prepare(["test"], env)
        ensure_qt_libraries(screen=True, env=env)
        ensure_test_programs()
    except SetupError as error:
        say(str(error))
        return 1
    say(f"== set-up: ok ({time.monotonic() - begun_s:.1f} s)")
    failed = [
        name
        for name, command in steps(long=options.long).items()
        if not run_step(name, command, env)
    ]
    outcome = f"failed: {', '.join(failed)}" if failed else "all checks passed"
    say(f"{outcome} ({time.monotonic() - begun_s:.0f} s)")
    return 1 if failed else 0


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
