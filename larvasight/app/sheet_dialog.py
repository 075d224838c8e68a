"""A sheet of 24 cells on paper: print it, and enter afterwards what somebody ticked."""

import re

from PySide6.QtWidgets import QDialog, QFormLayout, QLineEdit, QMessageBox, QVBoxLayout, QWidget

from larvasight.app.asking import ask_save_path
from larvasight.app.context import Context
from larvasight.app.parts import button, label
from larvasight.desk.cell_sheet import (
    N_CELLS,
    NUMBER_MOST,
    is_entered,
    keep_ticks,
    make_sheet,
    new_number,
    save_sheet,
)
from larvasight.errors import LarvasightError

PRINT_TITLE, ENTER_TITLE = "Print a sheet of 24 cells", "Enter a sheet"
_SPLIT = re.compile(r"[\s,;.]+")


def print_sheet(parent: QWidget, context: Context, *, is_letter: bool) -> None:
    """Ask for a file and write a new sheet with its key."""
    number = new_number(context.rng)
    name = f"larvasight sheet {number}.pdf"
    path = ask_save_path(parent, PRINT_TITLE, name, "PDF (*.pdf)", ".pdf")
    if path is None:
        return
    try:
        sheet = make_sheet(number, context.limits)
        save_sheet(sheet, path, limits=context.limits, today=context.now(), is_letter=is_letter)
    except LarvasightError as error:
        QMessageBox.warning(parent, PRINT_TITLE, str(error))
    else:
        words = (
            f"Sheet {number} is in {path.name}: page one to tick, page two the key. Enter ticks "
            f'with "{ENTER_TITLE}" in the Learner menu.'
        )
        QMessageBox.information(parent, PRINT_TITLE, words)


class SheetDialog(QDialog):
    """Takes the number of a sheet and the cells that a learner ticked."""

    def __init__(self, parent: QWidget, context: Context) -> None:
        super().__init__(parent)
        self._context = context
        self.setWindowTitle(ENTER_TITLE)
        self.setMinimumWidth(560)
        learner = context.learner
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 24)
        column.setSpacing(16)
        name = learner.name if learner is not None else ""
        column.addWidget(label(f"What did {name} tick?", "title"))
        column.addWidget(
            label(
                "The sheet's number stands at its top. Write the numbers of the ticked cells with "
                "spaces between them; nothing, if none was ticked."
            )
        )
        form = QFormLayout()
        form.setSpacing(12)
        self.number, self.ticked = QLineEdit(), QLineEdit()
        form.addRow("Sheet", self.number)
        form.addRow("Ticked cells", self.ticked)
        column.addLayout(form)
        self.told = label("")
        column.addWidget(self.told)
        self.store_button = button("Store and tell", self.store, "main")
        column.addWidget(self.store_button)
        column.addWidget(button("Close", self.reject))

    def store(self) -> None:
        """Store the ticks and tell what they came to, or say what is wrong with them."""
        learner = self._context.learner
        number, ticked = self.number.text().strip(), self._ticked()
        if not number.isdecimal() or not 1 <= int(number) <= NUMBER_MOST:
            self._refuse("The sheet's number stands at the top of the paper.", self.number)
        elif ticked is None:
            self._refuse(f"Write numbers from 1 to {N_CELLS} with spaces between.", self.ticked)
        elif learner is not None:
            try:
                if is_entered(self._context.store, learner.id, int(number)):
                    said = f"What {learner.name} ticked on this sheet is stored already."
                    self._refuse(said, self.number)
                    return
                sheet = make_sheet(int(number), self._context.limits)
                told = keep_ticks(
                    self._context.store,
                    learner.id,
                    sheet,
                    ticked,
                    limits=self._context.limits,
                    now=self._context.now(),
                )
            except LarvasightError as error:
                self._refuse(str(error), self.number)
            else:
                self.told.setText(f"Stored. {told.sentence()}")
                # Once stored, a second press must not store it twice.
                self.store_button.setEnabled(False)

    def _ticked(self) -> list[int] | None:
        parts = [part for part in _SPLIT.split(self.ticked.text()) if part]
        if not all(part.isdecimal() and 1 <= int(part) <= N_CELLS for part in parts):
            return None
        return sorted({int(part) for part in parts})

    def _refuse(self, sentence: str, field: QLineEdit) -> None:
        self.told.setText(sentence)
        field.setFocus()
        field.selectAll()


def enter_sheet(parent: QWidget, context: Context) -> None:
    """Let somebody enter a sheet."""
    dialog = SheetDialog(parent, context)
    dialog.exec()
    dialog.deleteLater()
