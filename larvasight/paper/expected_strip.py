"""Ages to expect on a comb: how much brood of which age, over the hours after hatching."""

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen

from larvasight.grading import Limits
from larvasight.paper.inks import Inks, mixed, span_colours
from larvasight.paper.lettering import DASH, NO_BREAK, Lettering, Side, span_text
from larvasight.paper.plot import Scale
from larvasight.timetable import ExpectedAges
from larvasight.timetable.spread import AgeSpread

_LOW_H, _HIGH_H = -24.0, 48.0
_STEP_H = 0.5
# Heights in font sizes: span names, curve, hours, figures with their words.
_NAMES, _CURVE, _HOURS, _FIGURE, _WORDS = 1.4, 3.6, 1.4, 1.9, 1.4


def expected_strip_height_px(text_px: float) -> float:
    """Return the height that ``draw_expected_strip`` fills at a font size."""
    return (_NAMES + _CURVE + _HOURS + _FIGURE + _WORDS) * text_px


def draw_expected_strip(
    painter: QPainter,
    box: QRectF,
    spread: AgeSpread,
    ages: ExpectedAges,
    *,
    limits: Limits,
    inks: Inks,
    text_px: float,
) -> None:
    """Draw how much brood is of which age, and under it the four shares.

    Parameters
    ----------
    painter : QPainter
        Where to draw.
    box : QRectF
        Room; its height should be ``expected_strip_height_px``.
    spread, ages : AgeSpread, ExpectedAges
        Ages at grafting, and their shares.
    limits : Limits
        Usable and best span, shaded.
    inks : Inks
        Colours; the paper is not painted.
    text_px : float
        Font size.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    hours = Scale(low=_LOW_H, high=_HIGH_H, low_px=box.left(), high_px=box.right())
    top = box.top() + _NAMES * text_px
    curve = QRectF(box.left(), top, box.width(), _CURVE * text_px)
    _draw_spans(painter, curve, hours, limits, inks, text_px)
    _draw_curve(painter, curve, hours, spread, inks)
    words = Lettering(painter=painter, size_px=0.88 * text_px, colour=inks.faint)
    y = curve.bottom() + 0.5 * _HOURS * text_px
    for hour in (0, 12, 24, 36):
        words.line(QPointF(hours.at(hour), y), str(hour), Side.MIDDLE)
    words.line(QPointF(box.left(), y), "eggs")
    words.line(QPointF(box.right(), y), f"48{NO_BREAK}h old", Side.RIGHT)
    _draw_shares(painter, QRectF(box.left(), y, box.width(), 0.0), hours, ages, inks, text_px)
    painter.restore()


def _draw_spans(
    painter: QPainter, curve: QRectF, hours: Scale, limits: Limits, inks: Inks, text_px: float
) -> None:
    """Draw the ground: eggs, larvae, the usable and the best span with their names."""
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(mixed(inks.paper, inks.grid, 0.45))
    painter.drawRect(curve)
    spans = (
        ("usable", limits.young_h, limits.old_h, curve.top()),
        ("best", limits.best_young_h, limits.best_old_h, curve.top() - _NAMES * text_px),
    )
    names = Lettering(painter=painter, size_px=0.88 * text_px, colour=inks.ink, bold=True)
    for (name, low_h, high_h, top), colour in zip(spans, span_colours(inks), strict=True):
        left, right = hours.at(low_h), hours.at(high_h)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        painter.drawRect(QRectF(left, top, right - left, curve.bottom() - top))
        told = f"{name} {span_text(low_h, high_h)}"
        row_y = curve.top() - 0.5 * _NAMES * text_px
        if name == "best":
            box = names.line(QPointF((left + right) / 2.0, row_y), told, Side.MIDDLE)
            free_px = max(right, box.right()) + 0.5 * text_px
            key = QRectF(free_px, row_y - 0.4 * text_px, 1.2 * text_px, 0.8 * text_px)
            painter.setPen(QPen(QColor(inks.faint), text_px / 18.0))
            painter.setBrush(span_colours(inks)[0])
            painter.drawRect(key)
            usable = f"usable {span_text(limits.young_h, limits.old_h)}"
            names.line(QPointF(key.right() + 0.4 * text_px, row_y), usable)


def _draw_curve(
    painter: QPainter, curve: QRectF, hours: Scale, spread: AgeSpread, inks: Inks
) -> None:
    """Draw how dense brood of each age is, filled, the highest part touching the top."""
    n_steps = round((_HIGH_H - _LOW_H) / _STEP_H)
    ages = [_LOW_H + _STEP_H * k for k in range(n_steps + 1)]
    dense = [spread.share_between(age - _STEP_H, age + _STEP_H) for age in ages]
    highest = max(*dense, 1e-9) * 1.08
    path = QPainterPath(QPointF(hours.at(ages[0]), curve.bottom()))
    for age, density in zip(ages, dense, strict=True):
        path.lineTo(hours.at(age), curve.bottom() - curve.height() * density / highest)
    path.lineTo(hours.at(ages[-1]), curve.bottom())
    path.closeSubpath()
    fill = QColor(inks.accent)
    fill.setAlphaF(0.45)
    painter.setPen(QPen(QColor(inks.accent), max(1.0, curve.height() / 45.0)))
    painter.setBrush(fill)
    painter.drawPath(path)
    painter.setPen(QPen(QColor(inks.ink), max(1.0, curve.height() / 60.0)))
    painter.drawLine(curve.bottomLeft(), curve.bottomRight())
    # Where eggs end and larvae begin.
    x = hours.at(0.0)
    painter.drawLine(QPointF(x, curve.top()), QPointF(x, curve.bottom()))


def _draw_shares(
    painter: QPainter, under: QRectF, hours: Scale, ages: ExpectedAges, inks: Inks, text_px: float
) -> None:
    """Draw each share under the hours it belongs to."""
    y = under.top() + (0.5 * _HOURS + 0.5 * _FIGURE) * text_px
    figure = Lettering(painter=painter, size_px=1.4 * text_px, colour=inks.ink, bold=True)
    words = Lettering(painter=painter, size_px=0.88 * text_px, colour=inks.ink)
    for share, told, low_h, high_h in (
        (ages.unhatched, "not hatched", _LOW_H, 0.0),
        (ages.h0_12, f"0{DASH}12{NO_BREAK}h", 0.0, 12.0),
        (ages.h12_24, f"12{DASH}24{NO_BREAK}h", 12.0, 24.0),
        (ages.over_24, f"over 24{NO_BREAK}h", 24.0, _HIGH_H),
    ):
        x = (hours.at(low_h) + hours.at(high_h)) / 2.0
        figure.line(QPointF(x, y), _percent(share), Side.MIDDLE)
        under_y = y + 0.5 * (_FIGURE + _WORDS) * text_px
        words.line_within(QPointF(x, under_y), told, under.left(), under.right())


def _percent(share: float) -> str:
    percent = 100.0 * share
    if 0.05 <= percent < 0.5:
        return f"under 1{NO_BREAK}%"
    return f"{percent:.0f}{NO_BREAK}%"
