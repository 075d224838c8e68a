"""The rail on the left: who is practising, and the places one can go to."""

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
)

from larvasight.app.dressing import Dressing
from larvasight.app.icon import icon

# Margins of the rail, and border and padding of the button with the name.
_NAME_BESIDE_PX = 2 * (8 + 2 + 2) + 2


class Rail(QFrame):
    """Buttons for the places; ``chosen`` carries the place's key."""

    chosen = Signal(str)
    learner_pressed = Signal()

    def __init__(self, dressing: Dressing, places: tuple[tuple[str, str], ...]) -> None:
        super().__init__()
        self.setObjectName("rail")
        self._dressing = dressing
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 16, 8, 16)
        column.setSpacing(8)
        self._learner = QPushButton()
        self._learner.setProperty("role", "name")
        self._learner.setToolTip("Somebody else practises")
        self._learner.clicked.connect(self.learner_pressed)
        self._learner.hide()
        column.addWidget(self._learner)
        self._group = QButtonGroup(self)
        self._group.setExclusive(True)
        self._buttons: dict[str, QToolButton] = {}
        for key, words in places:
            made = QToolButton()
            made.setText(words)
            made.setProperty("role", "place")
            made.setCheckable(True)
            made.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextUnderIcon)
            made.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            made.setAccessibleName(words)
            made.clicked.connect(lambda _on=False, key=key: self.chosen.emit(key))
            self._group.addButton(made)
            self._buttons[key] = made
            column.addWidget(made)
        column.addStretch(1)
        dressing.changed.connect(self.fit)
        self.fit()

    def set_learner(self, name: str) -> None:
        """Show who is practising; an empty name shows nobody."""
        metrics = self._learner.fontMetrics()
        room = self.width() - _NAME_BESIDE_PX
        self._learner.setText(metrics.elidedText(name, Qt.TextElideMode.ElideRight, room))
        self._learner.setAccessibleName(f"Practising: {name}")
        self._learner.setVisible(bool(name))

    def set_place(self, key: str) -> None:
        """Show where one is."""
        self._buttons[key].setChecked(True)

    def set_open(self, is_open: bool) -> None:
        """Let the places be gone to, or not yet."""
        for made in self._buttons.values():
            made.setEnabled(is_open)

    def fit(self) -> None:
        """Follow the look and the text size."""
        size = round(self._dressing.text_px * 1.9)
        for key, made in self._buttons.items():
            made.setIcon(icon(key, self._dressing.tones.ink, size))
            made.setIconSize(QSize(size, size))
        self.setFixedWidth(round(6.4 * self._dressing.text_px) + 16)
