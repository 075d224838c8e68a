import numpy as np
import pytest
from PySide6.QtWidgets import QAbstractButton, QLabel, QWidget

from larvasight.app.dressing import Dressing
from larvasight.app.look_for import LookForDialog
from larvasight.app.theme import Look
from larvasight.desk.look_for import STAGES
from larvasight.grading import Limits
from larvasight.render.tiles import TileLibrary


@pytest.fixture
def dialog(qtbot, qapp):
    parent = QWidget()
    parent.resize(1280, 800)
    qtbot.addWidget(parent)
    made = LookForDialog(
        parent,
        Dressing(qapp, Look.LIGHT, 18),
        TileLibrary.load(),
        Limits(),
        np.random.default_rng(3),
    )
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.close()
    parent.close()


def words_of(widget):
    return [made.text() for made in widget.findChildren(QLabel) if made.isVisibleTo(widget)]


def press(dialog, words):
    (found,) = [b for b in dialog.findChildren(QAbstractButton) if b.text() == words]
    found.click()


def test_every_stage_stands_there_with_what_to_see(dialog):
    words = words_of(dialog)
    for stage in STAGES:
        assert stage.title in words
        assert stage.looks in words
    assert sum("too old" in text for text in words if "h old" in text) == 3


def test_other_larvae_and_another_light_show_other_pictures(dialog):
    first = [card.grab().toImage() for card in dialog.cards]
    press(dialog, "Another light and comb")
    second = [card.grab().toImage() for card in dialog.cards]
    assert sum(one != other for one, other in zip(first, second, strict=True)) == len(STAGES)
    press(dialog, "Other larvae")
    third = [card.grab().toImage() for card in dialog.cards]
    assert any(one != other for one, other in zip(second, third, strict=True))


def test_practise_closes_it(dialog):
    press(dialog, "Practise")
    assert not dialog.isVisible()
