"""A group's hands are counted, and the key stays hidden until it is asked for."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

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
    yield made
    made.close()


def test_nothing_is_told_before_the_key(window, qtbot):
    assert all(key.text() == "" for key in window.keys)
    qtbot.keyClick(window, Qt.Key.Key_K)
    assert all(key.text() for key in window.keys)
    assert window.said.text().startswith("Right about all cells")


def test_no_more_hands_than_people(window):
    window.people.setValue(4)
    window.hands[0].setValue(9)
    assert window.hands[0].value() == 4


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
