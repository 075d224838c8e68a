"""List every constant taken from biology or practice, with its label and source.

Run ``python tools/sources.py`` for a plain table, with ``--markdown`` for a Markdown one.
"""

import argparse
import sys

from larvasight import geometry, grading, grafts, growth, practice, render, timetable
from larvasight.geometry.facts import Fact

HEADINGS = ("package", "what", "value", "unit", "label", "source")


def all_facts() -> list[tuple[str, Fact]]:
    """Return every fact with the name of the package it stands in, from the ground up."""
    return [
        (package.__name__.rpartition(".")[2], fact)
        for package in (geometry, growth, render, grading, practice, grafts, timetable)
        for fact in package.FACTS
    ]


def table_rows() -> list[tuple[str, ...]]:
    """Return the rows of the table as text, in the order of ``HEADINGS``."""
    return [
        (
            package,
            fact.name,
            f"{fact.value:.4g}",
            fact.unit,
            fact.label.value,
            fact.source or "none: what people who graft teach",
        )
        for package, fact in all_facts()
    ]


def plain_table(rows: list[tuple[str, ...]]) -> str:
    """Return the rows under their headings with columns aligned, one row to a line."""
    lines = [HEADINGS, *rows]
    widths = [max(len(line[i]) for line in lines) for i in range(len(HEADINGS))]
    return "\n".join(_aligned(line, widths) for line in lines)


def markdown_table(rows: list[tuple[str, ...]]) -> str:
    """Return the rows as a Markdown table."""
    lines = [HEADINGS, tuple("---" for _ in HEADINGS), *rows]
    return "\n".join(
        "| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |" for line in lines
    )


def main(arguments: list[str]) -> int:
    """Print the table and return 0."""
    parser = argparse.ArgumentParser(
        prog="sources.py",
        description="Lists every constant taken from biology or practice, with its source.",
    )
    parser.add_argument("--markdown", action="store_true", help="print a Markdown table")
    options = parser.parse_args(arguments)
    rows = table_rows()
    print(markdown_table(rows) if options.markdown else plain_table(rows))
    return 0


def _aligned(line: tuple[str, ...], widths: list[int]) -> str:
    cells = (cell.ljust(width) for cell, width in zip(line, widths, strict=True))
    return "  ".join(cells).rstrip()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
