"""The youngest and the oldest age that a learner takes, on the hours after hatching."""

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from larvasight.grading import Limits
from larvasight.paper.hour_strip import (
    draw_strip_ground,
    draw_strip_hours,
    draw_strip_key,
    strip_hours,
)
from larvasight.paper.inks import Inks, span_colours
from larvasight.paper.lettering import Lettering
from larvasight.paper.line_words import LINE_TITLE, few_sentence, oldest_words, youngest_words
from larvasight.paper.plot import Scale, draw_heading, draw_sentence
from larvasight.practice.line import Line
from larvasight.stats import Estimate

_END_H = 60.0
# In font sizes: title, words of a bar, a bar with its gaps, strip of hours, key; a bar's parts.
_TITLE, _WORDS, _BAR, _STRIP, _KEY = 1.5, 1.5, 1.2, 1.75, 1.7
_CAP, _THICK, _DOT = 0.3, 0.18, 0.34
# How much taller than that the rows of the bars become where there is room.
_TALLEST = 1.8


def line_strip_height_px(text_px: float) -> float:
    """Return the height that ``draw_line_strip`` needs at a font size."""
    return _TITLE * text_px + edges_height_px(text_px)


def edges_height_px(text_px: float) -> float:
    """Return the height that ``draw_edges`` needs at a font size."""
    return (2.0 * (_WORDS + _BAR) + _STRIP + _KEY) * text_px


def draw_line_strip(
    painter: QPainter, box: QRectF, line: Line, *, limits: Limits, inks: Inks, text_px: float
) -> None:
    """Draw both ages as a dot on a bar that holds the true one with 95 % chance.

    Parameters
    ----------
    painter : QPainter
        Where to draw; nothing is drawn outside of ``box``.
    box : QRectF
        Room; its height should be at least ``line_strip_height_px``.
    line : Line
        What is drawn; one sentence where it is too little.
    limits : Limits
        Usable and best span, shaded.
    inks : Inks
        Colours; the paper is not painted.
    text_px : float
        Font size.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setClipRect(box, Qt.ClipOperation.IntersectClip)
    room = draw_heading(painter, box, LINE_TITLE, inks, text_px)
    if line.is_enough:
        draw_edges(painter, room, line.young, line.old, limits=limits, inks=inks, text_px=text_px)
    else:
        draw_sentence(painter, room, few_sentence(line), inks, text_px)
    painter.restore()


def draw_edges(
    painter: QPainter,
    room: QRectF,
    young: Estimate,
    old: Estimate,
    *,
    limits: Limits,
    inks: Inks,
    text_px: float,
) -> None:
    """Draw ``draw_line_strip`` without its title, from the two ages alone, h."""
    words = Lettering(painter=painter, size_px=text_px, colour=inks.ink)
    hours = strip_hours(room, [round(young.lo), min(old.hi, _END_H)], words)
    spare_px = room.height() - (_STRIP + _KEY) * text_px
    least_px = 2.0 * (_WORDS + _BAR) * text_px
    bars_px = min(max(spare_px, least_px), _TALLEST * least_px)
    strip = QRectF(room.left(), room.top() + bars_px, room.width(), _STRIP * text_px)
    _draw_spans(painter, room.top(), strip.top(), hours, limits, inks)
    draw_strip_ground(painter, strip, hours, limits, inks)
    draw_strip_hours(painter, strip, hours, inks, text_px)
    row_px = bars_px / 2.0
    y = room.top() + (row_px - least_px / 2.0) / 2.0
    said = ((young, youngest_words(young, limits)), (old, oldest_words(old, limits)))
    for edge, text in said:
        at = QPointF(hours.at(edge.value), y + _WORDS * text_px / 2.0)
        fitting = min(1.0, room.width() / words.width_px(text))
        small = Lettering(painter=painter, size_px=fitting * text_px, colour=inks.ink)
        small.line_within(at, text, room.left(), room.right())
        _draw_edge(painter, y + (_WORDS + 0.35 * _BAR) * text_px, edge, hours, inks, text_px)
        y += row_px
    key = QRectF(room.left(), strip.bottom(), room.width(), _KEY * text_px)
    draw_strip_key(painter, key, limits, inks, text_px)


def _draw_spans(
    painter: QPainter, top: float, bottom: float, hours: Scale, limits: Limits, inks: Inks
) -> None:
    """Shade both spans behind the bars, with a line at each end of the usable one."""
    spans = ((limits.young_h, limits.old_h), (limits.best_young_h, limits.best_old_h))
    painter.setPen(Qt.PenStyle.NoPen)
    for (low_h, high_h), colour in zip(spans, span_colours(inks), strict=True):
        left, right = hours.at(low_h), hours.at(high_h)
        painter.fillRect(QRectF(left, top, right - left, bottom - top), colour)


def _draw_edge(
    painter: QPainter, y: float, edge: Estimate, hours: Scale, inks: Inks, text_px: float
) -> None:
    low, high = hours.at(edge.lo), hours.at(edge.hi)
    pen = QPen(QColor(inks.ink), _THICK * text_px)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(pen)
    painter.drawLine(QPointF(low, y), QPointF(high, y))
    painter.setPen(QPen(QColor(inks.ink), 0.6 * _THICK * text_px))
    cap = _CAP * text_px
    for x in (low, high):
        painter.drawLine(QPointF(x, y - cap), QPointF(x, y + cap))
    painter.setPen(QPen(QColor(inks.paper), 0.1 * text_px))
    painter.setBrush(QColor(inks.accent))
    painter.drawEllipse(QPointF(hours.at(edge.value), y), _DOT * text_px, _DOT * text_px)
