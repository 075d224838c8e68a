"""Icons drawn for larvasight, in the colours of the present look."""

from importlib import resources

from PySide6.QtCore import QByteArray, QRectF, Qt
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer


def icon(name: str, colour: str = "#000000", size_px: int = 32) -> QIcon:
    """Return the icon of this name with its lines in ``colour``, sharp on fine screens too."""
    text = resources.files("larvasight.app").joinpath("icons", f"{name}.svg").read_text("utf-8")
    drawing = QSvgRenderer(QByteArray(text.replace("#000", colour).encode()))
    made = QIcon()
    for scale in (1, 2, 3):
        pixmap = QPixmap(size_px * scale, size_px * scale)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        drawing.render(painter, QRectF(0, 0, size_px * scale, size_px * scale))
        painter.end()
        pixmap.setDevicePixelRatio(scale)
        made.addPixmap(pixmap)
    return made
