"""Which ages are wanted: the teacher's spans, for everybody or for one learner."""

from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QFormLayout,
    QMessageBox,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.context import Context
from larvasight.app.parts import button, label
from larvasight.errors import LarvasightError
from larvasight.grading import Limits

_MOST_H = 96


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
        self._young, self._best_young, self._best_old, self._old = (_hours() for _ in range(4))
        self._put(context.limits)
        for words, box in (
            ("Youngest usable", self._young),
            ("Best from", self._best_young),
            ("Best to", self._best_old),
            ("Oldest usable", self._old),
        ):
            form.addRow(words, box)
        column.addLayout(form)
        name = context.learner.name if context.learner else ""
        self._only = QCheckBox(f"Only for {name}")
        self._only.setVisible(bool(name))
        if context.learner is not None:
            own = context.store.limits(context.learner.id)
            self._only.setChecked(own != context.store.limits())
        column.addWidget(self._only)
        column.addWidget(button("Use these ages", self.use, "main"))
        usual = Limits()
        words = f"Usual ages: {usual.young_h:.0f}\N{EN DASH}{usual.old_h:.0f} h"
        column.addWidget(button(words, lambda: self._put(usual)))
        column.addWidget(button("Cancel", self.reject, "plain"))

    def _put(self, limits: Limits) -> None:
        """Show these ages in the boxes."""
        self._young.setValue(round(limits.young_h))
        self._best_young.setValue(round(limits.best_young_h))
        self._best_old.setValue(round(limits.best_old_h))
        self._old.setValue(round(limits.old_h))

    def use(self) -> None:
        """Store the spans if they lie one inside the other."""
        try:
            limits = Limits(
                young_h=float(self._young.value()),
                best_young_h=float(self._best_young.value()),
                best_old_h=float(self._best_old.value()),
                old_h=float(self._old.value()),
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
