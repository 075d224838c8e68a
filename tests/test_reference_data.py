"""Each table of published numbers says where they are from and can be read."""

import csv
from pathlib import Path

import pytest

TABLES = sorted((Path(__file__).parent / "reference_data").glob("*.csv"))


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.stem)
def test_header_names_source_table_unit_and_label(path):
    head = [line for line in path.read_text(encoding="utf-8").splitlines() if line[:1] == "#"]
    told = dict(line.removeprefix("# ").split(": ", 1) for line in head)
    assert {"source", "table", "unit", "label"} <= set(told)
    assert all(told.values())


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.stem)
def test_every_row_has_every_column(path):
    lines = path.read_text(encoding="utf-8").splitlines()
    header, *rows = csv.reader(line for line in lines if not line.startswith("#"))
    assert rows
    assert all(len(row) == len(header) and all(row) for row in rows)


def test_tables_are_found():
    assert len(TABLES) >= 10
