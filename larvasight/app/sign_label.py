"""A sign beside words: drawn, so that it is the same in every font, and never without a word."""

from PySide6.QtCore import QPointF, QSize
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from larvasight.app.dressing import Dressing
from larvasight.paper.marks import Mark
from larvasight.paper.signs import draw_sign

# Half the size of a sign, and the room about it, font sizes.
_RADIUS, _ROOM = 0.42, 1.5


class SignLabel(QWidget):
    """One sign; the word that belongs to it stands beside it."""

    def __init__(self, dressing: Dressing, mark: Mark) -> None:
        super().__init__()
        self._dressing, self._mark = dressing, mark
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(mark.word)
        dressing.changed.connect(self.updateGeometry)

    def show_mark(self, mark: Mark) -> None:
        """Show another sign."""
        self._mark = mark
        self.setAccessibleName(mark.word)
        self.update()

    def sizeHint(self) -> QSize:
        """Return the room of a line."""
        side = round(_ROOM * self._dressing.text_px)
        return QSize(side, side)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the sign."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        middle = QPointF(self.width() / 2.0, self.height() / 2.0)
        draw_sign(painter, self._mark, middle, _RADIUS * self._dressing.text_px)
