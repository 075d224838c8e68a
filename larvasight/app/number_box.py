"""A field for a number that says when Enter was pressed in it."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QDoubleSpinBox


class NumberBox(QDoubleSpinBox):
    """Keeps Enter to itself, which Qt's own field hands on to what lies around it."""

    entered = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take Enter once the number is read; all other keys as usual."""
        super().keyPressEvent(event)
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            event.accept()
            self.entered.emit()
