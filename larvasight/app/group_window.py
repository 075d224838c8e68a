"""Teach a group: 24 numbered cells over the whole screen, hands counted, then the key."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QImage, QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QDialog,
    QGridLayout,
    QHBoxLayout,
    QMessageBox,
    QSizePolicy,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.asking import ask_save_path, ask_yes, tell_saved
from larvasight.app.context import Context
from larvasight.app.images import image_of
from larvasight.app.parts import button, label
from larvasight.desk.cell_sheet import CellSheet, key_words, make_sheet, new_number
from larvasight.desk.group import right_hands, save_group_table
from larvasight.errors import LarvasightError

TITLE = "Teach a group"
_COLUMNS = 6
_PEOPLE_MOST = 200
_LEAST_PX = 96


class GroupWindow(QDialog):
    """Cells with numbers; the key stays hidden until K or its button is pressed."""

    def __init__(self, parent: QWidget, context: Context, sheet: CellSheet) -> None:
        super().__init__(parent)
        self.setWindowTitle(TITLE)
        self._context, self._sheet = context, sheet
        self.is_told = False
        self.people = _count("People", 1, _PEOPLE_MOST)
        self.people.setValue(10)
        self.people.valueChanged.connect(self._people_changed)
        self._is_saved = True
        self.hands = [_hands(k + 1) for k in range(len(sheet.pictures))]
        for field in self.hands:
            field.valueChanged.connect(self._counted)
        self.keys = [label("") for _ in sheet.pictures]
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 16, 24, 16)
        column.setSpacing(8)
        head = QHBoxLayout()
        head.setSpacing(16)
        head.addWidget(label("Who would graft it? Hands up, cell by cell.", "title", wrap=False), 1)
        head.addWidget(label("People", wrap=False))
        head.addWidget(self.people)
        self.key_button = button("Show the key (K)", self.tell, "main")
        self.save_button = button("Save counts (CSV) ...", self.save)
        for each in (self.key_button, self.save_button, button("Close", self.reject)):
            head.addWidget(each)
        column.addLayout(head)
        grid = QGridLayout()
        grid.setSpacing(8)
        for k, pixels in enumerate(sheet.pictures):
            grid.addWidget(self._cell(k, image_of(pixels)), *divmod(k, _COLUMNS))
        column.addLayout(grid, 1)
        self.said = label("")
        column.addWidget(self.said)

    def tell(self) -> None:
        """Show what is true of each cell and how many were right about it."""
        self.is_told = True
        limits, n_people = self._context.limits, self.people.value()
        n_right = n_told = 0
        for k, (key, hands) in enumerate(zip(self.keys, self.counts(), strict=True)):
            right = right_hands(self._sheet, k, hands, n_people, limits)
            words = key_words(self._sheet, k, limits, is_short=True)
            if right is None:
                key.setText(words)
                continue
            n_right, n_told = n_right + right, n_told + n_people
            key.setText(f"{words}. {right} of {n_people} right")
        said = f"Right about the cells that were counted: {n_right} of {n_told} answers."
        self.said.setText(
            said if n_told else "Type how many hands went up to see how many were right."
        )

    def counts(self) -> list[int | None]:
        """Return the hands for each cell, None where none were typed."""
        return [None if each.value() < 0 else each.value() for each in self.hands]

    def save(self) -> None:
        """Ask for a file and write the counts."""
        name = f"larvasight group {self._sheet.number}.csv"
        path = ask_save_path(self, TITLE, name, "CSV (*.csv)", ".csv")
        if path is None:
            return
        try:
            save_group_table(
                path, self._sheet, self.counts(), self.people.value(), self._context.limits
            )
        except LarvasightError as error:
            QMessageBox.warning(self, TITLE, str(error))
        else:
            self._is_saved = True
            tell_saved(self, TITLE, path)

    def reject(self) -> None:
        """Close; asks first where counts would be lost."""
        words = "Close without saving the counts?"
        if self._is_saved or ask_yes(self, TITLE, words):
            super().reject()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """K shows the key; Enter does nothing by chance."""
        if event.key() == Qt.Key.Key_K:
            self.tell()
        elif event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            super().keyPressEvent(event)

    def _counted(self) -> None:
        self._is_saved = False
        if self.is_told:
            self.tell()

    def _people_changed(self, n_people: int) -> None:
        for hands in self.hands:
            hands.setMaximum(n_people)
        if self.is_told:
            self.tell()

    def _cell(self, index: int, image: QImage) -> QWidget:
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addWidget(_Picture(image), 1)
        row = QHBoxLayout()
        row.addWidget(label(str(index + 1), "title", wrap=False))
        row.addWidget(self.hands[index])
        row.addWidget(self.keys[index], 1)
        column.addLayout(row)
        return holder


class _Picture(QWidget):
    """One cell, as large as there is room."""

    def __init__(self, image: QImage) -> None:
        super().__init__()
        self._image = image
        self.setMinimumSize(QSize(_LEAST_PX, _LEAST_PX))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the cell in the middle."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        side = min(self.width(), self.height())
        box = QRectF(0.0, 0.0, side, side)
        box.moveCenter(QRectF(self.rect()).center())
        painter.drawImage(box, self._image, QRectF(self._image.rect()))


class _Count(QSpinBox):
    """A number field that leaves the key K to its window."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take digits and keys of fields, not K."""
        if event.key() == Qt.Key.Key_K:
            event.ignore()
        else:
            super().keyPressEvent(event)


def _count(name: str, least: int, most: int) -> QSpinBox:
    made = _Count()
    made.setRange(least, most)
    # While a number is typed its first digit is not yet what is meant.
    made.setKeyboardTracking(False)
    made.setAccessibleName(name)
    return made


def _hands(number: int) -> QSpinBox:
    """Return a field for the hands of a cell; below 0 it is empty: not counted yet."""
    made = _count(f"Hands for cell {number}", -1, 10)
    made.setSpecialValueText("-")
    made.setValue(-1)
    return made


def teach_group(parent: QWidget, context: Context) -> None:
    """Show a new set of cells over the whole screen."""
    try:
        sheet = make_sheet(new_number(context.rng), context.limits)
    except LarvasightError as error:
        QMessageBox.warning(parent, TITLE, str(error))
        return
    window = GroupWindow(parent, context, sheet)
    window.showFullScreen()
    window.exec()
    window.deleteLater()
