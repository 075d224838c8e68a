"""A bar of cups drawn cup by cup, marked from the keyboard: arrows and one letter each."""

from typing import Final

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from larvasight.app.dressing import Dressing
from larvasight.grafts import CUPS_A_BAR, Batch, Cup, Fate, Stage
from larvasight.grafts.words import cup_words
from larvasight.paper.lettering import Lettering, Side

# What each letter notes; the same letters stand on the cups.
STAGE_KEYS: Final[dict[Qt.Key, Stage]] = {
    Qt.Key.Key_A: Stage.ACCEPTED,
    Qt.Key.Key_C: Stage.CAPPED,
    Qt.Key.Key_E: Stage.EMERGED,
    Qt.Key.Key_M: Stage.MATED,
    Qt.Key.Key_L: Stage.LAYING,
}
FATE_KEYS: Final[dict[Qt.Key, Fate]] = {
    Qt.Key.Key_X: Fate.LOST,
    Qt.Key.Key_G: Fate.GIVEN_AWAY,
}
_CLEAR_KEYS: Final = (Qt.Key.Key_O, Qt.Key.Key_Backspace, Qt.Key.Key_Delete)
_STAGE_LETTERS: Final = {
    Stage.GRAFTED: "",
    Stage.ACCEPTED: "A",
    Stage.CAPPED: "C",
    Stage.EMERGED: "E",
    Stage.MATED: "M",
    Stage.LAYING: "L",
}
# In text heights: least width of a cup's place.
_CUP_LEAST = 1.75
# A single bar is drawn larger where there is room, up to this many text heights for one.
_LARGER_MOST = 1.8
# In heights as drawn: width of a cup's place at which it grows, most width, height of a row.
_CUP_USUAL = 2.0
_CUP_MOST = 2.4
_ROW = 6.2
_LONG = (Stage.CAPPED, Stage.EMERGED, Stage.MATED, Stage.LAYING)


class CupBar(QWidget):
    """Draws the cups of one batch, 20 on a bar, and says what is to be noted.

    ``stage_wanted`` and ``fate_wanted`` carry a cup's number and what it came to,
    ``clear_wanted`` its number; ``back_wanted`` asks to take the latest mark back.
    """

    current_changed = Signal(int)
    stage_wanted = Signal(int, object)
    fate_wanted = Signal(int, object)
    clear_wanted = Signal(int)
    back_wanted = Signal()

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._batch: Batch | None = None
        self._waiting: frozenset[int] = frozenset()
        self.current = 1
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)
        dressing.changed.connect(self._fit)

    @property
    def a_row(self) -> int:
        """Cups in one row: a whole bar where the letters can be read, else half of one."""
        enough = CUPS_A_BAR * _CUP_LEAST * self._dressing.text_px
        return CUPS_A_BAR if self.width() >= enough else CUPS_A_BAR // 2

    def show_batch(self, batch: Batch, waiting: frozenset[int] = frozenset()) -> None:
        """Show a batch; ``waiting`` are the cups whose marks are not on the disk yet."""
        if self._batch is None or self._batch.id != batch.id:
            self.current = 1
        self._batch, self._waiting = batch, waiting
        self.current = min(self.current, len(batch.cups))
        self._fit()
        self._say()

    def go_to(self, number: int) -> None:
        """Go to a cup; one past either end goes nowhere."""
        if self._batch is None or not 1 <= number <= len(self._batch.cups):
            return
        self.current = number
        self._say()
        self.current_changed.emit(number)
        self.update()

    def cup_box(self, number: int) -> QRectF:
        """Return where a cup is drawn with its number."""
        em_px = self._em_px()
        width = min(self.width() / self.a_row, _CUP_MOST * em_px)
        row, column = divmod(number - 1, self.a_row)
        height = _ROW * em_px
        return QRectF(column * width, row * height, width, height)

    def sizeHint(self) -> QSize:
        """Ask for as many rows as there are bars."""
        em_px = self._em_px()
        return QSize(round(30 * self._dressing.text_px), round(self._n_rows() * _ROW * em_px) + 4)

    def minimumSizeHint(self) -> QSize:
        """Ask for the same height at least."""
        return QSize(round(10 * _CUP_LEAST * self._dressing.text_px), self.sizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Follow the width: half bars where it is narrow."""
        super().resizeEvent(event)
        self.updateGeometry()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go from cup to cup, note what a letter says, and go on to the next cup."""
        key = Qt.Key(event.key())
        if event.modifiers() & ~(
            Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier
        ):
            super().keyPressEvent(event)
            return
        steps = {
            Qt.Key.Key_Left: self.current - 1,
            Qt.Key.Key_Right: self.current + 1,
            Qt.Key.Key_Up: self.current - self.a_row,
            Qt.Key.Key_Down: self.current + self.a_row,
            Qt.Key.Key_Home: 1,
            Qt.Key.Key_End: len(self._batch.cups) if self._batch is not None else 1,
        }
        if key in steps:
            self.go_to(steps[key])
        elif key == Qt.Key.Key_Z:
            self.back_wanted.emit()
        elif not self._mark(key):
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Go to the cup that is pressed."""
        n_cups = len(self._batch.cups) if self._batch is not None else 0
        for number in range(1, n_cups + 1):
            if self.cup_box(number).contains(event.position()):
                self.go_to(number)

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Show the frame about the current cup."""
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Show the frame fainter."""
        super().focusOutEvent(event)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the bars and their cups."""
        super().paintEvent(event)
        if self._batch is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        n_cups = len(self._batch.cups)
        for first in range(1, n_cups + 1, self.a_row):
            last = min(first + self.a_row - 1, n_cups)
            self._draw_wood(painter, self.cup_box(first), self.cup_box(last))
        for cup in self._batch.cups:
            self._draw_cup(painter, cup)

    def _n_rows(self) -> int:
        n_cups = len(self._batch.cups) if self._batch is not None else CUPS_A_BAR
        return -(-n_cups // self.a_row)

    def _em_px(self) -> float:
        """Return the height of letters on the cups."""
        text_px = self._dressing.text_px
        if self._n_rows() > 1:
            return text_px
        return min(max(self.width() / self.a_row / _CUP_USUAL, text_px), _LARGER_MOST * text_px)

    def _mark(self, key: Qt.Key) -> bool:
        if key in STAGE_KEYS:
            self.stage_wanted.emit(self.current, STAGE_KEYS[key])
        elif key in FATE_KEYS:
            self.fate_wanted.emit(self.current, FATE_KEYS[key])
        elif key in _CLEAR_KEYS:
            self.clear_wanted.emit(self.current)
        else:
            return False
        return True

    def _say(self) -> None:
        """Tell people who cannot see the bar which cup it is."""
        if self._batch is not None:
            cup = self._batch.cups[self.current - 1]
            self.setAccessibleName(f"Cup {cup.number}: {cup_words(cup.reached, cup.fate)}")

    def _fit(self) -> None:
        self.updateGeometry()
        self.update()

    def _draw_wood(self, painter: QPainter, first: QRectF, last: QRectF) -> None:
        tones, em_px = self._dressing.tones, self._em_px()
        wood = QRectF(first.left() + 1, first.top() + 0.3 * em_px, 0, 0.8 * em_px)
        wood.setRight(last.right() - 1)
        painter.setPen(QPen(QColor(tones.line), 1.5))
        painter.setBrush(QColor(tones.well))
        painter.drawRoundedRect(wood, 4, 4)

    def _draw_cup(self, painter: QPainter, cup: Cup) -> None:
        tones, em_px = self._dressing.tones, self._em_px()
        box = self.cup_box(cup.number)
        if cup.number == self.current:
            self._draw_place(painter, box)
        is_lost = cup.fate is Fate.LOST
        shape = _cup_shape(box, em_px, is_long=cup.reached in _LONG)
        pen = QPen(QColor(tones.faint if is_lost else tones.ink), 2.0)
        if cup.number in self._waiting:
            pen.setStyle(Qt.PenStyle.DashLine)
        painter.setPen(pen)
        filled = tones.accent_soft if cup.reached is not Stage.GRAFTED else tones.sheet
        painter.setBrush(QColor(tones.sheet if is_lost else filled))
        painter.drawPath(shape)
        middle = QPointF(box.center().x(), box.top() + 2.15 * em_px)
        words = Lettering(painter=painter, size_px=em_px, colour=tones.ink, bold=True)
        if is_lost:
            _draw_cross(painter, middle, 0.42 * em_px, QColor(tones.ink))
        else:
            letter = "G" if cup.fate is Fate.GIVEN_AWAY else _STAGE_LETTERS[cup.reached]
            words.line(middle, letter, Side.MIDDLE)
        if is_lost and cup.reached is not Stage.GRAFTED:
            under = QPointF(middle.x(), middle.y() + 1.15 * em_px)
            small = Lettering(painter=painter, size_px=0.8 * em_px, colour=tones.faint)
            small.line(under, _STAGE_LETTERS[cup.reached], Side.MIDDLE)
        self._draw_number(painter, box, cup)

    def _draw_number(self, painter: QPainter, box: QRectF, cup: Cup) -> None:
        tones, em_px = self._dressing.tones, self._em_px()
        is_current = cup.number == self.current
        number = Lettering(
            painter=painter,
            size_px=0.88 * em_px,
            colour=tones.ink if is_current else tones.faint,
            bold=is_current,
        )
        at = QPointF(box.center().x(), box.top() + 5.2 * em_px)
        drawn = number.line(at, str(cup.number), Side.MIDDLE)
        if self._batch is not None and self._batch.alternation and cup.number % 2 == 0:
            painter.setPen(QPen(QColor(tones.ink), 2.0))
            y = drawn.bottom() - 0.05 * em_px
            painter.drawLine(QPointF(drawn.left(), y), QPointF(drawn.right(), y))

    def _draw_place(self, painter: QPainter, box: QRectF) -> None:
        """Draw the frame about the cup that a letter marks."""
        tones, em_px = self._dressing.tones, self._em_px()
        frame = box.adjusted(2.0, 1.25 * em_px, -2.0, -0.25 * em_px)
        pen = QPen(QColor(tones.accent), 3.0 if self.hasFocus() else 1.5)
        if not self.hasFocus():
            pen.setStyle(Qt.PenStyle.DotLine)
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRoundedRect(frame, 6, 6)


def _cup_shape(box: QRectF, em_px: float, *, is_long: bool) -> QPainterPath:
    """Return a queen cup hanging from the bar: short and open, or drawn out and closed."""
    x, top = box.center().x(), box.top() + 1.1 * em_px
    half = min(0.40 * box.width(), 0.85 * em_px)
    height = (3.3 if is_long else 1.9) * em_px
    path = QPainterPath(QPointF(x - 0.8 * half, top))
    path.cubicTo(
        QPointF(x - half, top + 0.3 * height),
        QPointF(x - 1.05 * half, top + 0.55 * height),
        QPointF(x - (0.6 if is_long else 0.85) * half, top + 0.85 * height),
    )
    path.quadTo(
        QPointF(x, top + (1.15 if is_long else 1.05) * height),
        QPointF(x + (0.6 if is_long else 0.85) * half, top + 0.85 * height),
    )
    path.cubicTo(
        QPointF(x + 1.05 * half, top + 0.55 * height),
        QPointF(x + half, top + 0.3 * height),
        QPointF(x + 0.8 * half, top),
    )
    path.closeSubpath()
    return path


def _draw_cross(painter: QPainter, at: QPointF, reach: float, colour: QColor) -> None:
    painter.setPen(QPen(colour, 0.3 * reach + 1.5))
    painter.drawLine(at - QPointF(reach, reach), at + QPointF(reach, reach))
    painter.drawLine(at + QPointF(-reach, reach), at + QPointF(reach, -reach))
