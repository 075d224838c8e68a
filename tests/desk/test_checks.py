"""Checks and the course day's test from stored answers."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from larvasight.desk.checks import (
    checks_of,
    course_day_of,
    marks_of_run,
    save_course_day_sheet,
    seen_in_tests,
    told_check,
)
from larvasight.errors import OutputFolderError
from larvasight.grading import Limits
from larvasight.practice import Answer, Given, ShownCell
from larvasight.practice.drills import CHECK, COURSE_DAY_TEST
from larvasight.records.store import Store
from larvasight.records.types import ShownRound
from larvasight.sheet import Content

NOW = datetime(2027, 4, 3, 8, 0, tzinfo=UTC)
DAY = timedelta(days=1)
AGES_H = tuple(float(age_h) for age_h in range(0, 60, 3))


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "records.db", now=NOW) as opened:
        yield opened


@pytest.fixture
def learner(store):
    return store.add_learner("Mira", now=NOW).id


@pytest.fixture
def put(store, learner):
    """Return a function that stores one comb of a check, taken up to an age."""

    def make(run_id, at, *, n_cells=20, drill=CHECK, old_h=28.0, n_answered=20, recipe=None):
        cells = tuple(
            ShownCell(
                id=uuid4(),
                row=0,
                col=k,
                content=Content.LARVA,
                age_h=age_h,
                looks_age_h=age_h,
                length_mm=None,
                curl_deg=None,
                jelly=None,
                tile_id=f"tile-{k}",
            )
            for k, age_h in enumerate(AGES_H)
        )
        shown = ShownRound(
            id=uuid4(),
            learner_id=learner,
            drill=drill,
            cells=cells,
            limits=Limits(),
            recipe=marks_of_run(run_id, n_cells) if recipe is None else recipe,
            kind="drawn",
            shown_at_utc=at,
        )
        store.show_round(shown)
        givens = [
            Given(
                cell_id=cell.id,
                answer=Answer.TAKE if cell.age_h <= old_h else Answer.LEAVE,
                response_ms=900,
                is_final=True,
            )
            for cell in cells[:n_answered]
        ]
        store.end_round(shown.id, givens, now=at)

    return make


def test_a_check_answered_to_its_end_is_told_with_its_interval(store, learner, put):
    put(uuid4(), NOW)
    (check,) = checks_of(store, learner, CHECK.key, UTC)
    assert (check.day, len(check.table)) == (NOW.date(), 20)
    assert check.score.n_right == check.score.n_picks == 10
    assert check.score.right.lo < 1.0
    assert check.edges.n_answers == 20


def test_one_that_was_broken_off_is_left_out(store, learner, put):
    put(uuid4(), NOW, n_answered=12)
    assert checks_of(store, learner, CHECK.key, UTC) == ()


def test_both_combs_of_a_long_check_belong_together(store, learner, put):
    run = uuid4()
    put(run, NOW, n_cells=40)
    assert checks_of(store, learner, CHECK.key, UTC) == ()
    put(run, NOW + timedelta(minutes=2), n_cells=40)
    (check,) = checks_of(store, learner, CHECK.key, UTC)
    assert len(check.table) == 40


def test_a_recipe_that_tells_nothing_is_no_check(store, learner, put):
    put(uuid4(), NOW, recipe={})
    put(uuid4(), NOW, recipe={"check_run": "no id", "check_cells": "20"})
    assert checks_of(store, learner, CHECK.key, UTC) == ()


def test_the_first_check_is_compared_with_nothing(store, learner, put):
    put(uuid4(), NOW)
    told = told_check(checks_of(store, learner, CHECK.key, UTC))
    assert (told.before, told.has_held, told.moved) == (None, None, None)
    assert told_check(()) is None


@pytest.mark.parametrize(("old_h", "moves"), [(28.0, False), (48.0, True)])
def test_a_line_that_slid_is_told_and_one_that_stayed_is_not(store, learner, put, old_h, moves):
    for at, taken_to_h in ((NOW, 28.0), (NOW + 7 * DAY, old_h)):
        run = uuid4()
        for part in range(2):
            put(run, at + timedelta(minutes=part), n_cells=40, old_h=taken_to_h)
    told = told_check(checks_of(store, learner, CHECK.key, UTC))
    assert told.has_moved is moves
    assert told.has_held is not moves


def test_test_tiles_are_counted_over_all_tests_and_checks(store, learner, put):
    put(uuid4(), NOW)
    put(uuid4(), NOW + DAY, drill=COURSE_DAY_TEST)
    seen = seen_in_tests(store, learner, frozenset({"tile-3"}))
    assert set(seen.times.values()) == {2}
    assert seen.spent == {"tile-3"}


@pytest.fixture
def course_day(store, learner, put):
    run = uuid4()
    for part in range(2):
        put(run, NOW + timedelta(minutes=part), n_cells=40, drill=COURSE_DAY_TEST)
    (check,) = checks_of(store, learner, COURSE_DAY_TEST.key, UTC)
    return check


def test_the_course_day_is_told_without_a_pass(course_day):
    told = course_day_of(course_day)
    assert told.score.n_picks == 20
    assert "cannot show that you are ready" in told.sentence


def test_its_sheet_is_one_page_of_paper(course_day, tmp_path):
    path = tmp_path / "sheet.pdf"
    save_course_day_sheet(path, course_day, name="Mira")
    data = path.read_bytes()
    assert data.startswith(b"%PDF")
    assert data.count(b"/Type /Page\n") == 1


def test_a_folder_that_is_not_there_is_named(course_day, tmp_path):
    with pytest.raises(OutputFolderError):
        save_course_day_sheet(tmp_path / "none" / "sheet.pdf", course_day, name="Mira")
