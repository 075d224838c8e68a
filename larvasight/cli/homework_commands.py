"""The commands on homework: ``lesson`` makes one, ``results`` brings in what came back."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from larvasight.cli.records_commands import DataFolder, kept_store, require_ending
from larvasight.cli.status import SOME_UNUSABLE


def add_to(app: typer.Typer) -> None:
    """Add these commands to the command line."""
    for command in (lesson, results):
        app.command()(command)


def lesson(
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE.lvlesson", dir_okay=False, help="File to write.")
    ],
    title: Annotated[str, typer.Option("--title", help="What students read above it.")],
    pick: Annotated[int, typer.Option("--pick", min=0, max=40, help="Combs to pick from.")] = 3,
    take: Annotated[int, typer.Option("--take", min=0, max=40, help="Combs of Take or leave.")] = 1,
    line: Annotated[
        int, typer.Option("--line", min=0, max=40, help="Combs of Where do you draw the line?")
    ] = 0,
    by: Annotated[str, typer.Option("--by", help="Whom results are sent to.")] = "",
    note: Annotated[str, typer.Option("--note", help="A note for students.")] = "",
    data: DataFolder = None,
) -> None:
    """Make a lesson of fresh combs, the same for every student, and write its file."""
    import numpy as np

    from larvasight.desk.lesson import make_lesson
    from larvasight.desk.lesson_file import ENDING, lesson_bytes
    from larvasight.practice import PICK_FROM_PATCH, TAKE_OR_LEAVE
    from larvasight.practice.drills import FIND_YOUR_EDGES
    from larvasight.sheet import write_whole

    require_ending(out, ENDING, "--out")
    with kept_store(data) as store:
        now = datetime.now(UTC)
        made = make_lesson(
            [(PICK_FROM_PATCH, pick), (TAKE_OR_LEAVE, take), (FIND_YOUR_EDGES, line)],
            title=title,
            limits=store.limits(),
            now=now,
            rng=np.random.default_rng(),
            made_by=by,
            note=note,
        )
        file = lesson_bytes(made)
        write_whole(out, file)
        store.put_lesson(made.id, title=made.title, file=file, is_homework=False, now=now)
    typer.echo(str(out))


def results(
    files: Annotated[list[Path], typer.Argument(metavar="FILE.lvresult ...", help="Result files.")],
    csv: Annotated[
        Path | None,
        typer.Option(
            "--csv",
            metavar="FILE.csv",
            dir_okay=False,
            help="Also write a line for each student of the first of them.",
        ),
    ] = None,
    data: DataFolder = None,
) -> None:
    """Bring in the result files of a lesson, many at once; a bad one never stops the rest."""
    from larvasight.desk.homework import bring_in_results, kept_lesson
    from larvasight.desk.lesson_results import lesson_results, save_results_table

    if csv is not None:
        require_ending(csv, ".csv", "--csv")
    with kept_store(data) as store:
        brought = bring_in_results(store, files, now=datetime.now(UTC))
        known = [one.lesson_id for one in brought if not one.is_refused and one.lesson_id]
        lesson_id = known[0] if known else None
        kept = None if lesson_id is None else kept_lesson(store, lesson_id)
        if csv is not None and kept is not None:
            save_results_table(lesson_results(store, kept), csv)
    for one in brought:
        typer.echo(one.sentence, err=one.is_refused)
    if csv is not None and kept is not None:
        typer.echo(f"The table is in {csv}.")
    if any(one.is_refused for one in brought):
        raise typer.Exit(SOME_UNUSABLE)
