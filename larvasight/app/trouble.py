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
        self._remark = ""
        self._words = label("")
        row.addWidget(self._words, 1)
        self._again = button("Try again", self.retry.emit)
        row.addWidget(self._again)
        self.hide()

    def say(self, sentence: str) -> None:
        """Show a sentence with a button to try again; an empty one shows the remark again."""
        self._words.setText(sentence or self._remark)
        self._again.setVisible(bool(sentence))
        self.setVisible(bool(sentence or self._remark))

    def remark(self, sentence: str) -> None:
        """Show a sentence that nothing can be done about until another takes its place."""
        self._remark = sentence
        self.say("")
