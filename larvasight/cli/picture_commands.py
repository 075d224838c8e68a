"""The commands on pictures: ``demo``, ``draw`` and ``measure``."""

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from larvasight.cli.status import SOME_UNUSABLE
from larvasight.desk.measuring import SheetFormat
from larvasight.sheet import ScaleSource

if TYPE_CHECKING:
    from larvasight.desk.demo import Demonstration
    from larvasight.vision.scale import ScaleGuess

OutFolder = Annotated[Path, typer.Option("--out", help="Folder for the files written.")]
Seed = Annotated[int, typer.Option(help="The same seed draws the same comb.", min=0)]


class Style(StrEnum):
    """How combs are drawn: composed of path-traced tiles, or painted."""

    PHOTOREAL = "photoreal"
    PAINTED = "painted"


def add_to(app: typer.Typer) -> None:
    """Add these commands to the command line."""
    for command in (demo, draw, measure):
        app.command()(command)


def demo(out: OutFolder, seed: Seed = 1) -> None:
    """Draw a comb, measure, grade and mark it; let a simulated learner practise, and report."""
    from larvasight.desk.demo import run_demo

    for line in _demo_lines(run_demo(out, seed=seed), out):
        typer.echo(line)


def _demo_lines(done: "Demonstration", out: Path) -> list[str]:
    """Return what the demonstration tells, line by line."""
    from larvasight.desk.demo import DEMO_LEARNER

    found, score = done.measured, done.practised.score
    lines = [
        f"A comb of {found.n_cells} cells was drawn, with {found.n_larvae} larvae and "
        f"{found.n_eggs} eggs.",
        f"{found.n_measured} larvae could be measured.",
    ]
    if found.length_error_share is not None:
        lines.append(f"Half of the lengths are within {found.length_error_share:.1%} of the truth.")
    lines += [
        f"{found.n_agree} of {found.n_counted} verdicts agree with the true ages.",
        f"{DEMO_LEARNER}, simulated, judged {score.n_answers} cells on "
        f"{len(done.practised.days)} days and took {score.n_picks}: {score.n_right} young enough, "
        f"{score.n_too_old} too old, {score.n_egg} eggs, {score.n_no_larva} without a larva.",
        f"Look at {out / 'marked.png'}; the truth is in {out / 'comb.json'}, the learner's "
        f"report in {out / 'report.pdf'}.",
    ]
    return lines


def draw(
    out: OutFolder,
    seed: Seed = 1,
    cells: Annotated[int, typer.Option(help="About how many cells.", min=4, max=600)] = 24,
    style: Annotated[Style, typer.Option(help="How combs are drawn.")] = Style.PHOTOREAL,
    pitch_px: Annotated[
        float | None, typer.Option(help="Picture points from cell to cell.", min=20.0, max=700.0)
    ] = None,
    count: Annotated[int, typer.Option(help="How many combs.", min=1, max=10_000)] = 1,
) -> None:
    """Draw practice combs with their truth: comb-0001.png, comb-0001.json, and so on."""
    import numpy as np

    from larvasight.desk.drawing import compose_comb, draw_comb, practice_scene
    from larvasight.render.tiles import TileLibrary

    library = TileLibrary.load() if style is Style.PHOTOREAL else None
    for number in range(1, count + 1):
        rng, name = np.random.default_rng([seed, number]), f"comb-{number:04d}"
        if library is None:
            drawn = draw_comb(practice_scene(rng, n_cells=cells, pitch_px=pitch_px), out, name)
        else:
            drawn = compose_comb(rng, library, out, name, n_cells=cells, pitch_px=pitch_px)
        typer.echo(str(drawn.picture))


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
    quiet = _quiet(found)
    with typer.progressbar(
        outcomes, length=len(found), label="Measuring", file=sys.stderr, hidden=quiet
    ) as bar:
        for outcome in bar:
            if outcome.error is not None:
                n_bad += 1
                typer.echo(outcome.error if quiet else f"\n{outcome.error}", err=True)
            elif outcome.written is not None:
                typer.echo(str(outcome.written))
            else:
                typer.echo(outcome.text, nl=False)
    if not found:
        typer.echo("No photo was found there.", err=True)
    if n_bad or not found:
        raise typer.Exit(SOME_UNUSABLE)


def _quiet(photos: list[Path]) -> bool:
    """Return whether no bar is wanted: few photos, nobody looks, or lines tell as much."""
    looks, lines = (stream is not None and stream.isatty() for stream in (sys.stderr, sys.stdout))
    return len(photos) < 2 or not looks or lines


def _guess(pitch_mm: float | None, distance_mm: float | None) -> "ScaleGuess":
    from larvasight.vision.scale import ScaleGuess

    if pitch_mm is None:
        return ScaleGuess(distance_mm=distance_mm)
    return ScaleGuess(pitch_mm=pitch_mm, distance_mm=distance_mm, source=ScaleSource.GIVEN)
