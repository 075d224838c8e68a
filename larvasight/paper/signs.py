"""Draw the sign of a verdict: the same on screen, on marked pictures and on paper."""

import math

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPainterPath, QPen, QPolygonF

from larvasight.paper.marks import Mark, Shape

# Lies under every line and sign drawn on comb, so that they stand out on light wax too.
DARK = QColor(24, 18, 12)
# Where an edge of the picture would cut them, words and signs give way so far, in pitches.
_ASIDE_SHARE_MOST = 0.5
_DOWN_SHARE_MOST = 0.8


def draw_sign(painter: QPainter, mark: Mark, centre: QPointF, radius_px: float) -> None:
    """Draw the sign of a mark about ``centre``; ``radius_px`` is half its size."""
    painter.save()
    painter.translate(centre)
    painter.setPen(QPen(DARK, max(1.0, radius_px * 0.3)))
    painter.setBrush(QBrush(QColor(mark.colour)))
    if mark.shape in (Shape.OPEN_DISC, Shape.CROSS):
        _draw_strokes(painter, mark, radius_px)
    else:
        painter.drawPath(_shape_path(mark.shape, radius_px))
    painter.restore()


def sign_box(centre: QPointF, radius_px: float) -> QRectF:
    """Return all that a sign draws on, its dark edge too."""
    half_px = radius_px * 1.2
    return QRectF(centre.x() - half_px, centre.y() - half_px, 2.0 * half_px, 2.0 * half_px)


def way_into(box: QRectF, area: QRectF, pitch_px: float) -> QPointF:
    """Return how far words or a sign on a cell must move so that no edge of ``area`` cuts them.

    Never off the cell that they are of, whose pitch is given.
    """
    across = _push(box.left(), box.right(), area.left(), area.right())
    down = _push(box.top(), box.bottom(), area.top(), area.bottom())
    return QPointF(
        _held(across, pitch_px * _ASIDE_SHARE_MOST), _held(down, pitch_px * _DOWN_SHARE_MOST)
    )


def _push(low: float, high: float, least: float, most: float) -> float:
    """Return how far a span must move to lie within another."""
    return max(least - low, 0.0) - max(high - most, 0.0)


def _held(value: float, most: float) -> float:
    return min(max(value, -most), most)


def _draw_strokes(painter: QPainter, mark: Mark, radius_px: float) -> None:
    """Draw a sign made of lines: dark ones first, thinner coloured ones over them."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    wide, thin = max(2.0, radius_px * 0.8), max(1.0, radius_px * 0.42)
    for colour, width_px in ((DARK, wide), (QColor(mark.colour), thin)):
        pen = QPen(colour, width_px)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(pen)
        if mark.shape is Shape.OPEN_DISC:
            painter.drawEllipse(QPointF(), radius_px * 0.85, radius_px * 0.85)
        else:
            reach = radius_px * 0.8
            painter.drawLine(QPointF(-reach, -reach), QPointF(reach, reach))
            painter.drawLine(QPointF(-reach, reach), QPointF(reach, -reach))


def _shape_path(shape: Shape, radius_px: float) -> QPainterPath:
    path = QPainterPath()
    if shape is Shape.DISC:
        path.addEllipse(QPointF(), radius_px, radius_px)
    elif shape is Shape.SQUARE:
        path.addRect(
            QRectF(-radius_px, -radius_px, 2 * radius_px, 2 * radius_px).adjusted(1, 1, -1, -1)
        )
    elif shape is Shape.DASH:
        path.addRoundedRect(
            QRectF(-1.5 * radius_px, -0.5 * radius_px, 3 * radius_px, radius_px), 3, 3
        )
    elif shape is Shape.PENCIL:
        path.addPolygon(_pencil(radius_px))
        path.closeSubpath()
    else:
        n_corners = 4 if shape is Shape.KITE else 3
        turns = [2.0 * math.pi * k / n_corners - math.pi / 2.0 for k in range(n_corners)]
        reach = radius_px * 1.3
        path.addPolygon(
            QPolygonF([QPointF(reach * math.cos(t), reach * math.sin(t)) for t in turns])
        )
        path.closeSubpath()
    return path


def _pencil(radius_px: float) -> QPolygonF:
    """Return a pencil that leans to the right, its tip at the lower left."""
    outline = ((-1.35, 0.0), (-0.65, -0.42), (1.35, -0.42), (1.35, 0.42), (-0.65, 0.42))
    cos, sin = math.cos(math.pi / 4.0), math.sin(math.pi / 4.0)
    return QPolygonF(
        [QPointF(x * cos + y * sin, y * cos - x * sin) * radius_px for x, y in outline]
    )
