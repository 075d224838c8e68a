"""Entering a sheet: what is wrong is said beside the fields, and nothing is stored twice."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QWidget

from larvasight.app import sheet_dialog
from larvasight.app.sheet_dialog import SheetDialog, print_sheet
from larvasight.grading import Limits


@pytest.fixture
def asked(monkeypatch):
    """Gather what is asked; the answer is yes."""
    questions = []
    monkeypatch.setattr(
        sheet_dialog,
        "ask_yes",
        lambda _parent, _title, words, **_kw: questions.append(words) or True,
    )
    return questions


@pytest.fixture
def dialog(qtbot, context, asked):
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


def test_enter_goes_on_to_the_ticks_and_then_stores(dialog, context, qtbot):
    dialog.show()
    dialog.number.setText("271829")
    qtbot.keyClick(dialog.number, Qt.Key.Key_Return)
    dialog.ticked.setText("1")
    qtbot.keyClick(dialog.ticked, Qt.Key.Key_Return)
    assert dialog.told.text().startswith("Stored")
    assert dialog.isVisible()
    assert len(context.store.answers(context.learner.id)) == 24


def test_a_number_not_printed_here_is_asked_about_and_not_stored_on_no(
    dialog, context, monkeypatch
):
    monkeypatch.setattr(sheet_dialog, "ask_yes", lambda *_words, **_kw: False)
    dialog.number.setText("271827")
    dialog.ticked.setText("1")
    dialog.store()
    assert dialog.told.text() == "Nothing was stored."
    assert dialog.store_button.isEnabled()
    assert len(context.store.answers(context.learner.id)) == 0


def test_a_sheet_is_stored_once_and_told(dialog, context):
    dialog.number.setText("271828")
    dialog.ticked.setText("3, 7 12")
    dialog.store()
    assert dialog.told.text().startswith("Stored for Mira. ")
    assert not dialog.store_button.isEnabled()
    assert len(context.store.answers(context.learner.id)) == 24
    again = SheetDialog(dialog.parentWidget(), context)
    again.number.setText("271828")
    again.store()
    assert "stored already" in again.told.text()
    assert len(context.store.answers(context.learner.id)) == 24


def test_a_paper_is_stored_for_who_is_chosen_and_at_first_for_who_practises(dialog, context):
    noor = context.store.add_learner("Noor", now=context.now())
    again = SheetDialog(dialog.parentWidget(), context)
    assert again.learners.currentData().id == context.learner.id
    again.number.setText("271828")
    again.ticked.setText("3")
    again.store()
    again.learners.setCurrentText("Noor")
    assert again.store_button.isEnabled()
    assert again.ticked.text() == ""  # another paper
    assert again.number.text() == "271828"  # of the same sheet
    again.store()
    assert again.told.text().startswith("Stored for Noor. 0 of 0 picks")
    assert len(context.store.answers(noor.id)) == 24


def test_a_printed_sheet_is_scored_by_its_key_when_other_ages_are_wanted(
    dialog, context, tmp_path, monkeypatch
):
    path = tmp_path / "sheet.pdf"
    monkeypatch.setattr(sheet_dialog, "ask_save_path", lambda *_: path)
    monkeypatch.setattr(QMessageBox, "information", lambda *_: None)
    monkeypatch.setattr(sheet_dialog, "new_number", lambda _: 271_828)
    print_sheet(dialog, context, is_letter=False)
    assert path.exists()
    context.store.set_limits(Limits(young_h=8.0, best_old_h=20.0, old_h=22.0), context.learner.id)
    dialog.number.setText("271828")
    dialog.store()
    assert "Wanted were 6\N{EN DASH}30 hours, as the key on paper says." in dialog.told.text()
    assert set(context.store.answers(context.learner.id).old_h) == {30.0}
