"""A row of cells that is put in order with the mouse or the keyboard."""

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QImage, QKeyEvent, QMouseEvent, QPainter, QPaintEvent

from larvasight.app.dressing import Dressing
from larvasight.app.eye_sight import CellWords, EyeSight
from larvasight.app.loupe import DARK_AROUND
from larvasight.render.tiles import Tile

_ARROWS = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
_FIRST, _LAST, _HELD = "youngest", "oldest", "taken up"


class OrderSight(EyeSight):
    """Cells in a row, each of which can be carried to another place.

    ``order`` says, from the left, which of the cells shown stands there.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    """

    def __init__(self, dressing: Dressing) -> None:
        super().__init__(dressing)
        self.order: list[int] = []
        self._at = 0
        self._is_held = self._is_fixed = False
        self._dragged_x_px: float | None = None

    @property
    def at(self) -> int:
        """The place that the keyboard is on, from the left."""
        return self._at

    def ask(self, tiles: Sequence[Tile], images: Sequence[QImage], turn_deg: float) -> None:
        """Show cells to be put in order."""
        self.order = list(range(len(tiles)))
        self._at, self._is_held, self._is_fixed = 0, False, False
        self._dragged_x_px = None
        self.show_cells(tiles, images, turn_deg, [CellWords()] * len(tiles))
        self._label()

    def hold_still(self) -> None:
        """Let nothing be moved while an order is stored."""
        self._is_fixed, self._is_held, self._dragged_x_px = True, False, None
        self._label()

    def tell(self, order: Sequence[int], words: Sequence[CellWords]) -> None:
        """Show the cells in the true order, ``words`` under each place."""
        self._take_places(list(order))
        self._is_fixed = True
        self.say(words)

    def carry(self, from_place: int, to_place: int) -> None:
        """Put the cell of a place somewhere else; those between move up."""
        if self._is_fixed or from_place == to_place or not 0 <= to_place < len(self.order):
            return
        places = list(range(len(self.order)))
        places.insert(to_place, places.pop(from_place))
        self._take_places([self.order[place] for place in places])
        self._at = to_place
        self._label()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take a cell up."""
        if event.button() is Qt.MouseButton.LeftButton and self.order and not self._is_fixed:
            self._at, self._is_held = self.place_at(event.position().x()), False
            self._dragged_x_px = event.position().x()
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
            self._label()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Carry it; the others make room."""
        if self._dragged_x_px is not None:
            self._dragged_x_px = event.position().x()
            self.carry(self._at, self.place_at(event.position().x()))
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Put it down."""
        del event
        self._dragged_x_px = None
        self.unsetCursor()
        self._label()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Arrows go or carry, Space takes up and puts down."""
        step = _ARROWS.get(Qt.Key(event.key()))
        if self._is_fixed or not self.order or (step is None and event.key() != Qt.Key.Key_Space):
            super().keyPressEvent(event)
        elif step is None:
            self._is_held = not self._is_held
            self._label()
        elif self._is_held or event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self.carry(self._at, self._at + step)
        else:
            self._at = min(max(self._at + step, 0), len(self.order) - 1)
            self._label()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the row, the cell that is carried last and under the mouse."""
        if self._dragged_x_px is None:
            super().paintEvent(event)
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), DARK_AROUND)
        for place in range(len(self.order)):
            if place != self._at:
                self._draw(painter, place, self._room(place))
        room = QRectF(self._room(self._at))
        room.moveCenter(QPointF(self._dragged_x_px, room.center().y()))
        self._draw(painter, self._at, room)

    def _take_places(self, order: list[int]) -> None:
        """Let the cells stand in another order."""
        place_of = {index: place for place, index in enumerate(self.order)}
        tiles, images = self._tiles, self._images
        self._tiles = tuple(tiles[place_of[index]] for index in order)
        self._images = tuple(images[place_of[index]] for index in order)
        self.order = order

    def _label(self) -> None:
        """Write the places' numbers, and ring the one that the keyboard is on."""
        last = len(self.order) - 1
        words = []
        for place in range(len(self.order)):
            end = {0: _FIRST, last: _LAST}.get(place, "")
            is_held = place == self._at and self._is_held
            words.append(CellWords(first=str(place + 1), second=_HELD if is_held else end))
        self.say(words, None if self._is_fixed else self._at)
