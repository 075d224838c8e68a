"""The first run: nothing but a name."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QLineEdit, QVBoxLayout, QWidget

from larvasight.app.parts import button, centred, label
from larvasight.errors import LarvasightError


class Welcome(QWidget):
    """Asks for the name of a learner; ``named`` carries it."""

    named = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        outer = QVBoxLayout(self)
        outer.addStretch(2)
        card = QFrame()
        card.setObjectName("sheet")
        card.setMaximumWidth(560)
        inside = QVBoxLayout(card)
        inside.setContentsMargins(40, 32, 40, 32)
        inside.setSpacing(16)
        inside.addWidget(label("Who is practising?", "title"))
        inside.addWidget(
            label(
                "You will see drawn comb and mark the larvae you would graft. "
                "The name keeps your progress apart from others'."
            )
        )
        self.name = QLineEdit()
        self.name.setMaxLength(60)
        self.name.setPlaceholderText("Your name or a nickname")
        self.name.setAccessibleName("Name")
        self.name.returnPressed.connect(self._go)
        inside.addWidget(self.name)
        self._error = label("")
        self._error.hide()
        inside.addWidget(self._error)
        inside.addWidget(button("Begin", self._go, "main"))
        outer.addLayout(centred(card))
        outer.addStretch(3)

    def show_error(self, error: LarvasightError) -> None:
        """Say why the name cannot be taken."""
        self._error.setText(str(error))
        self._error.show()

    def _go(self) -> None:
        self._error.hide()
        if not self.name.text().strip():
            self._error.setText("Please type a name.")
            self._error.show()
            self.name.setFocus()
            return
        self.named.emit(self.name.text())
