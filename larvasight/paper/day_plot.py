"""What charts over days share: the days' scale and dates, shares as dots with their counts."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QPainter

from larvasight.paper.day_axis import DateMark, Point, Points, date_marks
from larvasight.paper.inks import Inks
from larvasight.paper.lettering import Lettering, Side
from larvasight.paper.plot import GAP, Plot, Scale, draw_dot, draw_shares, lay_plot, words_on

# Rows of words kept free: over the days with and without their counts, and under them.
ABOVE, ABOVE_BARE, BELOW = 1.5, 0.5, 2.0
# In font sizes.
_EDGE = 0.6
_DATES_APART = 0.6


def draw_share_days(
    painter: QPainter, room: QRectF, points: Points, counted: str, inks: Inks, text_px: float
) -> None:
    """Draw a dot for each point at its share, with its interval, its date and its count.

    Parameters
    ----------
    painter : QPainter
        Where to draw.
    room : QRectF
        Room for plot, counts and dates.
    points : Points
        At least one.
    counted : str
        What the counts are of, written before them; they are left out where they would touch.
    inks : Inks
        Colours.
    text_px : float
        Font size.
    """
    words = words_on(painter, inks, text_px)
    plot = lay_plot(painter, room, above=ABOVE, below=BELOW, text_px=text_px)
    days = lay_days(plot, points.all, text_px)
    apart_px = least_apart_px(plot, days, points.all)
    widest_px = max(words.width_px(str(point.n_picks)) for point in points.all)
    has_counts = widest_px + 0.5 * text_px <= apart_px
    if not has_counts:
        plot = lay_plot(painter, room, above=ABOVE_BARE, below=BELOW, text_px=text_px)
    draw_shares(painter, plot, ((plot.area.left(), plot.area.right()),), inks, text_px)
    for point in points.all:
        at = QPointF(days.at(point.day), plot.y.at(point.n_right / point.n_picks))
        interval = (point.right.lo, point.right.hi)
        draw_dot(painter, plot, at, interval, inks, text_px, 0.4 * apart_px)
    draw_dates(plot, days, points, words)
    if has_counts:
        _draw_counts(plot, days, points.all, counted, words)


def lay_days(plot: Plot, points: Sequence[Point], text_px: float) -> Scale:
    """Return the scale from ordinals of days to px; one single day stands in the middle."""
    first, last = points[0].day, points[-1].day
    pad = 1.0 if first == last else 0.0
    edge = _EDGE * text_px
    return Scale(
        low=first - pad,
        high=last + pad,
        low_px=plot.area.left() + edge,
        high_px=plot.area.right() - edge,
    )


def least_apart_px(plot: Plot, days: Scale, points: Sequence[Point]) -> float:
    """Return how far the two closest days lie apart; the plot's width where there is one."""
    spots = [days.at(point.day) for point in points]
    return min((after - before for before, after in pairwise(spots)), default=plot.area.width())


def draw_dates(plot: Plot, days: Scale, points: Points, words: Lettering) -> None:
    """Name the dates under a plot; the last one is kept where two would touch."""
    left, right = plot.area.left() - 2.0 * words.size_px, plot.area.right()
    y = plot.area.bottom() + 0.2 * words.size_px + 0.5 * words.line_px
    marks = date_marks(points, days, words.width_px, _DATES_APART * words.size_px)
    for mark in _without_touch(marks, days, right, words):
        x = days.at(mark.ordinal)
        words.line_within(QPointF(x, y), mark.label, left, right)
        if mark.year is not None:
            words.line_within(QPointF(x, y + words.line_px), mark.year, left, right)


def _without_touch(
    marks: list[DateMark], days: Scale, right: float, words: Lettering
) -> list[DateMark]:
    """Leave out the last but one where the last, held inside the plot, would touch it."""
    if len(marks) < 2:
        return marks
    *others, before, last = marks
    half_px = words.width_px(last.label) / 2.0
    last_left = min(days.at(last.ordinal), right - half_px) - half_px - 0.3 * words.size_px
    if days.at(before.ordinal) + words.width_px(before.label) / 2.0 <= last_left:
        return marks
    return [*others, replace(last, year=last.year or before.year)]


def _draw_counts(
    plot: Plot, days: Scale, points: Sequence[Point], counted: str, words: Lettering
) -> None:
    """Write over each dot what it rests on."""
    y = plot.area.top() - 1.0 * words.line_px
    words.line(QPointF(plot.area.left() - GAP * words.size_px, y), counted, Side.RIGHT)
    for point in points:
        at = QPointF(days.at(point.day), y)
        words.line_within(at, str(point.n_picks), plot.area.left(), plot.area.right())
