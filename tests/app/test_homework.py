"""Homework in the window: a lesson is taken in, worked on, broken off, saved; results come back."""

import pytest
from lessons import LIMITS, answered, result, right_answers, small_lesson, write_result
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QPushButton, QWidget

from larvasight.app import homework_saving, lesson_dialog, lessons_dialog
from larvasight.app.homework_menu import open_lesson_file
from larvasight.app.jobs import wait_for_jobs
from larvasight.app.lesson_dialog import LessonDialog
from larvasight.app.lessons_dialog import LessonsDialog
from larvasight.app.practise_page import PractisePage
from larvasight.app.today_flow import TodayFlow
from larvasight.desk.homework import standing
from larvasight.desk.lesson_file import lesson_bytes, read_lesson
from larvasight.desk.result_file import read_result
from larvasight.errors import StoreFullError
from larvasight.practice import Answer, Shows


@pytest.fixture(scope="module")
def lesson():
    return small_lesson()


@pytest.fixture
def told(monkeypatch):
    """Gather what message boxes say."""
    said = []
    for kind in ("information", "warning"):
        monkeypatch.setattr(QMessageBox, kind, lambda _parent, _title, words: said.append(words))
    return said


@pytest.fixture
def homework(context, lesson):
    context.store.put_lesson(
        lesson.id,
        title=lesson.title,
        file=lesson_bytes(lesson),
        is_homework=True,
        now=context.now(),
    )


@pytest.fixture
def make_page(qtbot):
    def make(context):
        made = PractisePage(context)
        qtbot.addWidget(made)
        made.resize(1180, 740)
        made.show()
        made.stop()
        qtbot.waitUntil(lambda: bool(made.start.homework.buttons))
        return made

    return make


@pytest.fixture
def page(make_page, context, homework):
    return make_page(context)


def words_on(card):
    return [button.text() for button in card.findChildren(QPushButton)]


def do_comb(qtbot, page, lesson, at):
    """Answer one comb of the lesson, all right."""
    qtbot.waitUntil(lambda: page.session is not None and not page.is_told)
    session = page.session
    assert session.comb.recipe["task"] == at
    assert session.limits == LIMITS
    answers = right_answers(lesson.tasks[at])
    if session.round.drill.shows is Shows.PATCH:
        for index, answer in enumerate(answers):
            if answer is Answer.TAKE:
                page.comb.cell_pressed.emit(index)
        qtbot.keyClick(page, Qt.Key.Key_Return)
        qtbot.waitUntil(lambda: page.is_told)
    else:
        for answer in answers:
            qtbot.waitUntil(lambda: not page.is_told)
            page.answer(answer)
            qtbot.waitUntil(lambda: page.is_told)
            if answer is not answers[-1] or session.round.n_answered < len(answers):
                page.go_on()
    page.go_on()


def test_a_lesson_is_done_comb_by_comb_and_its_result_saved(
    qtbot, page, context, lesson, told, tmp_path, monkeypatch, words_of, press
):
    assert "From Ilse. 2 combs." in words_of(page.start)
    page.start.homework.buttons[0].click()
    do_comb(qtbot, page, lesson, 0)
    do_comb(qtbot, page, lesson, 1)
    done = "2 combs, all done. Save the result file and send it to Ilse."
    qtbot.waitUntil(lambda: done in words_of(page))
    path = tmp_path / "out.lvresult"
    monkeypatch.setattr(homework_saving, "ask_save_path", lambda *_: path)
    press(page, "Save the result ...")
    made = read_result(path.read_bytes(), path.name)
    assert (made.learner_name, [one.task for one in made.rounds]) == ("Mira", [0, 1])
    assert [answer for answer, _ in made.rounds[0].answers] == right_answers(lesson.tasks[0])
    assert "Send this file to Ilse." in told[-1]
    press(page, "Back")
    qtbot.waitUntil(lambda: words_on(page.start.homework) == ["Save the result ..."])


def test_a_comb_of_a_lesson_broken_off_is_gone_on_with_after_a_restart(
    qtbot, open_context, make_page, lesson
):
    context = open_context()
    file = lesson_bytes(lesson)
    context.store.put_lesson(
        lesson.id, title=lesson.title, file=file, is_homework=True, now=context.now()
    )
    page = make_page(context)
    page.start.homework.buttons[0].click()
    qtbot.waitUntil(lambda: page.session is not None)
    round_id = page.session.round_id
    page.comb.cell_pressed.emit(2)
    assert context.keeper.flush(5.0)
    page.close()
    wait_for_jobs()
    context.close()
    context = open_context()
    page = make_page(context)
    assert page.start.homework.buttons[0].text() == "Go on"
    page.start.homework.buttons[0].click()  # the open comb, and not the next one
    qtbot.waitUntil(lambda: page.session is not None)
    assert page.session.round_id == round_id
    assert page.session.round.n_marked == 1
    page.enter()
    page.enter()
    qtbot.waitUntil(lambda: page.is_told)
    page.go_on()
    qtbot.waitUntil(lambda: page.session is not None and page.session.round_id != round_id)
    assert page.session.comb.recipe["task"] == 1
    assert standing(context.store, context.learner.id, lesson).n_done == 1


def test_a_part_of_today_done_before_does_not_end_the_lesson(qtbot, page, lesson, monkeypatch):
    monkeypatch.setattr(TodayFlow, "is_done", property(lambda flow: flow._part is not None))
    page.start.homework.buttons[0].click()
    qtbot.waitUntil(lambda: page.session is not None)
    page.comb.cell_pressed.emit(2)
    page.stop()
    page._flow.begin(object())  # what was done of today before the lesson was gone on with
    qtbot.waitUntil(lambda: bool(page.start.homework.buttons))
    page.start.homework.buttons[0].click()
    qtbot.waitUntil(lambda: page.session is not None)
    page.enter()
    page.enter()
    qtbot.waitUntil(lambda: page.is_told)
    page.go_on()
    qtbot.waitUntil(lambda: page.session is not None and not page.is_told)
    assert page.session.comb.recipe["task"] == 1


def test_another_drill_leaves_the_lesson(qtbot, page, small_combs, context):
    page.start.homework.buttons[0].click()
    qtbot.waitUntil(lambda: page.session is not None)
    page.stop()
    page.start.buttons["pick-from-patch"].click()
    qtbot.waitUntil(lambda: page.session is not None)
    assert "lesson" not in page.session.comb.recipe
    page.enter()
    page.enter()
    qtbot.waitUntil(lambda: page.is_told)
    page.go_on()
    qtbot.waitUntil(lambda: page.session is not None)
    assert "lesson" not in page.session.comb.recipe


class Window(QWidget):
    """Stands for the window that a menu belongs to; remembers where it went."""

    def __init__(self):
        super().__init__()
        self.gone_to = []

    def go_to(self, key):
        self.gone_to.append(key)


@pytest.fixture
def window(qtbot):
    made = Window()
    made.resize(1200, 800)
    qtbot.addWidget(made)
    return made


def test_a_lesson_file_is_opened_or_refused_in_one_sentence(
    window, context, lesson, told, tmp_path
):
    path = tmp_path / "week.lvlesson"
    path.write_bytes(b"none")
    open_lesson_file(window, context, path)
    assert told == ["week.lvlesson is damaged or no lesson of larvasight, so nothing was changed."]
    assert (context.store.lessons(), window.gone_to) == ([], [])
    path.write_bytes(lesson_bytes(lesson))
    open_lesson_file(window, context, path)
    assert "Week one: 2 combs. It stands on Practise now" in told[-1]
    assert window.gone_to == ["practise"]
    assert [one.is_homework for one in context.store.lessons()] == [True]


def test_a_lesson_is_made_kept_and_saved(qtbot, window, context, told, tmp_path, monkeypatch):
    made = []

    def make(parts, **told_of):
        made.append(([(drill.key, n) for drill, n in parts if n], told_of["title"]))
        return small_lesson()

    monkeypatch.setattr(lesson_dialog, "make_lesson", make)
    path = tmp_path / "saved.lvlesson"
    monkeypatch.setattr(homework_saving, "ask_save_path", lambda *_: path)
    dialog = LessonDialog(window, context)
    dialog.show()
    assert dialog.by.text() == "Mira"
    dialog.name.setText("Week one")
    dialog.parts[0][1].setValue(2)
    assert dialog.told.text() == "3 combs, about 6 minutes."
    dialog.make_button.click()
    qtbot.waitUntil(lambda: not dialog.isVisible())
    assert made == [([("pick-from-patch", 2), ("take-or-leave", 1)], "Week one")]
    assert read_lesson(path.read_bytes(), path.name) == read_lesson(
        lesson_bytes(small_lesson()), "again"
    )
    assert [one.is_homework for one in context.store.lessons()] == [False]
    assert "Send it to your students" in told[-1]


def test_a_lesson_without_a_title_says_so_and_can_be_mended(qtbot, window, context):
    dialog = LessonDialog(window, context)
    dialog.show()
    dialog.make_button.click()
    qtbot.waitUntil(lambda: dialog.make_button.isEnabled())
    assert "A lesson needs a title" in dialog.told.text()
    for _, box, _ in dialog.parts:
        box.setValue(0)
    assert not dialog.make_button.isEnabled()
    assert dialog.told.text() == "No comb yet."
    dialog.reject()


def test_a_lesson_whose_file_was_not_saved_is_told_to_be_kept(
    qtbot, window, context, told, monkeypatch
):
    monkeypatch.setattr(lesson_dialog, "make_lesson", lambda *_parts, **_told: small_lesson())
    monkeypatch.setattr(homework_saving, "ask_save_path", lambda *_: None)
    dialog = LessonDialog(window, context)
    dialog.show()
    dialog.name.setText("Week one")
    dialog.make_button.click()
    assert dialog.told.text() == "Drawing the combs ..."
    qtbot.waitUntil(lambda: not dialog.isVisible())
    assert len(context.store.lessons()) == 1
    assert "kept on this computer" in told[-1]


def test_a_lesson_without_results_offers_no_table(qtbot, window, context, homework):
    dialog = LessonsDialog(window, context)
    qtbot.waitUntil(lambda: dialog.results is not None)
    assert not dialog.table_button.isEnabled()
    dialog.reject()


def test_results_come_in_and_are_told_student_by_student(
    qtbot, window, context, homework, lesson, tmp_path, words_of, monkeypatch
):
    everything = [Answer.TAKE] * len(lesson.tasks[0].places)
    greedy = (answered(lesson, 0, everything),)
    paths = [
        write_result(tmp_path, result(lesson, "Ada")),
        write_result(tmp_path, result(lesson, "Jon", rounds=greedy)),
        write_result(tmp_path, result(lesson, "Nele", rounds=(answered(lesson, 0, everything),))),
    ]
    (tmp_path / "odd.lvresult").write_bytes(b"odd")
    dialog = LessonsDialog(window, context)
    dialog.show()
    dialog.bring_in([*paths, paths[0], tmp_path / "odd.lvresult"])
    assert not dialog.choice.isEnabled()
    qtbot.waitUntil(lambda: dialog.results is not None and len(dialog.results.lines) == 3)
    assert dialog.told.text().splitlines() == [
        "5 files: 3 brought in, 1 here already, 1 refused.",
        "Brought in: Ada, Jon, Nele.",
        "Here already: Ada.",
        "odd.lvresult is damaged or no result of larvasight, so nothing was changed.",
    ]
    assert dialog.choice.isEnabled()
    qtbot.waitUntil(lambda: "Jon" in words_of(dialog))
    words = words_of(dialog)
    assert {"Ada", "2 of 2", "Jon", "1 of 2", "right picks"} <= set(words)
    assert any("Comb 1: 2 of 3 took" in one for one in words)
    path = tmp_path / "table.csv"
    monkeypatch.setattr(lessons_dialog, "ask_save_path", lambda *_: path)
    monkeypatch.setattr(lessons_dialog, "tell_saved", lambda *_: None)
    dialog.save_table()
    assert path.read_text(encoding="utf-8-sig").splitlines()[1].startswith("Ada,2,2,")
    monkeypatch.setattr(lessons_dialog, "ask_yes", lambda *_, **_kw: True)
    dialog.remove()
    assert context.store.lessons() == []
    qtbot.waitUntil(lambda: "No lesson is here yet." in " ".join(words_of(dialog)))
    dialog.accept()


def test_results_that_cannot_be_stored_are_told_and_the_lesson_stays(
    qtbot, window, context, homework, lesson, tmp_path, monkeypatch
):
    def fail(*_args, **_kwargs):
        msg = "The records could not be written: the disk is full."
        raise StoreFullError(msg)

    monkeypatch.setattr(lessons_dialog, "bring_in_results", fail)
    dialog = LessonsDialog(window, context)
    dialog.bring_in([write_result(tmp_path, result(lesson, "Ada"))])
    qtbot.waitUntil(lambda: dialog.results is not None)
    assert "disk is full" in dialog.told.text()
    assert dialog.choice.isEnabled()
    assert dialog.lesson_id == lesson.id
    dialog.reject()


def test_a_comb_of_a_lesson_stays_open_while_another_drill_is_done(
    qtbot, page, lesson, context, words_of
):
    page.start.homework.buttons[0].click()
    do_comb(qtbot, page, lesson, 0)
    qtbot.waitUntil(lambda: page.session is not None)
    round_id = page.session.round_id
    page.answer(right_answers(lesson.tasks[1])[0])
    qtbot.waitUntil(lambda: page.is_told)
    page.stop()
    assert any("A comb of your homework is still open: " in words for words in words_of(page))
    page.start.buttons["pick-from-patch"].click()
    qtbot.waitUntil(lambda: page.session is not None)
    page.stop()
    qtbot.waitUntil(lambda: page.start.homework.standings[0].n_done == 1)
    page.start.homework.buttons[0].click()
    qtbot.waitUntil(lambda: page.session is not None)
    assert page.session.round_id == round_id
    assert page.session.round.n_answered == 1
