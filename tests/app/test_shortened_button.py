"""Buttons and signs where there is little room: fewer words or more lines, nothing cut."""

import pytest
from PySide6.QtWidgets import QApplication, QHBoxLayout, QWidget

from larvasight.app.comb_frame import CombFrame
from larvasight.app.legend import Legend
from larvasight.app.loupe import Loupe
from larvasight.app.parts import button
from larvasight.paper.marks import BY_HAND_MARK, EGG_MARK, GRADE_MARKS

WORDS = ("Change the cell ...", "Measure with a ruler")


@pytest.fixture
def row(qtbot, dressing):
    made = QWidget()
    layout = QHBoxLayout(made)
    made.buttons = [button(words, made.update, short=words.split()[-2]) for words in WORDS]
    for one in made.buttons:
        layout.addWidget(one)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    return made


def test_with_room_all_words_are_shown_and_without_fewer(row):
    row.resize(900, 60)
    assert [one.text() for one in row.buttons] == list(WORDS)
    row.resize(row.minimumSizeHint().width(), 60)
    assert [one.text() for one in row.buttons] == ["cell", "a"]
    for one in row.buttons:
        assert one.fontMetrics().horizontalAdvance(one.text()) <= one.width()
    assert [one.accessibleName() for one in row.buttons] == list(WORDS)
    row.resize(900, 60)
    assert [one.text() for one in row.buttons] == list(WORDS)


def test_what_a_button_asks_for_does_not_hang_on_what_it_shows(row):
    (first, _), hints = row.buttons, []
    for width_px in (900, row.minimumSizeHint().width(), 900):
        row.resize(width_px, 60)
        hints.append((first.sizeHint(), first.minimumSizeHint()))
    assert hints[0] == hints[1] == hints[2]
    assert hints[0][0].width() > hints[0][1].width()


MARKS = [*GRADE_MARKS.values(), EGG_MARK, BY_HAND_MARK]


def test_a_legend_takes_as_many_lines_as_its_signs_need(qtbot, dressing):
    legend = Legend(dressing)
    qtbot.addWidget(legend)
    legend.show()
    legend.show_marks(MARKS)
    legend.resize(legend.needed_px + 2, legend.height())
    one_px = legend.height()
    legend.resize(legend.needed_px // 3, legend.height())
    assert legend.height() > 1.5 * one_px
    legend.show_marks([])
    assert legend.height() == one_px


def test_a_legend_stands_above_the_loupe_where_both_have_no_room(qtbot, dressing, settings):
    frame = CombFrame(dressing, Loupe(settings))
    qtbot.addWidget(frame)
    frame.show()
    qtbot.waitExposed(frame)
    frame.legend.show_marks(MARKS)
    legend, loupes = frame.legend, frame.loupes

    def lower_end_of_legend_over_loupe():
        QApplication.processEvents()
        end = legend.mapTo(frame, legend.rect().bottomLeft()).y()
        return end - loupes.mapTo(frame, loupes.rect().topLeft()).y()

    frame.resize(1400, 500)
    assert lower_end_of_legend_over_loupe() > 0
    frame.resize(legend.needed_px + 40, 500)
    assert lower_end_of_legend_over_loupe() <= 0
