"""Why a cell was right or wrong: one panel for practice comb and for own photos."""

import math
import re

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import (
    QColor,
    QEnterEvent,
    QImage,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QResizeEvent,
)
from PySide6.QtWidgets import QHBoxLayout, QLabel, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from larvasight.app.cell_item import MARK_COLOUR
from larvasight.app.dressing import Dressing
from larvasight.desk.why import Arc, Why
from larvasight.grading import Limits
from larvasight.paper.hour_strip import draw_hour_strip, hour_strip_height_px
from larvasight.paper.marks import BY_HAND_MARK, Mark
from larvasight.paper.qt import text_font
from larvasight.paper.signs import DARK, draw_sign
from larvasight.sheet import PointsXY

_WHITE = QColor(255, 255, 255)
_CLOSE_UP_SHARE = 0.42
_CLOSE_UP_LEAST_PX = 160
_CLOSE_UP_MOST_PX = 420
_FULL_TURN = 5760


class WhyPanel(QScrollArea):
    """Shows one cell: enlarged, measured, on the hour strip, and in words."""

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(16, 8, 16, 16)
        column.setSpacing(8)
        self._verdict = _Verdict(dressing)
        self._by_hand = _ByHand(dressing)
        self._close_up = _CloseUp(dressing)
        self._lengths = _Lengths(dressing)
        self._strip = _HourStrip(dressing)
        self._caption = _words()
        self._caption.setProperty("role", "faint")
        self._caption.setText(
            "White: the line of its body. Yellow: how far it curls. Point at the picture to see it "
            "without lines."
        )
        self._said = _words()
        self._said.setProperty("role", "faint")
        self._sentence = _words()
        self._notes = _words()
        self._jelly = _words()
        self._jelly.setProperty("role", "faint")
        for widget in (
            self._verdict,
            self._said,
            self._close_up,
            self._sentence,
            self._strip,
            self._by_hand,
            self._lengths,
            self._caption,
            self._jelly,
            self._notes,
        ):
            column.addWidget(widget)
        column.addStretch(1)
        self.setWidget(inner)

    @property
    def sentence(self) -> str:
        """The sentence that is shown."""
        return self._sentence.text()

    @property
    def by_hand(self) -> str:
        """What is said of a mark by hand, empty without one."""
        return self._by_hand.words

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Give the enlarged cell its share of the height."""
        super().resizeEvent(event)
        self._close_up.set_height(round(self.height() * _CLOSE_UP_SHARE))

    def show_why(
        self,
        image: QImage,
        why: Why,
        mark: Mark | None,
        limits: Limits,
        said: str = "",
        by_hand: str = "",
    ) -> None:
        """Show one cell of ``image``.

        ``said`` tells what the learner answered, ``by_hand`` what a person put right.
        """
        self._by_hand.show_words(by_hand)
        self._verdict.show_mark(why.verdict, mark)
        self._said.setText(said)
        self._said.setVisible(bool(said))
        self._close_up.show_cell(image, why)
        self._lengths.show_lengths(why.length_mm, why.egg_length_mm)
        self._strip.show_ages(why, limits)
        self._sentence.setText(tied(why.sentence))
        self._caption.setVisible(why.arc is not None)
        jelly = "" if why.jelly is None else f"In the cell: {why.jelly}."
        self._jelly.setText(jelly)
        self._jelly.setVisible(bool(jelly))
        self._notes.setText(tied("\n".join(why.notes)))
        self._notes.setVisible(bool(why.notes))
        self.verticalScrollBar().setValue(0)


def tied(text: str) -> str:
    """Return text whose units stay on one line with their numbers."""
    return re.sub(r"(?<=\d) (?=(?:h|mm|%)\b)", "\N{NO-BREAK SPACE}", text)


def _words() -> QLabel:
    label = QLabel()
    label.setWordWrap(True)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return label


class _Verdict(QWidget):
    """The verdict in a few words, its sign before it."""

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._word = ""
        self._mark: Mark | None = None
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def show_mark(self, word: str, mark: Mark | None) -> None:
        self._word, self._mark = word, mark
        self.setAccessibleName(word)
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(200, round(1.7 * self._dressing.text_px))

    def paintEvent(self, event: QPaintEvent) -> None:
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        text_px = self._dressing.text_px
        left = 0.0
        middle = 0.85 * text_px
        if self._mark is not None:
            draw_sign(painter, self._mark, QPointF(0.6 * text_px, middle), 0.42 * text_px)
            left = 1.5 * text_px
        painter.setPen(QColor(self._dressing.tones.ink))
        painter.setFont(text_font(text_px * 1.25, bold=True))
        flags = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
        painter.drawText(QRectF(left, 0.0, self.width() - left, 2.0 * middle), flags, self._word)


class _ByHand(QWidget):
    """The sign of a mark by hand, and what was measured."""

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._label = _words()
        row = QHBoxLayout(self)
        row.setContentsMargins(round(1.5 * dressing.text_px), 0, 0, 0)
        row.addWidget(self._label)
        self.hide()

    @property
    def words(self) -> str:
        return self._label.text()

    def show_words(self, words: str) -> None:
        self._label.setText(tied(words))
        self.setVisible(bool(words))

    def paintEvent(self, event: QPaintEvent) -> None:
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        text_px = self._dressing.text_px
        draw_sign(painter, BY_HAND_MARK, QPointF(0.6 * text_px, 0.75 * text_px), 0.4 * text_px)


class _CloseUp(QWidget):
    """The cell enlarged, with the line of the body and the arc it sweeps."""

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._image: QImage | None = None
        self._why: Why | None = None
        self._is_bare = False
        self.setToolTip("While you point here, the lines are hidden.")
        self.setFixedHeight(_CLOSE_UP_LEAST_PX)

    def show_cell(self, image: QImage, why: Why) -> None:
        self._image, self._why = image, why
        self.setAccessibleName("The cell enlarged")
        self.update()

    def set_height(self, height_px: int) -> None:
        self.setFixedHeight(min(max(height_px, _CLOSE_UP_LEAST_PX), _CLOSE_UP_MOST_PX))

    def enterEvent(self, event: QEnterEvent) -> None:
        super().enterEvent(event)
        self._is_bare = True
        self.update()

    def leaveEvent(self, event: QEvent) -> None:
        super().leaveEvent(event)
        self._is_bare = False
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        del event
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._dressing.tones.well))
        if self._image is None or self._why is None:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        left, top, side, _ = self._why.crop_px
        wide = side * self.width() / self.height()
        source = QRectF(left - (wide - side) / 2.0, top, wide, side)
        painter.drawImage(QRectF(self.rect()), self._image, source)
        if self._is_bare:
            return
        zoom = self.height() / side
        painter.scale(zoom, zoom)
        painter.translate(-source.left(), -source.top())
        width = 2.2 / zoom
        if self._why.arc is not None:
            self._draw_arc(painter, self._why.arc, width)
        self._draw_body_line(painter, self._why.midline_xy_px, width)

    def _draw_body_line(self, painter: QPainter, points: PointsXY | None, width: float) -> None:
        if points is None:
            return
        for pen in (QPen(DARK, width * 2.2), QPen(_WHITE, width * 1.1)):
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            painter.drawPolyline(_polygon(points))

    def _draw_arc(self, painter: QPainter, arc: Arc, width: float) -> None:
        """Draw the swept angle outside of the body: an arc with a tick at each end."""
        centre = QPointF(arc.centre_xy_px[0] + 0.5, arc.centre_xy_px[1] + 0.5)
        reach = arc.body_reach_px + 4.0 * width
        ring = QRectF(centre.x() - reach, centre.y() - reach, 2.0 * reach, 2.0 * reach)
        # Qt counts angles against the clock, in sixteenths of a degree.
        start, sweep = round(-16.0 * arc.start_deg), round(-16.0 * arc.sweep_deg)
        for colour, share in ((DARK, 2.2), (MARK_COLOUR, 1.1)):
            pen = QPen(colour, width * share)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            painter.drawArc(ring, start, max(min(sweep, _FULL_TURN), -_FULL_TURN))
            for angle_deg in (arc.start_deg, arc.start_deg + arc.sweep_deg):
                angle_rad = math.radians(angle_deg)
                way = QPointF(math.cos(angle_rad), math.sin(angle_rad))
                painter.drawLine(centre + way * (reach * 0.86), centre + way * (reach * 1.12))


def _polygon(points: PointsXY) -> QPolygonF:
    return QPolygonF([QPointF(x + 0.5, y + 0.5) for x, y in points])


class _Lengths(QWidget):
    """The larva's length as a bar beside an egg's."""

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._length_mm: float | None = None
        self._egg_mm = 1.5
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def show_lengths(self, length_mm: float | None, egg_mm: float) -> None:
        self._length_mm, self._egg_mm = length_mm, egg_mm
        self.setVisible(length_mm is not None)
        if length_mm is not None:
            self.setAccessibleName(f"{length_mm:.1f} mm long, an egg {egg_mm:.1f} mm")
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(200, round(3.2 * self._dressing.text_px))

    def paintEvent(self, event: QPaintEvent) -> None:
        del event
        if self._length_mm is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        text_px = self._dressing.text_px
        tones = self._dressing.tones
        painter.setFont(text_font(text_px))
        metrics = painter.fontMetrics()
        names = ("larva", "egg")
        left = max(metrics.horizontalAdvance(name) for name in names) + 0.6 * text_px
        right = metrics.horizontalAdvance("88.8 mm") + 0.5 * text_px
        room = max(self.width() - left - right, 10.0)
        longest_mm = max(self._length_mm, self._egg_mm)
        for row, (name, mm) in enumerate(zip(names, (self._length_mm, self._egg_mm), strict=True)):
            middle = (0.8 + 1.6 * row) * text_px
            box = QRectF(0.0, middle - 0.8 * text_px, self.width(), 1.6 * text_px)
            painter.setPen(QColor(tones.ink))
            flags = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
            painter.drawText(box, flags, name)
            bar_px = room * mm / longest_mm
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(tones.ink if row == 0 else tones.faint))
            bar = QRectF(left, middle - 0.28 * text_px, bar_px, 0.56 * text_px)
            painter.drawRoundedRect(bar, 0.28 * text_px, 0.28 * text_px)
            painter.setPen(QColor(tones.ink))
            words = QRectF(left + bar_px + 0.4 * text_px, box.top(), right, box.height())
            painter.drawText(words, flags, f"{mm:.1f}\N{NO-BREAK SPACE}mm")


class _HourStrip(QWidget):
    """The hours after hatching with the wanted span, and where this larva lies."""

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._why: Why | None = None
        self._limits = Limits()
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def show_ages(self, why: Why, limits: Limits) -> None:
        self._why, self._limits = why, limits
        told = (why.band_h, why.true_age_h, why.known_h)
        self.setVisible(any(ages is not None for ages in told))
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(280, round(hour_strip_height_px(self._dressing.text_px, with_key=True)) + 4)

    def paintEvent(self, event: QPaintEvent) -> None:
        del event
        if self._why is None:
            return
        painter = QPainter(self)
        draw_hour_strip(
            painter,
            QRectF(self.rect()),
            limits=self._limits,
            band_h=self._why.band_h,
            true_age_h=self._why.true_age_h,
            looks_age_h=None,
            inks=self._dressing.inks,
            text_px=self._dressing.text_px * 0.9,
            known_h=self._why.known_h,
        )
