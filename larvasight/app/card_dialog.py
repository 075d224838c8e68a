"""Match the screen with a bank card, so that the loupe shows comb in its true size."""

from functools import partial

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QDialog, QHBoxLayout, QSizePolicy, QSlider, QVBoxLayout, QWidget

from larvasight.app.loupe import Loupe
from larvasight.app.parts import button, label
from larvasight.geometry.loupe import CARD_CORNER_MM, CARD_HEIGHT_MM, CARD_WIDTH_MM

# Narrowest outline, px; the widest is what the screen has room for.
_LEAST_PX = 140
_WIDE_SHARE, _HIGH_SHARE = 0.7, 0.4
# Screens say how large they are; beyond this they are mistaken, dots to the inch.
_DPI_SPAN = (50.0, 300.0)
_DPI_USUAL = 96.0
_MM_PER_INCH = 25.4
_MARGIN_PX = 12


def choose_magnification(parent: QWidget, loupe: Loupe, magnification: float | None) -> bool:
    """Take a loupe, matching the screen before the first one; False where that was broken off."""
    is_known = magnification is None or loupe.is_matched(parent.screen())
    if not is_known and not match_screen(parent, loupe):
        return False
    loupe.use(magnification)
    return True


def match_screen(parent: QWidget, loupe: Loupe) -> bool:
    """Have a card held to the screen; return whether it was made to fit."""
    dialog = CardDialog(parent, loupe)
    is_matched = dialog.exec() == QDialog.DialogCode.Accepted
    dialog.deleteLater()
    return is_matched


class CardDialog(QDialog):
    """An outline that is made as large as a bank card held against the screen.

    Parameters
    ----------
    parent : QWidget
        On the screen that is matched.
    loupe : Loupe
        Learns how large the screen's dots are.
    """

    def __init__(self, parent: QWidget, loupe: Loupe) -> None:
        super().__init__(parent)
        self._loupe, self._screen = loupe, parent.screen()
        self.setWindowTitle("Match the screen")
        room = self._screen.availableSize()
        high_px = _HIGH_SHARE * room.height()
        most_px = round(min(_WIDE_SHARE * room.width(), high_px * CARD_WIDTH_MM / CARD_HEIGHT_MM))
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setRange(_LEAST_PX, max(most_px, _LEAST_PX + 1))
        self.slider.setPageStep(10)
        self.slider.setAccessibleName("Width of the outline")
        self._outline = _Outline(self.slider.maximum())
        self.slider.valueChanged.connect(self._outline.set_width)
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 24)
        column.setSpacing(16)
        column.addWidget(label("Match the screen with a bank card", "title"))
        column.addWidget(
            label(
                "Hold a bank card flat against the screen, its top left corner in that of the "
                "outline. Make the outline as large as the card, with the arrow keys or the "
                "slider. This is asked once for each screen."
            )
        )
        column.addWidget(self._outline, 1)
        row = QHBoxLayout()
        row.setSpacing(8)
        for words, name, step in (
            ("\N{MINUS SIGN}", "Smaller", -1),
            ("+", "Larger", 1),
        ):
            made = button(words, partial(self._grow, step))
            made.setAccessibleName(name)
            made.setAutoRepeat(True)
            row.addWidget(made)
            if step < 0:
                row.addWidget(self.slider, 1)
        column.addLayout(row)
        ends = QHBoxLayout()
        ends.addWidget(button("The card fits", self.use, "main"), 1)
        ends.addWidget(button("Cancel", self.reject, "plain"))
        column.addLayout(ends)
        self.slider.setValue(round(self._guessed_px()))
        self._outline.set_width(self.slider.value())
        self.slider.setFocus()

    def use(self) -> None:
        """Remember the outline's width as that of a card."""
        self._loupe.match(self._screen, float(self.slider.value()))
        self.accept()

    def _grow(self, step: int) -> None:
        self.slider.setValue(self.slider.value() + step)

    def _guessed_px(self) -> float:
        """Return how wide a card is by what was measured, or else by what the screen says."""
        known = self._loupe.px_per_mm(self._screen)
        if known is not None:
            return known * CARD_WIDTH_MM
        dpi = self._screen.physicalDotsPerInchX()
        if not _DPI_SPAN[0] <= dpi <= _DPI_SPAN[1]:
            dpi = _DPI_USUAL
        return dpi / _MM_PER_INCH * CARD_WIDTH_MM


class _Outline(QWidget):
    """The outline of a card, its top left corner at one place."""

    def __init__(self, widest_px: int) -> None:
        super().__init__()
        self._width_px = widest_px
        self._widest_px = widest_px
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName("Outline of the card")

    def set_width(self, width_px: int) -> None:
        """Make the outline this wide."""
        self._width_px = width_px
        self.update()

    def sizeHint(self) -> QSize:
        """Return room for the largest outline."""
        high_px = round(self._widest_px * CARD_HEIGHT_MM / CARD_WIDTH_MM)
        return QSize(self._widest_px + 2 * _MARGIN_PX, high_px + 2 * _MARGIN_PX)

    def minimumSizeHint(self) -> QSize:
        """Return the same: an outline cut off could not be matched."""
        return self.sizeHint()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the card's edge, its inside filled so that a rest of it is seen at once."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        wide = float(self._width_px)
        scale = wide / CARD_WIDTH_MM
        box = QRectF(QPointF(_MARGIN_PX, _MARGIN_PX), QPointF(0.0, 0.0))
        box.setWidth(wide)
        box.setHeight(CARD_HEIGHT_MM * scale)
        radius = CARD_CORNER_MM * scale
        painter.setPen(QPen(QColor(self.palette().color(self.foregroundRole())), 1.0))
        painter.setBrush(self.palette().highlight())
        painter.drawRoundedRect(box, radius, radius)
        inner = box.adjusted(2.0 * radius, 2.0 * radius, -2.0 * radius, -2.0 * radius)
        painter.setPen(self.palette().color(self.palette().ColorRole.HighlightedText))
        painter.drawText(inner, Qt.AlignmentFlag.AlignCenter, "Card here")
