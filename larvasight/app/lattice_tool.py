"""The cells of a photo with three handles to move them by."""

import math
from itertools import pairwise

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QKeyEvent,
    QPainter,
    QPen,
    QPolygonF,
    QTransform,
)
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from larvasight.app.cell_item import MARK_COLOUR
from larvasight.app.picture_tool import RestingTool, step_of, two_pens
from larvasight.desk.hand_cells import (
    HANDLE_WORDS,
    MOVE,
    SLANT,
    Handles,
    dragged,
    shift_of,
)
from larvasight.errors import LatticeUnusableError
from larvasight.geometry import hexagon_corners, lattice_vectors
from larvasight.paper.qt import text_font
from larvasight.paper.signs import DARK
from larvasight.vision.lattice import FoundLattice

_HANDLE_PX = 9.0
_REACH_PX = 18.0
_WORDS_PX = 15
# More cells than these are drawn as dots: rims of thousands take too long to follow the pointer.
_RIMS_MOST = 700
_RIM_SHARE = 0.94
_DOT_PX = 4.0


class LatticeTool(RestingTool):
    """Draws a lattice as its handles move it; ``kept`` tells that they were let go, moved.

    Parameters
    ----------
    lattice : FoundLattice
        The cells as they lie.
    handles_xy_px : ndarray of shape (3, 2)
        Where the handles are.
    """

    kept = Signal()

    def __init__(self, lattice: FoundLattice, handles_xy_px: Handles) -> None:
        super().__init__()
        self._chosen: int | None = None
        self._font = text_font(_WORDS_PX)
        self.set_lattice(lattice, handles_xy_px)

    @property
    def lattice(self) -> FoundLattice:
        """The cells as they lay before the handles were moved."""
        return self._lattice

    @property
    def before_xy_px(self) -> Handles:
        """Where the handles were then."""
        return self._before

    @property
    def handles_xy_px(self) -> Handles:
        """Where the handles are."""
        return self._handles

    def set_lattice(self, lattice: FoundLattice, handles_xy_px: Handles) -> None:
        """Go on from another lattice."""
        self.forget()
        self._lattice = lattice
        self._before = np.array(handles_xy_px, dtype=np.float64)
        self._handles = self._before.copy()
        self._rims = _rims(lattice)
        self._dots = [QPointF(*cell.centre_xy_px) for cell in lattice.cells]
        self.update()

    def go_on_from(self, lattice: FoundLattice, before_xy_px: Handles) -> None:
        """Go on from cells that lie as the handles were at an earlier moment; a drag goes on."""
        handles, is_changed, waits = self._handles, self._is_changed, self._rest.isActive()
        self.set_lattice(lattice, before_xy_px)
        self._handles, self._is_changed = handles, is_changed
        if waits:
            self._rest.start()

    def put_back(self) -> None:
        """Let the handles be where they were before."""
        self.set_lattice(self._lattice, self._before)

    def pressed(self, point: QPointF, zoom: float) -> bool:
        """Take hold of the handle at a point."""
        away = [math.dist(handle, (point.x(), point.y())) for handle in self._handles.tolist()]
        nearest = min(range(len(away)), key=away.__getitem__)
        if away[nearest] * zoom > _REACH_PX:
            return False
        self.released()
        self._chosen = nearest
        self.update()
        return True

    def dragged(self, point: QPointF) -> None:
        """Move the handle that is held."""
        if self._chosen is not None:
            held = self.within(point)
            self._put(dragged(self._handles, self._chosen, (held.x(), held.y())))

    def keep(self) -> None:
        """Tell that the handles were moved."""
        self.kept.emit()

    def key(self, event: QKeyEvent, zoom: float, middle: QPointF) -> bool:
        """N goes to the next handle, arrows move it."""
        del middle
        if event.key() == Qt.Key.Key_N:
            self.released()
            chosen = self._chosen
            self._chosen = MOVE if chosen is None else (chosen + 1) % len(self._handles)
            self.update()
            return True
        step = step_of(event, zoom)
        if step is None:
            return False
        # The cells as a whole are moved until another handle is chosen.
        self._chosen = MOVE if self._chosen is None else self._chosen
        x, y = self._handles[self._chosen].tolist()
        self._put(dragged(self._handles, self._chosen, (x + step.x(), y + step.y())))
        self._rest.start()
        return True

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """Draw the cells, the two directions, and the handles with their words."""
        del option, widget
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.translate(0.5, 0.5)
        self._paint_cells(painter)
        spots = [QPointF(x, y) for x, y in self._handles.tolist()]
        for pen in two_pens(painter, QColor(255, 255, 255), 2.0):
            painter.setPen(pen)
            for end in spots[1:]:
                painter.drawLine(spots[MOVE], end)
        for number, spot in enumerate(spots):
            _paint_handle(painter, number, spot, is_held=number == self._chosen)
        for words, spot in zip(HANDLE_WORDS, spots, strict=True):
            self._paint_words(painter, words, spot)

    def _put(self, handles: Handles) -> None:
        try:
            shift_of(self._before, handles)
        except LatticeUnusableError:
            return  # turned inside out: the handle stays where it was
        self._handles = handles
        self._is_changed = True
        self.update()

    def _paint_cells(self, painter: QPainter) -> None:
        shift = shift_of(self._before, self._handles)
        (a, b), (c, d) = shift.matrix
        way = QTransform(a, c, b, d, *shift.offset_xy_px)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if self._rims is not None:
            # As single thin lines: strokes with joins of hundreds of rims take too long.
            sides = [way.map(side) for side in self._rims]
            for colour, width_px in ((DARK, 3.4), (MARK_COLOUR, 1.8)):
                pen = QPen(colour, width_px)
                pen.setCosmetic(True)
                painter.setPen(pen)
                painter.drawLines(sides)
            return
        dots = [way.map(dot) for dot in self._dots]
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, on=False)
        for colour, size_px in ((DARK, _DOT_PX + 2.0), (MARK_COLOUR, _DOT_PX)):
            pen = QPen(colour, size_px)
            pen.setCosmetic(True)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            painter.drawPoints(dots)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)

    def _paint_words(self, painter: QPainter, words: str, spot: QPointF) -> None:
        """Say at a handle what it does, of one size at any zoom."""
        painter.save()
        zoom = painter.worldTransform().m11()
        painter.translate(spot)
        painter.scale(1.0 / zoom, 1.0 / zoom)
        painter.setFont(self._font)
        box = QRectF(painter.fontMetrics().boundingRect(words))
        box.moveCenter(QPointF(0.0, _HANDLE_PX + 16.0))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(24, 18, 12, 205))
        painter.drawRoundedRect(box.adjusted(-6.0, -2.0, 6.0, 2.0), 5.0, 5.0)
        painter.setPen(QColor(255, 255, 255))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)
        painter.restore()


def _rims(lattice: FoundLattice) -> list[QLineF] | None:
    """Return the sides of all cells, None where there are too many to be drawn quickly."""
    if len(lattice.cells) > _RIMS_MOST:
        return None
    # Corners of a regular cell by its own steps: a cell seen aslant has a slanted rim.
    corners = hexagon_corners(_RIM_SHARE) @ np.linalg.inv(lattice_vectors(1.0))
    sides: list[QLineF] = []
    for cell in lattice.cells:
        rim = corners @ np.array(cell.steps_xy_px) + np.array(cell.centre_xy_px)
        spots = [QPointF(x, y) for x, y in rim.tolist()]
        sides += [QLineF(*pair) for pair in pairwise([*spots, spots[0]])]
    return sides


def _paint_handle(painter: QPainter, number: int, spot: QPointF, *, is_held: bool) -> None:
    """Draw a handle: a disc that moves, a square that turns, a kite that slants."""
    radius = _HANDLE_PX / painter.worldTransform().m11()
    for pen in two_pens(painter, QColor(255, 255, 255), 2.2):
        painter.setPen(pen)
        painter.setBrush(MARK_COLOUR if is_held else DARK)
        if number == MOVE:
            painter.drawEllipse(spot, radius, radius)
        elif number == SLANT:
            ways = ((0.0, -1.3), (1.3, 0.0), (0.0, 1.3), (-1.3, 0.0))
            painter.drawPolygon(QPolygonF([spot + QPointF(x, y) * radius for x, y in ways]))
        else:
            painter.drawRect(QRectF(spot.x() - radius, spot.y() - radius, 2 * radius, 2 * radius))
