"""Learners found by name, a page each, and the teacher's table with figures counted by hand."""

import csv
import io
import re
from datetime import UTC, date, datetime, timedelta, timezone
from uuid import uuid4

import pytest
import tzlocal

from larvasight.desk.files import cell_text
from larvasight.desk.reporting import (
    COLUMNS,
    find_learner,
    local_zone,
    save_learner_charts,
    save_learner_report,
    save_teacher_table,
    summaries,
    teacher_table,
    told_of,
)
from larvasight.errors import LearnerUnknownError, OutputFolderError
from larvasight.grading import Limits
from larvasight.practice import TAKE_OR_LEAVE, Answer, Given, ShownCell
from larvasight.records.store import ShownRound, Store
from larvasight.sheet import Content

NOW = datetime(2026, 5, 20, 23, 30, tzinfo=UTC)
EAST = timezone(timedelta(hours=2))
TAKE, LEAVE = Answer.TAKE, Answer.LEAVE
# What lies in a cell, its age in hours, what was answered, after how long.
EVENING = [
    (Content.LARVA, 20.0, TAKE, 1000),  # right
    (Content.LARVA, 4.0, TAKE, 2000),  # very young: right as well
    (Content.LARVA, 60.0, TAKE, 3000),  # too old
    (Content.EGG, -10.0, TAKE, 4000),  # an egg
    (Content.EMPTY, None, TAKE, 5000),  # no larva
    (Content.LARVA, 12.0, LEAVE, 6000),  # a right one left
    (Content.LARVA, 70.0, LEAVE, 7000),  # rightly left
    (Content.LARVA, 31.0, TAKE, 8000),  # just past: not counted
]


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "data" / "records.db", now=NOW) as opened:
        yield opened


def practise(store, learner, cells, now=NOW):
    shown = [
        ShownCell(
            id=uuid4(),
            row=0,
            col=k,
            content=content,
            age_h=age_h,
            looks_age_h=age_h if content is Content.LARVA else None,
            length_mm=None,
            curl_deg=None,
            jelly=None,
        )
        for k, (content, age_h, _, _) in enumerate(cells)
    ]
    begun = ShownRound(
        id=uuid4(),
        learner_id=learner.id,
        drill=TAKE_OR_LEAVE,
        cells=tuple(shown),
        limits=Limits(),
        recipe={},
        kind="drawn",
        shown_at_utc=now,
    )
    store.show_round(begun)
    givens = [
        Given(cell_id=cell.id, answer=answer, response_ms=ms, is_final=True)
        for cell, (_, _, answer, ms) in zip(shown, cells, strict=True)
    ]
    store.end_round(begun.id, givens, now=now)


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_the_table_counts_each_kind_of_answer(store):
    practise(store, store.add_learner("Mira", now=NOW), EVENING)
    day, total = rows_of(teacher_table(store, UTC))
    counts = {
        "cells_shown": "8",
        "picks": "5",
        "right_picks": "2",
        "too_old": "1",
        "eggs": "1",
        "no_larva": "1",
        "right_ones": "2",
        "right_ones_left": "1",
        "pace_ms": "4500",
    }
    assert {name: day[name] for name in counts} == counts
    assert {name: total[name] for name in counts} == counts
    assert (day["learner"], day["day"], total["day"]) == ("Mira", "2026-05-20", "all")


@pytest.mark.reference("Wilson 1927, score interval worked by hand for 2 of 5")
def test_the_share_of_right_picks_has_its_interval(store):
    practise(store, store.add_learner("Mira", now=NOW), EVENING)
    for row in rows_of(teacher_table(store, UTC)):
        assert (row["right_share_lo"], row["right_share_hi"]) == ("0.118", "0.769")


@pytest.mark.reference("Hautus 1995, log-linear rates worked by hand with a table of z")
def test_d_prime_and_criterion_rest_on_all_days(store):
    practise(store, store.add_learner("Mira", now=NOW), EVENING)
    day, total = rows_of(teacher_table(store, UTC))
    # Hits (1 + 0.5) / (2 + 1) = 0.5, false picks (3 + 0.5) / (4 + 1) = 0.7: z 0 and 0.5244.
    assert (total["d_prime"], total["criterion"]) == ("-0.524", "-0.262")
    assert float(total["d_prime_sd"]) > 0.5
    assert (day["d_prime"], day["d_prime_sd"], day["criterion"]) == ("", "", "")


def test_one_who_guesses_has_a_plain_zero(store):
    guessed = [EVENING[0], EVENING[5], EVENING[2], EVENING[6]]
    practise(store, store.add_learner("Mira", now=NOW), guessed)
    total = rows_of(teacher_table(store, UTC))[-1]
    assert (total["d_prime"], total["criterion"]) == ("0.000", "0.000")


def test_one_without_answers_has_one_row_of_blanks(store):
    store.add_learner("Jon", now=NOW)
    (row,) = rows_of(teacher_table(store, UTC))
    assert list(row) == list(COLUMNS)
    assert (row["day"], row["cells_shown"], row["picks"]) == ("all", "0", "0")
    blank = ("right_share_lo", "right_share_hi", "pace_ms", "d_prime", "d_prime_sd", "criterion")
    assert {row[name] for name in blank} == {""}


def test_days_are_the_teachers_own(store):
    practise(store, store.add_learner("Mira", now=NOW), EVENING)
    assert rows_of(teacher_table(store, EAST))[0]["day"] == "2026-05-21"
    assert [s.last_day for s in summaries(store, EAST)] == [date(2026, 5, 21)]


def test_summaries_are_by_name_with_the_last_day(store):
    mira = store.add_learner("Mira", now=NOW)
    store.add_learner("Jon", now=NOW)
    practise(store, mira, EVENING)
    practise(store, mira, EVENING[:2], NOW + timedelta(days=3))
    told = [(s.name, s.n_answers, s.last_day) for s in summaries(store, UTC)]
    assert told == [("Jon", 0, None), ("Mira", 10, date(2026, 5, 23))]


@pytest.mark.parametrize(
    "formula", ["=1+2", "+1", "-1", "@SUM(A1)", "  =1", "\t1", "\r1", "\uff1d1", "\uff0b1"]
)
def test_no_text_is_a_formula(formula):
    assert cell_text(formula) == f"'{formula}"


@pytest.mark.parametrize("text", ["", "Mira", "Anne-Marie", "a=b", "3 + 4", "'=1"])
def test_other_text_stays(text):
    assert cell_text(text) == text


def test_a_name_like_a_formula_is_text_in_the_table(store):
    store.add_learner('=HYPERLINK("http://a.invalid";"x")', now=NOW)
    (row,) = rows_of(teacher_table(store, UTC))
    assert row["learner"] == '\'=HYPERLINK("http://a.invalid";"x")'


def test_the_saved_table_tells_spreadsheets_its_letters(store, tmp_path):
    store.add_learner("Zo\u00eb \u0160", now=NOW)
    save_teacher_table(store, tmp_path / "table.csv", UTC)
    data = (tmp_path / "table.csv").read_bytes()
    assert data.startswith(b"\xef\xbb\xbflearner,day,")
    assert data.decode("utf-8-sig") == teacher_table(store, UTC)
    with pytest.raises(OutputFolderError, match="cannot be written"):
        save_teacher_table(store, tmp_path / "nowhere" / "table.csv", UTC)


@pytest.mark.parametrize("name", ["Zo\u00eb K", "zo\u00cb k", " Zo\u00eb   K ", "Zoe\u0308 \uff2b"])
def test_a_learner_is_found_however_the_name_is_typed(store, name):
    store.add_learner("Mira", now=NOW)
    zoe = store.add_learner("Zo\u00eb K", now=NOW)
    assert find_learner(store, name) == zoe


def test_an_unknown_learner_is_one_short_line_with_some_who_are_known(store):
    with pytest.raises(LearnerUnknownError, match='"Mi ra"; the records know nobody yet'):
        find_learner(store, "Mi\nra")
    for number in range(30):
        store.add_learner(f"Learner {number:02}", now=NOW)
    with pytest.raises(LearnerUnknownError, match=r"Learner 07 and 22 more\.$"):
        find_learner(store, "Mira")


def test_a_report_is_one_page_of_its_own_day(store, tmp_path):
    mira = store.add_learner("Mira", now=NOW)
    practise(store, mira, EVENING)
    path = tmp_path / "mira.pdf"
    save_learner_report(store, mira, path, now=NOW, tz=EAST)
    data = path.read_bytes()
    assert data.startswith(b"%PDF-")
    assert len(re.findall(rb"/Type\s*/Page\b", data)) == 1
    title = re.search(rb"/Title \(([^)]*)\)", data)[1]
    assert title.decode("utf-16-be", "replace").endswith("Practice of Mira, 2026-05-21")
    with pytest.raises(OutputFolderError, match="cannot be written"):
        save_learner_report(store, mira, tmp_path / "nowhere" / "a.pdf", now=NOW, tz=UTC)


def test_what_is_told_is_of_the_learners_own_day(store):
    mira = store.add_learner("Mira", now=NOW)
    practise(store, mira, EVENING)
    told = told_of(store, mira.id, now=NOW, tz=EAST)
    assert told.today == date(2026, 5, 21)
    assert told.progress.score.n_answers == len(EVENING)
    # Seven of the eight cells held a larva or an egg.
    assert told.line.n == 7
    assert not told.line.is_enough


def test_charts_are_written_into_a_folder_that_is_there(store, tmp_path):
    mira = store.add_learner("Mira", now=NOW)
    practise(store, mira, EVENING)
    paths = save_learner_charts(store, mira, tmp_path, now=NOW, tz=EAST)
    assert {path.suffix for path in paths} == {".png", ".svg"}
    assert all(path.parent == tmp_path and path.stat().st_size for path in paths)
    with pytest.raises(OutputFolderError, match="cannot be written"):
        save_learner_charts(store, mira, tmp_path / "nowhere", now=NOW, tz=UTC)


def test_this_computers_zone_knows_its_summer_times(monkeypatch):
    monkeypatch.setenv("TZ", "Europe/Berlin")
    tzlocal.reload_localzone()
    winter = datetime(2026, 1, 20, 23, 30, tzinfo=UTC)
    offsets = [moment.astimezone(local_zone()).utcoffset() for moment in (winter, NOW)]
    monkeypatch.undo()
    tzlocal.reload_localzone()
    assert offsets == [timedelta(hours=1), timedelta(hours=2)]
