"""A question is answered by the button that is really pressed."""

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QWidget

from larvasight.app.asking import ask_yes, plain


def _press(qtbot, press):
    def answer():
        box = QApplication.activeModalWidget()
        if box is None:  # the box is not up yet
            QTimer.singleShot(10, answer)
        else:
            press(box)

    QTimer.singleShot(0, answer)
    parent = QWidget()
    qtbot.addWidget(parent)
    return ask_yes(parent, "Delete", "Really?", yes="Delete it")


@pytest.mark.parametrize(
    ("name", "is_yes"),
    [("Delete it", True), ("Cancel", False)],
)
def test_the_button_pressed_is_the_answer_and_says_what_it_does(qtbot, name, is_yes):
    def press(box):
        (button,) = [b for b in box.buttons() if b.text().replace("&", "") == name]
        button.click()

    assert _press(qtbot, press) is is_yes


@pytest.mark.parametrize("key", [Qt.Key.Key_Return, Qt.Key.Key_Escape])
def test_enter_and_escape_alone_mean_no(qtbot, key):
    assert _press(qtbot, lambda box: qtbot.keyClick(box, key)) is False


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ("Delete Eve & Co?", "Delete Eve & Co?"),
        ("Delete <b>Eve</b> & Co?", "Delete &lt;b&gt;Eve&lt;/b&gt; &amp; Co?"),
    ],
)
def test_names_are_no_markup(words, shown):
    assert plain(words) == shown
