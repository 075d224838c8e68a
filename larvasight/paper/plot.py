"""What the charts share: scales, heading, grid of shares, dots with their lines."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from larvasight.paper.inks import Inks
from larvasight.paper.lettering import NO_BREAK, Lettering, Side

# In font sizes: gap between numbers and plot, room that a plot needs to be worth drawing.
GAP = 0.5
_PLOT_LEAST = 4.0
_DOT = 0.3
_FINE_STEP_PX = 2.2
_SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A straight scale from values to px along one direction."""

    low: float
    high: float
    low_px: float
    high_px: float

    def at(self, value: float) -> float:
        """Return where a value lies, held inside the scale."""
        held = max(self.low, min(value, self.high))
        share = (held - self.low) / (self.high - self.low)
        return self.low_px + share * (self.high_px - self.low_px)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """Where shares from 0 to 1 are drawn: the area, and ``y`` from its foot to its top."""

    area: QRectF
    y: Scale


@contextmanager
def chart(
    painter: QPainter, box: QRectF, inks: Inks, text_px: float, title: str = ""
) -> Iterator[QRectF]:
    """Draw a chart inside a box and nowhere else; yields what the title leaves of it."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setClipRect(box, Qt.ClipOperation.IntersectClip)
    yield draw_heading(painter, box, title, inks, text_px) if title else box
    painter.restore()


def words_on(painter: QPainter, inks: Inks, text_px: float) -> Lettering:
    """Return the lettering of numbers and notes on a chart."""
    return Lettering(painter=painter, size_px=text_px, colour=inks.faint)


def draw_heading(painter: QPainter, box: QRectF, title: str, inks: Inks, text_px: float) -> QRectF:
    """Draw a chart's title over the full width; return what is left of the box."""
    bold = Lettering(painter=painter, size_px=text_px, colour=inks.ink, bold=True)
    height = bold.wrapped(box, title)
    return box.adjusted(0.0, height + 0.2 * text_px, 0.0, 0.0)


def draw_note(painter: QPainter, box: QRectF, note: str, inks: Inks, text_px: float) -> QRectF:
    """Draw a note under the title where enough is left for the plot; return what is left."""
    words = words_on(painter, inks, text_px)
    height = words.height_px(note, box.width())
    if box.height() - height < 2.0 * _PLOT_LEAST * text_px:
        return box
    words.wrapped(box, note)
    return box.adjusted(0.0, height + 0.2 * text_px, 0.0, 0.0)


def draw_sentence(painter: QPainter, box: QRectF, text: str, inks: Inks, text_px: float) -> None:
    """Draw one sentence instead of a plot, in a quiet frame."""
    painter.setPen(QPen(QColor(inks.grid), text_px / 16.0))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    edge = text_px / 12.0
    painter.drawRect(box.adjusted(edge, edge, -edge, -edge))
    words = Lettering(painter=painter, size_px=text_px, colour=inks.ink)
    inside = box.adjusted(text_px, 0.0, -text_px, 0.0)
    slack = box.height() - words.height_px(text, inside.width())
    words.wrapped(inside.adjusted(0.0, max(0.0, slack / 2.0), 0.0, 0.0), text, centred=True)


def lay_plot(painter: QPainter, box: QRectF, *, above: float, below: float, text_px: float) -> Plot:
    """Return the plot inside a box.

    Parameters
    ----------
    painter : QPainter
        Its device tells how wide words are.
    box : QRectF
        Room for numbers and plot together.
    above, below : float
        Rows of words kept free over and under the plot.
    text_px : float
        Font size.

    Returns
    -------
    Plot
        Its area stands right of the numbers of the shares.
    """
    words = Lettering(painter=painter, size_px=text_px, colour="#000000")
    left = words.width_px(_percent(1.0)) + GAP * text_px
    half = 0.5 * text_px
    area = box.adjusted(
        left,
        max(half, above * words.line_px),
        0.0,
        -max(half, below * words.line_px + 0.2 * text_px),
    )
    return Plot(area=area, y=Scale(low=0.0, high=1.0, low_px=area.bottom(), high_px=area.top()))


def draw_shares(
    painter: QPainter,
    plot: Plot,
    spans_px: tuple[tuple[float, float], ...],
    inks: Inks,
    text_px: float,
) -> None:
    """Draw the grid lines of the shares over each span of x, and their numbers at the left."""
    words = words_on(painter, inks, text_px)
    fine = plot.area.height() / 4.0 >= _FINE_STEP_PX * text_px
    for share in _SHARES if fine else _SHARES[::2]:
        y = plot.y.at(share)
        colour = inks.faint if share == 0.0 else inks.grid
        painter.setPen(QPen(QColor(colour), text_px / 16.0))
        for left, right in spans_px:
            painter.drawLine(QPointF(left, y), QPointF(right, y))
        words.line(QPointF(plot.area.left() - GAP * text_px, y), _percent(share), Side.RIGHT)


def draw_dot(
    painter: QPainter,
    plot: Plot,
    at: QPointF,
    interval: tuple[float, float],
    inks: Inks,
    text_px: float,
    most_px: float,
) -> None:
    """Draw one share: a line over its interval, a dot at ``at``; ``most_px`` bounds its radius."""
    radius = min(_DOT * text_px, most_px)
    pen = QPen(QColor(inks.accent), 0.5 * radius)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(pen)
    low, high = interval
    painter.drawLine(QPointF(at.x(), plot.y.at(low)), QPointF(at.x(), plot.y.at(high)))
    painter.setPen(QPen(QColor(inks.paper), 0.25 * radius))
    painter.setBrush(QColor(inks.accent))
    painter.drawEllipse(at, radius, radius)


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f}{NO_BREAK}%"
