"""A large picture that stays sharp however small it is shown, and of which little is drawn."""

import math
from collections.abc import Sequence

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

# Halves are made until a side would be shorter, px.
_SIDE_LEAST_PX = 400
# A picture may be enlarged this much before the next larger one is taken.
_ENLARGED_MOST = 1.05


def halves(image: QImage) -> tuple[QImage, ...]:
    """Return a picture at half its size, at a quarter and so on; safe in any thread."""
    made: list[QImage] = []
    last = image
    while min(last.width(), last.height()) >= 2 * _SIDE_LEAST_PX:
        size = QSize((last.width() + 1) // 2, (last.height() + 1) // 2)
        last = last.scaled(
            size,
            Qt.AspectRatioMode.IgnoreAspectRatio,
            Qt.TransformationMode.SmoothTransformation,
        )
        made.append(last)
    return tuple(made)


class CombPicture(QGraphicsItem):
    """A picture with its halves; each time the one next larger than the screen needs is drawn.

    Parameters
    ----------
    image : QImage
        The picture.
    smaller : sequence of QImage
        The same picture at half its size, at a quarter and so on.
    """

    def __init__(self, image: QImage, smaller: Sequence[QImage]) -> None:
        super().__init__()
        self._levels = (image, *smaller)
        self._bounds = QRectF(0.0, 0.0, image.width(), image.height())
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemClipsChildrenToShape)

    def boundingRect(self) -> QRectF:
        """Return the picture's own rectangle."""
        return self._bounds

    def level_for(self, scale: float) -> int:
        """Return which picture is drawn where a pixel of the largest takes ``scale`` dots."""
        if scale <= 0.0:
            return len(self._levels) - 1
        wanted = math.floor(math.log2(_ENLARGED_MOST / scale))
        return min(max(wanted, 0), len(self._levels) - 1)

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        """Draw what is in view."""
        del option, widget
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        # The dots of the screen count, of which a pixel of the window may have several.
        level = self._levels[self.level_for(painter.deviceTransform().m11())]
        painter.drawImage(self._bounds, level, QRectF(level.rect()))
