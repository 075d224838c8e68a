"""A group's hands are counted, and the key stays hidden until it is asked for."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QWidget

from larvasight.app import group_window
from larvasight.app.group_window import GroupWindow
from larvasight.desk.cell_sheet import make_sheet
from larvasight.desk.group import right_hands
from larvasight.grading import Limits


@pytest.fixture(scope="module")
def sheet():
    return make_sheet(31_415, Limits())


@pytest.fixture
def window(qtbot, context, sheet):
    parent = QWidget()
    qtbot.addWidget(parent)
    made = GroupWindow(parent, context, sheet)
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.done(0)


def test_nothing_is_told_before_the_key(window, qtbot):
    assert all(key.words == "" for key in window.keys)
    window.hands[3].setFocus()
    qtbot.keyClick(window.hands[3], Qt.Key.Key_K)  # a number field has the keyboard
    assert all(key.words for key in window.keys)
    assert "Type how many hands" in window.said.text()


def test_cells_not_counted_are_not_told_as_right(window):
    window.hands[0].setValue(0)
    window.tell()
    assert sum("right" in right.text() for right in window.rights) <= 1


def test_the_key_is_hidden_again_and_cells_keep_their_size(window, qtbot):
    pictures = [cell.size() for cell in window.findChildren(group_window._Picture)]
    window.hands[0].setValue(3)
    window.key_button.click()
    assert window.key_button.text() == "Hide the key (K)"
    QApplication.processEvents()  # the layout has settled
    assert [cell.size() for cell in window.findChildren(group_window._Picture)] == pictures
    assert max(p.width() for p in pictures) - min(p.width() for p in pictures) <= 1
    window.key_button.click()
    assert all(key.words == "" for key in window.keys)
    assert all(right.text() == "" for right in window.rights)
    assert window.said.text().strip() == ""


def test_typing_a_larger_number_of_people_keeps_the_hands(window, qtbot):
    window.hands[0].setValue(7)
    window.people.selectAll()
    qtbot.keyClicks(window.people, "12")
    qtbot.keyClick(window.people, Qt.Key.Key_Tab)
    assert (window.people.value(), window.hands[0].value()) == (12, 7)


def test_counts_are_not_lost_without_asking(window, monkeypatch):
    asked = []
    monkeypatch.setattr(group_window, "ask_yes", lambda *words, **_kw: asked.append(words) or False)
    window.hands[0].setValue(3)
    window.reject()
    assert asked
    assert window.isVisible()


def test_more_hands_than_people_raise_the_people(window, qtbot):
    window.people.setValue(10)
    qtbot.mouseClick(window.hands[0].lineEdit(), Qt.MouseButton.LeftButton)
    qtbot.keyClicks(window.hands[0], "12")
    qtbot.keyClick(window.hands[0], Qt.Key.Key_Tab)
    assert (window.hands[0].value(), window.people.value()) == (12, 12)
    assert "People is 12" in window.said.text()


def test_hands_wiped_out_are_not_counted(window, qtbot):
    window.hands[0].setValue(7)
    qtbot.mouseClick(window.hands[0].lineEdit(), Qt.MouseButton.LeftButton)
    qtbot.keyClick(window.hands[0], Qt.Key.Key_End)
    qtbot.keyClick(window.hands[0], Qt.Key.Key_Backspace)
    assert window.counts()[0] is None


def test_hands_mistyped_and_put_right_leave_the_people_as_typed(window):
    window.people.setValue(10)
    window.hands[0].setValue(70)
    window.hands[0].setValue(7)
    assert window.people.value() == 10
    window.people.setValue(4)  # fewer than the hands: none of them is lost
    assert (window.people.value(), window.hands[0].value()) == (7, 7)


def test_hands_for_an_egg_are_wrong_and_those_that_stay_down_right(sheet):
    eggs = [k for k, cell in enumerate(sheet.comb.asked) if cell.content == "egg"]
    assert eggs
    assert right_hands(sheet, eggs[0], 3, 10, Limits()) == 7


def test_more_hands_than_people_are_refused(sheet):
    with pytest.raises(ValueError, match="hands must be from 0 to 10"):
        right_hands(sheet, 0, 11, 10, Limits())


def test_counts_are_saved(window, tmp_path, monkeypatch):
    path = tmp_path / "group.csv"
    monkeypatch.setattr(group_window, "ask_save_path", lambda *_: path)
    monkeypatch.setattr(group_window, "tell_saved", lambda *_: None)
    window.hands[2].setValue(5)
    window.save()
    rows = path.read_text(encoding="utf-8-sig").splitlines()
    assert len(rows) == 25
    assert rows[3].split(",")[4] == "5"


def test_numbers_have_the_room_they_need_on_a_larger_window(window):
    window.resize(1280, 800)
    QApplication.processEvents()
    low = window.findChildren(group_window._Number)[0].height()
    window.resize(1900, 1400)
    QApplication.processEvents()
    for number in window.findChildren(group_window._Number):
        assert number.height() == number.sizeHint().height() > low
    assert all(key.height() == key.sizeHint().height() for key in window.keys)
