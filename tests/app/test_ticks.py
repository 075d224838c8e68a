"""A ticked box shows a tick, not colour alone."""

import pytest
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QApplication, QCheckBox

from larvasight.app.dressing import Dressing
from larvasight.app.theme import NIGHT, PAPER, Look


@pytest.mark.parametrize(("look", "tones"), [(Look.LIGHT, PAPER), (Look.DARK, NIGHT)])
def test_a_ticked_box_has_a_tick_in_the_colour_of_words_on_it(qtbot, look, tones):
    dressing = Dressing(QApplication.instance(), look, 24)
    dressing.wear(look=look)
    box = QCheckBox("A soft sound")
    qtbot.addWidget(box)
    box.show()
    plain = colours(box)
    box.setChecked(True)
    ticked = colours(box)
    assert QColor(tones.accent).rgb() in ticked - plain
    assert QColor(tones.on_accent).rgb() in ticked


def colours(box):
    image = box.grab().toImage()
    side = range(3, image.height() - 3)
    return {image.pixel(x, y) for x in side for y in side}
