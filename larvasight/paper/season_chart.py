"""A season's batches from left to right: comb, cells, nucs, and where today stands."""

from collections.abc import Sequence
from datetime import date, timedelta

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen, QPolygonF

from larvasight.paper.inks import Inks, mixed, span_colours
from larvasight.paper.lettering import Lettering, Side
from larvasight.paper.plot import Scale
from larvasight.timetable.season import Bar, Phase, Row, season_span

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
# Heights in font sizes.
_DATES, _NAME, _BAR, _GAP, _KEY = 2.7, 1.4, 1.5, 0.6, 1.8
_PAD_DAYS = 2
_PHASE_WORDS = {Phase.COMB: "comb", Phase.CELLS: "cells", Phase.NUCS: "nucs"}


def season_chart_height_px(n_rows: int, text_px: float) -> float:
    """Return the height that a chart of so many batches needs at a font size."""
    return (_DATES + n_rows * (_NAME + _BAR + _GAP) + _KEY) * text_px


def draw_season(
    painter: QPainter,
    box: QRectF,
    rows: Sequence[Row],
    *,
    today: date,
    inks: Inks,
    text_px: float,
) -> None:
    """Draw one row for each batch.

    Parameters
    ----------
    painter : QPainter
        Where to draw.
    box : QRectF
        Room; its height should be ``season_chart_height_px``.
    rows : sequence of Row
        The batches, at least one.
    today : date
        Marked by an upright line.
    inks : Inks
        Colours; the paper is not painted.
    text_px : float
        Font size.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setClipRect(box, Qt.ClipOperation.IntersectClip)
    first, last = season_span(rows, today)
    days = Scale(
        low=first.toordinal() - _PAD_DAYS,
        high=last.toordinal() + _PAD_DAYS,
        low_px=box.left() + 0.5 * text_px,
        high_px=box.right() - 0.5 * text_px,
    )
    area = box.adjusted(0.0, _DATES * text_px, 0.0, -_KEY * text_px)
    _draw_dates(painter, area, days, today, inks, text_px)
    y = area.top()
    for row in rows:
        name = Lettering(painter=painter, size_px=0.94 * text_px, colour=inks.ink, bold=True)
        x = days.at(row.bars[0].first.toordinal())
        middle = QPointF(x + name.width_px(row.name) / 2.0, y + 0.5 * _NAME * text_px)
        name.line_within(middle, row.name, area.left(), area.right())
        bar_top = y + _NAME * text_px
        _draw_row(painter, row, days, (bar_top, _BAR * text_px), inks, text_px)
        y = bar_top + (_BAR + _GAP) * text_px
    _draw_today(painter, area, days, today, inks, text_px)
    _draw_key(
        painter, QRectF(box.left(), area.bottom(), box.width(), _KEY * text_px), inks, text_px
    )
    painter.restore()


def _draw_dates(
    painter: QPainter, area: QRectF, days: Scale, today: date, inks: Inks, text_px: float
) -> None:
    """Draw a line for each Monday, its day of the month beside today, and the months above."""
    words = Lettering(painter=painter, size_px=0.83 * text_px, colour=inks.faint)
    bold = Lettering(painter=painter, size_px=0.94 * text_px, colour=inks.ink, bold=True)
    first = date.fromordinal(int(days.low))
    monday = first + timedelta(days=-first.weekday() % 7)
    week_px = days.at(days.low + 7) - days.at(days.low)
    step = max(1, -(-int(words.width_px("30") + 0.7 * text_px) // max(int(week_px), 1)))
    number = 0
    while monday.toordinal() <= days.high:
        x = days.at(monday.toordinal())
        painter.setPen(QPen(QColor(inks.grid), max(1.0, text_px / 18.0)))
        painter.drawLine(QPointF(x, area.top()), QPointF(x, area.bottom()))
        if number % step == 0 and abs(x - days.at(today.toordinal())) > 2.2 * text_px:
            at = QPointF(x, area.top() - 0.6 * text_px)
            words.line_within(at, str(monday.day), area.left(), area.right())
        monday += timedelta(days=7)
        number += 1
    month = first.replace(day=1)
    y = area.top() - 1.9 * text_px
    free_px = area.left()
    while month.toordinal() <= days.high:
        x = days.at(max(month.toordinal(), days.low))
        told = _MONTHS[month.month - 1]
        if month.month == 1 or month.replace(day=1) == first.replace(day=1):
            told = f"{told} {month.year}"
        width = bold.width_px(told)
        if x >= free_px and x + width <= area.right():
            free_px = bold.line(QPointF(x, y), told).right() + 0.5 * text_px
        month = (month + timedelta(days=32)).replace(day=1)


def _brush(phase: Phase, inks: Inks) -> QBrush:
    """Return the ground of a phase; each has its own brightness, too."""
    usable, best = span_colours(inks)
    if phase is Phase.COMB:
        return QBrush(mixed(inks.paper, inks.grid, 0.6))
    return QBrush(best if phase is Phase.CELLS else usable)


def _draw_row(
    painter: QPainter,
    row: Row,
    days: Scale,
    place: tuple[float, float],
    inks: Inks,
    text_px: float,
) -> None:
    top, height = place
    for bar in row.bars:
        _draw_bar(painter, bar, days, QRectF(0.0, top, 0.0, height), inks, text_px)
    middle = top + height / 2.0
    # Emergence: a bracket over its days.
    left, right = (days.at(day.toordinal() + 0.5) for day in row.emergence)
    painter.setPen(QPen(QColor(inks.ink), text_px / 8.0))
    painter.drawLine(QPointF(left, top + height), QPointF(right, top + height))
    for x in (left, right):
        painter.drawLine(QPointF(x, top + height), QPointF(x, top + height - 0.35 * text_px))
    _draw_kite(painter, QPointF(days.at(row.graft.toordinal() + 0.5), middle), inks, text_px)
    _draw_ring(painter, QPointF(days.at(row.eggs.toordinal() + 0.5), middle), inks, text_px)


def _draw_bar(
    painter: QPainter, bar: Bar, days: Scale, place: QRectF, inks: Inks, text_px: float
) -> None:
    left = days.at(bar.first.toordinal() + (0.0 if bar.phase is Phase.COMB else 0.5))
    right = days.at(bar.last.toordinal() + (1.0 if bar.phase is Phase.NUCS else 0.5))
    box = QRectF(left, place.top(), right - left, place.height())
    painter.setPen(QPen(QColor(inks.faint), max(1.0, text_px / 18.0)))
    painter.setBrush(_brush(bar.phase, inks))
    painter.drawRect(box)
    words = Lettering(painter=painter, size_px=0.83 * text_px, colour=inks.ink)
    told = _PHASE_WORDS[bar.phase]
    if words.width_px(told) + 1.6 * text_px <= box.width():
        words.line(box.center(), told, Side.MIDDLE)


def _draw_kite(painter: QPainter, at: QPointF, inks: Inks, text_px: float) -> None:
    reach = 0.5 * text_px
    points = [QPointF(0, -reach), QPointF(reach, 0), QPointF(0, reach), QPointF(-reach, 0)]
    painter.setPen(QPen(QColor(inks.paper), text_px / 10.0))
    painter.setBrush(QColor(inks.ink))
    painter.drawPolygon(QPolygonF([at + point for point in points]))


def _draw_ring(painter: QPainter, at: QPointF, inks: Inks, text_px: float) -> None:
    painter.setPen(QPen(QColor(inks.ink), text_px / 8.0))
    painter.setBrush(QColor(inks.paper))
    painter.drawEllipse(at, 0.32 * text_px, 0.32 * text_px)


def _draw_today(
    painter: QPainter, area: QRectF, days: Scale, today: date, inks: Inks, text_px: float
) -> None:
    x = days.at(today.toordinal() + 0.5)
    pen = QPen(QColor(inks.accent), text_px / 8.0)
    pen.setStyle(Qt.PenStyle.DashLine)
    painter.setPen(pen)
    painter.drawLine(QPointF(x, area.top() - 0.1 * text_px), QPointF(x, area.bottom()))
    words = Lettering(painter=painter, size_px=0.88 * text_px, colour=inks.accent, bold=True)
    width = words.width_px("today") + 0.4 * text_px
    left = max(area.left(), min(x - width / 2.0, area.right() - width))
    room = QRectF(left, area.top() - 1.15 * text_px, width, 1.1 * text_px)
    painter.fillRect(room, QColor(inks.paper))
    words.line(room.center(), "today", Side.MIDDLE)


def _draw_key(painter: QPainter, room: QRectF, inks: Inks, text_px: float) -> None:
    """Draw what the signs mean."""
    size_px = 0.83 * text_px
    words = Lettering(painter=painter, size_px=size_px, colour=inks.faint)
    y, x = room.bottom() - 0.7 * text_px, room.left() + 0.6 * text_px
    _draw_kite(painter, QPointF(x, y), inks, size_px)
    x = words.line(QPointF(x + 0.7 * text_px, y), "grafting").right() + 1.4 * text_px
    painter.setPen(QPen(QColor(inks.ink), text_px / 8.0))
    half = 0.5 * text_px
    painter.drawLine(QPointF(x - half, y + 0.2 * text_px), QPointF(x + half, y + 0.2 * text_px))
    for end in (x - half, x + half):
        painter.drawLine(QPointF(end, y + 0.2 * text_px), QPointF(end, y - 0.15 * text_px))
    x = words.line(QPointF(x + 0.8 * text_px, y), "queens emerge").right() + 1.4 * text_px
    _draw_ring(painter, QPointF(x, y), inks, size_px)
    words.line(QPointF(x + 0.7 * text_px, y), "first eggs")
