"""A sheet of 24 cells on paper: print it, and enter afterwards what somebody ticked."""

import re

from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QFormLayout,
    QLineEdit,
    QMessageBox,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.asking import ask_save_path, ask_yes
from larvasight.app.context import Context
from larvasight.app.parts import button, give_height, label
from larvasight.desk.cell_sheet import (
    N_CELLS,
    NUMBER_MOST,
    is_entered,
    keep_key,
    keep_ticks,
    make_sheet,
    new_number,
    save_sheet,
)
from larvasight.errors import LarvasightError
from larvasight.records.types import Learner

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
        keep_key(context.store, sheet, context.limits)
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
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 24)
        column.setSpacing(16)
        column.addWidget(label("What was ticked on paper?", "title"))
        column.addWidget(
            label(
                "The sheet's number stands at its top. Write the numbers of the ticked cells with "
                "spaces between them; nothing, if none was ticked."
            )
        )
        form = QFormLayout()
        form.setSpacing(12)
        self.learners = self._learners()
        self.number, self.ticked = QLineEdit(), QLineEdit()
        form.addRow("Ticked by", self.learners)
        form.addRow("Sheet", self.number)
        form.addRow("Ticked cells", self.ticked)
        column.addLayout(form)
        self.told = label("")
        column.addWidget(self.told)
        self.store_button = button("Store and tell", self.store, "main")
        column.addWidget(self.store_button)
        column.addWidget(button("Close", self.reject))
        self.learners.currentIndexChanged.connect(self._next_paper)
        self.number.textEdited.connect(self._next_paper)
        self.number.returnPressed.connect(self.ticked.setFocus)
        self.ticked.returnPressed.connect(self.store_button.click)
        self.number.setFocus()

    def store(self) -> None:
        """Store the ticks and tell what they came to, or say what is wrong with them."""
        number, ticked = self.number.text().strip(), self._ticked()
        if not number.isdecimal() or not 1 <= int(number) <= NUMBER_MOST:
            self._refuse("The sheet's number stands at the top of the paper.", self.number)
        elif ticked is None:
            self._refuse(f"Write numbers from 1 to {N_CELLS} with spaces between.", self.ticked)
        elif (learner := self.learners.currentData()) is not None:
            try:
                self._store(learner, int(number), ticked)
            except LarvasightError as error:
                self._refuse(str(error), self.number)

    def _store(self, learner: Learner, number: int, ticked: list[int]) -> None:
        store = self._context.store
        if is_entered(store, learner.id, number):
            said = f"What {learner.name} ticked on this sheet is stored already."
            self._refuse(said, self.number)
            return
        unknown = (
            f"Sheet {number} was not printed on this computer. Is this the number at the top of "
            "the paper? What is stored cannot be taken back."
        )
        is_known = store.printed_key(number) is not None
        if not is_known and not ask_yes(self, ENTER_TITLE, unknown, yes="Store it"):
            self._refuse("Nothing was stored.", self.number)
            return
        limits = store.limits(learner.id)
        sheet = make_sheet(number, limits)
        told = keep_ticks(store, learner.id, sheet, ticked, limits=limits, now=self._context.now())
        self._say(f"Stored for {learner.name}. {told.sentence()}")
        # Once stored, a second press must not store it twice.
        self.store_button.setEnabled(False)

    def _learners(self) -> QComboBox:
        """Return a field of all learners, at first of who is practising."""
        made = QComboBox()
        practising = self._context.learner
        for learner in self._context.store.learners():
            made.addItem(learner.name, learner)
            if practising is not None and learner.id == practising.id:
                made.setCurrentIndex(made.count() - 1)
        return made

    def _next_paper(self) -> None:
        """Make ready for another paper; the whole class may have ticked the same sheet."""
        if not self.store_button.isEnabled():
            self.ticked.clear()
        self._say("")
        self.store_button.setEnabled(True)

    def _ticked(self) -> list[int] | None:
        parts = [part for part in _SPLIT.split(self.ticked.text()) if part]
        if not all(part.isdecimal() and 1 <= int(part) <= N_CELLS for part in parts):
            return None
        return sorted({int(part) for part in parts})

    def _refuse(self, sentence: str, field: QLineEdit) -> None:
        self._say(sentence)
        field.setFocus()
        field.selectAll()

    def _say(self, sentence: str) -> None:
        self.told.setText(sentence)
        give_height(self)


def enter_sheet(parent: QWidget, context: Context) -> None:
    """Let somebody enter a sheet."""
    dialog = SheetDialog(parent, context)
    dialog.exec()
    dialog.deleteLater()
