"""The class as a table and on paper."""

import csv
import io
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from larvasight.desk.class_view import (
    COLUMNS,
    class_of,
    class_table,
    save_class_report,
    save_class_table,
)
from larvasight.errors import OutputFolderError
from larvasight.grading import Limits
from larvasight.practice import PICK_FROM_PATCH, Answer, Given, ShownCell
from larvasight.practice.class_line import State
from larvasight.records.store import ShownRound, Store
from larvasight.sheet import Content


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


@pytest.fixture
def judged(store, now):
    """Return a function that stores what somebody took of larvae of these ages."""

    def judge(name, ages_h, takes):
        learner = store.add_learner(name, now=now)
        cells = tuple(
            ShownCell(
                id=uuid4(),
                row=0,
                col=k,
                content=Content.LARVA,
                age_h=age_h,
                looks_age_h=age_h,
                length_mm=2.0,
                curl_deg=150.0,
                jelly=None,
            )
            for k, age_h in enumerate(ages_h)
        )
        shown = ShownRound(
            id=uuid4(),
            learner_id=learner.id,
            drill=PICK_FROM_PATCH,
            cells=cells,
            limits=Limits(),
            recipe={},
            kind="drawn",
            shown_at_utc=now,
        )
        answers = [Answer.TAKE if takes(age_h) else Answer.LEAVE for age_h in ages_h]
        store.show_round(shown)
        givens = [
            Given(cell_id=cell.id, answer=answer, response_ms=900, is_final=True)
            for cell, answer in zip(cells, answers, strict=True)
        ]
        store.end_round(shown.id, givens, now=now)

    return judge


def test_known_answers_give_a_known_line(judged, store, now):
    ages_h = [float(age_h) for age_h in range(8, 68)]  # 23 of them within 6-30 h
    judged("Ada", ages_h, lambda age_h: age_h <= 30.0)
    judged("Jon", ages_h, lambda age_h: age_h <= 45.0)
    told = class_of(store, now=now + timedelta(hours=1), tz=UTC)
    rows = {row["learner"]: row for row in csv.DictReader(io.StringIO(class_table(told)))}
    assert [rows[name]["cells_judged"] for name in ("Ada", "Jon")] == ["60", "60"]
    lines = {line.name: line for line in told.lines}
    assert (lines["Ada"].score.n_right, lines["Ada"].score.n_picks) == (23, 23)
    assert lines["Ada"].state is not State.PAST
    # 31-33 h is just past and counts neither way; 34-45 h are twelve wrong picks.
    assert (lines["Jon"].score.n_right, lines["Jon"].score.n_picks) == (23, 35)
    assert lines["Jon"].state is State.PAST
    assert [line.name for line in told.lines] == ["Jon", "Ada"]
    assert "larvae that are too old" in told.topic
    assert "12 of 58 picks" in told.topic
