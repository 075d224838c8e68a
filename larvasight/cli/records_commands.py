"""The commands on what is kept: ``report``, ``learners``, ``backup`` and ``restore``."""

import zipfile
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from larvasight.errors import RecordsMissingError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from larvasight.desk.reporting import LearnerSummary
    from larvasight.records.store import Store

DataFolder = Annotated[
    Path | None,
    typer.Option(
        "--data",
        file_okay=False,
        help="Folder of the records; without it the window's, which LARVASIGHT_DATA may name.",
    ),
]


def add_to(app: typer.Typer) -> None:
    """Add these commands to the command line."""
    for command in (report, learners, backup, restore):
        app.command()(command)


def report(
    learner: Annotated[str, typer.Argument(metavar="LEARNER", help="Name of the learner.")],
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE.pdf", dir_okay=False, help="File to write.")
    ],
    data: DataFolder = None,
) -> None:
    """Write a learner's one-page report as PDF."""
    from larvasight.desk.reporting import find_learner, local_zone, save_learner_report

    require_ending(out, ".pdf", "--out")
    with kept_store(data) as store:
        found = find_learner(store, learner)
        save_learner_report(store, found, out, now=datetime.now(UTC), tz=local_zone())
    typer.echo(str(out))


def learners(
    csv: Annotated[
        Path | None,
        typer.Option(
            "--csv",
            metavar="FILE.csv",
            dir_okay=False,
            help="Also write everybody's days, with d' and criterion, as a table.",
        ),
    ] = None,
    data: DataFolder = None,
) -> None:
    """List who practises, how many cells each judged, and when last."""
    from larvasight.desk.reporting import local_zone, save_teacher_table, summaries

    if csv is not None:
        require_ending(csv, ".csv", "--csv")
    with kept_store(data) as store:
        found = summaries(store, local_zone())
        if csv is not None:
            save_teacher_table(store, csv, local_zone())
    for learner in found:
        typer.echo(_line(learner))
    if not found:
        typer.echo("Nobody has practised yet.")
    if csv is not None:
        typer.echo(f"The table is in {csv}.")


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", dir_okay=False, help="File to write.")],
    data: DataFolder = None,
) -> None:
    """Write all records and photos into one file; an earlier backup of that name is replaced."""
    from larvasight.records.backup import backup_to
    from larvasight.records.place import photos_folder

    if file.exists() and not (file.is_file() and zipfile.is_zipfile(file)):
        msg = f"{file} is there already and is no backup; choose another name"
        raise typer.BadParameter(msg, param_hint="FILE")
    with kept_store(data) as store:
        left_out = backup_to(store, photos_folder(_folder(data)), file)
    for name in left_out:
        typer.echo(f"{name} was left out: its copy is missing or damaged.", err=True)
    typer.echo(str(file))


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A file that backup wrote.")],
    data: DataFolder = None,
) -> None:
    """Bring back all records and photos from such a file; present records are set aside."""
    from larvasight.records.backup import restore_from

    replaced = restore_from(file, _folder(data), now=datetime.now(UTC))
    with kept_store(data) as store:
        n_learners = len(store.learners())
    typer.echo(f"Brought back {_many(n_learners, 'learner')} from {file}.")
    if replaced is not None:
        typer.echo(f"The records that were there are kept as {replaced}.")


@contextmanager
def kept_store(data: Path | None) -> "Iterator[Store]":
    """Open the records that are there already; none are made."""
    from larvasight.records.place import records_path
    from larvasight.records.store import Store

    folder = _folder(data)
    path = records_path(folder)
    if not path.exists():
        msg = f"There are no records in {folder} yet; --data names another folder."
        raise RecordsMissingError(msg)
    with Store.open(path, now=datetime.now(UTC)) as store:
        yield store


def _folder(data: Path | None) -> Path:
    from larvasight.records.place import data_folder

    return data_folder() if data is None else data


def require_ending(file: Path, ending: str, option: str) -> None:
    """Refuse a file of another kind, so that nothing else is overwritten by mistake."""
    if file.suffix.lower() != ending:
        msg = f"{file} must end in {ending}"
        raise typer.BadParameter(msg, param_hint=option)


def _line(learner: "LearnerSummary") -> str:
    judged = f"{_many(learner.n_answers, 'cell')} judged"
    last = "" if learner.last_day is None else f", last on {learner.last_day.isoformat()}"
    return f"{learner.name}: {judged}{last}"


def _many(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"
