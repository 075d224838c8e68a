"""The class in the window: rows are drawn, told in words, and can be saved."""

import pytest
from PySide6.QtWidgets import QMessageBox, QWidget

from larvasight.app import class_dialog
from larvasight.app.class_dialog import ClassDialog


@pytest.fixture
def dialog(qtbot, context):
    parent = QWidget()
    parent.resize(1200, 800)
    qtbot.addWidget(parent)
    made = ClassDialog(parent, context)
    made.show()
    qtbot.waitUntil(lambda: "Reading" not in made.topic.text())
    yield made
    made.close()


def test_every_learner_has_a_row_that_is_told_in_words(dialog, context):
    names = [learner.name for learner in context.store.learners()]
    assert names
    spoken = dialog.rows.accessibleDescription()
    assert all(name in spoken for name in names)
    assert "too few cells to tell" in spoken


def test_the_report_and_the_chart_are_saved(dialog, tmp_path, monkeypatch):
    path = tmp_path / "class.pdf"
    monkeypatch.setattr(class_dialog, "ask_save_path", lambda *_: path)
    monkeypatch.setattr(class_dialog, "tell_saved", lambda *_: None)
    monkeypatch.setattr(class_dialog, "ask_folder", lambda *_: tmp_path)
    monkeypatch.setattr(QMessageBox, "information", lambda *_: None)
    dialog.save_report()
    assert path.read_bytes().startswith(b"%PDF")
    dialog.save_chart()
    assert (tmp_path / "The class.svg").read_text(encoding="utf-8").startswith("<?xml")
