"""Icons drawn for larvasight, in the colours of the present look."""

import math
from pathlib import Path

from PySide6.QtCore import QByteArray, QRectF, Qt
from PySide6.QtGui import QGuiApplication, QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

_FOLDER = Path(__file__).with_name("icons")


def icon(name: str, colour: str = "#000000", size_px: int = 32) -> QIcon:
    """Return the icon of this name with its lines in ``colour``, sharp on the finest screen."""
    text = (_FOLDER / f"{name}.svg").read_text("utf-8")
    drawing = QSvgRenderer(QByteArray(text.replace("#000", colour).encode()))
    made = QIcon()
    application = QGuiApplication.instance()
    finest = application.devicePixelRatio() if isinstance(application, QGuiApplication) else 1.0
    for scale in range(1, math.ceil(finest) + 1):
        pixmap = QPixmap(size_px * scale, size_px * scale)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        drawing.render(painter, QRectF(0, 0, size_px * scale, size_px * scale))
        painter.end()
        pixmap.setDevicePixelRatio(scale)
        made.addPixmap(pixmap)
    return made
