"""Homework from the command line: a lesson is made, results are brought in."""

from datetime import UTC, datetime

import pytest
from lessons import MADE, result, small_lesson, write_result

from larvasight.cli.main import run
from larvasight.desk import lesson as lesson_module
from larvasight.desk.lesson_file import lesson_bytes, read_lesson
from larvasight.records.store import Store


@pytest.fixture
def made(monkeypatch):
    """Let the small lesson be made, whatever is asked for; return what was asked."""
    asked = []

    def make(parts, **told):
        asked.append(([n for _, n in parts], told["title"], told["made_by"]))
        return small_lesson()

    monkeypatch.setattr(lesson_module, "make_lesson", make)
    return asked


def test_a_lesson_is_written_and_kept(data, tmp_path, capsys, made):
    out = tmp_path / "week.lvlesson"
    arguments = ["lesson", "--out", str(out), "--title", "Week one", "--by", "Ilse", "--line", "2"]
    assert run(arguments) == 0
    assert capsys.readouterr().out == f"{out}\n"
    assert made == [([3, 1, 2], "Week one", "Ilse")]
    assert read_lesson(out.read_bytes(), out.name).title == "Week one"
    with Store.open(data / "records.db", now=MADE) as store:
        assert [(one.title, one.is_homework) for one in store.lessons()] == [("Week one", False)]


def test_a_lesson_goes_only_into_a_lesson_file(data, tmp_path, capsys, made):
    assert run(["lesson", "--out", str(tmp_path / "week.pdf"), "--title", "Week one"]) == 2
    assert "Traceback" not in capsys.readouterr().err
    assert not (tmp_path / "week.pdf").exists()
    assert made == []


def test_results_are_brought_in_and_a_bad_one_is_named(data, tmp_path, capsys):
    lesson = small_lesson()
    with Store.open(data / "records.db", now=MADE) as store:
        file = lesson_bytes(lesson)
        store.put_lesson(lesson.id, title="Week one", file=file, is_homework=False, now=MADE)
    good = write_result(tmp_path, result(lesson, "Ada"))
    bad = tmp_path / "bad.lvresult"
    bad.write_bytes(b"x")
    table = tmp_path / "table.csv"
    assert run(["results", str(bad), str(good), "--csv", str(table)]) == 1
    told = capsys.readouterr()
    assert told.out.splitlines() == ["Ada: all 2 combs of Week one.", f"The table is in {table}."]
    why = "bad.lvresult is damaged or no result of larvasight, so nothing was changed."
    assert told.err == f"{why}\n"
    assert table.read_text(encoding="utf-8-sig").splitlines()[1].startswith("Ada,2,2,")
    assert run(["results", str(good)]) == 0
    assert capsys.readouterr().out == "Ada: this was here already.\n"
    now = datetime(2026, 5, 20, 12, 0, tzinfo=UTC)
    with Store.open(data / "records.db", now=now) as store:
        assert [one.name for one in store.learners()] == ["Ada", "Jon", "Mira Wabe"]
