"""The window: from the first run to the last answer stored, and what happens when it cannot be."""

import shutil
import sqlite3
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta
from functools import partial
from types import SimpleNamespace

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, QSize, Qt
from PySide6.QtGui import QAction, QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QCheckBox,
    QDialog,
    QFileDialog,
    QInputDialog,
    QLabel,
    QLineEdit,
    QMessageBox,
    QSpinBox,
)

from larvasight.app import leaving, opening, parts
from larvasight.app.comb_supply import CombSupply
from larvasight.app.help_dialog import HelpDialog
from larvasight.app.learners import LearnersDialog
from larvasight.app.limits_dialog import LimitsDialog
from larvasight.app.main import _own_fault
from larvasight.app.practise_words import span_words
from larvasight.app.settings import WindowSettings
from larvasight.app.theme import NIGHT, PAPER, TEXT_PX_DEFAULT, TEXT_PX_MAX, TEXT_PX_MIN, Look
from larvasight.app.trouble import TroubleBar
from larvasight.app.window import PLACES, Window
from larvasight.desk import keepsakes
from larvasight.errors import StoreFullError
from larvasight.grading import Limits
from larvasight.practice import PICK_FROM_PATCH
from larvasight.records.store import Store

MENUS = ["&Learner", "Home&work", "&Go to", "&View", "&Help"]
WANT = CombSupply.want
CONTROL = Qt.KeyboardModifier.ControlModifier
YES, NO = QMessageBox.StandardButton.Yes, QMessageBox.StandardButton.Cancel


@pytest.fixture(autouse=True)
def own_folder(monkeypatch, data):
    monkeypatch.setenv("LARVASIGHT_DATA", str(data))
    # Another program's lock is waited for only shortly.
    monkeypatch.setattr(Store, "open", partial(Store.open, wait_ms=30))


@pytest.fixture(autouse=True)
def draw_combs(monkeypatch, small_combs):
    """Draw no combs ahead, since few tests here look at one; return what lets them be drawn."""
    monkeypatch.setattr(CombSupply, "want", lambda *_: None)
    return lambda: monkeypatch.setattr(CombSupply, "want", WANT)


@pytest.fixture
def make_window(qtbot, dressing, settings):
    def make():
        window = Window(dressing, settings)
        qtbot.addWidget(window)
        window.show()
        window.activateWindow()
        qtbot.waitExposed(window)
        return window

    return make


@pytest.fixture
def known(data, new_records):
    """Put records with one learner, Mira, where the window looks for them."""
    data.mkdir()
    shutil.copy(new_records, data)
    return data


@pytest.fixture
def window(known, make_window, qtbot):
    made = make_window()
    qtbot.waitUntil(lambda: made.context is not None)
    return made


@pytest.fixture(scope="module")
def window_for_all(dressing_for_all, tmp_path_factory, new_records):
    """Open one window for all tests that leave it as it was."""
    folder = tmp_path_factory.mktemp("all")
    shutil.copy(new_records, folder)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LARVASIGHT_DATA", str(folder))
        patch.setattr(CombSupply, "want", lambda *_: None)
        window = Window(dressing_for_all, WindowSettings(folder / "settings"))
        window.show()
        end_s = time.monotonic() + 20.0
        while window.context is None and time.monotonic() < end_s:
            QTest.qWait(5)
        assert window.context is not None
        for key, _ in PLACES:
            window.place(key)  # pages made during a test would look as if it had left them
        yield window
        window.close()
    window.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


@pytest.fixture
def steady(window_for_all, dressing):
    """Return a window whose records and look are to stay as they are."""
    window_for_all.activateWindow()
    window_for_all.go_to("practise")
    window_for_all.trouble.say("")
    yield window_for_all
    assert [learner.name for learner in window_for_all.context.store.learners()] == ["Mira"]
    assert window_for_all.context.limits == Limits()


@pytest.fixture
def said(monkeypatch):
    """Collect what message boxes say; questions are answered with yes."""
    heard = []

    def hear(_parent, _title, words, *_buttons):
        heard.append(words)

    def hear_question(box):
        heard.append(box.text())
        return YES

    for name in ("information", "warning"):
        monkeypatch.setattr(QMessageBox, name, hear)
    monkeypatch.setattr(QMessageBox, "exec", hear_question)
    return heard


@pytest.fixture
def answer_box(monkeypatch):
    """Return a function that says which button of the next boxes is pressed."""
    asked = []

    def will_press(*buttons):
        left = list(buttons)

        def show(box):
            asked.append(f"{box.text()} {box.informativeText()}")
            wanted = left.pop(0)
            next(button for button in box.buttons() if button.text() == wanted).click()
            return 0

        monkeypatch.setattr(QMessageBox, "exec", show)
        return asked

    return will_press


def trigger(window, words):
    (action,) = [made for made in window.findChildren(QAction) if made.text() == words]
    action.trigger()


def buttons_of(widget):
    return [made.text() for made in widget.findChildren(QAbstractButton) if made.isVisible()]


def wait_for_notice(qtbot, window, title, words_of):
    qtbot.waitUntil(lambda: title in words_of(window.notice))
    QApplication.processEvents()


def tables(path, statement):
    with closing(sqlite3.connect(path)) as records:
        return records.execute(statement).fetchall()


# The first run.


@pytest.fixture
def first_run(make_window, qtbot):
    window = make_window()
    qtbot.waitUntil(lambda: type(window.pages.currentWidget()).__name__ == "Welcome")
    return window


def test_the_first_run_asks_for_nothing_but_a_name(first_run, words_of, data):
    page = first_run.pages.currentWidget()
    assert "Who is practising?" in words_of(page)
    assert len(page.findChildren(QLineEdit)) == 1
    assert buttons_of(page) == ["Begin"]
    places = [b for b in first_run.rail.findChildren(QAbstractButton) if b.isVisible()]
    assert [place.isEnabled() for place in places] == [False] * len(PLACES)
    assert (data / "records.db").is_file()


def test_an_empty_name_is_one_sentence(first_run, press, words_of, qtbot):
    page = first_run.pages.currentWidget()
    press(page, "Begin")
    assert "Please type a name." in words_of(page)
    assert first_run.context.store.learners() == []


def test_photos_before_a_name_are_told_to_wait(first_run, monkeypatch):
    told, opened = [], []
    monkeypatch.setattr(QMessageBox, "information", lambda *parts: told.append(parts[2]))
    monkeypatch.setattr(
        QFileDialog, "getOpenFileNames", lambda *parts: opened.append(parts) or ([], "")
    )
    trigger(first_run, "Open photos ...")
    assert told == ["Type your name and press Begin first; then photos can be opened."]
    assert opened == []


def test_a_taken_name_is_one_sentence_and_another_one_is_taken(first_run, words_of, qtbot):
    page = first_run.pages.currentWidget()
    store = first_run.context.store
    store.add_learner("Mira", now=datetime.now(UTC))
    qtbot.keyClicks(page.name, "mira")
    qtbot.keyClick(page.name, Qt.Key.Key_Return)
    assert any("called mira already" in words for words in words_of(page))
    page.name.clear()
    qtbot.keyClicks(page.name, "Jonne")
    qtbot.keyClick(page.name, Qt.Key.Key_Return)
    assert [learner.name for learner in store.learners()] == ["Jonne", "Mira"]
    assert type(first_run.pages.currentWidget()).__name__ == "PractisePage"
    assert "Jonne, which would you graft?" in words_of(first_run)
    places = first_run.rail.findChildren(QAbstractButton)
    assert all(place.isEnabled() for place in places)


def test_the_learner_of_the_last_time_is_here_again(known, make_window, qtbot, settings):
    with Store.open(known / "records.db", now=datetime.now(UTC)) as store:
        other = store.add_learner("Zoi", now=datetime.now(UTC))
    settings.learner = str(other.id)
    window = make_window()
    qtbot.waitUntil(lambda: window.context is not None)
    assert window.context.learner == other


# Going about.


def test_places_are_reached_by_keys_and_by_the_rail(steady, qtbot):
    names = {Qt.Key.Key_3: "ProgressPage", Qt.Key.Key_2: "PhotosPage", Qt.Key.Key_1: "PractisePage"}
    for key, name in names.items():
        qtbot.keyClick(steady, key, CONTROL)
        assert type(steady.pages.currentWidget()).__name__ == name
        (checked,) = [b.text() for b in steady.rail.findChildren(QAbstractButton) if b.isChecked()]
        assert name.startswith(checked.removeprefix("My ").capitalize())
    photos = next(b for b in steady.rail.findChildren(QAbstractButton) if b.text() == "My photos")
    qtbot.mouseClick(photos, Qt.MouseButton.LeftButton)
    assert type(steady.pages.currentWidget()).__name__ == "PhotosPage"


def test_a_page_is_made_when_it_is_first_gone_to(window, qtbot):
    def made():
        pages = [window.pages.widget(number) for number in range(window.pages.count())]
        return {type(page).__name__ for page in pages}

    assert "PractisePage" in made()
    assert not made() & {"PhotosPage", "ProgressPage", "TimetablePage", "GraftsPage"}
    window.go_to("timetable")
    assert made() >= {"PractisePage", "TimetablePage"}
    assert "GraftsPage" not in made()
    first = window.place("timetable")
    window.go_to("practise")
    window.go_to("timetable")
    assert window.pages.currentWidget() is first


def test_the_empty_progress_page_leads_to_practise(steady, qtbot, press, words_of):
    steady.go_to("progress")
    progress = steady.place("progress")
    qtbot.waitUntil(lambda: "Practise" in buttons_of(progress))
    press(progress, "Practise")
    assert steady.pages.currentWidget() is steady.place("practise")


def test_the_look_is_changed_and_remembered(window, dressing, folder, qapp):
    trigger(window, "Dark")
    assert dressing.tones is NIGHT
    assert NIGHT.ground in qapp.styleSheet()
    assert WindowSettings(folder / "settings").look is Look.DARK
    trigger(window, "Light")
    assert dressing.tones is PAPER
    assert NIGHT.ground not in qapp.styleSheet()
    assert WindowSettings(folder / "settings").look is Look.LIGHT


def test_the_text_size_is_changed_within_limits_and_remembered(window, dressing, qapp, folder):
    before = dressing.text_px
    trigger(window, "Larger text")
    assert dressing.text_px == before + 2
    assert qapp.font().pixelSize() == before + 2
    assert WindowSettings(folder / "settings").text_px == before + 2
    for words, end_px in (("Larger text", TEXT_PX_MAX), ("Smaller text", TEXT_PX_MIN)):
        dressing.text_px = end_px
        trigger(window, words)
        assert dressing.text_px == end_px
    trigger(window, "Normal text")
    assert dressing.text_px == TEXT_PX_DEFAULT
    assert WindowSettings(folder / "settings").text_px == TEXT_PX_DEFAULT


def test_large_text_is_not_cut_off(window, dressing):
    dressing.wear(text_px=TEXT_PX_MAX)
    window.go_to("practise")
    QApplication.processEvents()
    for made in window.findChildren(QAbstractButton):
        if made.isVisible() and made.text():
            assert made.width() >= made.minimumSizeHint().width() - 1, made.text()


@pytest.mark.parametrize("stored", ["purple", "", "12.5"])
def test_settings_that_make_no_sense_are_passed_over(tmp_path, stored):
    folder = tmp_path / "settings"
    folder.mkdir()
    (folder / "window.ini").write_text(
        f"[General]\nlook={stored}\ntext_px={stored}\ngeometry={stored}\n", encoding="utf-8"
    )
    settings = WindowSettings(folder)
    assert settings.look is Look.SYSTEM
    assert TEXT_PX_MIN <= settings.text_px <= TEXT_PX_MAX
    assert settings.geometry is None


def test_the_window_comes_back_as_large_as_it_was(window, make_window):
    usual = window.size()
    window.resize(usual.width(), usual.height() - 60)
    QApplication.processEvents()
    window.close()
    again = make_window()
    assert again.size() == QSize(usual.width(), usual.height() - 60)


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ("Keys", "Space"),
        ("What the numbers can tell", "ages are bands"),
        ("Before you go to the bees", "bee inspector"),
    ],
)
def test_the_help_is_shown(steady, monkeypatch, words, part):
    shown = []
    monkeypatch.setattr(HelpDialog, "exec", lambda page: shown.append(page.text.toPlainText()))
    trigger(steady, words)
    assert len(shown) == 1
    assert part in shown[0]


def test_a_fault_of_ours_is_said_and_the_window_goes_on(steady, words_of, capsys):
    error = RuntimeError("no such thing")
    _own_fault(steady, RuntimeError, error, None)
    assert steady.trouble.isVisible()
    assert any("which is our fault" in words for words in words_of(steady.trouble))
    assert buttons_of(steady.trouble) == []
    assert "no such thing" in capsys.readouterr().err


# Who is practising.


@pytest.fixture
def dialog(window, qtbot):
    made = LearnersDialog(window, window.context)
    qtbot.addWidget(made)
    return made


@pytest.fixture
def type_name(monkeypatch):
    def _type(*names):
        left = list(names)

        def answer(*_args, **_kwargs):
            # When no name is left, it is called off.
            return (left.pop(0), True) if left else ("", False)

        monkeypatch.setattr(QInputDialog, "getText", answer)

    return _type


def names_in(dialog):
    return [dialog.list.item(row).text() for row in range(dialog.list.count())]


def test_the_menu_and_the_rail_ask_who_is_practising(steady, monkeypatch, qtbot):
    shown = []
    monkeypatch.setattr(LearnersDialog, "exec", lambda dialog: shown.append(names_in(dialog)))
    trigger(steady, "Who is practising ...")
    (name,) = [b for b in steady.rail.findChildren(QAbstractButton) if b.text() == "Mira"]
    qtbot.mouseClick(name, Qt.MouseButton.LeftButton)
    assert shown == [["Mira"], ["Mira"]]


def test_an_added_learner_is_chosen_in_the_list_and_practises_on_a_button(
    window, dialog, type_name, words_of, press
):
    dialog.show()
    assert "Practise as Mira" in buttons_of(dialog)
    type_name("Jonne")
    dialog.add()
    assert names_in(dialog) == ["Jonne", "Mira"]
    assert window.context.learner.name == "Mira"
    press(dialog, "Practise as Jonne")
    assert window.context.learner.name == "Jonne"
    assert dialog.result() == QDialog.DialogCode.Accepted
    assert "Jonne, which would you graft?" in words_of(window)
    assert "Jonne" in buttons_of(window.rail)


def test_a_name_that_cannot_be_taken_is_one_sentence_and_asked_again(
    window, dialog, type_name, said
):
    type_name("mira", " ", "Jonne")
    dialog.add()
    assert len(said) == 2
    assert all(words.endswith(".") for words in said)
    assert names_in(dialog) == ["Jonne", "Mira"]
    type_name("mira")
    dialog.rename()
    assert len(said) == 3
    assert names_in(dialog) == ["Jonne", "Mira"]


def test_nothing_is_added_when_it_is_called_off(window, dialog, type_name):
    type_name()
    dialog.add()
    dialog.rename()
    assert [learner.name for learner in window.context.store.learners()] == ["Mira"]


def test_a_renamed_learner_is_the_same_one(window, dialog, type_name):
    before = window.context.learner
    type_name("Mirabel")
    dialog.rename()
    assert names_in(dialog) == ["Mirabel"]
    assert window.context.learner.name == "Mirabel"
    assert window.context.learner.id == before.id
    assert "Mirabel" in buttons_of(window.rail)


def test_another_learner_is_chosen(window, qtbot):
    other = window.context.store.add_learner("Zoi", now=datetime.now(UTC))
    dialog = LearnersDialog(window, window.context)
    qtbot.addWidget(dialog)
    assert names_in(dialog) == ["Mira", "Zoi"]
    assert dialog.list.currentRow() == 0
    dialog.list.setCurrentRow(1)
    dialog.choose()
    assert window.context.learner == other
    assert window.settings.learner == str(other.id)


def test_a_deleted_learner_is_gone_and_the_next_one_practises(window, qtbot, said):
    window.context.store.add_learner("Zoi", now=datetime.now(UTC))
    dialog = LearnersDialog(window, window.context)
    qtbot.addWidget(dialog)
    dialog.delete()
    assert "Delete Mira and all answers?" in said[0]
    assert names_in(dialog) == ["Zoi"]
    assert window.context.learner.name == "Zoi"


def test_after_the_last_learner_the_first_run_begins_again(window, dialog, said):
    dialog.delete()
    assert len(said) == 1
    assert window.context.learner is None
    assert type(window.pages.currentWidget()).__name__ == "Welcome"
    assert window.context.store.learners() == []


def test_nobody_is_deleted_when_the_answer_is_no(window, dialog, monkeypatch):
    monkeypatch.setattr(QMessageBox, "exec", lambda _box: NO)
    dialog.delete()
    assert names_in(dialog) == ["Mira"]


# Which ages are wanted.


@pytest.fixture
def ask_ages(window, qtbot, press):
    """Return a function that types four ages into the dialog and uses them."""

    def _ask(*ages_h, only=None):
        dialog = LimitsDialog(window, window.context)
        qtbot.addWidget(dialog)
        dialog.show()
        qtbot.waitExposed(dialog)
        for box, age_h in zip(dialog.findChildren(QSpinBox), ages_h, strict=True):
            box.setValue(age_h)
        (box,) = dialog.findChildren(QCheckBox)
        was_checked = box.isChecked()
        if only is not None:
            box.setChecked(only)
        press(dialog, "Use these ages")
        return dialog.result() == QDialog.DialogCode.Accepted, was_checked

    return _ask


def test_ages_out_of_order_are_refused_in_one_sentence(window, ask_ages, said):
    for ages_h in ((20, 12, 24, 30), (6, 25, 24, 30), (6, 12, 40, 30)):
        said.clear()
        accepted, _ = ask_ages(*ages_h)
        assert not accepted
        assert said == ["Each age must be at least as high as the one above it."]
    assert window.context.limits == window.context.store.limits() == Limits()


def test_ages_for_everybody_are_used_at_once(window, ask_ages, words_of):
    accepted, _ = ask_ages(4, 10, 20, 26)
    wanted = Limits(young_h=4.0, best_young_h=10.0, best_old_h=20.0, old_h=26.0)
    assert accepted
    assert window.context.limits == wanted
    assert window.context.store.limits() == wanted
    assert span_words(wanted) in words_of(window)


def test_ages_for_one_learner_leave_everybody_elses(window, ask_ages):
    ask_ages(4, 10, 20, 26, only=True)
    assert window.context.limits.old_h == 26.0
    assert window.context.store.limits() == Limits()


def test_ages_for_everybody_take_the_place_of_ones_own(window, ask_ages):
    ask_ages(4, 10, 20, 26, only=True)
    accepted, was_checked = ask_ages(5, 11, 21, 27, only=False)
    assert accepted
    assert was_checked
    assert window.context.limits.old_h == 27.0
    assert window.context.store.limits().old_h == 27.0


def test_the_menu_asks_for_the_ages(steady, monkeypatch):
    shown = []
    monkeypatch.setattr(LimitsDialog, "exec", lambda dialog: shown.append(dialog.windowTitle()))
    trigger(steady, "Wanted ages ...")
    assert shown == ["Wanted ages"]


# Into files and back.


@pytest.fixture
def name_file(monkeypatch):
    def _name(path):
        for name in ("getSaveFileName", "getOpenFileName"):
            monkeypatch.setattr(QFileDialog, name, lambda *_: (str(path) if path else "", ""))

    return _name


def test_everything_is_backed_up_and_brought_back(
    window, tmp_path, name_file, said, qtbot, words_of
):
    name_file(tmp_path / "class")
    trigger(window, "Back up everything ...")
    assert said == ["Everything is now also in class.larvabackup."]
    file = tmp_path / "class.larvabackup"
    folder, store = window.context.folder, window.context.store
    store.rename_learner(window.context.learner.id, "Somebody else")
    name_file(file)
    trigger(window, "Restore a backup ...")
    assert "Put everything in class.larvabackup in the place of what is here now?" in said[1]
    assert "is in place" in said[2]
    qtbot.waitUntil(lambda: window.context is not None)
    # The same window goes on with what came back.
    assert window.context.learner.name == "Mira"
    assert "Mira, which would you graft?" in words_of(window)
    assert tables(folder / "records.db", "SELECT name FROM learner") == [("Mira",)]
    (aside,) = folder.glob("replaced-*.db")
    assert tables(aside, "SELECT name FROM learner") == [("Somebody else",)]
    assert [b.text() for b in window.menuBar().actions()] == ["&File", *MENUS]


def test_a_file_that_is_no_backup_changes_nothing(window, tmp_path, name_file, said, qtbot):
    file = tmp_path / "letter.larvabackup"
    file.write_text("Dear all,", encoding="utf-8")
    name_file(file)
    folder = window.context.folder
    trigger(window, "Restore a backup ...")
    assert len(said) == 2
    assert "letter.larvabackup" in said[1]
    qtbot.waitUntil(lambda: window.context is not None)
    assert window.context.learner.name == "Mira"
    assert tables(folder / "records.db", "SELECT name FROM learner") == [("Mira",)]


def test_restoring_is_left_when_the_answer_is_no(steady, tmp_path, name_file, monkeypatch):
    name_file(tmp_path / "any.larvabackup")
    monkeypatch.setattr(QMessageBox, "exec", lambda _box: NO)
    trigger(steady, "Restore a backup ...")
    assert steady.isVisible()
    assert steady.context.store.learners() != []


def test_a_backup_that_cannot_be_written_is_one_sentence(steady, tmp_path, name_file, said):
    (tmp_path / "file").write_text("here", encoding="utf-8")
    name_file(tmp_path / "file" / "class.larvabackup")
    trigger(steady, "Back up everything ...")
    assert len(said) == 1
    assert said[0].endswith(".")


def test_the_teachers_table_is_saved(steady, tmp_path, name_file, said):
    name_file(tmp_path / "table")
    trigger(steady, "Save the teacher's table (CSV) ...")
    assert (tmp_path / "table.csv").read_text(encoding="utf-8-sig").startswith("learner,")
    assert said == [f"Saved as table.csv in {tmp_path}."]


def test_no_name_for_a_file_leaves_everything(steady, name_file, said, tmp_path):
    name_file(None)
    for words in (
        "Back up everything ...",
        "Restore a backup ...",
        "Save the teacher's table (CSV) ...",
        "Save report (PDF) ...",
        "Save marked picture ...",
    ):
        trigger(steady, words)
    assert said == []
    assert steady.isVisible()


# Records that cannot be used.


def damage(path):
    path.write_bytes(b"This is no database." * 400)


def test_damaged_records_are_replaced_by_the_newest_backup(
    data, make_window, qtbot, words_of, press
):
    today = datetime.now(UTC)
    with closing(keepsakes.open_store(data, now=today - timedelta(days=3))) as store:
        store.add_learner("Mira", now=today)
    keepsakes.open_store(data, now=today - timedelta(days=1)).close()
    damage(data / "records.db")
    window = make_window()
    wait_for_notice(qtbot, window, "Your records are damaged", words_of)
    use, *others = buttons_of(window.notice)
    assert use.startswith("Use the backup of ")
    assert others == ["Choose a backup file ...", "Begin with empty records"]
    press(window.notice, use)
    qtbot.waitUntil(lambda: window.context is not None)
    assert [learner.name for learner in window.context.store.learners()] == ["Mira"]
    assert type(window.pages.currentWidget()).__name__ == "PractisePage"
    (aside,) = data.glob("damaged-*.db")
    assert aside.read_bytes().startswith(b"This is no database.")


def test_damaged_records_without_a_backup_can_be_begun_anew(
    known, make_window, qtbot, words_of, press
):
    damage(known / "records.db")
    window = make_window()
    wait_for_notice(qtbot, window, "Your records are damaged", words_of)
    assert buttons_of(window.notice) == ["Choose a backup file ...", "Begin with empty records"]
    press(window.notice, "Begin with empty records")
    qtbot.waitUntil(lambda: type(window.pages.currentWidget()).__name__ == "Welcome")
    assert len(list(known.glob("damaged-*.db"))) == 1


def test_a_backup_file_takes_the_place_of_damaged_records(
    known, make_window, qtbot, words_of, press, tmp_path, name_file
):
    file = tmp_path / "class.larvabackup"
    with closing(keepsakes.open_store(known, now=datetime.now(UTC))) as store:
        keepsakes.back_up(store, known, file)
    damage(known / "records.db")
    window = make_window()
    wait_for_notice(qtbot, window, "Your records are damaged", words_of)
    name_file(None)
    press(window.notice, "Choose a backup file ...")
    assert "Your records are damaged" in words_of(window.notice)
    name_file(file)
    press(window.notice, "Choose a backup file ...")
    qtbot.waitUntil(lambda: window.context is not None)
    assert window.context.learner.name == "Mira"


def test_locked_records_are_opened_once_they_are_free(known, make_window, qtbot, words_of, press):
    with closing(sqlite3.connect(known / "records.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        window = make_window()
        wait_for_notice(qtbot, window, "Your records are in use", words_of)
        assert any("close that program and try again" in words for words in words_of(window.notice))
        assert buttons_of(window.notice) == ["Try again"]
        press(window.notice, "Try again")
        QApplication.processEvents()
        wait_for_notice(qtbot, window, "Your records are in use", words_of)
        other.execute("ROLLBACK")
    press(window.notice, "Try again")
    qtbot.waitUntil(lambda: window.context is not None)
    assert window.context.learner.name == "Mira"


def test_one_folder_is_open_in_one_window(window, make_window, qtbot, words_of, press):
    other = make_window()
    wait_for_notice(qtbot, other, "larvasight is open already", words_of)
    assert buttons_of(other.notice) == ["Try again"]
    press(other.notice, "Try again")
    qtbot.waitUntil(lambda: buttons_of(other.notice) == ["Try again"])
    assert other.context is None
    window.close()
    press(other.notice, "Try again")
    qtbot.waitUntil(lambda: other.context is not None)
    assert other.context.learner.name == "Mira"


def test_trying_again_twice_opens_the_records_once(data, make_window, qtbot, words_of, monkeypatch):
    data.write_text("A file where the folder should be.", encoding="utf-8")
    window = make_window()
    wait_for_notice(qtbot, window, "Your records cannot be written", words_of)
    data.unlink()
    opened = []
    open_store = keepsakes.open_store

    def count(folder, *, now):
        opened.append(folder)
        return open_store(folder, now=now)

    monkeypatch.setattr(keepsakes, "open_store", count)
    (again,) = [b for b in window.notice.findChildren(QAbstractButton) if b.text() == "Try again"]
    qtbot.mouseClick(again, Qt.MouseButton.LeftButton)
    QApplication.processEvents()
    assert "Try again" not in buttons_of(window.notice)
    qtbot.waitUntil(lambda: window.context is not None)
    assert len(opened) == 1


def test_records_that_cannot_be_written_are_one_sentence(data, make_window, qtbot, words_of, press):
    data.write_text("A file where the folder should be.", encoding="utf-8")
    window = make_window()
    wait_for_notice(qtbot, window, "Your records cannot be written", words_of)
    assert buttons_of(window.notice) == ["Try again", "Practise without keeping anything"]
    data.unlink()
    press(window.notice, "Try again")
    qtbot.waitUntil(lambda: type(window.pages.currentWidget()).__name__ == "Welcome")


def test_one_can_practise_without_keeping_anything(
    data, make_window, qtbot, words_of, press, tmp_path, monkeypatch, draw_combs
):
    draw_combs()
    monkeypatch.setattr(opening.tempfile, "tempdir", str(tmp_path))
    at_exit = []
    monkeypatch.setattr(
        opening,
        "atexit",
        SimpleNamespace(register=lambda *call, **how: at_exit.append((call, how))),
    )
    data.write_text("A file where the folder should be.", encoding="utf-8")
    window = make_window()
    wait_for_notice(qtbot, window, "Your records cannot be written", words_of)
    press(window.notice, "Practise without keeping anything")
    qtbot.waitUntil(lambda: type(window.pages.currentWidget()).__name__ == "Welcome")
    page = window.pages.currentWidget()
    qtbot.keyClicks(page.name, "Jonne")
    qtbot.keyClick(page.name, Qt.Key.Key_Return)
    assert any("Nothing is kept this time" in words for words in words_of(window.trouble))
    practise = window.place("practise")
    practise.begin(PICK_FROM_PATCH)
    qtbot.waitUntil(lambda: practise.session is not None)
    assert data.read_text(encoding="utf-8") == "A file where the folder should be."
    window.close()
    (((remove, folder), how),) = at_exit
    assert folder.parent == tmp_path
    remove(folder, **how)
    assert not folder.exists()


def test_records_of_a_newer_version_are_left_alone(known, make_window, qtbot, words_of):
    with closing(sqlite3.connect(known / "records.db")) as records, records:
        records.execute("UPDATE alembic_version SET version_num = '9999'")
    before = (known / "records.db").read_bytes()
    window = make_window()
    wait_for_notice(qtbot, window, "Your records cannot be opened", words_of)
    assert any("newer version" in words for words in words_of(window.notice))
    window.close()
    assert (known / "records.db").read_bytes() == before


# Leaving.


def test_ctrl_q_closes_the_window_and_the_records(window, qtbot):
    qtbot.keyClick(window, Qt.Key.Key_Q, CONTROL)
    assert not window.isVisible()
    with pytest.raises(ValueError, match="closed"):
        window.context.store.learners()


def test_ctrl_q_closes_a_window_whose_records_cannot_be_used(data, make_window, qtbot, words_of):
    data.write_text("A file where the folder should be.", encoding="utf-8")
    window = make_window()
    wait_for_notice(qtbot, window, "Your records cannot be written", words_of)
    qtbot.keyClick(window, Qt.Key.Key_Q, CONTROL)
    assert not window.isVisible()


@pytest.fixture
def unstored(window, qtbot, monkeypatch, draw_combs):
    """Begin a comb whose marks cannot be stored; return what lets them be stored."""
    draw_combs()
    monkeypatch.setattr(leaving, "_FLUSH_S", 0.05)
    practise = window.place("practise")
    practise.begin(PICK_FROM_PATCH)
    qtbot.waitUntil(lambda: practise.session is not None)
    assert window.context.keeper.flush(5.0)
    store = window.context.store
    keep, is_full = store.keep, [True]

    def keep_or_fail(givens, *, now):
        if is_full:
            msg = "The disk is full."
            raise StoreFullError(msg)
        keep(givens, now=now)

    monkeypatch.setattr(store, "keep", keep_or_fail)
    at = practise.comb.centre_on_screen(3)
    qtbot.mouseClick(
        practise.comb.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, at
    )
    qtbot.waitUntil(window.trouble.isVisible)
    yield is_full.clear
    is_full.clear()
    window.context.keeper.try_again()


def test_leaving_with_an_answer_not_stored_asks_and_one_can_stay(window, unstored, answer_box):
    asked = answer_box("Stay")
    window.close()
    assert len(asked) == 1
    assert "could not be stored yet" in asked[0]
    assert "The disk is full." in asked[0]
    assert window.isVisible()
    unstored()
    window.context.keeper.try_again()
    assert window.context.keeper.flush(5.0)


def test_leaving_goes_on_once_the_answer_is_stored(window, unstored, answer_box, known):
    asked = answer_box("Try again", "Try again")
    store_and_count = "SELECT count(*) FROM shown_cell WHERE answer = 'take'"
    real_try_again = window.context.keeper.try_again

    def try_again():
        if len(asked) == 2:
            unstored()
        real_try_again()

    window.context.keeper.try_again = try_again
    window.close()
    assert len(asked) == 2
    assert not window.isVisible()
    assert tables(known / "records.db", store_and_count) == [(1,)]


def test_one_can_leave_without_what_cannot_be_stored(window, unstored, answer_box, known):
    answer_box("Leave without them")
    window.close()
    assert not window.isVisible()
    statement = "SELECT count(*), count(answer) FROM shown_cell"
    ((n_shown, n_answered),) = tables(known / "records.db", statement)
    assert n_shown > 20
    assert n_answered == 0


# Before anybody has said a name.


def test_places_stay_closed_until_somebody_practises(first_run, words_of):
    for place in ("practise", "photos", "progress"):
        first_run.go_to(place)
        assert type(first_run.pages.currentWidget()).__name__ == "Welcome"


def test_a_name_given_in_the_list_of_learners_opens_the_places_too(first_run, qtbot):
    context = first_run.context
    context.set_learner(context.store.add_learner("Tyra", now=context.now()))
    assert type(first_run.pages.currentWidget()).__name__ == "PractisePage"
    assert all(b.isEnabled() for b in first_run.rail.findChildren(QAbstractButton))
    assert first_run.welcome is None


def test_deleting_the_last_learner_welcomes_the_next(first_run):
    context = first_run.context
    learner = context.store.add_learner("Tyra", now=context.now())
    context.set_learner(learner)
    context.store.delete_learner(learner.id)
    context.set_learner(None)
    assert type(first_run.pages.currentWidget()).__name__ == "Welcome"


def test_a_remark_comes_back_after_trouble(qtbot):
    bar = TroubleBar()
    qtbot.addWidget(bar)
    bar.remark("Nothing is kept this time.")
    bar.say("The disk is full.")
    bar.say("")
    words = [made.text() for made in bar.findChildren(QLabel)]
    assert words == ["Nothing is kept this time."]
    assert not bar.isHidden()
    bar.remark("")
    assert bar.isHidden()


def test_a_held_enter_presses_a_button_once(qtbot):
    pressed = []
    made = parts.button("Done", lambda: pressed.append(1))
    qtbot.addWidget(made)
    for is_repeat in (False, True, True):
        kind, key = QEvent.Type.KeyPress, Qt.Key.Key_Return
        event = QKeyEvent(kind, key, Qt.KeyboardModifier.NoModifier, "\r", is_repeat)
        QApplication.sendEvent(made, event)
    assert pressed == [1]


def test_names_are_no_markup(qtbot):
    plain, bold = (parts.label(text, wrap=False) for text in ("<b>Mira</b>", "Mira"))
    for made in (plain, bold):
        qtbot.addWidget(made)
    assert plain.sizeHint().width() > 1.5 * bold.sizeHint().width()
