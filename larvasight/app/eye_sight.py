"""Cells cut out along their rims, one or some side by side, as large as there is room."""

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, QSizeF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QImage,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from larvasight.app.dressing import Dressing
from larvasight.app.loupe import DARK_AROUND
from larvasight.app.tile_cell import draw_tile_cell
from larvasight.geometry import hexagon_corners
from larvasight.paper.marks import Mark
from larvasight.paper.signs import draw_sign
from larvasight.render.tiles import Tile

# A picture is enlarged up to here: beyond, there is nothing more to see in it.
_LARGEST = 2.75
_GAP_EM = 1.0
# Room for two lines under each cell, font sizes.
_CAPTION_EM, _LINE_EM = 4.2, 1.5
_HEX_HIGH, _HEX_WIDE = 1.27, 1.12
# Of a cell drawn along its rims: corner to corner from top to bottom, and the ring about it.
_HIGH_PITCHES, _RING_SHARE = 1.24, 1.12
_LIGHT, _FAINT, _RING = QColor("#f2e9dc"), QColor("#b8a793"), QColor("#f0c674")


@dataclass(frozen=True, slots=True, kw_only=True)
class CellWords:
    """What stands under a cell: a first line with a sign before it, and a faint second one."""

    first: str = ""
    second: str = ""
    mark: Mark | None = None


class EyeSight(QWidget):
    """Shows cells; ``pressed`` carries which of them was clicked.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    """

    pressed = Signal(int)

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._tiles: tuple[Tile, ...] = ()
        self._images: tuple[QImage, ...] = ()
        self._words: tuple[CellWords, ...] = ()
        self._turn_deg = 0.0
        self._chosen: int | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(320, 240))

    def show_cells(
        self,
        tiles: Sequence[Tile],
        images: Sequence[QImage],
        turn_deg: float,
        words: Sequence[CellWords],
    ) -> None:
        """Show cells with words under them, all turned alike."""
        self._tiles, self._images, self._words = tuple(tiles), tuple(images), tuple(words)
        self._turn_deg, self._chosen = turn_deg, None
        self._name()

    def say(self, words: Sequence[CellWords], chosen: int | None = None) -> None:
        """Write something else under the cells, and draw a ring about one of them."""
        self._words, self._chosen = tuple(words), chosen
        self._name()

    def centre(self, place: int) -> QPointF:
        """Return the middle of a cell in the widget, counted from the left."""
        return self._room(place).center()

    def place_at(self, x_px: float) -> int:
        """Return the place of the cell that lies nearest to a distance from the left edge."""
        n = len(self._tiles)
        return min(max(int(x_px * n / max(self.width(), 1)), 0), n - 1)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Say which cell was clicked."""
        if event.button() is Qt.MouseButton.LeftButton and self._tiles:
            place = self.place_at(event.position().x())
            if self._room(place).contains(event.position()):
                self.pressed.emit(place)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the cells and what stands under them."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), DARK_AROUND)
        for place in range(len(self._tiles)):
            self._draw(painter, place, self._room(place))

    def _draw(self, painter: QPainter, place: int, room: QRectF) -> None:
        """Draw the cell of a place into a room, and its words below."""
        side = min(room.width(), room.height())
        painter.save()
        painter.translate(room.center())
        if self._chosen == place:
            self._draw_ring(painter, self._tiles[place], side)
        painter.rotate(self._turn_deg)
        painter.translate(-side / 2.0, -side / 2.0)
        image = self._images[place]
        draw_tile_cell(painter, QSizeF(side, side), self._tiles[place], (image, 1.0))
        painter.restore()
        self._write(painter, self._words[place], room)

    def _draw_ring(self, painter: QPainter, tile: Tile, side: float) -> None:
        drawn = min(side, side * tile.side_px / (tile.pitch_px * _HIGH_PITCHES))
        corners = hexagon_corners(tile.pitch_px * drawn / tile.side_px * _RING_SHARE)
        painter.setPen(QPen(_RING, 0.22 * self._dressing.text_px))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPolygon(QPolygonF([QPointF(float(x), float(y)) for x, y in corners]))

    def _write(self, painter: QPainter, words: CellWords, room: QRectF) -> None:
        text_px = float(self._dressing.text_px)
        font = QFont(self.font())
        font.setPixelSize(round(text_px))
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(_LIGHT)
        slot = self.width() / len(self._tiles)
        line = QRectF(0.0, 0.0, slot, _LINE_EM * text_px)
        line.moveCenter(QPointF(room.center().x(), room.bottom() + 1.5 * text_px))
        if words.mark is not None:
            wide = painter.fontMetrics().horizontalAdvance(words.first)
            line.translate(0.5 * text_px, 0.0)
            at = QPointF(line.center().x() - wide / 2.0 - 0.85 * text_px, line.center().y())
            draw_sign(painter, words.mark, at, 0.4 * text_px)
            painter.setPen(_LIGHT)
        painter.drawText(line, Qt.AlignmentFlag.AlignCenter, words.first)
        font.setBold(False)
        font.setPixelSize(round(0.9 * text_px))
        painter.setFont(font)
        painter.setPen(_FAINT)
        below = line.translated(0.0, line.height())
        painter.drawText(below, Qt.AlignmentFlag.AlignCenter, words.second)

    def _room(self, place: int) -> QRectF:
        """Return the square that holds the cell of a place."""
        n, text_px = max(len(self._tiles), 1), self._dressing.text_px
        slot = self.width() / n
        below = _CAPTION_EM * text_px
        wide = slot - _GAP_EM * text_px
        high = self.height() - below - 2.0 * _GAP_EM * text_px
        side = max(min(wide * _HEX_HIGH / _HEX_WIDE, high), 40.0)
        if self._tiles:
            side = min(side, _LARGEST * self._tiles[0].side_px)
        room = QRectF(0.0, 0.0, side, side)
        room.moveCenter(QPointF((place + 0.5) * slot, (self.height() - below) / 2.0))
        return room

    def _name(self) -> None:
        """Tell a screen reader what is shown."""
        said = [" ".join(filter(None, (each.first, each.second))) for each in self._words]
        self.setAccessibleName(", ".join(filter(None, said)) or "A cell")
        self.update()
