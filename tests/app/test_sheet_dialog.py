"""Entering a sheet: what is wrong is said beside the fields, and nothing is stored twice."""

import pytest
from PySide6.QtWidgets import QWidget

from larvasight.app.sheet_dialog import SheetDialog


@pytest.fixture
def dialog(qtbot, context):
    parent = QWidget()
    qtbot.addWidget(parent)
    made = SheetDialog(parent, context)
    yield made
    made.close()


@pytest.mark.parametrize(("number", "ticked"), [("", "1 2"), ("x", "1"), ("5", "1 25"), ("5", "a")])
def test_what_cannot_be_is_refused_and_stays_in_the_fields(dialog, context, number, ticked):
    dialog.number.setText(number)
    dialog.ticked.setText(ticked)
    dialog.store()
    assert dialog.told.text()
    assert dialog.number.text() == number
    assert len(context.store.answers(context.learner.id)) == 0


def test_a_sheet_is_stored_once_and_told(dialog, context):
    dialog.number.setText("271828")
    dialog.ticked.setText("3, 7 12")
    dialog.store()
    assert dialog.told.text().startswith("Stored. ")
    assert not dialog.store_button.isEnabled()
    assert len(context.store.answers(context.learner.id)) == 24
    again = SheetDialog(dialog.parentWidget(), context)
    again.number.setText("271828")
    again.store()
    assert "stored already" in again.told.text()
    assert len(context.store.answers(context.learner.id)) == 24
