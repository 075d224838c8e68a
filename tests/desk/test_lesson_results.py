"""What came back of a lesson: lines for the teacher, a table, and the cells that many got wrong."""

import csv
import io

import pytest
from lessons import BEGIN, LIMITS, answered, result, right_answers, small_lesson, write_result

from larvasight.desk.homework import bring_in_results
from larvasight.desk.lesson import asked_of, decoded
from larvasight.desk.lesson_file import lesson_bytes, read_lesson
from larvasight.desk.lesson_results import cell_picture, lesson_results, results_table
from larvasight.practice import Answer
from larvasight.practice.scoring import Outcome, outcome_of
from larvasight.records.store import Store


@pytest.fixture(scope="module")
def lesson():
    return read_lesson(lesson_bytes(small_lesson()), "week.lvlesson")


@pytest.fixture
def store(tmp_path, lesson):
    with Store.open(tmp_path / "records.db", now=BEGIN) as opened:
        file = lesson_bytes(lesson)
        opened.put_lesson(lesson.id, title="Week one", file=file, is_homework=False, now=BEGIN)
        yield opened


def come_back(store, tmp_path, *made):
    paths = [write_result(tmp_path, one) for one in made]
    told = bring_in_results(store, paths, now=BEGIN.replace(day=9))
    assert not any(one.is_refused for one in told)


def wrong_at(task, position):
    """Return right answers but for one cell."""
    answers = right_answers(task)
    other = {Answer.TAKE: Answer.LEAVE, Answer.LEAVE: Answer.TAKE}
    answers[position] = other[answers[position]]
    return answers


def cell_with(task, outcome):
    """Return the position of a cell whose taking has this outcome."""
    found = [outcome_of(cell, Answer.TAKE, LIMITS) for cell in asked_of(task)]
    return found.index(outcome)


def test_the_cell_that_most_got_wrong_stands_first_and_says_how(store, lesson, tmp_path):
    task = lesson.tasks[0]
    old, egg = cell_with(task, Outcome.TOO_OLD), cell_with(task, Outcome.EGG)
    right = cell_with(task, Outcome.RIGHT)
    wrong = {"Ada": old, "Jon": old, "Nele": old, "Ole": egg, "Pia": egg, "Sol": right}
    come_back(
        store,
        tmp_path,
        *(
            result(lesson, name, rounds=(answered(lesson, 0, wrong_at(task, at)),))
            for name, at in wrong.items()
        ),
    )
    hard = lesson_results(store, lesson).hard
    assert [(one.position, one.n_wrong, one.n) for one in hard] == [(old, 3, 6), (egg, 2, 6)]
    assert hard[0].words.startswith("Comb 1: 3 of 6 took a larva of ")
    assert hard[1].words == "Comb 1: 2 of 6 took an egg."


def test_a_larva_that_many_left_is_told_as_left(store, lesson, tmp_path):
    task = lesson.tasks[1]
    at = cell_with(task, Outcome.RIGHT)
    come_back(
        store,
        tmp_path,
        *(
            result(lesson, name, rounds=(answered(lesson, 1, wrong_at(task, at)),))
            for name in ("Ada", "Jon")
        ),
    )
    (hard,) = lesson_results(store, lesson).hard
    assert hard.words.startswith("Comb 2: 2 of 2 left a larva of ")


def test_the_picture_of_a_cell_is_cut_from_its_comb(store, lesson, tmp_path):
    task = lesson.tasks[0]
    at = cell_with(task, Outcome.TOO_OLD)
    rounds = (answered(lesson, 0, wrong_at(task, at)),)
    come_back(store, tmp_path, result(lesson, "A", rounds=rounds))
    assert lesson_results(store, lesson).hard == ()  # one learner alone is nothing to talk about
    again = (answered(lesson, 0, wrong_at(task, at)),)
    come_back(store, tmp_path, result(lesson, "C", rounds=again))
    (hard,) = lesson_results(store, lesson).hard
    picture = cell_picture(lesson, hard)
    cell = task.sheet.cells[task.places[at]]
    x, y = (round(value) for value in cell.centre_xy_px)
    side = picture.shape[0]
    left, top = (round(value - side / 2.0) for value in cell.centre_xy_px)
    assert picture.shape == (side, side, 3)
    assert (picture[y - top, x - left] == decoded(task.picture)[y, x]).all()


@pytest.mark.reference("RFC 4180: CSV, a header and one record to a line, CRLF between them")
def test_the_table_has_one_record_for_each_student(store, lesson, tmp_path):
    come_back(store, tmp_path, result(lesson, "Ada, the first"), result(lesson, "=Jon"))
    text = results_table(lesson_results(store, lesson))
    assert text.count("\r\n") == 3
    head, jon, ada = list(csv.reader(io.StringIO(text)))
    n_right = sum(a is Answer.TAKE for task in lesson.tasks for a in right_answers(task))
    assert head[:5] == ["name", "combs_done", "combs", "picks", "right_picks"]
    assert jon[0] == "'=Jon"
    assert ada == ["Ada, the first", "2", "2", str(n_right), str(n_right), *("0" * 4), str(n_right)]
