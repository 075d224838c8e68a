"""Words on charts and pages: measured and drawn alike on screen, in a PDF and in an SVG."""

from dataclasses import dataclass
from enum import Enum

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter

from larvasight.paper.qt import text_font

# Line height over font size.
LEADING = 1.3
NO_BREAK = "\N{NO-BREAK SPACE}"
DASH = "\N{EN DASH}"
_WRAP = Qt.TextFlag.TextWordWrap.value
_ENDLESS_PX = 1e6


class Side(Enum):
    """Which part of a line of words stands at the given place."""

    LEFT = 0.0
    MIDDLE = 0.5
    RIGHT = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """Words of one size and colour (``#rrggbb``) on one painter.

    A single painter unit counts as a px, whatever the device.
    """

    painter: QPainter
    size_px: float
    colour: str
    bold: bool = False

    @property
    def line_px(self) -> float:
        """Height of one line."""
        return self.size_px * LEADING

    def width_px(self, text: str) -> float:
        """Return the width of a line of words."""
        return self._metrics().horizontalAdvance(text)

    def height_px(self, text: str, width_px: float) -> float:
        """Return the height of words broken into lines of this width."""
        room = QRectF(0.0, 0.0, width_px, _ENDLESS_PX)
        return self._metrics().boundingRect(room, _WRAP, text).height()

    def line(self, at: QPointF, text: str, side: Side = Side.LEFT) -> QRectF:
        """Draw one line of words, vertically centred on ``at``; return its box."""
        metrics = self._metrics()
        width = metrics.horizontalAdvance(text)
        left = at.x() - width * side.value
        self._set()
        # Capitals and digits are centred, so that words sit well beside signs.
        self.painter.drawText(QPointF(left, at.y() + metrics.capHeight() / 2.0), text)
        return QRectF(left, at.y() - self.line_px / 2.0, width, self.line_px)

    def line_within(self, at: QPointF, text: str, left_px: float, right_px: float) -> QRectF:
        """Draw one line centred on ``at``, moved sideways until it lies inside the limits."""
        half = self.width_px(text) / 2.0
        x = max(min(at.x(), right_px - half), left_px + half)
        return self.line(QPointF(x, at.y()), text, Side.MIDDLE)

    def wrapped(self, box: QRectF, text: str, *, centred: bool = False) -> float:
        """Draw words broken into lines from the top of a box; return their height."""
        self._set()
        height = self.height_px(text, box.width())
        side = Qt.AlignmentFlag.AlignHCenter if centred else Qt.AlignmentFlag.AlignLeft
        room = QRectF(box.left(), box.top(), box.width(), height + 1.0)
        self.painter.drawText(room, _WRAP | side.value, text)
        return height

    def elided(self, text: str, width_px: float) -> str:
        """Return a line cut with three dots where it is wider than this."""
        return self._metrics().elidedText(text, Qt.TextElideMode.ElideRight, width_px)

    def _font(self) -> QFont:
        font = text_font(self.size_px, bold=self.bold)
        # Without hinting words have the same width on every device.
        font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
        return font

    def _metrics(self) -> QFontMetricsF:
        return QFontMetricsF(self._font())

    def _set(self) -> None:
        self.painter.setFont(self._font())
        self.painter.setPen(QColor(self.colour))


def span_text(low_h: float, high_h: float) -> str:
    """Return two ages as one span, such as ``17-25 h`` with a proper dash."""
    return f"{low_h:.0f}{DASH}{high_h:.0f}{NO_BREAK}h"
