"""The hour strip with the line a learner draws: the youngest and the oldest taken."""

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from larvasight.grading import Limits
from larvasight.paper.hour_strip import draw_strip_ground, draw_strip_hours, draw_strip_key
from larvasight.paper.inks import Inks
from larvasight.paper.lettering import NO_BREAK, Lettering, span_text
from larvasight.paper.plot import Scale
from larvasight.stats import Estimate

_LOW_H, _HIGH_H = -12.0, 60.0
# Heights in font sizes, from the top: two rows of label and bar, the strip, the key.
_LABEL, _BAR = 1.4, 1.0
_STRIP = 2.0
_KEY = 2.0
_ALL = 2.0 * (_LABEL + _BAR) + _STRIP + _KEY


def edges_strip_height_px(text_px: float) -> float:
    """Return the height that ``draw_edges_strip`` fills at a font size."""
    return _ALL * text_px


def draw_edges_strip(
    painter: QPainter,
    box: QRectF,
    *,
    limits: Limits,
    young: Estimate,
    old: Estimate,
    inks: Inks,
    text_px: float,
) -> None:
    """Draw hours after hatching with the usable span, and over them where a learner draws the line.

    Parameters
    ----------
    painter : QPainter
        Where to draw; nothing is drawn outside of ``box``.
    box : QRectF
        Room; needs ``edges_strip_height_px`` of its height.
    limits : Limits
        Usable and best span, shaded.
    young, old : Estimate
        Youngest and oldest age taken, h, each with the span it surely lies in.
    inks : Inks
        Colours; the paper is not painted.
    text_px : float
        Font size.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setClipRect(box, Qt.ClipOperation.IntersectClip)
    words = Lettering(painter=painter, size_px=text_px, colour=inks.ink)
    row_px = (_LABEL + _BAR) * text_px
    strip = QRectF(box.left(), box.top() + 2.0 * row_px, box.width(), _STRIP * text_px)
    end_px = box.right() - words.width_px(f"60{NO_BREAK}h")
    hours = Scale(low=_LOW_H, high=_HIGH_H, low_px=box.left() + 0.9 * text_px, high_px=end_px)
    draw_strip_ground(painter, strip, hours, limits, inks)
    draw_strip_hours(painter, strip, hours, inks, text_px)
    for row, (name, edge) in enumerate((("youngest you take", young), ("oldest you take", old))):
        top = box.top() + row * row_px
        _draw_edge(words, hours, (top, strip), name, edge)
    room = QRectF(box.left(), strip.bottom(), box.width(), _KEY * text_px)
    draw_strip_key(painter, room, limits, inks, text_px)
    painter.restore()


def edge_text(edge: Estimate) -> str:
    """Return an edge as it is said: before hatching it is an egg's."""
    if edge.value < 0.0:
        return "eggs, too"
    return f"{edge.value:.0f}{NO_BREAK}h"


def sure_text(edge: Estimate) -> str:
    """Return the span in which an edge surely lies, from hatching on."""
    return span_text(max(edge.lo, 0.0), max(edge.hi, 0.0))


def _draw_edge(
    words: Lettering, hours: Scale, place: tuple[float, QRectF], name: str, edge: Estimate
) -> None:
    top, strip = place
    text_px, painter = words.size_px, words.painter
    middle = top + (_LABEL + 0.5 * _BAR) * text_px
    x = _held(hours, edge.value)
    bold = Lettering(painter=painter, size_px=text_px, colour=words.colour, bold=True)
    at = QPointF(x, top + 0.5 * _LABEL * text_px)
    bold.line_within(at, f"{name}: {edge_text(edge)}", strip.left(), strip.right())
    pen = QPen(QColor(words.colour), 0.12 * text_px)
    painter.setPen(pen)
    painter.drawLine(QPointF(x, middle), QPointF(x, strip.top()))
    low, high = _held(hours, edge.lo), _held(hours, edge.hi)
    painter.drawLine(QPointF(low, middle), QPointF(high, middle))
    for end in (low, high):
        half = 0.28 * text_px
        painter.drawLine(QPointF(end, middle - half), QPointF(end, middle + half))
    painter.setBrush(QColor(words.colour))
    painter.drawEllipse(QPointF(x, middle), 0.32 * text_px, 0.32 * text_px)


def _held(hours: Scale, age_h: float) -> float:
    return hours.at(min(max(age_h, hours.low), hours.high))
