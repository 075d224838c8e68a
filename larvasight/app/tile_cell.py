"""One cell cut out along its rims, as large as there is room."""

from PySide6.QtCore import QPointF, QRectF, QSizeF
from PySide6.QtGui import QImage, QPainter, QPainterPath, QPolygonF

from larvasight.geometry import hexagon_corners
from larvasight.render.tiles import Tile

# The hexagon shown of a tile reaches a little over the middle of its rims.
_SHOWN_SHARE = 1.06
# Its corners stand this many pitches apart from top to bottom, and a little room.
_HIGH_PITCHES = 1.24


def draw_tile_cell(
    painter: QPainter, size: QSizeF, tile: Tile, *images: tuple[QImage, float]
) -> None:
    """Draw a tile's hexagon into the middle of a room.

    Parameters
    ----------
    painter : QPainter
        What draws.
    size : QSizeF
        The room, from the painter's origin.
    tile : Tile
        Whose pictures they are.
    *images : tuple of QImage and float
        Pictures one over the other, each with how much of it covers what lies below, 0 to 1.
    """
    middle = QPointF(size.width() / 2.0, size.height() / 2.0)
    side = min(size.width(), size.height() * tile.side_px / (tile.pitch_px * _HIGH_PITCHES))
    corners = hexagon_corners(tile.pitch_px * side / tile.side_px * _SHOWN_SHARE)
    path = QPainterPath()
    path.addPolygon(QPolygonF([middle + QPointF(float(x), float(y)) for x, y in corners]))
    path.closeSubpath()
    target = QRectF(0.0, 0.0, side, side)
    target.moveCenter(middle)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
    painter.setClipPath(path)
    for image, share in images:
        painter.setOpacity(share)
        painter.drawImage(target, image)
    painter.restore()
