"""The oldest age that a learner takes, day by day, against the limit."""

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from larvasight.grading import Limits
from larvasight.paper.day_axis import Point, Points
from larvasight.paper.day_plot import ABOVE_BARE, BELOW, draw_dates, lay_days, least_apart_px
from larvasight.paper.inks import Inks, span_colours
from larvasight.paper.lettering import NO_BREAK, Lettering, Side
from larvasight.paper.line_words import few_sentence
from larvasight.paper.plot import (
    GAP,
    Plot,
    Scale,
    chart,
    draw_dot,
    draw_note,
    draw_sentence,
    lay_plot,
    words_on,
)
from larvasight.practice import TOO_FEW
from larvasight.practice.line import Line, LineDay
from larvasight.stats import Estimate, Interval

LINE_DAYS_TITLE = "The oldest you take, day by day"
_LIMIT = "limit"
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
    with chart(painter, box, inks, text_px, LINE_DAYS_TITLE) as room:
        if line.is_enough and line.days:
            room = draw_note(painter, room, _note(line), inks, text_px)
            _draw_days(painter, room, line, limits, inks, text_px)
        else:
            draw_sentence(painter, room, few_sentence(line), inks, text_px)


def _note(line: Line) -> str:
    sure = "the shorter the line, the surer."
    if any(day.first != day.last for day in line.days):
        return f"One dot for each day, or for days that came to {TOO_FEW} cells together; {sure}"
    return f"One dot for each day; {sure}"


def _draw_days(
    painter: QPainter, room: QRectF, line: Line, limits: Limits, inks: Inks, text_px: float
) -> None:
    words = words_on(painter, inks, text_px)
    plot = lay_hours(room, [day.old for day in line.days], limits, words)
    draw_hours(plot, limits, inks, words)
    points = Points(unit="day", all=tuple(map(_point, line.days)))
    days = lay_days(plot, points.all, text_px)
    draw_edges(plot, days, points.all, [day.old for day in line.days], inks, words)
    draw_dates(plot, days, points, words)


def lay_hours(room: QRectF, oldest_h: Sequence[Estimate], limits: Limits, words: Lettering) -> Plot:
    """Return the plot of hours against days: from foot to top, whole steps of 6 h."""
    low_h = min(min(each.lo for each in oldest_h), limits.best_old_h) - 1.0
    high_h = max(max(each.hi for each in oldest_h), limits.old_h) + 1.0
    text_px = words.size_px
    inside = room.adjusted(0.0, 0.0, -words.width_px(_LIMIT) - GAP * text_px, 0.0)
    plot = lay_plot(words.painter, inside, above=ABOVE_BARE, below=BELOW, text_px=text_px)
    scale = Scale(
        low=6.0 * (max(low_h, 0.0) // 6.0),
        high=min(6.0 * -(-high_h // 6.0), _END_H),
        low_px=plot.y.low_px,
        high_px=plot.y.high_px,
    )
    return replace(plot, y=scale)


def draw_edges(
    plot: Plot,
    days: Scale,
    points: Sequence[Point],
    oldest_h: Sequence[Estimate],
    inks: Inks,
    words: Lettering,
) -> None:
    """Draw the oldest age taken for each of the days, with its interval."""
    most_px = 0.4 * least_apart_px(plot, days, points)
    for point, old in zip(points, oldest_h, strict=True):
        at = QPointF(days.at(point.day), plot.y.at(old.value))
        draw_dot(words.painter, plot, at, (old.lo, old.hi), inks, words.size_px, most_px)


def draw_hours(plot: Plot, limits: Limits, inks: Inks, words: Lettering) -> None:
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
