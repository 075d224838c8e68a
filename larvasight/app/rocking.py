"""Rock the comb: an egg, a larva just hatched and one to take, tilted and relit."""

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QEvent, QObject, QPointF, QSize, QSizeF, Qt, QVariantAnimation
from PySide6.QtGui import QImage, QKeyEvent, QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QDialog,
    QFrame,
    QHBoxLayout,
    QMessageBox,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.images import image_of
from larvasight.app.parts import button, label
from larvasight.app.tile_cell import draw_tile_cell
from larvasight.app.why_panel import tied
from larvasight.desk.rocking import RockedKind, rocked_row, shipped_rocking
from larvasight.errors import LarvasightError
from larvasight.grading import Limits
from larvasight.render.rocking import Lamp, RockedCell, RockingLibrary, View

TITLE = "Rock the comb"
_BLEND_MS = 130
_CELL_LEAST_PX = 200
_WATCH_LINES = 4
# How far the mouse is dragged before the comb tips, px.
_TIP_PX = 28.0
_OPPOSITE = {
    View.LEFT: View.RIGHT,
    View.RIGHT: View.LEFT,
    View.UP: View.DOWN,
    View.DOWN: View.UP,
}
_KEYS: dict[int, View] = {
    Qt.Key.Key_Left: View.LEFT,
    Qt.Key.Key_Right: View.RIGHT,
    Qt.Key.Key_Up: View.UP,
    Qt.Key.Key_Down: View.DOWN,
}
_VIEW_WORDS = {
    View.STRAIGHT: "You look straight into the cells",
    View.LEFT: "You look in from the left",
    View.RIGHT: "You look in from the right",
    View.UP: "You look in from above",
    View.DOWN: "You look in from below",
}
_LAMP_WORDS = {Lamp.A: "the lamp is at the upper left", Lamp.B: "the lamp is at the right"}


def show_rocking(parent: QWidget, limits: Limits) -> None:
    """Let the person rock the comb; say so where its pictures are missing."""
    library = shipped_rocking()
    if library is None:
        words = "The pictures for this page are missing; install larvasight again."
        QMessageBox.information(parent, TITLE, words)
        return
    dialog = RockingDialog(parent, library, limits, np.random.default_rng())
    dialog.exec()
    dialog.deleteLater()


class RockingDialog(QDialog):
    """Three cells side by side that are tilted and relit together.

    Parameters
    ----------
    parent : QWidget
        Whose window it covers.
    library : RockingLibrary
        Where cells come from.
    limits : Limits
        The ages that are wanted.
    rng : numpy.random.Generator
        Chooses cells.
    """

    def __init__(
        self,
        parent: QWidget,
        library: RockingLibrary,
        limits: Limits,
        rng: np.random.Generator,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(TITLE)
        self._library, self._limits, self._rng = library, limits, rng
        self._at = 0
        self.view, self.lamp = View.STRAIGHT, Lamp.A
        self._dragged_from: QPointF | None = None
        self.cards = [_Card(), _Card(), _Card()]
        self._words = label("", "faint")
        cells = QHBoxLayout()
        cells.setSpacing(16)
        for card in self.cards:
            cells.addWidget(card, 1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(24, 24, 24, 24)
        outer.setSpacing(16)
        outer.addWidget(label(TITLE, "title"))
        outer.addWidget(
            label(
                "Drag over the cells, or press the arrow keys, to tilt the comb; press L to move "
                "the lamp. What slides is a glint, what stays is a body."
            )
        )
        outer.addLayout(cells, 1)
        outer.addWidget(self._words)
        outer.addLayout(self._buttons())
        self.resize(parent.window().size())
        self.show_cells()
        self.setFocus()

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(8)
        row.addWidget(self._button("Move the lamp", self.move_lamp, "main"))
        row.addWidget(self._button("Other cells", self.show_cells))
        if len(self._library.settings) > 1:
            row.addWidget(self._button("Another comb", self.show_other))
        row.addStretch(1)
        row.addWidget(self._button("Close", self.accept, "plain"))
        return row

    def _button(self, words: str, pressed: Callable[[], object], role: str = "") -> QWidget:
        made = button(words, pressed, role)
        made.installEventFilter(self)
        return made

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Keep the arrow keys for the comb, wherever the keyboard is."""
        if (
            isinstance(event, QKeyEvent)
            and event.type() is QEvent.Type.KeyPress
            and event.key() in _KEYS
        ):
            self.keyPressEvent(event)
            return True
        return super().eventFilter(watched, event)

    def show_other(self) -> None:
        """Show cells of another kind of comb."""
        self._at = (self._at + 1) % len(self._library.settings)
        self.show_cells()

    def show_cells(self) -> None:
        """Show other cells of the same comb."""
        setting = self._library.settings[self._at]
        row = rocked_row(self._library, setting, self._limits, self._rng)
        for number, card in enumerate(self.cards):
            card.setVisible(number < len(row))
            if number < len(row):
                kind, cell = row[number]
                try:
                    card.show_cell(kind, cell, self._library)
                except LarvasightError as error:
                    card.setVisible(False)
                    QMessageBox.warning(self, TITLE, str(error))
        self._see(self.view, self.lamp)

    def tilt(self, view: View) -> None:
        """Look in from another side."""
        self._see(view, self.lamp)

    def move_lamp(self) -> None:
        """Put the lamp where it is not."""
        self._see(self.view, Lamp.B if self.lamp is Lamp.A else Lamp.A)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Tilt with the arrow keys, back with the one that leads back; L moves the lamp."""
        wanted = _KEYS.get(event.key())
        if wanted is not None:
            is_back = self.view is not View.STRAIGHT and _OPPOSITE[wanted] is self.view
            self.tilt(View.STRAIGHT if is_back and not event.isAutoRepeat() else wanted)
        elif event.key() == Qt.Key.Key_L:
            if not event.isAutoRepeat():
                self.move_lamp()
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of the comb."""
        if event.button() is Qt.MouseButton.LeftButton:
            self._dragged_from = event.position()
            self.setCursor(Qt.CursorShape.ClosedHandCursor)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Tip it to where it is dragged."""
        if self._dragged_from is None:
            return
        way = event.position() - self._dragged_from
        across, down = abs(way.x()), abs(way.y())
        if max(across, down) < _TIP_PX:
            self.tilt(View.STRAIGHT)
        elif across >= down:
            self.tilt(View.RIGHT if way.x() > 0.0 else View.LEFT)
        else:
            self.tilt(View.DOWN if way.y() > 0.0 else View.UP)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go: the comb lies straight again."""
        del event
        if self._dragged_from is not None:
            self._dragged_from = None
            self.unsetCursor()
            self.tilt(View.STRAIGHT)

    def _see(self, view: View, lamp: Lamp) -> None:
        self.view, self.lamp = view, lamp
        self._words.setText(f"{_VIEW_WORDS[view]}; {_LAMP_WORDS[lamp]}.")
        for card in self.cards:
            card.picture.see(view, lamp)


class _Card(QFrame):
    """One cell, what it is, and what to watch in it."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("sheet")
        self.picture = _Picture()
        self._title = label("", "lead")
        self._watch = label("")
        self._watch.setAlignment(Qt.AlignmentFlag.AlignTop)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 16, 16, 16)
        column.setSpacing(8)
        column.addWidget(self.picture, 1)
        column.addWidget(self._title)
        column.addWidget(self._watch)

    def show_cell(self, kind: RockedKind, cell: RockedCell, library: RockingLibrary) -> None:
        """Show another cell."""
        self.picture.show_cell(cell, library)
        age_h = cell.straight.age_h or 0.0
        is_egg = age_h < 0.0
        when = f"hatches in {-age_h:.0f} h" if is_egg else f"{age_h:.0f} h old"
        self._title.setText(tied(f"{kind.title}, {when}"))
        self._watch.setText(kind.watch)
        # As many lines in every card, so that the cells stand in a row.
        self._watch.setMinimumHeight(_WATCH_LINES * self._watch.fontMetrics().lineSpacing())
        self.picture.setAccessibleName(kind.title)


class _Picture(QWidget):
    """A cell whose views fade into each other."""

    def __init__(self) -> None:
        super().__init__()
        self._cell: RockedCell | None = None
        self._images: dict[tuple[View, Lamp], QImage] = {}
        self._seen = self._before = (View.STRAIGHT, Lamp.A)
        self._share = 1.0
        self._fade = QVariantAnimation(self)
        self._fade.setStartValue(0.0)
        self._fade.setEndValue(1.0)
        self._fade.setDuration(_BLEND_MS)
        self._fade.valueChanged.connect(self._blend)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(_CELL_LEAST_PX, _CELL_LEAST_PX))

    def show_cell(self, cell: RockedCell, library: RockingLibrary) -> None:
        """Show another cell, read whole so that no view is late."""
        self._images = {
            (view, lamp): image_of(library.pixels(cell, view, lamp))
            for view in View
            for lamp in Lamp
        }
        self._cell = cell
        self._fade.stop()
        self._before, self._share = self._seen, 1.0
        self.update()

    def see(self, view: View, lamp: Lamp) -> None:
        """Fade to another view."""
        if (view, lamp) != self._seen:
            self._before, self._seen = self._seen, (view, lamp)
            self._fade.stop()
            self._fade.start()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the cell, for a moment with what was seen before."""
        del event
        if self._cell is None:
            return
        painter = QPainter(self)
        images = [(self._images[self._seen], self._share)]
        if self._share < 1.0:
            images.insert(0, (self._images[self._before], 1.0))
        draw_tile_cell(painter, QSizeF(self.size()), self._cell.straight, *images)

    def _blend(self, share: float) -> None:
        self._share = share
        self.update()
