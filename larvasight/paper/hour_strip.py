"""The hour strip: where on the clock from hatching a larva lies, beside the usable span."""

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from larvasight.grading import Limits, age_words
from larvasight.paper.inks import Inks, mixed, span_colours
from larvasight.paper.lettering import NO_BREAK, Lettering, Side, span_text
from larvasight.paper.plot import Scale

_EGG_LEAST_H = -12.0
_USUAL_MOST_H = 60.0
_MOST_H = 96.0
_STEPS_H = (12, 24, 48)
_UNIT = f"{NO_BREAK}h"

# Heights in font sizes, from the top: label, pointer, strip, bar with its gaps, label.
_LABEL = 1.25
_POINTER = 0.5
_STRIP = 1.75
_BAR = 0.8
_KEY = 1.6
_ALL = _LABEL + _POINTER + _STRIP + _BAR + _LABEL


def hour_strip_height_px(text_px: float, *, with_key: bool = False) -> float:
    """Return the height that ``draw_hour_strip`` fills at a font size.

    A box this high ``with_key`` also gets a line that names the two shades.
    """
    return (_ALL + _KEY if with_key else _ALL) * text_px


def draw_hour_strip(
    painter: QPainter,
    box: QRectF,
    *,
    limits: Limits,
    band_h: tuple[float, float] | None,
    true_age_h: float | None,
    looks_age_h: float | None,
    inks: Inks,
    text_px: float,
    known_h: tuple[float, float] | None = None,
) -> None:
    """Draw hours after hatching with the usable span, and where one larva lies on them.

    Parameters
    ----------
    painter : QPainter
        Where to draw; nothing is drawn outside of ``box``.
    box : QRectF
        Room; the strip is centred in it and needs ``hour_strip_height_px`` of its height.
    limits : Limits
        Usable and best span, shaded.
    band_h : tuple of float or None
        Ages between which it lies, drawn as a bar.
    true_age_h : float or None
        Its true age, negative for an egg, drawn as a pointer from above.
    looks_age_h : float or None
        The age it looks, drawn as a mark below.
    inks : Inks
        Colours; the paper is not painted.
    text_px : float
        Font size.
    known_h : tuple of float, optional
        Ages that it can have by the time of laying, drawn as a span above, where a true age would
        be.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setClipRect(box, Qt.ClipOperation.IntersectClip)
    points = (age for age in (true_age_h, looks_age_h) if age is not None)
    ages = [*(band_h or ()), *(known_h or ()), *points]
    words = Lettering(painter=painter, size_px=text_px, colour=inks.ink)
    hours = strip_hours(box, ages, words)
    has_key = box.height() >= hour_strip_height_px(text_px, with_key=True)
    height_px = hour_strip_height_px(text_px, with_key=has_key)
    top = box.center().y() - height_px / 2.0
    strip_top = top + (_LABEL + _POINTER) * text_px
    strip = QRectF(box.left(), strip_top, box.width(), _STRIP * text_px)
    draw_strip_ground(painter, strip, hours, limits, inks)
    draw_strip_hours(painter, strip, hours, inks, text_px)
    if true_age_h is not None:
        _draw_true_age(strip, hours, true_age_h, limits, words)
    elif known_h is not None:
        _draw_known(strip, hours, known_h, words)
    if band_h is not None or looks_age_h is not None:
        _draw_looks(strip, hours, band_h, looks_age_h, words, inks)
    if has_key:
        room = QRectF(box.left(), top + _ALL * text_px, box.width(), _KEY * text_px)
        draw_strip_key(painter, room, limits, inks, text_px)
    painter.restore()


def strip_hours(box: QRectF, ages_h: list[float], words: Lettering) -> Scale:
    """Return the scale: longer where an age needs it, room at its ends for whole numbers."""
    low_h = _EGG_LEAST_H if any(age < 0.0 for age in ages_h) else 0.0
    high_h = _MOST_H if any(age > _USUAL_MOST_H for age in ages_h) else _USUAL_MOST_H
    return Scale(
        low=low_h,
        high=high_h,
        low_px=box.left() + (0.6 if low_h == 0.0 else 0.9) * words.size_px,
        high_px=box.right() - words.width_px(_UNIT) - words.width_px("60") / 2.0 - _edge(words),
    )


def _edge(words: Lettering) -> float:
    return 0.3 * words.size_px


def draw_strip_ground(
    painter: QPainter, strip: QRectF, hours: Scale, limits: Limits, inks: Inks
) -> None:
    """Draw the strip with usable and best span."""
    painter.setPen(Qt.PenStyle.NoPen)
    radius = strip.height() * 0.14
    painter.setBrush(mixed(inks.paper, inks.grid, 0.5))
    painter.drawRoundedRect(strip, radius, radius)
    spans = ((limits.young_h, limits.old_h), (limits.best_young_h, limits.best_old_h))
    for (low_h, high_h), colour in zip(spans, span_colours(inks), strict=True):
        left, right = hours.at(low_h), hours.at(high_h)
        painter.setBrush(colour)
        painter.drawRect(QRectF(left, strip.top(), right - left, strip.height()))


def draw_strip_hours(
    painter: QPainter, strip: QRectF, hours: Scale, inks: Inks, text_px: float
) -> None:
    """Draw ticks and hours on the strip."""
    words = Lettering(painter=painter, size_px=text_px, colour=inks.ink)
    tick_px = 0.3 * text_px
    middle = strip.bottom() - 0.72 * text_px
    painter.setPen(QPen(QColor(inks.faint), max(1.0, text_px / 16.0)))
    for hour in range(0, int(hours.high) + 1, 6):
        length = tick_px if hour % 12 == 0 else 0.6 * tick_px
        x = hours.at(hour)
        painter.drawLine(QPointF(x, strip.top()), QPointF(x, strip.top() + length))
    words.line(QPointF(strip.right() - _edge(words), middle), _UNIT, Side.RIGHT)
    for hour in range(0, int(hours.high) + 1, _step_h(hours, words)):
        words.line(QPointF(hours.at(hour), middle), str(hour), Side.MIDDLE)
    if hours.low < 0.0:
        x = (strip.left() + hours.at(0.0) - words.width_px("0") / 2.0) / 2.0
        words.line(QPointF(x, middle), "egg", Side.MIDDLE)


def _step_h(hours: Scale, words: Lettering) -> int:
    hour_px = (hours.high_px - hours.low_px) / (hours.high - hours.low)
    needed_px = words.width_px("48") + 0.4 * words.size_px
    return next((step for step in _STEPS_H if step * hour_px >= needed_px), _STEPS_H[-1])


def _draw_true_age(
    strip: QRectF, hours: Scale, age_h: float, limits: Limits, words: Lettering
) -> None:
    text_px, painter = words.size_px, words.painter
    if age_h >= 0.0:
        text = f"true age {age_words(age_h, limits)}".replace(" h", f"{NO_BREAK}h")
    elif age_h > -0.5:
        text = "egg, about to hatch"
    else:
        text = f"egg, hatches in {-age_h:.0f}{NO_BREAK}h"
    x = hours.at(age_h)
    label_y = strip.top() - (_POINTER + _LABEL / 2.0) * text_px
    bold = Lettering(painter=painter, size_px=text_px, colour=words.colour, bold=True)
    bold.line_within(QPointF(x, label_y), text, strip.left(), strip.right())
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(words.colour))
    tip = QPointF(x, strip.top() + 0.3 * text_px)
    if hours.low <= age_h <= hours.high:
        painter.drawPolygon(_wedge(tip, 0.36 * text_px, 0.72 * text_px))
    else:
        _draw_arrow(painter, QPointF(x, strip.top() - 0.25 * text_px), text_px, age_h < hours.low)


def _draw_known(
    strip: QRectF, hours: Scale, known_h: tuple[float, float], words: Lettering
) -> None:
    text_px, painter = words.size_px, words.painter
    left, right = (hours.at(min(age_h, hours.high)) for age_h in known_h)
    y = strip.top() - 0.25 * text_px
    painter.setPen(QPen(QColor(words.colour), 0.13 * text_px))
    painter.drawLine(QPointF(left, y), QPointF(right, y))
    for x in (left, right):
        painter.drawLine(QPointF(x, y - 0.2 * text_px), QPointF(x, y + 0.2 * text_px))
    label = QPointF((left + right) / 2.0, strip.top() - (_POINTER + _LABEL / 2.0) * text_px)
    words.line_within(label, f"known {span_text(*known_h)}", strip.left(), strip.right())


def _wedge(tip: QPointF, half_px: float, height_px: float) -> QPolygonF:
    """Return a triangle that points at ``tip``: down, or up for a negative height."""
    base = tip.y() - height_px
    return QPolygonF([tip, QPointF(tip.x() - half_px, base), QPointF(tip.x() + half_px, base)])


def _draw_arrow(painter: QPainter, at: QPointF, text_px: float, is_left: bool) -> None:
    """Draw a sideways arrow: it lies further out than the strip reaches."""
    way = -1.0 if is_left else 1.0
    tip = at + QPointF(way * 0.5 * text_px, 0.0)
    back = tip.x() - way * 0.6 * text_px
    half = 0.26 * text_px
    painter.drawPolygon(
        QPolygonF([tip, QPointF(back, at.y() - half), QPointF(back, at.y() + half)])
    )
    thin = QPointF(0.0, 0.08 * text_px)
    far, near = QPointF(back - way * 0.6 * text_px, at.y()), QPointF(back, at.y())
    painter.drawRect(QRectF(far - thin, near + thin).normalized())


def _draw_looks(
    strip: QRectF,
    hours: Scale,
    band_h: tuple[float, float] | None,
    looks_age_h: float | None,
    words: Lettering,
    inks: Inks,
) -> None:
    text_px, painter = words.size_px, words.painter
    middle = strip.bottom() + 0.5 * _BAR * text_px
    said: list[str] = []
    centre = hours.at(looks_age_h if looks_age_h is not None else 0.0)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(words.colour))
    if band_h is not None:
        left, right = hours.at(band_h[0]), hours.at(band_h[1])
        centre = (left + right) / 2.0
        half = 0.2 * text_px
        bar = QRectF(left, middle - half, max(right - left, 2.0 * half), 2.0 * half)
        painter.drawRect(bar)
        said.append(f"looks {span_text(*band_h)} old")
    if looks_age_h is not None:
        tip = QPointF(hours.at(looks_age_h), strip.bottom() + 0.05 * text_px)
        painter.setPen(QPen(QColor(words.colour), 0.1 * text_px))
        painter.setBrush(QColor(inks.paper))
        painter.drawPolygon(_wedge(tip, 0.36 * text_px, -0.68 * text_px))
        said.append(f"looks {looks_age_h:.0f}{NO_BREAK}h old")
    label_y = strip.bottom() + (_BAR + _LABEL / 2.0) * text_px
    words.line_within(QPointF(centre, label_y), ", ".join(said), strip.left(), strip.right())


def draw_strip_key(
    painter: QPainter, room: QRectF, limits: Limits, inks: Inks, text_px: float
) -> None:
    """Draw what the two shades are, in smaller words where the strip is short."""
    said = (
        f"usable {span_text(limits.young_h, limits.old_h)}",
        f"best {span_text(limits.best_young_h, limits.best_old_h)}",
    )
    full = Lettering(painter=painter, size_px=text_px, colour=inks.faint)
    wide_px = sum(full.width_px(text) for text in said) + 5.4 * text_px
    size_px = text_px * min(1.0, room.width() / wide_px)
    words = Lettering(painter=painter, size_px=size_px, colour=inks.faint)
    x, y = room.left(), room.bottom() - 0.65 * text_px
    for text, colour in zip(said, span_colours(inks), strict=True):
        painter.setPen(QPen(QColor(inks.faint), size_px / 18.0))
        painter.setBrush(colour)
        painter.drawRect(QRectF(x + 1.0, y - 0.4 * size_px, 1.2 * size_px, 0.8 * size_px))
        x = words.line(QPointF(x + 1.6 * size_px, y), text).right() + size_px
