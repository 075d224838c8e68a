"""Small parts that pages are made of."""

from collections.abc import Callable

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QDialog,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

_FRAME_PX = 40  # a window's title bar and edges


def label(text: str, role: str = "", *, wrap: bool = True) -> QLabel:
    """Return words in one of the roles of the style sheet: title, lead, figure, faint or none."""
    made = QLabel(text)
    made.setTextFormat(Qt.TextFormat.PlainText)  # names are not markup
    made.setProperty("role", role)
    made.setWordWrap(wrap)
    return made


class PushButton(QPushButton):
    """A button that Enter presses, too, wherever it is."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Press on Enter as on Space."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if not event.isAutoRepeat():
                self.click()
        else:
            super().keyPressEvent(event)


class ShortenedButton(PushButton):
    """A button that shows fewer words where there is no room for all of them.

    Parameters
    ----------
    words, short : str
        What it says with and without room; read aloud are always all words.
    """

    def __init__(self, words: str, short: str) -> None:
        super().__init__(words)
        self._words, self._short = words, short
        self.setAccessibleName(words)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """Return the size for all words."""
        return self._hint(self._words)

    def minimumSizeHint(self) -> QSize:
        """Return the size for the fewer words."""
        return self._hint(self._short)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show as many words as there is room for."""
        super().resizeEvent(event)
        has_room = self.width() >= self.sizeHint().width()
        self.setText(self._words if has_room else self._short)

    def _hint(self, words: str) -> QSize:
        hint, wide = super().sizeHint(), self.fontMetrics().horizontalAdvance
        return QSize(hint.width() - wide(self.text()) + wide(words), hint.height())


def button(
    text: str, pressed: Callable[[], object], role: str = "", *, short: str = ""
) -> QPushButton:
    """Return a button; ``main`` is the one thing to do next, ``short`` is for where room lacks."""
    made = ShortenedButton(text, short) if short else PushButton(text)
    made.setProperty("role", role)
    made.setAutoDefault(False)
    made.clicked.connect(lambda: pressed())
    return made


def column(
    *widgets: QWidget, spacing: int = 8, margins: tuple[int, int, int, int] = (0, 0, 0, 0)
) -> QWidget:
    """Return widgets one under the other; margins are left, top, right, bottom, px."""
    made = QWidget()
    layout = QVBoxLayout(made)
    layout.setContentsMargins(*margins)
    layout.setSpacing(spacing)
    for widget in widgets:
        layout.addWidget(widget)
    return made


def centred(card: QWidget) -> QHBoxLayout:
    """Return a card between two stretches, where words in it still get the height they need."""
    row = QHBoxLayout()
    row.setContentsMargins(32, 0, 32, 0)
    row.addStretch(1)
    row.addWidget(card, 1000)
    row.addStretch(1)
    return row


class Notice(QWidget):
    """A page's empty, busy or error state: what is the matter, and what to do."""

    def __init__(self) -> None:
        super().__init__()
        outer = QVBoxLayout(self)
        outer.addStretch(2)
        self._card = QFrame()
        self._card.setObjectName("sheet")
        self._card.setMaximumWidth(640)
        inside = QVBoxLayout(self._card)
        inside.setContentsMargins(40, 32, 40, 32)
        inside.setSpacing(16)
        self._title = label("", "title")
        self._words = label("")
        inside.addWidget(self._title)
        inside.addWidget(self._words)
        self._buttons = inside
        outer.addLayout(centred(self._card))
        outer.addStretch(3)
        self._made: list[QPushButton] = []

    def say(self, title: str, words: str, *buttons: QPushButton) -> None:
        """Show a title, a sentence or two, and buttons."""
        self._title.setText(title)
        self._words.setText(words)
        self._words.setVisible(bool(words))
        for old in self._made:
            self._buttons.removeWidget(old)
            old.hide()
            old.deleteLater()
        self._made = list(buttons)
        for new in buttons:
            self._buttons.addWidget(new)
            new.show()


def give_height(dialog: QDialog) -> None:
    """Leave every field of a dialog its height: words that wrap ask for too little."""
    room_px = dialog.screen().availableGeometry().height() - _FRAME_PX
    dialog.setMinimumHeight(min(dialog.heightForWidth(dialog.width()), room_px))


def side_width_px(text_px: int, room_px: int) -> int:
    """Return the width of the column beside a comb: what words need, never half of the page."""
    return round(min(20.5 * text_px, 480, max(0.42 * room_px, 280)))
