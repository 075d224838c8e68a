"""Which ages are wanted: the teacher's spans, for everybody or for one learner."""

from functools import partial

from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QFormLayout,
    QMessageBox,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.context import Context
from larvasight.app.parts import button, give_height, label
from larvasight.desk.reporting import local_zone
from larvasight.errors import LarvasightError
from larvasight.grading import Limits

_MOST_H = 96
_BY = (
    "By a teacher's line the youngest and the oldest usable age are those that this teacher takes. "
    "It is said wherever the wanted ages are shown."
)
_NO_LINE = (
    "A teacher who marked 60 cells under Practise, The teacher's line, can be chosen here: "
    "students are then scored by what that teacher does."
)


def ask_limits(parent: QWidget, context: Context) -> None:
    """Let the teacher set the spans that verdicts use from now on."""
    dialog = LimitsDialog(parent, context)
    dialog.exec()
    dialog.deleteLater()


class LimitsDialog(QDialog):
    """Four ages, each not below the one before."""

    def __init__(self, parent: QWidget, context: Context) -> None:
        super().__init__(parent)
        self._context = context
        self.setWindowTitle("Wanted ages")
        self.setMinimumWidth(560)
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 24)
        column.setSpacing(16)
        column.addWidget(label("Which ages are wanted?", "title"))
        column.addWidget(
            label(
                "Hours after hatching. A larva is right when it is of a usable age; the best ages "
                "are only shown on the strip of hours. What was practised before stays as it was "
                "judged."
            )
        )
        form = QFormLayout()
        form.setSpacing(12)
        self.score_by = self._score_by_box()
        form.addRow("Score by", self.score_by)
        self._young, self._best_young, self._best_old, self._old = (_hours() for _ in range(4))
        self._put(context.limits)
        for words, box in (
            ("Youngest usable", self._young),
            ("Best from", self._best_young),
            ("Best to", self._best_old),
            ("Oldest usable", self._old),
        ):
            form.addRow(words, box)
        self._let_set()
        column.addLayout(form)
        column.addWidget(self._by_words)
        name = context.learner.name if context.learner else ""
        self._only = QCheckBox(f"Only for {name}")
        self._only.setVisible(bool(name))
        if context.learner is not None:
            own = context.store.limits(context.learner.id)
            self._only.setChecked(own != context.store.limits())
        column.addWidget(self._only)
        use = button("Use these ages", self.use, "main")
        use.setDefault(True)
        column.addWidget(use)
        usual = Limits()
        words = f"Usual ages: {usual.young_h:.0f}\N{EN DASH}{usual.old_h:.0f} h"
        column.addWidget(button(words, partial(self._put_usual, usual)))
        column.addWidget(button("Cancel", self.reject, "plain"))

    def showEvent(self, event: QShowEvent) -> None:
        """Give every field its height."""
        super().showEvent(event)
        give_height(self)

    def _score_by_box(self) -> QComboBox:
        """Return the choice of hours or the line of a teacher who measured theirs."""
        from larvasight.desk.teachers_line import TeachersLine, limits_by, teachers_lines

        context = self._context
        try:
            lines: list[TeachersLine] = teachers_lines(context.store, local_zone())
        except LarvasightError:
            lines = []  # hours can be set all the same
        now = context.limits
        self._lines = [limits_by(line, now) for line in lines]
        box = QComboBox()
        box.setAccessibleName("Score by")
        box.addItem("hours, as set below", None)
        for at, line in enumerate(lines):
            day = f"{line.measured_on.day} {line.measured_on:%b %Y}"
            box.addItem(f"the line of {line.name}, {line.n} cells, {day}", at)
        names = [limits.by for limits in self._lines]
        if now.by and now.by not in names:  # whoever it was is no longer among the learners
            self._lines.append(now)
            box.addItem(f"the line of {now.by}", len(names))
            names.append(now.by)
        box.setCurrentIndex(names.index(now.by) + 1 if now.by else 0)
        box.activated.connect(lambda _row: self._choose())
        self._by_words = label(_BY if names else _NO_LINE, "faint")
        return box

    @property
    def _by(self) -> str:
        """Whose line is chosen, empty for hours."""
        at = self.score_by.currentData()
        return "" if at is None else self._lines[at].by

    def _choose(self) -> None:
        """Show the ages of the line that was chosen, or let hours be set."""
        at = self.score_by.currentData()
        now = self._context.limits
        hours = Limits() if now.by else now
        self._put(hours if at is None else self._lines[at])
        self._let_set()

    def _let_set(self) -> None:
        """Let both ends of the usable ages be set, unless a line sets them."""
        at = self.score_by.currentData()
        for box in (self._young, self._old):
            box.setEnabled(at is None)

    def _put(self, limits: Limits) -> None:
        """Show these ages in the boxes."""
        self._young.setValue(round(limits.young_h))
        self._best_young.setValue(round(limits.best_young_h))
        self._best_old.setValue(round(limits.best_old_h))
        self._old.setValue(round(limits.old_h))

    def _put_usual(self, usual: Limits) -> None:
        self.score_by.setCurrentIndex(0)
        self._choose()
        self._put(usual)

    def use(self) -> None:
        """Store the spans if they lie one inside the other."""
        try:
            limits = Limits(
                young_h=float(self._young.value()),
                best_young_h=float(self._best_young.value()),
                best_old_h=float(self._best_old.value()),
                old_h=float(self._old.value()),
                by=self._by,
            )
        except ValueError:
            words = "Each age must be at least as high as the one above it."
            QMessageBox.warning(self, "Wanted ages", words)
            return
        learner = self._context.learner
        only = learner.id if learner is not None and self._only.isChecked() else None
        try:
            self._context.store.set_limits(limits, only)
            if learner is not None and only is None:
                # Ages of one's own would go on hiding those for everybody.
                self._context.store.set_limits(None, learner.id)
        except LarvasightError as error:
            QMessageBox.warning(self, "Wanted ages", str(error))
            return
        self._context.set_learner(learner)
        self.accept()


def _hours() -> QSpinBox:
    box = QSpinBox()
    box.setRange(0, _MOST_H)
    box.setSuffix(" h")
    return box
