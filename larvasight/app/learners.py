"""Who is practising: choose, add, rename and delete learners."""

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QInputDialog,
    QListWidget,
    QListWidgetItem,
    QMessageBox,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.asking import ask_yes
from larvasight.app.context import Context
from larvasight.app.parts import button, label
from larvasight.errors import LarvasightError

if TYPE_CHECKING:
    from larvasight.records.types import Learner


def choose_learner(parent: QWidget, context: Context) -> None:
    """Let the person say who is practising."""
    dialog = LearnersDialog(parent, context)
    dialog.exec()
    dialog.deleteLater()


_NAME = "Name or nickname, as it is to stand in the list and on reports:"


class LearnersDialog(QDialog):
    """Lists the learners; the one chosen practises from then on."""

    def __init__(self, parent: QWidget, context: Context) -> None:
        super().__init__(parent)
        self._context = context
        self.setWindowTitle("Who is practising?")
        self.setMinimumSize(560, 480)
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 24)
        column.setSpacing(16)
        column.addWidget(label("Who is practising?", "title"))
        self.list = QListWidget()
        self.list.itemActivated.connect(lambda _item: self.choose())
        column.addWidget(self.list, 1)
        row = QHBoxLayout()
        for made in (
            button("Add a name ...", self.add),
            button("Rename ...", self.rename),
            button("Delete ...", self.delete),
        ):
            row.addWidget(made)
        column.addLayout(row)
        self._choose = button("", self.choose, "main")
        column.addWidget(self._choose)
        self.list.currentItemChanged.connect(self._say_who)
        self._fill()

    def add(self) -> None:
        """Ask for a name until one can be used, and choose it in the list."""
        name = ""
        while True:
            name, is_given = QInputDialog.getText(self, "Add a name", _NAME, text=name)
            if not is_given:
                return
            try:
                learner = self._context.store.add_learner(name, now=self._context.now())
            except LarvasightError as error:
                QMessageBox.warning(self, "Add a name", str(error))
                continue
            self._fill()
            self._select(str(learner.id))
            self._choose.setFocus()
            return

    def rename(self) -> None:
        """Ask for another name for the one chosen in the list."""
        learner = self._chosen()
        if learner is None:
            return
        name, is_given = QInputDialog.getText(self, "Rename", _NAME, text=learner.name)
        if not is_given:
            return
        try:
            self._context.store.rename_learner(learner.id, name)
        except LarvasightError as error:
            QMessageBox.warning(self, "Rename", str(error))
        self._fill()
        present = self._context.learner
        if present is not None and present.id == learner.id:
            self._context.set_learner(self._chosen_by_id(str(learner.id)))

    def delete(self) -> None:
        """Ask, then delete a learner and all answers."""
        learner = self._chosen()
        if learner is None:
            return
        words = (
            f"Delete {learner.name} and all answers? Grafts noted under this name stay. This "
            "cannot be taken back here; backups made before keep the answers."
        )
        if not ask_yes(self, f"Delete {learner.name}", words, yes="Delete"):
            return
        self._context.keeper.flush(3.0)
        try:
            self._context.store.delete_learner(learner.id)
        except LarvasightError as error:
            QMessageBox.warning(self, "Delete", str(error))
            return
        self._fill()
        present = self._context.learner
        if present is not None and present.id == learner.id:
            others = self._context.store.learners()
            self._context.set_learner(others[0] if others else None)

    def choose(self) -> None:
        """Let the one chosen in the list practise."""
        learner = self._chosen()
        if learner is not None:
            self._context.set_learner(learner)
        self.accept()

    def _fill(self) -> None:
        self.list.clear()
        present = self._context.learner
        for learner in self._context.store.learners():
            item = QListWidgetItem(learner.name)
            item.setData(Qt.ItemDataRole.UserRole, str(learner.id))
            self.list.addItem(item)
            if present is not None and learner.id == present.id:
                self.list.setCurrentItem(item)
        if self.list.currentRow() < 0 and self.list.count():
            self.list.setCurrentRow(0)

    def _select(self, learner_id: str) -> None:
        for row in range(self.list.count()):
            if self.list.item(row).data(Qt.ItemDataRole.UserRole) == learner_id:
                self.list.setCurrentRow(row)

    def _say_who(self, item: QListWidgetItem | None, _before: QListWidgetItem | None) -> None:
        self._choose.setText(f"Practise as {item.text()}" if item is not None else "Close")

    def _chosen(self) -> "Learner | None":
        item = self.list.currentItem()
        return None if item is None else self._chosen_by_id(item.data(Qt.ItemDataRole.UserRole))

    def _chosen_by_id(self, learner_id: str) -> "Learner | None":
        learners = self._context.store.learners()
        return next((x for x in learners if str(x.id) == learner_id), None)
