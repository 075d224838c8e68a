"""Homework: taken in, worked on, sent back; twelve results brought in, some of them odd."""

from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from lessons import BEGIN, LIMITS, MADE, answered, result, right_answers, small_lesson, write_result

from larvasight.desk.broken_off import open_round
from larvasight.desk.homework import (
    bring_in_results,
    file_name,
    homework,
    kept_lesson,
    lesson_again,
    open_lesson,
    result_of,
    save_result,
    standing,
)
from larvasight.desk.keeping import Keeper
from larvasight.desk.lesson import comb_of
from larvasight.desk.lesson_file import lesson_bytes
from larvasight.desk.lesson_results import lesson_results
from larvasight.desk.practising import Session
from larvasight.desk.result_file import read_result, result_bytes
from larvasight.errors import HomeworkInvalidError
from larvasight.practice import Answer, Shows
from larvasight.records.archive import backup_to, restore_from
from larvasight.records.store import Store

NOW = BEGIN + timedelta(days=3)


@pytest.fixture(scope="module")
def lesson():
    return small_lesson()


@pytest.fixture
def lesson_path(lesson, tmp_path):
    path = tmp_path / "week one.lvlesson"
    path.write_bytes(lesson_bytes(lesson))
    return path


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "data" / "records.db", now=MADE) as opened:
        yield opened


@pytest.fixture
def teacher(store, lesson):
    """The teacher's records, with the lesson as it was made there."""
    file = lesson_bytes(lesson)
    store.put_lesson(lesson.id, title=lesson.title, file=file, is_homework=False, now=MADE)
    return store


class Ticking:
    """A clock that goes on by two seconds at each look."""

    def __init__(self):
        self.at = BEGIN

    def __call__(self):
        self.at += timedelta(seconds=2)
        return self.at


def play(store, learner, lesson, at, answers=None, n=None):
    """Answer a comb of a lesson in the store; only ``n`` of its cells where that is told."""
    keeper = Keeper(store, tell=lambda _told: None, trouble=lambda _said: None)
    comb, clock = comb_of(lesson, at), Ticking()
    session = Session(comb, keeper, learner_id=learner.id, limits=lesson.limits, now=clock)
    session.begin()
    answers = right_answers(lesson.tasks[at]) if answers is None else answers
    if comb.drill.shows is Shows.PATCH:
        for index, answer in enumerate(answers[:n]):
            if answer is Answer.TAKE:
                session.toggle(index, lambda: None)
        if n is None:
            session.enter(lambda: None)
    else:
        for answer in answers[:n]:
            session.answer(answer, lambda: None)
            session.advance()
    assert keeper.flush(5.0)
    keeper.close(1.0)


def test_a_lesson_taken_in_is_homework_until_all_of_it_is_done(store, lesson, lesson_path):
    mira = store.add_learner("Mira", now=MADE)
    taken = open_lesson(store, lesson_path, now=NOW)
    assert [(one.title, one.is_homework) for one in store.lessons()] == [("Week one", True)]
    found = standing(store, mira.id, taken)
    assert (found.n_done, found.n_tasks, found.next_task, found.is_done) == (0, 2, 0, False)
    play(store, mira, taken, 0)
    found = standing(store, mira.id, taken)
    assert (found.n_done, found.next_task) == (1, 1)
    play(store, mira, taken, 1)
    found = standing(store, mira.id, taken)
    assert (found.n_done, found.next_task, found.is_done) == (2, None, True)
    assert found.latest_at_utc > BEGIN


def test_a_comb_that_was_given_up_is_not_done(store, lesson, lesson_path):
    mira = store.add_learner("Mira", now=MADE)
    taken = open_lesson(store, lesson_path, now=NOW)
    play(store, mira, taken, 0, n=9)
    store.end_round(store.unfinished_round(mira.id).id, (), now=NOW)
    assert standing(store, mira.id, taken).next_task == 0
    with pytest.raises(HomeworkInvalidError, match="No comb of this lesson is done yet"):
        result_of(store, mira, taken, now=NOW)


def test_a_comb_given_up_after_some_of_its_cells_is_to_be_done_again(store, lesson, lesson_path):
    mira = store.add_learner("Mira", now=MADE)
    taken = open_lesson(store, lesson_path, now=NOW)
    play(store, mira, taken, 1, n=2)
    store.end_round(store.unfinished_round(mira.id).id, (), now=NOW)
    assert standing(store, mira.id, taken).n_done == 0
    play(store, mira, taken, 1)
    assert standing(store, mira.id, taken).n_done == 1
    (found,) = result_of(store, mira, taken, now=NOW).rounds
    assert None not in found.answers


def test_one_lesson_that_cannot_be_read_hides_no_other(store, lesson, lesson_path):
    mira = store.add_learner("Mira", now=MADE)
    open_lesson(store, lesson_path, now=NOW)
    store.put_lesson(uuid4(), title="Odd", file=b"none", is_homework=True, now=NOW)
    assert [one.title for one in homework(store, mira.id, now=NOW)] == ["Week one"]


def test_answers_that_are_here_as_somebody_elses_are_refused(teacher, lesson, tmp_path):
    nele = result(lesson, "Nele")
    as_zoe = replace(nele, learner_id=uuid4(), learner_name="Zoe")
    paths = [write_result(tmp_path, one) for one in (nele, as_zoe)]
    first, second = bring_in_results(teacher, paths, now=NOW)
    assert not first.is_refused
    assert second.is_refused
    assert "The answers of Zoe are here as somebody else's" in second.sentence
    assert [one.name for one in teacher.learners()] == ["Nele"]


def test_a_comb_of_a_lesson_that_was_broken_off_is_gone_on_with(store, lesson, lesson_path):
    mira = store.add_learner("Mira", now=MADE)
    taken = open_lesson(store, lesson_path, now=NOW)
    play(store, mira, taken, 0, n=12)
    unfinished = open_round(store, mira.id, now=NOW)
    assert unfinished is not None
    assert unfinished.kind == "lesson"
    comb = lesson_again(unfinished, store)
    assert comb.asked == unfinished.cells
    assert comb.pixels.shape == (320, 420, 3)
    other = replace(unfinished, recipe=unfinished.recipe | {"lesson": str(uuid4())})
    assert lesson_again(other, store) is None
    assert lesson_again(replace(unfinished, recipe={"lesson": 3}), store) is None
    assert lesson_again(replace(unfinished, recipe=unfinished.recipe | {"task": 7}), store) is None


def test_a_lesson_opened_twice_is_there_once_and_another_of_its_name_is_refused(
    store, lesson, lesson_path, tmp_path
):
    open_lesson(store, lesson_path, now=NOW)
    open_lesson(store, lesson_path, now=NOW)
    assert len(store.lessons()) == 1
    forged = tmp_path / "forged.lvlesson"
    forged.write_bytes(lesson_bytes(replace(lesson, title="Week one, easy")))
    with pytest.raises(
        HomeworkInvalidError, match=r"forged\.lvlesson is not the lesson that is here"
    ):
        open_lesson(store, forged, now=NOW)
    assert kept_lesson(store, lesson.id).title == "Week one"


def test_a_lesson_removed_comes_back_when_it_is_opened_again(store, lesson, lesson_path):
    open_lesson(store, lesson_path, now=NOW)
    store.remove_lesson(lesson.id, now=NOW)
    assert store.lessons() == []
    assert [one.is_removed for one in store.lessons(with_removed=True)] == [True]
    open_lesson(store, lesson_path, now=NOW)
    assert [one.is_removed for one in store.lessons()] == [False]
    with pytest.raises(ValueError, match="lesson_id must be a known lesson's"):
        store.remove_lesson(uuid4(), now=NOW)


def test_what_a_student_did_is_with_the_teacher_as_it_was_answered(
    store, lesson, lesson_path, tmp_path
):
    mira = store.add_learner("Mira", now=MADE)
    taken = open_lesson(store, lesson_path, now=NOW)
    wrong = [Answer.TAKE] * len(lesson.tasks[0].places)
    play(store, mira, taken, 0, wrong)
    play(store, mira, taken, 1)
    path = tmp_path / "out.lvresult"
    save_result(store, mira, taken, path, now=NOW)
    with Store.open(tmp_path / "school" / "records.db", now=MADE) as school:
        file = lesson_bytes(lesson)
        school.put_lesson(lesson.id, title=lesson.title, file=file, is_homework=False, now=MADE)
        (told,) = bring_in_results(school, [path], now=NOW)
        assert told.sentence == "Mira: all 2 combs of Week one."
        assert [(one.name, one.id) for one in school.learners()] == [("Mira", mira.id)]
        here = {one.id: one for one in store.kept_rounds(mira.id, [], mark=str(lesson.id))}
        there = {one.id: one for one in school.kept_rounds(mira.id, [], mark=str(lesson.id))}
        assert here.keys() == there.keys()
        for round_id, one in here.items():
            assert there[round_id].answers == one.answers
            assert [g and g.response_ms for g in there[round_id].givens] == [
                g and g.response_ms for g in one.givens
            ]
            assert there[round_id].limits == replace(LIMITS, by="")
            assert [cell.content for cell in there[round_id].cells] == [
                cell.content for cell in one.cells
            ]
        assert len(school.answers(mira.id)) == len(store.answers(mira.id))


def test_the_teacher_sees_a_line_for_each_student(teacher, lesson, tmp_path):
    n_right = sum(a is Answer.TAKE for task in lesson.tasks for a in right_answers(task))
    everything = [[Answer.TAKE] * len(task.places) for task in lesson.tasks]
    greedy = tuple(answered(lesson, at, everything[at]) for at in (0, 1))
    paths = [
        write_result(tmp_path, result(lesson, "Jon")),
        write_result(tmp_path, result(lesson, "Ada", rounds=greedy)),
    ]
    bring_in_results(teacher, paths, now=NOW)
    teacher.add_learner("Nobody yet", now=NOW)
    ada, jon = lesson_results(teacher, lesson).lines
    assert (ada.name, jon.name) == ("Ada", "Jon")
    assert (jon.n_done, jon.score.n_right, jon.score.n_picks) == (2, n_right, n_right)
    assert jon.score.n_missed == 0
    assert ada.score.n_right >= n_right
    assert ada.score.n_picks > ada.score.n_right


def test_twelve_results_come_in_at_once_in_any_order_and_each_once(teacher, lesson, tmp_path):
    names = ["Ada", "Jon", "Mira", "Nele", "Ole", "Pia", "Rike", "Sol", "Ada"]
    made = [result(lesson, name) for name in names]
    part = replace(made[3], rounds=made[3].rounds[:1])
    paths = [write_result(tmp_path, one, f"{k}") for k, one in enumerate(made)]
    paths.append(write_result(tmp_path, part, "part"))
    paths.append(write_result(tmp_path, made[0], "copy of 0"))
    strange = write_result(tmp_path, replace(made[1], lesson_id=uuid4()), "strange")
    broken = tmp_path / "broken.lvresult"
    broken.write_bytes(paths[0].read_bytes()[:200])
    gone = tmp_path / "gone.lvresult"
    odd = [strange, broken, gone]
    told = bring_in_results(teacher, [odd[0], *paths[::-1], *odd[1:]], now=NOW)
    assert [one.is_refused for one in told] == [True, *[False] * 11, True, True]
    assert "lesson that is not on this computer" in told[0].sentence
    assert "damaged or no result" in told[-2].sentence
    assert "cannot be read" in told[-1].sentence
    said = {one.file: one.sentence for one in told}
    assert said["part.lvresult"] == "Nele: 1 of 2 combs of Week one."
    assert said["3.lvresult"] == "Nele: all 2 combs of Week one, 1 of them new."
    assert {said["0.lvresult"], said["copy of 0.lvresult"]} >= {"Ada: this was here already."} or {
        said["0.lvresult"],
        said["copy of 0.lvresult"],
    } >= {"Ada (2): this was here already."}
    found = [one.name for one in teacher.learners()]
    assert found == ["Ada", "Ada (2)", *sorted(names[1:-1])]
    n_cells = sum(len(task.places) for task in lesson.tasks)
    for learner in teacher.learners():
        assert len(teacher.answers(learner.id)) == n_cells, learner.name
    again = bring_in_results(teacher, paths, now=NOW)
    assert all("this was here already" in one.sentence for one in again)


def test_a_result_that_does_not_fit_its_lesson_changes_nothing(teacher, lesson, tmp_path):
    good = answered(lesson, 0)
    odd = {
        "short": replace(good, answers=good.answers[:-1]),
        "none": replace(good, answers=(None,) * len(good.answers)),
        "gap": replace(good, answers=(*good.answers[:-1], None)),
        "far": replace(good, task=2),
        "future": replace(good, ended_at_utc=NOW + timedelta(days=3)),
    }
    paths = [
        write_result(tmp_path, result(lesson, "Nele", rounds=(one,)), name)
        for name, one in odd.items()
    ]
    for told in bring_in_results(teacher, paths, now=NOW):
        assert told.is_refused
        is_none = told.file in ("none.lvresult", "gap.lvresult")
        why = "holds no comb that was done to its end" if is_none else "does not fit the lesson"
        assert f"{told.file} {why}" in told.sentence
    assert teacher.learners() == []


def test_a_result_with_a_name_that_cannot_be_is_refused(teacher, lesson, tmp_path):
    path = write_result(tmp_path, replace(result(lesson, "x"), learner_name="\a\b"), "bell")
    (told,) = bring_in_results(teacher, [path], now=NOW)
    assert told.is_refused
    assert told.sentence.startswith("bell.lvresult: A name needs 1 to 60 characters")
    assert teacher.learners() == []


def test_a_backup_takes_lessons_along(teacher, lesson, tmp_path):
    backup = tmp_path / "all.larvabackup"
    backup_to(teacher, tmp_path / "photos", backup, now=NOW)
    restore_from(backup, tmp_path / "again", now=NOW)
    with Store.open(tmp_path / "again" / "records.db", now=NOW) as again:
        assert kept_lesson(again, lesson.id) == kept_lesson(teacher, lesson.id)


def test_the_name_of_a_result_can_be_a_file_name():
    assert file_name("Week 1: A/B?", "Mira *", ending=".lvresult") == "Week 1 A B - Mira.lvresult"
    assert file_name("???", ending=".lvlesson") == "larvasight.lvlesson"


def test_a_result_written_is_the_result_read(lesson, store, lesson_path):
    mira = store.add_learner("Mira", now=MADE)
    taken = open_lesson(store, lesson_path, now=NOW)
    play(store, mira, taken, 1)
    made = result_of(store, mira, taken, now=NOW)
    assert [one.task for one in made.rounds] == [1]
    assert read_result(result_bytes(made), "mira.lvresult") == made


def test_a_comb_given_up_halfway_does_not_stop_the_whole_ones_of_a_result(
    teacher, lesson, tmp_path
):
    whole, broken = answered(lesson, 0), answered(lesson, 1)
    gap = replace(broken, answers=(broken.answers[0], *(None,) * (len(broken.answers) - 1)))
    path = write_result(tmp_path, result(lesson, "Nele", rounds=(whole, gap)))
    (told,) = bring_in_results(teacher, [path], now=NOW)
    assert told.sentence == "Nele: 1 of 2 combs of Week one."
    alone = write_result(tmp_path, result(lesson, "Ole", rounds=(gap,)))
    (told,) = bring_in_results(teacher, [alone], now=NOW)
    assert told.is_refused
    assert "holds no comb that was done to its end" in told.sentence
