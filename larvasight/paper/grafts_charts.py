"""Charts of the record of grafts: acceptance by day, losses step by step, levels side by side."""

from collections.abc import Sequence
from datetime import date

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from larvasight.grafts.acceptance import DayTakes, Step, Takes
from larvasight.grafts.kinds import Stage
from larvasight.grafts.telling import step_words
from larvasight.grafts.words import STAGE_WORDS
from larvasight.paper.day_axis import Point, Points
from larvasight.paper.day_plot import draw_share_days
from larvasight.paper.inks import Inks, mixed
from larvasight.paper.lettering import NO_BREAK, Lettering, Side
from larvasight.paper.plot import (
    Scale,
    chart,
    draw_note,
    draw_sentence,
    words_on,
)
from larvasight.stats import Interval

DAYS_TITLE = "Of the cups you grafted, how many were accepted"
STEPS_TITLE = "How far the cups came"
_HOW_SURE = "One dot for each day of grafting; the shorter the line, the surer."
_EMPTY = "No cup was looked at yet."
# In text heights.
_ROW = 2.55
_LEVEL_ROW = 2.0
_BAR = 0.9
_SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)
_SOFT = 0.45


def draw_takes(
    painter: QPainter, box: QRectF, days: Sequence[DayTakes], *, inks: Inks, text_px: float
) -> None:
    """Draw the share of cups accepted for each day of grafting, with how sure that is.

    Parameters
    ----------
    painter : QPainter
        Where to draw; nothing is drawn outside of ``box``.
    box : QRectF
        Room for title, plot and dates.
    days : sequence of DayTakes
        Oldest first; days whose cups were not looked at are passed over.
    inks : Inks
        Colours; the paper is not painted.
    text_px : float
        Font size.
    """
    with chart(painter, box, inks, text_px, DAYS_TITLE) as room:
        points = Points(
            unit="day",
            all=tuple(takes_point(day.day, day.takes) for day in days if day.takes.n_known),
        )
        if points.all:
            room = draw_note(painter, room, _HOW_SURE, inks, text_px)
            draw_share_days(painter, room, points, "cups", inks, text_px)
        else:
            draw_sentence(painter, room, _EMPTY, inks, text_px)


def draw_steps(
    painter: QPainter, box: QRectF, steps: Sequence[Step], *, inks: Inks, text_px: float
) -> None:
    """Draw one bar for each stage as long as the cups that came to it, and what became of others.

    Parameters
    ----------
    painter : QPainter
        Where to draw; nothing is drawn outside of ``box``.
    box : QRectF
        Room of ``steps_height_px``.
    steps : sequence of Step
        All stages in their order.
    inks : Inks
        Colours; the paper is not painted.
    text_px : float
        Font size.
    """
    with chart(painter, box, inks, text_px, STEPS_TITLE) as room:
        ink = Lettering(painter=painter, size_px=text_px, colour=inks.ink)
        faint = words_on(painter, inks, text_px)
        most = max(1, steps[0].n_reached)
        left = room.left() + max(ink.width_px(words) for words in STAGE_WORDS.values()) + text_px
        counts_px = ink.width_px(f"{most}{NO_BREAK}")
        full_px = room.right() - left - counts_px - 0.5 * text_px
        for row, step in enumerate(steps):
            y = room.top() + (row * _ROW + 0.6) * text_px
            ink.line(QPointF(room.left(), y), STAGE_WORDS[step.stage])
            width = full_px * step.n_reached / most
            bar = QRectF(left, y - _BAR * text_px / 2.0, width, _BAR * text_px)
            _draw_bar(painter, bar, step, inks)
            ink.line(QPointF(left + width + 0.5 * text_px, y), str(step.n_reached))
            faint.line(QPointF(left, y + 1.05 * text_px), step_words(step))


def steps_height_px(text_px: float) -> float:
    """Return the height that ``draw_steps`` needs."""
    return (len(STAGE_WORDS) * _ROW + 1.6) * text_px


def draw_levels(
    painter: QPainter,
    box: QRectF,
    levels: Sequence[tuple[str, Takes]],
    *,
    inks: Inks,
    text_px: float,
) -> None:
    """Draw the share accepted for each of some tools, people or ages, one under the other.

    Parameters
    ----------
    painter : QPainter
        Where to draw; nothing is drawn outside of ``box``.
    box : QRectF
        Room of ``levels_height_px``.
    levels : sequence of (str, Takes)
        Names and what was accepted.
    inks : Inks
        Colours; the paper is not painted.
    text_px : float
        Font size.
    """
    with chart(painter, box, inks, text_px):
        ink = Lettering(painter=painter, size_px=text_px, colour=inks.ink)
        faint = words_on(painter, inks, text_px)
        names_px = min(0.4 * box.width(), max(ink.width_px(name) for name, _ in levels))
        half_px = faint.width_px(f"100{NO_BREAK}%") / 2.0
        shares = Scale(
            low=0.0,
            high=1.0,
            low_px=box.left() + names_px + text_px + half_px,
            high_px=box.right() - half_px,
        )
        bottom = box.top() + len(levels) * _LEVEL_ROW * text_px
        for share in _SHARES:
            x = shares.at(share)
            painter.setPen(QPen(QColor(inks.grid), text_px / 16.0))
            painter.drawLine(QPointF(x, box.top()), QPointF(x, bottom))
            at = QPointF(x, bottom + 0.7 * text_px)
            faint.line(at, f"{100.0 * share:.0f}{NO_BREAK}%", Side.MIDDLE)
        for row, (name, takes) in enumerate(levels):
            y = box.top() + (row + 0.5) * _LEVEL_ROW * text_px
            ink.line(QPointF(box.left(), y), ink.elided(name, names_px))
            if takes.share is not None:
                share = takes.n_accepted / takes.n_known
                _draw_level(painter, shares, y, share, takes.share, inks, text_px)


def levels_height_px(n_levels: int, text_px: float) -> float:
    """Return the height that ``draw_levels`` needs."""
    return (n_levels * _LEVEL_ROW + 1.5) * text_px


def takes_point(day: date, takes: Takes) -> Point:
    """Return where a day with cups that were looked at stands."""
    return Point(
        day=float(day.toordinal()),
        n_picks=takes.n_known,
        n_right=takes.n_accepted,
        right=takes.share or Interval(lo=0.0, hi=1.0),
    )


def _draw_bar(painter: QPainter, bar: QRectF, step: Step, inks: Inks) -> None:
    """Draw the cups that came to a stage: those that went on full, the others lighter."""
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(mixed(inks.paper, inks.accent, _SOFT))
    painter.drawRect(bar)
    n_full = step.n_reached if step.stage is Stage.LAYING else step.n_on
    if step.n_reached:
        full = QRectF(bar.topLeft(), bar.size())
        full.setWidth(bar.width() * n_full / step.n_reached)
        painter.setBrush(QColor(inks.accent))
        painter.drawRect(full)


def _draw_level(
    painter: QPainter,
    shares: Scale,
    y: float,
    share: float,
    interval: Interval,
    inks: Inks,
    text_px: float,
) -> None:
    radius = 0.3 * text_px
    pen = QPen(QColor(inks.accent), 0.5 * radius)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(pen)
    painter.drawLine(QPointF(shares.at(interval.lo), y), QPointF(shares.at(interval.hi), y))
    painter.setPen(QPen(QColor(inks.paper), 0.25 * radius))
    painter.setBrush(QColor(inks.accent))
    painter.drawEllipse(QPointF(shares.at(share), y), radius, radius)
