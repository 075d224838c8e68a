"""The command line and its exit status.

Exit status 0 is done, 1 something could not be used or written (each thing named on standard
error in one line), 2 a wrong call.
"""

import io
import os
import sys
from contextlib import suppress
from typing import Annotated

import typer

from larvasight import __version__
from larvasight.cli import (
    grafts_commands,
    homework_commands,
    picture_commands,
    records_commands,
    timetable_commands,
)
from larvasight.cli.status import SOME_UNUSABLE, WRONG_CALL
from larvasight.errors import LarvasightError

app = typer.Typer(
    help="Practise the eye that picks larvae for queen rearing.",
    add_completion=False,
    no_args_is_help=False,
    pretty_exceptions_enable=False,
)


def _tell_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"larvasight {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def start(
    context: typer.Context,
    _version: Annotated[
        bool,
        typer.Option("--version", callback=_tell_version, is_eager=True, help="Tell the version."),
    ] = False,
) -> None:
    """Practise the eye that picks larvae for queen rearing; without a command in a window."""
    if context.invoked_subcommand is None:
        typer.echo(
            "The window needs a screen and no arguments; larvasight --help lists what runs "
            "without one, larvasight demo --out larvasight-demo shows it.",
            err=True,
        )
        raise typer.Exit(WRONG_CALL)


picture_commands.add_to(app)
records_commands.add_to(app)
grafts_commands.add_to(app)
homework_commands.add_to(app)
timetable_commands.add_to(app)


def run(arguments: list[str] | None = None) -> int:
    """Run a command line and return its exit status; a user's error is one line, no traceback."""
    _print_anything()
    try:
        status = app(arguments, prog_name="larvasight", standalone_mode=True)
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else WRONG_CALL
    except LarvasightError as error:
        return _fail(str(error))
    except OSError as error:
        what = f"{error.filename} cannot be used" if error.filename else "Writing failed"
        return _fail(f"{what}: {(error.strerror or str(error)).lower()}.")
    return status if isinstance(status, int) else 0


def _print_anything() -> None:
    """Let names be printed that the terminal has no letters for, spelt out."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _fail(sentence: str) -> int:
    """Say why something failed, as far as anything can be said, and return the exit status."""
    with suppress(OSError):
        typer.echo(sentence, err=True)
    for stream in (sys.stdout, sys.stderr):
        try:
            if stream is not None:
                stream.flush()
        except OSError:
            # It would be tried again at the very end, where Python complains in its own words.
            with suppress(OSError):
                os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
    return SOME_UNUSABLE
