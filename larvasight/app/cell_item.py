"""One cell over a picture of comb: its outline, its sign and its words."""

from dataclasses import dataclass
from enum import Enum, auto

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPolygonF
from PySide6.QtWidgets import QApplication, QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from larvasight.paper.marks import BY_HAND_MARK, Mark
from larvasight.paper.qt import text_font
from larvasight.paper.signs import DARK, draw_sign, sign_box, way_into

# What a learner's own mark is drawn in: yellow of Okabe & Ito's set, seen on any wax.
MARK_COLOUR = QColor("#F0E442")
# Share of the pitch: width of a mark's line, and of the keyboard's place.
_LINE_SHARE = 0.028
_PLACE_SHARE = 0.02
_PLACE_LEAST_PX = 1.5
_SIGN_SHARE = 0.075
# Where signs stand, pitches from the middle.
_VERDICT_AT = QPointF(0.0, 0.40)
_BY_HAND_AT = QPointF(0.33, 0.22)
_WORDS_SHARE = 0.1
_WORDS_MOST_SHARE = 0.17
# Words on the comb against the program's text.
_WORDS_OF_TEXT = 0.8
# Lies over a cell that is shown but never scored.
_GREYED = QColor(96, 96, 96, 150)
# Words smaller than this on the screen are not drawn, px.
_WORDS_LEAST_PX = 10.0


class Rim(Enum):
    """How a cell's rim is drawn; ``UNSCORED`` greys the cell."""

    BARE = auto()
    FAINT = auto()
    PENCIL = auto()
    INK = auto()
    VERDICT = auto()
    OPEN_VERDICT = auto()
    UNSCORED = auto()


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """What is drawn over one cell.

    ``PENCIL`` is a learner's mark that is not stored yet, ``INK`` a stored one. ``mark`` gives the
    sign and colour of a verdict, ``words`` stand above the cell's middle; ``is_by_hand`` adds the
    sign of what a person put right.
    """

    rim: Rim = Rim.BARE
    mark: Mark | None = None
    words: str = ""
    is_by_hand: bool = False


class CellItem(QGraphicsItem):
    """A hexagon over one cell that can be pointed at.

    Parameters
    ----------
    index : int
        Which cell of the picture.
    hexagon : QPolygonF
        Its rim in the picture, px.
    pitch_px : float
        Its pitch in the picture.
    body : QPolygonF, optional
        Outline of a body found in it.
    line : QPolygonF, optional
        That body's line.
    """

    def __init__(
        self,
        index: int,
        hexagon: QPolygonF,
        pitch_px: float,
        body: QPolygonF | None = None,
        line: QPolygonF | None = None,
    ) -> None:
        super().__init__()
        self.index = index
        self.hexagon = hexagon
        self.centre = hexagon.boundingRect().center()
        self._pitch_px = pitch_px
        self._body = body
        self._line = line
        self._face = Face()
        self._is_place = self._is_in_hand = False
        self._is_hovered = False
        grown = pitch_px * 0.06
        self._bounds = hexagon.boundingRect().adjusted(-grown, -grown, grown, grown)
        self.setAcceptHoverEvents(True)

    @property
    def face(self) -> Face:
        """What is drawn now."""
        return self._face

    def set_face(self, face: Face) -> None:
        """Draw something else over the cell."""
        if face != self._face:
            self._face = face
            self.update()

    def set_body(self, body: QPolygonF | None, line: QPolygonF | None) -> None:
        """Draw another body over the cell."""
        self._body, self._line = body, line
        self.update()

    def set_place(self, is_place: bool) -> None:
        """Show or hide that the keyboard is at this cell."""
        if is_place != self._is_place:
            self._is_place = is_place
            self.setZValue(1.0 if is_place else 0.0)
            self.update()

    def set_in_hand(self, is_in_hand: bool) -> None:
        """Draw neither sign nor words while the body under them is moved, or draw them again."""
        self._is_in_hand = is_in_hand
        self.update()

    def boundingRect(self) -> QRectF:
        """Return all that the cell may draw on."""
        return self._bounds

    def shape(self) -> QPainterPath:
        """Return where the cell can be clicked: its whole hexagon."""
        path = QPainterPath()
        path.addPolygon(self.hexagon)
        path.closeSubpath()
        return path

    def collidesWithPath(
        self,
        path: QPainterPath,
        mode: Qt.ItemSelectionMode = Qt.ItemSelectionMode.IntersectsItemShape,
    ) -> bool:
        """Return whether the hexagon is touched; Qt takes the whole box of what is clipped."""
        del mode
        return self.shape().intersects(path)

    def hoverEnterEvent(self, event: object) -> None:
        """Show that the cell can be clicked."""
        del event
        self._is_hovered = True
        self.update()

    def hoverLeaveEvent(self, event: object) -> None:
        """Stop showing it."""
        del event
        self._is_hovered = False
        self.update()

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        """Draw rim, body, sign and words."""
        del option, widget
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        self._paint_body(painter)
        self._paint_rim(painter)
        if not self._is_in_hand:
            self._paint_told(painter)
        if self._is_place:
            self._paint_place(painter)

    def _paint_told(self, painter: QPainter) -> None:
        """Draw words and signs."""
        taken = [self._paint_words(painter)] if self._face.words else []
        if self._face.mark is not None and self._face.rim in (Rim.VERDICT, Rim.OPEN_VERDICT):
            taken.append(self._paint_sign(painter, self._face.mark, _VERDICT_AT, taken))
        if self._face.is_by_hand:
            self._paint_sign(painter, BY_HAND_MARK, _BY_HAND_AT, taken)

    def _paint_sign(
        self, painter: QPainter, mark: Mark, away_pitches: QPointF, taken: list[QRectF]
    ) -> QRectF:
        """Draw a sign beside what is drawn already, and return its place."""
        size = self._pitch_px * _SIGN_SHARE
        box = sign_box(self.centre + away_pitches * self._pitch_px, size)
        box.translate(self._into_view(box))
        for other in taken:
            if box.intersects(other):
                box.translate(0.0, _way_off(box, other))
        draw_sign(painter, mark, box.center(), size)
        return box

    def _paint_rim(self, painter: QPainter) -> None:
        width = self._pitch_px * _LINE_SHARE
        rim, mark = self._face.rim, self._face.mark
        if rim is Rim.UNSCORED:
            painter.setPen(QPen(QColor(255, 255, 255, 110), width * 0.6))
            painter.setBrush(_GREYED)
            painter.drawPolygon(self.hexagon)
            return
        if rim in (Rim.BARE, Rim.FAINT):
            if rim is Rim.FAINT or self._is_hovered:
                painter.setPen(QPen(QColor(255, 255, 255, 150), width * 0.6))
                painter.drawPolygon(self.hexagon)
            return
        verdict = rim in (Rim.VERDICT, Rim.OPEN_VERDICT) and mark is not None
        colour = QColor(mark.colour) if verdict and mark is not None else MARK_COLOUR
        pens = [QPen(DARK, width * 1.8), QPen(colour, width)]
        if rim in (Rim.PENCIL, Rim.OPEN_VERDICT):
            pens[1].setDashPattern([3.0, 2.2])
        for pen in pens:
            pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
            painter.setPen(pen)
            painter.drawPolygon(self.hexagon)
        if rim in (Rim.PENCIL, Rim.INK):
            self._paint_tab(painter, filled=rim is Rim.INK)

    def _paint_tab(self, painter: QPainter, *, filled: bool) -> None:
        """Draw the tab on a marked cell's rim: a shape beside the colour."""
        size = self._pitch_px * 0.1
        top = self.centre - QPointF(0.0, self._pitch_px * 0.45)
        tab = QPolygonF(
            [top + QPointF(-size, -size), top + QPointF(size, -size), top + QPointF(0.0, size)]
        )
        edge_px = self._pitch_px * 0.012
        around = tab.boundingRect().adjusted(-edge_px, -edge_px, edge_px, edge_px)
        tab.translate(self._into_view(around))
        painter.setPen(QPen(DARK, edge_px))
        painter.setBrush(MARK_COLOUR if filled else Qt.BrushStyle.NoBrush)
        painter.drawPolygon(tab)
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _paint_body(self, painter: QPainter) -> None:
        if self._body is None and self._line is None:
            return
        width = max(self._pitch_px * 0.012, 0.6)
        mark = self._face.mark
        colour = QColor(mark.colour) if mark is not None else QColor(255, 255, 255)
        for pen in (QPen(DARK, width * 2.0), QPen(colour, width)):
            painter.setPen(pen)
            if self._body is not None:
                painter.drawPolygon(self._body)
        if self._line is not None:
            for pen in (QPen(DARK, width * 1.8), QPen(QColor(255, 255, 255), width * 0.9)):
                painter.setPen(pen)
                painter.drawPolyline(self._line)

    def _paint_words(self, painter: QPainter) -> QRectF:
        """Write the words, unless they are too small to read, and return their place."""
        zoom = painter.worldTransform().m11()
        wanted = _WORDS_OF_TEXT * QApplication.font().pixelSize() / zoom
        size = min(max(wanted, self._pitch_px * _WORDS_SHARE), self._pitch_px * _WORDS_MOST_SHARE)
        if size * zoom < _WORDS_LEAST_PX:
            return QRectF()
        painter.setFont(text_font(size, bold=True))
        box = QRectF(painter.fontMetrics().boundingRect(self._face.words))
        box.moveCenter(self.centre - QPointF(0.0, self._pitch_px * 0.37))
        pad = size * 0.25
        plate = box.adjusted(-pad, -pad * 0.3, pad, pad * 0.3)
        shift = self._into_view(plate)
        plate.translate(shift)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(24, 18, 12, 185))
        painter.drawRoundedRect(plate, pad, pad)
        painter.setPen(QColor(255, 255, 255))
        painter.drawText(box.translated(shift), Qt.AlignmentFlag.AlignCenter, self._face.words)
        return plate

    def _into_view(self, box: QRectF) -> QPointF:
        """Return how far a box must move so that no edge of the picture cuts it."""
        scene = self.scene()
        if scene is None:
            return QPointF()
        return way_into(box, scene.sceneRect(), self._pitch_px)

    def _paint_place(self, painter: QPainter) -> None:
        """Draw brackets at the corners: where the keyboard is."""
        # Of small cells, too, it is seen where the keyboard is.
        width = max(self._pitch_px * _PLACE_SHARE, _PLACE_LEAST_PX / painter.worldTransform().m11())
        corners = [self.hexagon.at(k) for k in range(6)]
        for colour, share in ((DARK, 2.2), (QColor(255, 255, 255), 1.0)):
            pen = QPen(colour, width * share)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            for k in range(6):
                here = self.centre + (corners[k] - self.centre) * 1.06
                for other in (corners[k - 1], corners[(k + 1) % 6]):
                    painter.drawLine(here, here + (other - corners[k]) * 0.22)


def _way_off(box: QRectF, other: QRectF) -> float:
    """Return how far down a box must move to lie below another, or up (< 0) above it."""
    if box.center().y() > other.center().y():
        return other.bottom() - box.top()
    return other.top() - box.bottom()
