"""The oldest age that a learner takes, day by day, against the limit."""

from dataclasses import replace
from itertools import pairwise

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from larvasight.grading import Limits
from larvasight.paper.charts import draw_dates, lay_days
from larvasight.paper.day_axis import Point, Points, date_marks
from larvasight.paper.inks import Inks, span_colours
from larvasight.paper.lettering import NO_BREAK, Lettering, Side
from larvasight.paper.line_words import few_sentence
from larvasight.paper.plot import (
    GAP,
    Plot,
    Scale,
    draw_dot,
    draw_heading,
    draw_note,
    draw_sentence,
    lay_plot,
    words_on,
)
from larvasight.practice import TOO_FEW
from larvasight.practice.line import Line, LineDay
from larvasight.stats import Interval

LINE_DAYS_TITLE = "The oldest you take, day by day"
_LIMIT = "limit"
_ABOVE, _BELOW = 0.5, 2.0
_STEPS_H = (6, 12, 24)
_STEP_LEAST = 1.6
_END_H = 60.0


def draw_line_days(
    painter: QPainter, box: QRectF, line: Line, *, limits: Limits, inks: Inks, text_px: float
) -> None:
    """Draw the oldest age taken for each day with its interval, and the limit.

    Parameters
    ----------
    painter : QPainter
        Where to draw; nothing is drawn outside of ``box``.
    box : QRectF
        Room for title, plot and dates.
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
    room = draw_heading(painter, box, LINE_DAYS_TITLE, inks, text_px)
    if line.is_enough and line.days:
        room = draw_note(painter, room, _note(line), inks, text_px)
        _draw_days(painter, room, line, limits, inks, text_px)
    else:
        draw_sentence(painter, room, few_sentence(line), inks, text_px)
    painter.restore()


def _note(line: Line) -> str:
    sure = "the shorter the line, the surer."
    if any(day.first != day.last for day in line.days):
        return f"One dot for each day, or for days that came to {TOO_FEW} cells together; {sure}"
    return f"One dot for each day; {sure}"


def lay_hours(plot: Plot, line: Line, limits: Limits) -> Scale:
    """Return the scale from hours to px: from foot to top, whole steps of 6 h."""
    low_h = min(min(day.old.lo for day in line.days), limits.best_old_h) - 1.0
    high_h = max(max(day.old.hi for day in line.days), limits.old_h) + 1.0
    return Scale(
        low=6.0 * (max(low_h, 0.0) // 6.0),
        high=min(6.0 * -(-high_h // 6.0), _END_H),
        low_px=plot.y.low_px,
        high_px=plot.y.high_px,
    )


def _draw_days(
    painter: QPainter, room: QRectF, line: Line, limits: Limits, inks: Inks, text_px: float
) -> None:
    words = words_on(painter, inks, text_px)
    right = words.width_px(_LIMIT) + GAP * text_px
    inside = room.adjusted(0.0, 0.0, -right, 0.0)
    plot = lay_plot(painter, inside, above=_ABOVE, below=_BELOW, text_px=text_px)
    plot = replace(plot, y=lay_hours(plot, line, limits))
    _draw_hours(plot, limits, inks, words)
    points = Points(unit="day", all=tuple(map(_point, line.days)))
    days = lay_days(plot, points.all, text_px)
    spots = [days.at(point.day) for point in points.all]
    apart_px = min((after - before for before, after in pairwise(spots)), default=plot.area.width())
    for x, day in zip(spots, line.days, strict=True):
        at = QPointF(x, plot.y.at(day.old.value))
        draw_dot(painter, plot, at, (day.old.lo, day.old.hi), inks, text_px, 0.4 * apart_px)
    draw_dates(plot, days, date_marks(points, days, words.width_px, 0.6 * text_px), words)


def _draw_hours(plot: Plot, limits: Limits, inks: Inks, words: Lettering) -> None:
    """Draw the spans, the hours at the left and the limit as a broken line with its name."""
    painter, area, text_px = words.painter, plot.area, words.size_px
    spans = ((limits.young_h, limits.old_h), (limits.best_young_h, limits.best_old_h))
    for (low_h, high_h), colour in zip(spans, span_colours(inks), strict=True):
        top, bottom = plot.y.at(high_h), plot.y.at(low_h)
        painter.fillRect(QRectF(area.left(), top, area.width(), bottom - top), colour)
    hour_px = area.height() / (plot.y.high - plot.y.low)
    step = next((s for s in _STEPS_H if s * hour_px >= _STEP_LEAST * text_px), _STEPS_H[-1])
    for hour in range(int(plot.y.low), int(plot.y.high) + 1, step):
        y = plot.y.at(hour)
        painter.setPen(QPen(QColor(inks.grid), text_px / 16.0))
        painter.drawLine(QPointF(area.left(), y), QPointF(area.right(), y))
        at = QPointF(area.left() - GAP * text_px, y)
        words.line(at, f"{hour}{NO_BREAK}h", Side.RIGHT)
    y = plot.y.at(limits.old_h)
    painter.setPen(QPen(QColor(inks.ink), text_px / 10.0, Qt.PenStyle.DashLine))
    painter.drawLine(QPointF(area.left(), y), QPointF(area.right(), y))
    ink = Lettering(painter=painter, size_px=text_px, colour=inks.ink)
    ink.line(QPointF(area.right() + GAP * text_px, y), _LIMIT)


def _point(day: LineDay) -> Point:
    middle = (day.first.toordinal() + day.last.toordinal()) / 2.0
    return Point(day=middle, n_picks=day.n, n_right=0, right=Interval(lo=0.0, hi=1.0))
