"""The class: a row for each learner with the youngest and the oldest age taken on hours."""

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from larvasight.grading import Limits
from larvasight.paper.inks import Inks, span_colours
from larvasight.paper.lettering import NO_BREAK, Lettering, Side, span_text
from larvasight.paper.marks import Mark, Shape
from larvasight.paper.plot import Scale
from larvasight.paper.signs import draw_sign
from larvasight.practice.class_line import STATE_WORDS, ClassLine, State
from larvasight.practice.progress import TOO_FEW
from larvasight.practice.spacing import is_drift
from larvasight.stats import Estimate

CLASS_TITLE = "The youngest and the oldest each one takes, hours after hatching"
_END_H, _STEP_H = 60.0, 12
# In font sizes: a row, the hours over the rows, the sign; a dot, a bar's thickness.
_ROW, _HOURS, _SIGN = 3.3, 1.6, 0.38
_DOT, _THICK = 0.3, 0.16
# Shares of the width: names, strip, words.
_NAMES, _STRIP = 0.22, 0.36
_GAP = 0.6
STATE_MARKS: dict[State, Mark] = {
    State.PAST: Mark(colour="#D55E00", shape=Shape.SQUARE, word=STATE_WORDS[State.PAST]),
    State.PERHAPS: Mark(colour="#E69F00", shape=Shape.WEDGE, word=STATE_WORDS[State.PERHAPS]),
    State.MOVED: Mark(colour="#CC79A7", shape=Shape.CROSS, word=STATE_WORDS[State.MOVED]),
    State.DUE: Mark(colour="#56B4E9", shape=Shape.KITE, word=STATE_WORDS[State.DUE]),
    State.PRACTISING: Mark(colour="#009E73", shape=Shape.DISC, word=STATE_WORDS[State.PRACTISING]),
    State.NEW: Mark(colour="#FFFFFF", shape=Shape.OPEN_DISC, word=STATE_WORDS[State.NEW]),
}


def class_height_px(n_lines: int, text_px: float) -> float:
    """Return the height that ``draw_class`` fills with so many learners."""
    return (_HOURS + _ROW * n_lines) * text_px


def draw_class(
    painter: QPainter,
    box: QRectF,
    lines: Sequence[ClassLine],
    *,
    limits: Limits,
    inks: Inks,
    text_px: float,
) -> None:
    """Draw a row for each learner.

    Parameters
    ----------
    painter : QPainter
        Where to draw; nothing is drawn outside of ``box``.
    box : QRectF
        Room of ``class_height_px``.
    lines : sequence of ClassLine
        In the order of the rows.
    limits : Limits
        The class's spans, shaded behind all rows.
    inks : Inks
        Colours; the paper is not painted.
    text_px : float
        Font size.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setClipRect(box, Qt.ClipOperation.IntersectClip)
    left = box.left() + _NAMES * box.width()
    right = left + _STRIP * box.width()
    hours = Scale(low=0.0, high=_END_H, low_px=left + text_px, high_px=right - text_px)
    _draw_ground(painter, box, hours, limits, inks, text_px)
    top = box.top() + _HOURS * text_px
    for line in lines:
        row = QRectF(box.left(), top, box.width(), _ROW * text_px)
        if row.bottom() > box.bottom() + 1.0:
            break
        _draw_row(painter, row, line, hours, inks, text_px)
        top += row.height()
    painter.restore()


def _draw_ground(
    painter: QPainter, box: QRectF, hours: Scale, limits: Limits, inks: Inks, text_px: float
) -> None:
    """Shade the spans behind all rows and write the hours over them."""
    top = box.top() + _HOURS * text_px
    spans = ((limits.young_h, limits.old_h), (limits.best_young_h, limits.best_old_h))
    for (low_h, high_h), colour in zip(spans, span_colours(inks), strict=True):
        left, right = hours.at(low_h), hours.at(high_h)
        painter.fillRect(QRectF(left, top, right - left, box.bottom() - top), colour)
    words = Lettering(painter=painter, size_px=0.8 * text_px, colour=inks.faint)
    painter.setPen(QPen(QColor(inks.grid), text_px / 18.0))
    for hour in range(0, int(_END_H) + 1, _STEP_H):
        x = hours.at(float(hour))
        painter.setPen(QPen(QColor(inks.grid), text_px / 18.0))
        painter.drawLine(QPointF(x, top), QPointF(x, box.bottom()))
        text = f"{hour}{NO_BREAK}h" if hour == int(_END_H) else str(hour)
        words.line(QPointF(x, box.top() + 0.5 * _HOURS * text_px), text, Side.MIDDLE)


def _draw_row(
    painter: QPainter, row: QRectF, line: ClassLine, hours: Scale, inks: Inks, text_px: float
) -> None:
    painter.setPen(QPen(QColor(inks.grid), text_px / 18.0))
    painter.drawLine(row.topLeft(), row.topRight())
    names_px = _NAMES * row.width()
    bold = Lettering(painter=painter, size_px=text_px, colour=inks.ink, bold=True)
    small = Lettering(painter=painter, size_px=0.85 * text_px, colour=inks.ink)
    upper, lower = row.top() + 0.32 * row.height(), row.top() + 0.7 * row.height()
    bold.line(QPointF(row.left(), upper), bold.elided(line.name, names_px - text_px))
    mark = STATE_MARKS[line.state]
    draw_sign(painter, mark, QPointF(row.left() + 0.5 * text_px, lower), _SIGN * text_px)
    small.line(QPointF(row.left() + 1.3 * text_px, lower), mark.word)
    words_left = row.left() + (_NAMES + _STRIP) * row.width() + _GAP * text_px
    room_px = row.right() - words_left
    faint = Lettering(painter=painter, size_px=0.85 * text_px, colour=inks.faint)
    for y, text, words in zip((upper, lower), row_words(line), (small, faint), strict=True):
        words.line(QPointF(words_left, y), words.elided(text, room_px))
    for edge, y in ((line.young, upper), (line.old, lower)):
        if edge is not None:
            _draw_edge(painter, y, edge, hours, inks, text_px)


def row_words(line: ClassLine) -> tuple[str, str]:
    """Return what is said of a learner beside the strip, in two lines."""
    if line.state is State.NEW:
        return f"{line.n_cells} of {TOO_FEW} cells", ""
    right = line.score.right
    share = "no picks that count"
    if right is not None:
        lo, hi = round(100.0 * right.lo), round(100.0 * right.hi)
        share = f"{line.score.n_right} of {line.score.n_picks} right ({lo}\N{EN DASH}{hi} in 100)"
    too_old = line.too_old_per_100
    said = share if too_old is None else f"{share}, too old {too_old:.0f} in 100"
    return said, f"{_moved_words(line.moved)}{line.n_cells} cells; {_days_words(line)}"


def _moved_words(moved: Estimate | None) -> str:
    if moved is None or not is_drift(moved):
        return ""
    way = "older" if moved.value >= 0.0 else "younger"
    return f"moved {abs(moved.value):.0f}{NO_BREAK}h {way}; "


def _days_words(line: ClassLine) -> str:
    if line.last_day is None:
        return "has not practised yet"
    last = f"last {line.last_day.day} {line.last_day:%b}"
    if line.next_day is None:
        return last
    return f"{last}, next {line.next_day.day} {line.next_day:%b}"


def line_text(line: ClassLine) -> str:
    """Return all that a row shows, in words, for those who hear it."""
    ages = ""
    if line.young is not None and line.old is not None:
        young, old = (span_text(max(edge.lo, 0.0), edge.hi) for edge in (line.young, line.old))
        ages = f" youngest taken {young}, oldest {old};"
    return (
        f"{line.name}: {STATE_WORDS[line.state]};{ages} {'; '.join(filter(None, row_words(line)))}."
    )


def _draw_edge(
    painter: QPainter, y: float, edge: Estimate, hours: Scale, inks: Inks, text_px: float
) -> None:
    pen = QPen(QColor(inks.ink), _THICK * text_px)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(pen)
    painter.drawLine(QPointF(hours.at(edge.lo), y), QPointF(hours.at(edge.hi), y))
    painter.setPen(QPen(QColor(inks.paper), 0.08 * text_px))
    painter.setBrush(QColor(inks.accent))
    painter.drawEllipse(QPointF(hours.at(edge.value), y), _DOT * text_px, _DOT * text_px)
