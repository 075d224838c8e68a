"""Charts of a learner's progress: the share of right picks by day, and which ages are taken."""

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from larvasight.grading import Limits
from larvasight.paper.day_axis import points_of
from larvasight.paper.day_plot import ABOVE, BELOW, draw_share_days
from larvasight.paper.hour_strip import draw_hour_strip, hour_strip_height_px
from larvasight.paper.inks import Inks, span_colours
from larvasight.paper.lettering import NO_BREAK, Lettering, Side
from larvasight.paper.plot import (
    GAP,
    Plot,
    Scale,
    chart,
    draw_dot,
    draw_note,
    draw_sentence,
    draw_shares,
    lay_plot,
    words_on,
)
from larvasight.practice import TOO_FEW, Progress, TakenShare
from larvasight.practice.line import Line
from larvasight.practice.progress import BIN_H

__all__ = ["draw_ages", "draw_days", "draw_hour_strip", "hour_strip_height_px"]

DAYS_TITLE = "Of the larvae you took, how many were young enough"
AGES_TITLE = "Which ages you take"
_AGES_CAPTIONS = ("hours after hatching, by the look of the larva", "hours after hatching", "")
_HOW_SURE = "the shorter the line, the surer."
# Rows of words kept free over the ages for the bands' names.
_AGES_ABOVE = 2.3
# In font sizes: least distance of two points, room about the word "eggs".
_POINTS_APART = 0.5
_EGGS_EDGE = 0.4
_TICKS_H = (12, 24, 36)
# Smaller than this share of the text, counts cannot be read.
_COUNT_LEAST = 0.7


def draw_days(
    painter: QPainter, box: QRectF, progress: Progress, *, inks: Inks, text_px: float
) -> None:
    """Draw the share of right picks for each practice day, with how sure that is.

    Many days are put together by week or month, which the note under the title then says.

    Parameters
    ----------
    painter : QPainter
        Where to draw; nothing is drawn outside of ``box``.
    box : QRectF
        Room for title, plot and dates.
    progress : Progress
        What is drawn; one sentence where it is too little.
    inks : Inks
        Colours; the paper is not painted.
    text_px : float
        Font size.
    """
    with chart(painter, box, inks, text_px, DAYS_TITLE) as room:
        if not progress.is_enough:
            draw_sentence(painter, room, too_few_sentence(progress), inks, text_px)
        elif progress.score.n_picks == 0:
            draw_sentence(painter, room, "No larva was taken yet.", inks, text_px)
        else:
            plot = lay_plot(painter, room, above=ABOVE, below=BELOW, text_px=text_px)
            points = points_of(progress.days, plot.area.width(), _POINTS_APART * text_px)
            note = f"One dot for each {points.unit}; {_HOW_SURE}"
            room = draw_note(painter, room, note, inks, text_px)
            draw_share_days(painter, room, points, "taken", inks, text_px)


def draw_ages(
    painter: QPainter,
    box: QRectF,
    progress: Progress,
    *,
    inks: Inks,
    text_px: float,
    limits: Limits | None = None,
    line: Line | None = None,
) -> None:
    """Draw the share of larvae taken against the age they look, eggs in a column of their own.

    With a line that is known well enough, its cells are drawn and its curve with them.

    Parameters
    ----------
    painter : QPainter
        Where to draw; nothing is drawn outside of ``box``.
    box : QRectF
        Room for title, plot and hours.
    progress : Progress
        What is drawn; one sentence where it is too little.
    inks : Inks
        Colours; the paper is not painted.
    text_px : float
        Font size.
    limits : Limits, optional
        Spans drawn as bands; the usual ones without them.
    line : Line, optional
        Where the learner draws the line now.
    """
    with chart(painter, box, inks, text_px, AGES_TITLE) as room:
        if not progress.is_enough:
            draw_sentence(painter, room, too_few_sentence(progress), inks, text_px)
        elif not any(share.n for share in (progress.eggs, *progress.ages)):
            draw_sentence(painter, room, "No larva and no egg was shown yet.", inks, text_px)
        elif line is not None and line.is_enough:
            note = f"Dots: your latest {line.n} cells. Curve: where you draw the line."
            room = draw_note(painter, room, note, inks, text_px)
            shown = replace(progress, ages=line.ages, eggs=line.eggs)
            _draw_ages(painter, room, shown, limits or Limits(), inks, text_px, line.curve)
        else:
            room = draw_note(
                painter, room, f"Share you took at each age; {_HOW_SURE}", inks, text_px
            )
            _draw_ages(painter, room, progress, limits or Limits(), inks, text_px)


def too_few_sentence(progress: Progress) -> str:
    """Return what is said instead of figures that would rest on too little."""
    return f"Too few to tell: {progress.score.n_answers} of {TOO_FEW} cells."


def lay_ages(
    painter: QPainter, plot: Plot, progress: Progress, text_px: float
) -> tuple[float, Scale]:
    """Return the x of the eggs' column, and the scale from hours to px."""
    words = Lettering(painter=painter, size_px=text_px, colour="#000000")
    half = words.width_px("eggs") / 2.0 + _EGGS_EDGE * text_px
    unit_px = words.width_px(f"{NO_BREAK}h") + words.width_px("72") / 2.0
    hours = Scale(
        low=progress.ages[0].low_h,
        high=progress.ages[-1].high_h,
        low_px=plot.area.left() + 2.0 * half + text_px,
        high_px=plot.area.right() - unit_px,
    )
    return plot.area.left() + half, hours


def _draw_ages(
    painter: QPainter,
    room: QRectF,
    progress: Progress,
    limits: Limits,
    inks: Inks,
    text_px: float,
    curve: Sequence[tuple[float, float]] = (),
) -> None:
    words = words_on(painter, inks, text_px)
    plot = lay_plot(painter, room, above=_AGES_ABOVE, below=BELOW, text_px=text_px)
    eggs_x, hours = lay_ages(painter, plot, progress, text_px)
    counts = _counts_lettering(progress, hours, words)
    if counts is not None:
        plot = lay_plot(painter, room, above=_AGES_ABOVE, below=BELOW + 1.0, text_px=text_px)
    _draw_bands(plot, hours, limits, inks, words)
    eggs_right = 2.0 * eggs_x - plot.area.left()
    spans = ((plot.area.left(), eggs_right), (hours.low_px, hours.high_px))
    draw_shares(painter, plot, spans, inks, text_px)
    bins = [(hours.at((share.low_h + share.high_h) / 2.0), share) for share in progress.ages]
    columns: list[tuple[float, TakenShare]] = [(eggs_x, progress.eggs), *bins]
    most_px = 0.4 * (bins[1][0] - bins[0][0])
    _draw_curve(plot, hours, curve, inks, words)
    counts_y = plot.area.bottom() + 0.2 * text_px + 1.5 * words.line_px
    for x, share in columns:
        if share.taken is not None:
            at = QPointF(x, plot.y.at(share.n_taken / share.n))
            interval = (share.taken.lo, share.taken.hi)
            draw_dot(painter, plot, at, interval, inks, text_px, most_px)
        if counts is not None:
            counts.line(QPointF(x, counts_y), str(share.n), Side.MIDDLE)
    if counts is not None:
        words.line(QPointF(plot.area.left() - GAP * text_px, counts_y), "cells", Side.RIGHT)
    _draw_hours(plot, eggs_x, hours, words, rows_between=0 if counts is None else 1)


def _counts_lettering(progress: Progress, hours: Scale, words: Lettering) -> Lettering | None:
    """Return letters small enough for the cells of each age; None where none fit."""
    column_px = hours.at(BIN_H) - hours.at(0.0)
    widest = max((str(share.n) for share in progress.ages), key=len)
    size_px = words.size_px * min(1.0, 0.85 * column_px / words.width_px(widest))
    return replace(words, size_px=size_px) if size_px >= _COUNT_LEAST * words.size_px else None


def _draw_curve(
    plot: Plot, hours: Scale, curve: Sequence[tuple[float, float]], inks: Inks, words: Lettering
) -> None:
    points = [QPointF(hours.at(age_h), plot.y.at(share)) for age_h, share in curve]
    words.painter.setPen(QPen(QColor(inks.ink), words.size_px / 9.0))
    words.painter.drawPolyline(QPolygonF(points))


def _draw_bands(plot: Plot, hours: Scale, limits: Limits, inks: Inks, words: Lettering) -> None:
    """Draw the spans, each with its name on top: two steps, the inner one lower and darker."""
    painter = words.painter
    spans = (
        ("usable", limits.young_h, limits.old_h, _AGES_ABOVE),
        ("best", limits.best_young_h, limits.best_old_h, _AGES_ABOVE - 1.0),
    )
    names = Lettering(painter=painter, size_px=words.size_px, colour=inks.ink)
    for (name, low_h, high_h, rows), colour in zip(spans, span_colours(inks), strict=True):
        left, right = hours.at(low_h), hours.at(high_h)
        top = plot.area.top() - rows * words.line_px
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        painter.drawRect(QRectF(left, top, right - left, plot.area.bottom() - top))
        middle = QPointF((left + right) / 2.0, top + 0.5 * words.line_px)
        names.line_within(middle, name, plot.area.left(), plot.area.right())


def _draw_hours(
    plot: Plot, eggs_x: float, hours: Scale, words: Lettering, *, rows_between: int
) -> None:
    y = plot.area.bottom() + 0.2 * words.size_px + 0.5 * words.line_px
    words.line(QPointF(eggs_x, y), "eggs", Side.MIDDLE)
    hour_px = (hours.high_px - hours.low_px) / (hours.high - hours.low)
    needed_px = words.width_px("72") + 0.5 * words.size_px
    step = next((step for step in _TICKS_H if step * hour_px >= needed_px), _TICKS_H[-1])
    for hour in range(0, int(hours.high) + 1, step):
        words.line(QPointF(hours.at(hour), y), str(hour), Side.MIDDLE)
    last = hours.high_px + words.width_px(f"{hours.high:.0f}") / 2.0
    words.line(QPointF(last, y), f"{NO_BREAK}h")
    caption = next(c for c in _AGES_CAPTIONS if words.width_px(c) <= plot.area.width())
    below = y + (1 + rows_between) * words.line_px
    middle = QPointF((hours.low_px + hours.high_px) / 2.0, below)
    words.line_within(middle, caption, plot.area.left(), plot.area.right())
