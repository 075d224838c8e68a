"""The bar that says when answers cannot be stored, until they are."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout

from larvasight.app.parts import button, label


class TroubleBar(QFrame):
    """Hidden while all is well; ``retry`` is asked for with its button."""

    retry = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("trouble")
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 8, 16, 8)
        self._words = label("")
        row.addWidget(self._words, 1)
        self._again = button("Try again", self.retry.emit)
        row.addWidget(self._again)
        self.hide()

    def say(self, sentence: str) -> None:
        """Show a sentence with a button to try again; an empty one hides the bar."""
        self._words.setText(sentence)
        self._again.show()
        self.setVisible(bool(sentence))

    def remark(self, sentence: str) -> None:
        """Show a sentence that nothing can be done about."""
        self.say(sentence)
        self._again.hide()
