"""The command on the record of real grafts: ``grafts``."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from larvasight.cli.records_commands import DataFolder, kept_store, require_ending

if TYPE_CHECKING:
    from larvasight.desk.grafting import Told


def add_to(app: typer.Typer) -> None:
    """Add this command to the command line."""
    app.command()(grafts)


def grafts(
    csv: Annotated[
        Path | None,
        typer.Option("--csv", metavar="FILE.csv", dir_okay=False, help="Write all as a table."),
    ] = None,
    read: Annotated[
        Path | None,
        typer.Option(
            "--read", metavar="FILE.csv", dir_okay=False, help="First bring in such a table."
        ),
    ] = None,
    data: DataFolder = None,
) -> None:
    """Tell what became of the cups grafted, and what can be told from it."""
    from larvasight.desk.grafting import tell
    from larvasight.desk.grafts_table import bring_in, save_grafts_table
    from larvasight.desk.reporting import local_zone

    if csv is not None:
        require_ending(csv, ".csv", "--csv")
    with kept_store(data) as store:
        if read is not None:
            brought = bring_in(store, read, now=datetime.now(UTC), zone=local_zone())
            typer.echo(
                f"Brought in batches: {brought.n_batches}, with {brought.n_cups} cups; there "
                f"already: {brought.n_there_already}."
            )
        told = tell(store.batches())
        if csv is not None:
            save_grafts_table(store, csv)
    for line in _lines(told):
        typer.echo(line)
    if csv is not None:
        typer.echo(f"The table is in {csv}.")


def _lines(told: "Told") -> list[str]:
    from larvasight.grafts.telling import (
        comparison_title,
        comparison_words,
        level_words,
        steps_words,
        takes_words,
    )
    from larvasight.grafts.words import FACTOR_WORDS, day_words

    if not told.days:
        return ["No grafts are noted yet."]
    lines = [f"{day_words(day.day)}: {takes_words(day.takes)}" for day in told.days]
    lines += [f"All together: {takes_words(told.takes)}", steps_words(told.steps)]
    for compared in told.compared:
        lines += ["", f"{FACTOR_WORDS[compared.factor]}:"]
        lines += [f"  {level_words(compared.factor, level)}" for level in compared.levels]
        for found in compared.comparisons:
            lines.append(f"  {comparison_title(found)}. {comparison_words(found)}")
    return lines
