"""The commands ``draw``, ``measure`` and ``demo``, and their exit status.

Exit status 0 is done, 1 some inputs could not be used (each named on standard error
in one line), 2 a wrong call.
"""

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from larvasight.desk.measuring import SheetFormat
from larvasight.errors import LarvasightError
from larvasight.sheet import ScaleSource

if TYPE_CHECKING:
    from larvasight.vision.scale import ScaleGuess

SOME_UNUSABLE = 1
WRONG_CALL = 2

app = typer.Typer(
    help="Practise the eye that picks larvae for queen rearing.",
    add_completion=False,
    no_args_is_help=False,
    pretty_exceptions_enable=False,
)

OutFolder = Annotated[Path, typer.Option("--out", help="Folder for the files written.")]
Seed = Annotated[int, typer.Option(help="The same seed draws the same comb.", min=0)]


class Style(StrEnum):
    """How combs are drawn."""

    PAINTED = "painted"
    PHOTOREAL = "photoreal"


@app.callback(invoke_without_command=True)
def start(context: typer.Context) -> None:
    """Practise the eye that picks larvae for queen rearing."""
    if context.invoked_subcommand is None:
        typer.echo("The window is not built yet; try: larvasight demo --out larvasight-demo")
        raise typer.Exit(WRONG_CALL)


@app.command()
def demo(out: OutFolder, seed: Seed = 1) -> None:
    """Draw a comb, measure and grade it, and mark what was found."""
    from larvasight.desk.demo import run_demo

    result = run_demo(out, seed=seed)
    holding = f"{result.n_larvae} larvae and {result.n_eggs} eggs"
    typer.echo(f"A comb of {result.n_cells} cells was drawn, with {holding}.")
    typer.echo(f"{result.n_measured} larvae could be measured.")
    if result.length_error_share is not None:
        typer.echo(f"Half of the lengths are within {result.length_error_share:.1%} of the truth.")
    typer.echo(f"{result.n_agree} of {result.n_counted} verdicts agree with the true ages.")
    typer.echo(f"Look at {out / 'marked.png'}; the truth is in {out / 'comb.json'}.")


@app.command()
def draw(
    out: OutFolder,
    seed: Seed = 1,
    cells: Annotated[int, typer.Option(help="About how many cells.", min=4, max=600)] = 24,
    style: Annotated[Style, typer.Option(help="How combs are drawn.")] = Style.PAINTED,
    pitch_px: Annotated[
        float | None, typer.Option(help="Picture points from cell to cell.", min=20.0, max=700.0)
    ] = None,
    count: Annotated[int, typer.Option(help="How many combs.", min=1, max=10_000)] = 1,
) -> None:
    """Draw practice combs with their truth: comb-0001.png, comb-0001.json, and so on."""
    import numpy as np

    from larvasight.desk.drawing import draw_comb, practice_scene

    if style is Style.PHOTOREAL:
        raise typer.BadParameter("photoreal combs are not there yet; use --style painted")
    for number in range(1, count + 1):
        rng = np.random.default_rng([seed, number])
        scene = practice_scene(rng, n_cells=cells, pitch_px=pitch_px)
        drawn = draw_comb(scene, out, f"comb-{number:04d}")
        typer.echo(str(drawn.picture))


@app.command()
def measure(
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO_OR_DIR...", help="Photos, or folders of photos.")
    ],
    out: Annotated[
        Path | None, typer.Option("--out", help="Folder for one file per photo.")
    ] = None,
    pitch_mm: Annotated[
        float | None,
        typer.Option(help="Cell size of this comb, 5.3 where not given.", min=4.0, max=7.5),
    ] = None,
    distance_mm: Annotated[
        float | None, typer.Option(help="Camera to comb.", min=30.0, max=5000.0)
    ] = None,
    format_: Annotated[
        SheetFormat, typer.Option("--format", help="json or csv.")
    ] = SheetFormat.JSON,
    marked: Annotated[bool, typer.Option("--marked", help="Also write NAME-marked.png.")] = False,
    jobs: Annotated[int, typer.Option(help="Photos measured at once.", min=1, max=64)] = 1,
) -> None:
    """Find the cells in photos and measure their larvae."""
    from larvasight.desk.files import make_folder
    from larvasight.desk.measuring import MeasureJob, measure_all
    from larvasight.vision.photo import photo_paths

    found = photo_paths(photos)
    if out is None and (marked or len(found) > 1):
        raise typer.BadParameter("say with --out which folder the files go to")
    if out is not None:
        if out.resolve() in {photo.resolve().parent for photo in found}:
            raise typer.BadParameter("choose another folder with --out than the photos' own")
        make_folder(out)
    job = MeasureJob(
        guess=_guess(pitch_mm, distance_mm), out=out, sheet_format=format_, marked=marked
    )
    n_bad = 0
    outcomes = measure_all(found, job, n_jobs=jobs)
    with typer.progressbar(
        outcomes, length=len(found), label="Measuring", file=sys.stderr, hidden=_quiet(found)
    ) as bar:
        for outcome in bar:
            if outcome.error is not None:
                n_bad += 1
                typer.echo(outcome.error, err=True)
            elif out is None:
                typer.echo(outcome.text, nl=False)
    if not found:
        typer.echo("No photo was found there.", err=True)
    if n_bad or not found:
        raise typer.Exit(SOME_UNUSABLE)


def run(arguments: list[str] | None = None) -> int:
    """Run a command line and return its exit status; a user's error is one line, no traceback."""
    try:
        status = app(arguments, prog_name="larvasight", standalone_mode=True)
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else WRONG_CALL
    except LarvasightError as error:
        typer.echo(str(error), err=True)
        return SOME_UNUSABLE
    return status if isinstance(status, int) else 0


def _quiet(photos: list[Path]) -> bool:
    return len(photos) < 2 or not sys.stderr.isatty()


def _guess(pitch_mm: float | None, distance_mm: float | None) -> "ScaleGuess":
    from larvasight.vision.scale import ScaleGuess

    if pitch_mm is None:
        return ScaleGuess(distance_mm=distance_mm)
    return ScaleGuess(pitch_mm=pitch_mm, distance_mm=distance_mm, source=ScaleSource.GIVEN)
