"""Teach a group: 24 numbered cells over the whole screen, hands counted, then the key."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QImage, QKeyEvent, QPainter, QPaintEvent, QResizeEvent
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
from larvasight.app.dressing import Dressing
from larvasight.app.images import image_of
from larvasight.app.parts import button, label
from larvasight.desk.cell_sheet import CellSheet, key_words, make_sheet, new_number
from larvasight.desk.group import right_hands, save_group_table
from larvasight.errors import LarvasightError
from larvasight.paper.marks import OUTCOME_MARKS, Mark
from larvasight.paper.qt import text_font
from larvasight.paper.signs import draw_sign
from larvasight.practice import Answer
from larvasight.practice.scoring import outcome_of

TITLE = "Teach a group"
_COLUMNS = 6
_PEOPLE_MOST = 200
_LEAST_PX = 72
_HANDS_PX = 76
_SHOW, _HIDE = "Show the key (K)", "Hide the key (K)"


class GroupWindow(QDialog):
    """Cells with numbers; the key stays hidden until K or its button is pressed."""

    def __init__(self, parent: QWidget, context: Context, sheet: CellSheet) -> None:
        super().__init__(parent)
        self.setWindowTitle(TITLE)
        self._context, self._sheet = context, sheet
        self.is_told = False
        self.people = _count("People", 1, _PEOPLE_MOST)
        self._n_people = 10
        self.people.setValue(self._n_people)
        self.people.valueChanged.connect(self._people_changed)
        self._is_saved = True
        self.hands = [_hands(k + 1) for k in range(len(sheet.pictures))]
        for field in self.hands:
            field.valueChanged.connect(self._counted)
        self.keys = [KeyLine(context.dressing) for _ in sheet.pictures]
        self.rights = [label("", wrap=False) for _ in sheet.pictures]
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 16, 24, 16)
        column.setSpacing(8)
        head = QHBoxLayout()
        head.setSpacing(16)
        head.addWidget(label("Who would graft it? Hands up, cell by cell.", "title", wrap=False), 1)
        head.addWidget(label("People", wrap=False))
        head.addWidget(self.people)
        self.key_button = button(_SHOW, self.turn_key, "main")
        self.save_button = button("Save counts (CSV) ...", self.save)
        for each in (self.key_button, self.save_button, button("Close", self.reject)):
            head.addWidget(each)
        column.addLayout(head)
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(8)
        # All cells of one size, whatever is said below them: size is what is to be compared.
        for column_at in range(_COLUMNS):
            grid.setColumnStretch(column_at, 1)
        for k, pixels in enumerate(sheet.pictures):
            grid.addWidget(self._cell(k, image_of(pixels)), *divmod(k, _COLUMNS))
            grid.setRowStretch(k // _COLUMNS, 1)
        column.addLayout(grid, 1)
        self.said = label(" ", "lead")
        column.addWidget(self.said)

    def turn_key(self) -> None:
        """Show the key, or hide it again."""
        if not self.is_told:
            self.tell()
            return
        self.is_told = False
        self.key_button.setText(_SHOW)
        self.said.setText(" ")
        for key, right in zip(self.keys, self.rights, strict=True):
            key.show_key("", None)
            right.setText("")

    def tell(self) -> None:
        """Show what is true of each cell and how many were right about it."""
        self.is_told = True
        self.key_button.setText(_HIDE)
        limits, n_people = self._context.limits, self.people.value()
        n_right = n_told = 0
        for k, hands in enumerate(self.counts()):
            right = right_hands(self._sheet, k, hands, n_people, limits)
            taken = outcome_of(self._sheet.comb.asked[k], Answer.TAKE, limits)
            words = key_words(self._sheet, k, limits, is_short=True)
            self.keys[k].show_key(words, OUTCOME_MARKS.get(taken))
            self.rights[k].setText("" if right is None else f"{right} right")
            if right is not None:
                n_right, n_told = n_right + right, n_told + n_people
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
        if self._is_saved or ask_yes(self, TITLE, words, yes="Close"):
            super().reject()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Give numbers and key the room that their words need on a window of this height."""
        super().resizeEvent(event)
        for widget in (*self.findChildren(_Number), *self.keys):
            widget.updateGeometry()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """K shows and hides the key; Enter does nothing by chance."""
        if event.key() == Qt.Key.Key_K:
            self.turn_key()
        elif event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            super().keyPressEvent(event)

    def _counted(self) -> None:
        self._is_saved = False
        self._let_all_in()
        if self.is_told:
            self.tell()

    def _let_all_in(self) -> None:
        """Raise the people to the most hands: a count is never cut short without a word."""
        most = max(1, *(each.value() for each in self.hands))
        n_people, raised = self._n_people, max(self._n_people, most)
        self.people.setMinimum(most)
        self.people.setValue(raised)
        self._n_people = n_people  # what was typed counts again once the hands are put right
        if not self.is_told:
            self.said.setText(
                f"{most} hands: People is {raised} now." if raised > n_people else " "
            )

    def _people_changed(self) -> None:
        self._n_people = self.people.value()
        if self.is_told:
            self.tell()

    def _cell(self, index: int, image: QImage) -> QWidget:
        holder = QWidget()
        cell = QGridLayout(holder)
        cell.setContentsMargins(0, 0, 0, 0)
        cell.setSpacing(4)
        cell.addWidget(_Picture(image), 0, 0)
        beside = QVBoxLayout()
        beside.setSpacing(4)
        beside.addWidget(_Number(self._context.dressing, index + 1))
        beside.addWidget(self.hands[index])
        beside.addWidget(self.rights[index])
        beside.addStretch(1)
        cell.addLayout(beside, 0, 1)
        cell.addWidget(self.keys[index], 1, 0, 1, 2)
        cell.setColumnStretch(0, 1)
        cell.setRowStretch(0, 1)
        return holder


class KeyLine(QWidget):
    """What is true of a cell, with its sign; its room is kept while nothing is told."""

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._words = ""
        self._mark: Mark | None = None
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    @property
    def words(self) -> str:
        """What stands here now."""
        return self._words

    def show_key(self, words: str, mark: Mark | None) -> None:
        """Show other words and another sign."""
        self._words, self._mark = words, mark
        self.setAccessibleName(words)
        self.update()

    def sizeHint(self) -> QSize:
        """Return a line's height, larger on a larger window."""
        return QSize(_LEAST_PX, round(1.5 * self._text_px()))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw sign and words in one line, smaller where they would not fit."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        text_px = self._text_px()
        painter.setFont(text_font(text_px))
        needed = painter.fontMetrics().horizontalAdvance(self._words) + 1.52 * text_px
        if needed > self.width():
            text_px *= max(0.55, self.width() / needed)
            painter.setFont(text_font(text_px))
        painter.setPen(QColor(self._dressing.tones.ink))
        middle = self.height() / 2.0
        if self._mark is not None:
            draw_sign(painter, self._mark, QPointF(0.62 * text_px, middle), 0.38 * text_px)
        left = 1.42 * text_px if self._mark is not None else 0.0
        box = QRectF(left, 0.0, self.width() - left, self.height())
        flags = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
        painter.drawText(box, flags, self._words)

    def _text_px(self) -> float:
        return max(0.9 * self._dressing.text_px, self.window().height() / 48.0)


class _Number(QWidget):
    """The number of a cell, large enough for the back of a room."""

    def __init__(self, dressing: Dressing, number: int) -> None:
        super().__init__()
        self._dressing, self._number = dressing, number
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """Return a line's height."""
        return QSize(_HANDS_PX, round(1.2 * self._text_px()))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the number at the left."""
        del event
        painter = QPainter(self)
        painter.setPen(QColor(self._dressing.tones.ink))
        painter.setFont(text_font(self._text_px(), bold=True))
        flags = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
        painter.drawText(self.rect(), flags, str(self._number))

    def _text_px(self) -> float:
        return max(1.3 * self._dressing.text_px, self.window().height() / 26.0)


class _Picture(QWidget):
    """One cell, as large as there is room."""

    def __init__(self, image: QImage) -> None:
        super().__init__()
        self._image = image
        self.setMinimumSize(QSize(_LEAST_PX, _LEAST_PX))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the cell, beside its number."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        side = min(self.width(), self.height())
        box = QRectF(self.width() - side, 0.0, side, side)
        painter.drawImage(box, self._image, QRectF(self._image.rect()))


class _Count(QSpinBox):
    """A number field that leaves the key K to its window."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take digits and keys of fields, not K; what is typed takes the place of "-"."""
        if event.key() == Qt.Key.Key_K:
            event.ignore()
            return
        if self.text() == self.specialValueText():  # else a click and 7 would give "-7": nothing
            self.selectAll()
        super().keyPressEvent(event)
        if self.specialValueText() and not self.text():
            self.setValue(self.minimum())  # wiped out: not counted


def _count(name: str, least: int, most: int) -> QSpinBox:
    made = _Count()
    made.setRange(least, most)
    # While a number is typed its first digit is not yet what is meant.
    made.setKeyboardTracking(False)
    made.setAccessibleName(name)
    return made


def _hands(number: int) -> QSpinBox:
    """Return a field for the hands of a cell; below 0 it is empty: not counted yet."""
    made = _count(f"Hands for cell {number}", -1, _PEOPLE_MOST)
    made.setSpecialValueText("-")
    made.setFixedWidth(_HANDS_PX)
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
