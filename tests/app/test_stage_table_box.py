"""The table of stages confused: hidden while few, then counts with the commonest mistake."""

import pytest

from larvasight.app.stage_table_box import StageTableBox
from larvasight.practice.stages import Stage, stage_table


def table_of(*named):
    true, said = zip(*((t, n) for t, n, times in named for _ in range(times)), strict=True)
    return stage_table(true, said)


@pytest.fixture
def box(qtbot, dressing):
    del dressing
    made = StageTableBox()
    qtbot.addWidget(made)
    return made


def test_it_is_hidden_with_fewer_than_twenty_cells(box):
    box.show_table(table_of((Stage.EGG, Stage.EGG, 19)))
    assert not box.isVisible()


def test_true_stages_stand_in_rows_and_names_given_in_columns(box, words_of):
    box.show_table(table_of((Stage.EGG, Stage.EGG, 17), (Stage.CLOSED_C, Stage.RIGHT_AGE, 3)))
    assert box.isVisible()
    assert "Most often you called a closed C of the right age: 3 times." in " ".join(words_of(box))
    wrong = box._counts[Stage.CLOSED_C, Stage.RIGHT_AGE]
    assert (wrong.text(), wrong.property("role")) == ("3", "day")
    assert wrong.accessibleName() == "3 times it was closed C and you said right age"
    right = box._counts[Stage.EGG, Stage.EGG]
    assert (right.text(), right.property("role")) == ("17", "")
    assert box._counts[Stage.RIGHT_AGE, Stage.CLOSED_C].text() == "\N{MIDDLE DOT}"


def test_newer_names_take_the_place_of_those_before(box):
    box.show_table(table_of((Stage.EGG, Stage.JUST_HATCHED, 30)))
    box.show_table(table_of((Stage.EGG, Stage.EGG, 30)))
    assert box._counts[Stage.EGG, Stage.JUST_HATCHED].property("role") == "faint"
    box.show_table(table_of((Stage.EGG, Stage.EGG, 3)))
    assert not box.isVisible()
