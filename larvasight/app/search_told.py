"""A search told: the whole side with the picks, the band of right ages and the way taken."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QColor,
    QKeyEvent,
    QPainter,
    QPainterPath,
    QPainterPathStroker,
    QPen,
    QPolygonF,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QFrame,
    QGraphicsItem,
    QGridLayout,
    QHBoxLayout,
    QScrollArea,
    QStackedWidget,
    QStyleOptionGraphicsItem,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.cell_item import Face, Rim
from larvasight.app.comb_supply import ReadyComb
from larvasight.app.comb_view import ZOOM_STEP, CombView
from larvasight.app.dressing import Dressing
from larvasight.app.legend import Legend
from larvasight.app.parts import button, column, label, side_width_px
from larvasight.app.practise_words import said_words
from larvasight.app.search_cups import CupBar
from larvasight.app.search_words import next_words, told_figures, told_remarks, told_title
from larvasight.app.why_panel import WhyPanel, tied
from larvasight.desk.searching import SearchSession, SearchTold
from larvasight.geometry import hexagon_corners
from larvasight.grading import age_words
from larvasight.paper.marks import OUTCOME_MARKS, Mark
from larvasight.paper.signs import DARK, draw_sign
from larvasight.practice import Answer
from larvasight.sheet import Content

_BAND = QColor("#3fd6a8")
_BAND_FILL = QColor(0, 158, 115, 60)
_PATH = QColor("#ffffff")
_UNSEEN = QColor(11, 8, 6, 120)
# Half the size of a sign on the screen, and how far below its cell's middle it is, pitches.
_SIGN_PX, _SIGN_DOWN = 8.0, 0.3
_HOW = (
    "Green outlines: larvae of the right age. White line: the way of the field, from the open "
    "ring to the dot; what it never showed is darker. Click a cell, or go there with the arrow "
    "keys, to see what lies in it."
)


class SearchToldView(QWidget):
    """The page that ends a search.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    again, done : callable
        What the buttons do: search another side, or go back to the drills.
    """

    def __init__(
        self, dressing: Dressing, *, again: Callable[[], object], done: Callable[[], object]
    ) -> None:
        super().__init__()
        self._dressing = dressing
        self._session: SearchSession | None = None
        self._ready: ReadyComb | None = None
        self.comb = CombView()
        self.comb.cell_pressed.connect(self.show_why)
        self.comb.cell_reached.connect(self.show_why)
        self._legend = Legend(dressing)
        self.cups = CupBar(dressing)
        self._title, self._remarks = label("", "lead"), label("")
        self._figures = [(label("", "lead", wrap=False), label("", "faint")) for _ in range(4)]
        self._next = label("")
        self.why = WhyPanel(dressing)
        self.again_button = button("Search another side", again, "main")
        self.how_button = button("How it went", self.show_how)
        self.done_button = button("Back to the drills", done, "plain")
        self._middle = QStackedWidget()
        self._middle.addWidget(self._how())
        self._middle.addWidget(self.why)
        self._side = self._column()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(column(self.comb, self._foot(), spacing=0), 1)
        row.addWidget(self._side)
        dressing.changed.connect(self._fit)
        self._fit()

    def tell(
        self, ready: ReadyComb, session: SearchSession, told: SearchTold, radius_px: float
    ) -> None:
        """Show how a search went; ``radius_px`` is that of the field, in the picture."""
        self._ready, self._session = ready, session
        sheet = ready.comb.sheet
        self.comb.show_comb(
            ready.image,
            ready.places,
            sheet.lattice.row_angle_deg,
            px_per_mm=sheet.scale.px_per_mm,
            smaller=ready.smaller,
            scrolls=True,
        )
        self.comb.see_all()
        marks = [OUTCOME_MARKS.get(session.outcome(index)) for index in session.taken]
        for index in session.taken:
            self.comb.set_face(index, _face(session, index))
        self.comb.lay_over(_Overlay(session, marks, radius_px))
        self._legend.show_marks([m for m in OUTCOME_MARKS.values() if m in marks])
        self.cups.show_marks(marks)
        self._title.setText(told_title(told))
        figures = told_figures(told)
        for number, (value, words) in enumerate(self._figures):
            is_there = number < len(figures)
            value.setVisible(is_there)
            words.setVisible(is_there)
            if is_there:
                value.setText(tied(figures[number].value))
                words.setText(figures[number].words)
        self._remarks.setText(told_remarks(told))
        self._next.setText(next_words(told))
        self.show_how()
        self.comb.setFocus()

    def put_away(self) -> None:
        """Show nothing more of a side."""
        self._session = self._ready = None
        self.comb.clear()

    def show_how(self) -> None:
        """Show how the search went."""
        self._middle.setCurrentIndex(0)
        self.how_button.hide()

    def show_why(self, index: int) -> None:
        """Show one cell of the side."""
        session, ready = self._session, self._ready
        if session is None or ready is None:
            return
        self.comb.set_place(index)
        said, mark = "You did not look there.", None
        if session.seen[index]:
            outcome = session.outcome(index)
            answer = Answer.TAKE if index in session.taken else Answer.LEAVE
            said, mark = said_words(answer, outcome), OUTCOME_MARKS.get(outcome)
        self.why.show_why(ready.image, session.why(index), mark, session.limits, said)
        self._middle.setCurrentWidget(self.why)
        self.how_button.show()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter searches another side; the comb has the keys that move over it."""
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if is_enter and not event.isAutoRepeat():
            self.again_button.click()
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the column within the page."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        self._side.setFixedWidth(side_width_px(self._dressing.text_px, max(self.width(), 640)))

    def _how(self) -> QWidget:
        inner = QWidget()
        inside = QVBoxLayout(inner)
        inside.setContentsMargins(16, 8, 16, 8)
        inside.setSpacing(12)
        inside.addWidget(self.cups)
        table = QGridLayout()
        table.setHorizontalSpacing(12)
        table.setVerticalSpacing(6)
        table.setColumnStretch(1, 1)
        for row, (value, words) in enumerate(self._figures):
            table.addWidget(value, row, 0, Qt.AlignmentFlag.AlignTop)
            table.addWidget(words, row, 1, Qt.AlignmentFlag.AlignVCenter)
        inside.addLayout(table)
        for words in (self._remarks, self._next, label(_HOW, "faint")):
            inside.addWidget(words)
        inside.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setWidget(inner)
        return scroll

    def _column(self) -> QFrame:
        side = QFrame()
        side.setObjectName("side")
        outer = QVBoxLayout(side)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(column(self._title, margins=(16, 16, 16, 0)))
        outer.addWidget(self._middle, 1)
        buttons = (self.how_button, self.again_button, self.done_button)
        outer.addWidget(column(*buttons, margins=(16, 0, 16, 16)))
        return side

    def _foot(self) -> QFrame:
        foot = QFrame()
        foot.setObjectName("foot")
        row = QHBoxLayout(foot)
        row.setContentsMargins(0, 0, 8, 0)
        row.setSpacing(0)
        row.addWidget(self._legend, 1)
        for words, name, pressed in (
            ("\N{MINUS SIGN}", "Further away", lambda: self.comb.zoom_by(1.0 / ZOOM_STEP)),
            ("+", "Nearer", lambda: self.comb.zoom_by(ZOOM_STEP)),
            ("All", "The whole comb", self.comb.see_all),
        ):
            made = button(words, pressed, "plain")
            made.setToolTip(name)
            made.setAccessibleName(name)
            row.addWidget(made)
        return foot


class _Overlay(QGraphicsItem):
    """The band of right ages, the way of the field, and a sign on every larva taken.

    Lines and signs are as wide on the screen however near the comb is.
    """

    def __init__(
        self, session: SearchSession, marks: Sequence[Mark | None], radius_px: float
    ) -> None:
        super().__init__()
        side = session.side
        sheet = side.comb.sheet
        self._bounds = QRectF(0.0, 0.0, sheet.photo.width_px, sheet.photo.height_px)
        middles = [QPointF(x + 0.5, y + 0.5) for x, y in side.middles_xy_px]
        corners = hexagon_corners(sheet.scale.pitch_px * 1.02, sheet.lattice.row_angle_deg)
        self._band = QPainterPath()
        self._band.setFillRule(Qt.FillRule.WindingFill)
        for index in side.takeable:
            points = [middles[index] + QPointF(float(x), float(y)) for x, y in corners]
            self._band.addPolygon(QPolygonF([*points, points[0]]))
        self._band = self._band.simplified()
        self._way = QPolygonF([QPointF(x, y) for x, y in session.path_xy_px])
        self._unseen = QPainterPath()
        self._unseen.addRect(self._bounds)
        self._unseen = self._unseen.subtracted(_swept(self._way, radius_px))
        down = QPointF(0.0, _SIGN_DOWN * sheet.scale.pitch_px)
        self._picks = list(zip((middles[k] + down for k in session.taken), marks, strict=True))
        self.setZValue(3.0)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)

    def boundingRect(self) -> QRectF:
        """Return the whole picture."""
        return self._bounds

    def shape(self) -> QPainterPath:
        """Return nothing: cells below are what is pointed at."""
        return QPainterPath()

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        """Draw band, way and signs."""
        del option, widget
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        zoom = max(painter.worldTransform().m11(), 1e-6)
        painter.fillPath(self._unseen, _UNSEEN)
        painter.fillPath(self._band, _BAND_FILL)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width_px in ((DARK, 4.0), (_BAND, 2.0)):
            painter.strokePath(self._band, QPen(colour, width_px / zoom))
        for colour, width_px in ((DARK, 4.0), (_PATH, 1.8)):
            painter.setPen(_line(colour, width_px / zoom))
            painter.drawPolyline(self._way)
        if self._way.size():
            self._draw_ends(painter, zoom)
        for middle, mark in self._picks:
            if mark is not None:
                draw_sign(painter, mark, middle, _SIGN_PX / zoom)
            else:
                painter.setPen(QPen(_PATH, 2.0 / zoom))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawEllipse(middle, _SIGN_PX / zoom, _SIGN_PX / zoom)

    def _draw_ends(self, painter: QPainter, zoom: float) -> None:
        """Draw where the field began, open, and where it ended, filled."""
        radius = 7.0 / zoom
        first, last = self._way.first(), self._way.last()
        for colour, width_px in ((DARK, 5.0), (_PATH, 2.2)):
            painter.setPen(QPen(colour, width_px / zoom))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(first, radius, radius)
        painter.setPen(QPen(DARK, 1.6 / zoom))
        painter.setBrush(_PATH)
        painter.drawEllipse(last, 0.8 * radius, 0.8 * radius)


def _face(session: SearchSession, index: int) -> Face:
    """Return the age of a larva taken; its sign lies over the comb, as large at any distance."""
    cell = session.side.comb.asked[index]
    if cell.content is not Content.LARVA or cell.age_h is None:
        return Face(rim=Rim.FAINT)
    return Face(rim=Rim.FAINT, words=age_words(cell.age_h, session.limits))


def _swept(way: QPolygonF, radius_px: float) -> QPainterPath:
    """Return what a round field showed on its way."""
    shown = QPainterPath()
    for point in (way.first(), way.last()) if way.size() else ():
        shown.addEllipse(point, radius_px, radius_px)
    if way.size() > 1:
        line = QPainterPath()
        line.addPolygon(way)
        stroker = QPainterPathStroker()
        stroker.setWidth(2.0 * radius_px)
        stroker.setCapStyle(Qt.PenCapStyle.RoundCap)
        stroker.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        shown = shown.united(stroker.createStroke(line).simplified())
    return shown


def _line(colour: QColor, width_px: float) -> QPen:
    pen = QPen(colour, width_px)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return pen
