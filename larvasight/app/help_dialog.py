"""A page of help that scrolls where the screen is small."""

from PySide6.QtWidgets import QDialog, QTextBrowser, QVBoxLayout, QWidget

from larvasight.app.parts import button, label


class HelpDialog(QDialog):
    """Shows a title and a text."""

    def __init__(self, parent: QWidget, title: str, text: str) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 24)
        column.setSpacing(16)
        column.addWidget(label(title, "title"))
        self.text = QTextBrowser()
        self.text.setHtml(text)
        column.addWidget(self.text, 1)
        column.addWidget(button("Close", self.accept, "main"))
        room = parent.size() * 0.9
        self.resize(min(760, room.width()), min(640, room.height()))
