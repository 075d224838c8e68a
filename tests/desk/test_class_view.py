"""The class as a table and on paper."""

import csv
import io
from datetime import UTC, datetime, timedelta

import pytest

from larvasight.desk.class_view import (
    COLUMNS,
    class_of,
    class_table,
    save_class_report,
    save_class_table,
)
from larvasight.errors import OutputFolderError
from larvasight.records.store import Store


@pytest.fixture
def now():
    return datetime(2027, 5, 20, 8, tzinfo=UTC)


@pytest.fixture
def store(tmp_path, now):
    with Store.open(tmp_path / "records" / "records.db", now=now) as opened:
        yield opened


def test_records_without_learners_make_an_empty_class(store, now):
    told = class_of(store, now=now, tz=UTC)
    assert told.lines == ()
    assert class_table(told).splitlines() == [",".join(COLUMNS)]


def test_somebody_new_has_a_line_and_a_harmless_name(store, now):
    store.add_learner("=1+1", now=now)
    told = class_of(store, now=now + timedelta(days=1), tz=UTC)
    (row,) = csv.DictReader(io.StringIO(class_table(told)))
    assert row["learner"].startswith("'=")
    assert row["cells_judged"] == "0"
    assert row["old_h"] == ""


def test_files_are_written_whole_or_refused_in_one_sentence(store, now, tmp_path):
    store.add_learner("Ada", now=now)
    told = class_of(store, now=now, tz=UTC)
    save_class_table(told, tmp_path / "class.csv")
    save_class_report(told, tmp_path / "class.pdf")
    assert (tmp_path / "class.pdf").read_bytes().startswith(b"%PDF")
    assert "Ada" in (tmp_path / "class.csv").read_text(encoding="utf-8-sig")
    with pytest.raises(OutputFolderError, match=r"class\.csv cannot be written"):
        save_class_table(told, tmp_path / "nowhere" / "class.csv")
