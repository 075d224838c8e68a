"""Rock the comb: keys and mouse tilt it, the lamp moves, and one is told where the eye is."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QMessageBox, QWidget

from larvasight.app import rocking
from larvasight.app.rocking import RockingDialog, show_rocking
from larvasight.grading import Limits
from larvasight.render.rocking import Lamp, RockingLibrary, View

FILES = Path(__file__).parents[1] / "render" / "rocking_files.py"
LEFT, NO_KEYS = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier


@pytest.fixture
def parent(qtbot):
    made = QWidget()
    made.resize(1000, 700)
    qtbot.addWidget(made)
    return made


@pytest.fixture
def dialog(qtbot, dressing, parent, tmp_path):
    spec = importlib.util.spec_from_file_location("rocking_files", FILES)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    library = RockingLibrary.load(module.write_rocking(tmp_path, settings=("a", "b")))
    made = RockingDialog(parent, library, Limits(), np.random.default_rng(2))
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.close()


def seen(dialog):
    return [card.picture.grab().toImage() for card in dialog.cards]


def test_arrow_keys_tilt_the_comb_and_lead_back(dialog, qtbot):
    qtbot.keyClick(dialog, Qt.Key.Key_Left)
    assert dialog.view is View.LEFT
    qtbot.keyClick(dialog, Qt.Key.Key_Up)
    assert dialog.view is View.UP
    qtbot.keyClick(dialog, Qt.Key.Key_Down)
    assert dialog.view is View.STRAIGHT


def test_arrow_keys_tilt_while_a_button_has_the_keyboard(dialog, qtbot):
    button = next(b for b in dialog.findChildren(QWidget) if getattr(b, "text", str)() == "Close")
    button.setFocus()
    qtbot.keyClick(button, Qt.Key.Key_Right)
    assert dialog.view is View.RIGHT


def test_every_view_shows_another_picture_and_says_so(dialog, qtbot, words_of):
    shown, told = [seen(dialog)], []
    for key in (Qt.Key.Key_Left, Qt.Key.Key_Up, Qt.Key.Key_L):
        qtbot.keyClick(dialog, key)
        before = shown[-1]
        qtbot.waitUntil(
            lambda before=before: all(
                one != other for one, other in zip(before, seen(dialog), strict=True)
            )
        )
        shown.append(seen(dialog))
        told.append([words for words in words_of(dialog) if "lamp is" in words])
    assert told[0] != told[1] != told[2]
    assert "from above" in told[2][0]
    assert dialog.lamp is Lamp.B


def test_dragging_tilts_and_letting_go_lays_it_straight(dialog, qtbot):
    at = QPoint(400, 300)
    qtbot.mousePress(dialog, LEFT, NO_KEYS, at)
    qtbot.mouseMove(dialog, at + QPoint(60, 10))
    assert dialog.view is View.RIGHT
    qtbot.mouseMove(dialog, at + QPoint(5, -80))
    assert dialog.view is View.UP
    qtbot.mouseRelease(dialog, LEFT, NO_KEYS, at)
    assert dialog.view is View.STRAIGHT


def test_the_other_comb_is_shown_from_where_the_eye_is(dialog, press, qtbot):
    qtbot.keyClick(dialog, Qt.Key.Key_Left)
    press(dialog, "Another comb")
    assert dialog.view is View.LEFT
    assert all(card.isVisible() for card in dialog.cards)


def test_missing_pictures_are_told_in_one_sentence(monkeypatch, parent):
    told = []
    monkeypatch.setattr(rocking, "shipped_rocking", lambda: None)
    monkeypatch.setattr(QMessageBox, "information", lambda *words: told.append(words[-1]))
    show_rocking(parent, Limits())
    assert told == ["The pictures for this page are missing; install larvasight again."]
