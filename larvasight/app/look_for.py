"""What to look for: the age row from the egg to a larva that fills its cell."""

import numpy as np
from PySide6.QtCore import QPointF, QSize, QSizeF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QDialog,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QMessageBox,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.dressing import Dressing
from larvasight.app.images import image_of
from larvasight.app.parts import button, label
from larvasight.app.rocking import TITLE as ROCKING_TITLE
from larvasight.app.rocking import show_rocking
from larvasight.app.tile_cell import draw_tile_cell
from larvasight.desk.look_for import Stage, age_row
from larvasight.desk.practising import shipped_tiles
from larvasight.grading import Limits, true_grade
from larvasight.paper.marks import EGG_MARK, GRADE_MARKS, Mark
from larvasight.paper.signs import draw_sign
from larvasight.render.tiles import Tile, TileLibrary

_COLUMNS = 4
_CELL_LEAST_PX = 172


def show_what_to_look_for(parent: QWidget, dressing: Dressing, limits: Limits) -> None:
    """Show the age row until the person has looked; say so where its pictures are missing."""
    library = shipped_tiles()
    if library is None:
        words = "The pictures for this page are missing; install larvasight again."
        QMessageBox.warning(parent, "What to look for", words)
        return
    LookForDialog(parent, dressing, library, limits, np.random.default_rng()).exec()


class LookForDialog(QDialog):
    """Eight cells in the order of age, each with what to see in it.

    Parameters
    ----------
    parent : QWidget
        Whose window it covers.
    dressing : Dressing
        The present look.
    library : TileLibrary
        Where cells come from.
    limits : Limits
        The ages that are wanted.
    rng : numpy.random.Generator
        Chooses cells.
    """

    def __init__(
        self,
        parent: QWidget,
        dressing: Dressing,
        library: TileLibrary,
        limits: Limits,
        rng: np.random.Generator,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("What to look for")
        self._library, self._limits, self._rng = library, limits, rng
        # A lamp on the head shows most: that comes first.
        self._settings = sorted(library.settings, key=lambda name: not name.startswith("headlamp"))
        self._at = 0
        self.cards = [_Card(dressing) for _ in range(2 * _COLUMNS)]
        outer = QVBoxLayout(self)
        outer.setContentsMargins(24, 24, 24, 24)
        outer.setSpacing(16)
        outer.addWidget(label("What to look for", "title"))
        outer.addWidget(
            label(
                "Look at three things together: how big the body is against the floor, how far its "
                "curve has closed, and whether it lies on jelly."
            )
        )
        outer.addWidget(self._scrolled(), 1)
        row = QHBoxLayout()
        row.addWidget(button("Another light and comb", self.show_other))
        row.addWidget(button("Other larvae", self.show_row))
        row.addWidget(button(ROCKING_TITLE, lambda: show_rocking(self, self._limits)))
        row.addStretch(1)
        row.addWidget(button("Practise", self.accept, "main"))
        outer.addLayout(row)
        self.resize(parent.window().size())
        self.show_row()

    def _scrolled(self) -> QScrollArea:
        inner = QWidget()
        grid = QGridLayout(inner)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setSpacing(12)
        for number, card in enumerate(self.cards):
            grid.addWidget(card, number // _COLUMNS, number % _COLUMNS)
        scroll = QScrollArea()
        scroll.setWidget(inner)
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        return scroll

    def show_other(self) -> None:
        """Show the row in another setting."""
        self._at = (self._at + 1) % len(self._settings)
        self.show_row()

    def show_row(self) -> None:
        """Show other cells of the same setting."""
        row = age_row(self._library, self._settings[self._at], self._rng)
        for number, card in enumerate(self.cards):
            card.setVisible(number < len(row))
            if number < len(row):
                stage, tile = row[number]
                image = image_of(self._library.pixels(tile))
                card.show_stage(stage, tile, image, self._limits)


class _Card(QFrame):
    """One stage: a cell, its name, its age, what to see."""

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self.setObjectName("sheet")
        self._picture = _Cell(dressing)
        self._title = label("", "lead")
        self._age = label("", "faint")
        self._looks = label("")
        self._looks.setAlignment(Qt.AlignmentFlag.AlignTop)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 12, 12, 12)
        column.setSpacing(4)
        column.addWidget(self._picture)
        column.addWidget(self._title)
        column.addWidget(self._age)
        column.addWidget(self._looks, 1)

    def show_stage(self, stage: Stage, tile: Tile, image: QImage, limits: Limits) -> None:
        """Show another cell."""
        age_h = tile.age_h or 0.0
        mark = EGG_MARK if age_h < 0.0 else GRADE_MARKS[true_grade(age_h, limits)]
        self._picture.show_tile(image, tile, mark)
        self._title.setText(stage.title)
        is_egg = age_h < 0.0
        when = f"hatches in {-age_h:.0f} h" if is_egg else f"{age_h:.0f} h old: {mark.word}"
        self._age.setText(when)
        self._looks.setText(stage.looks)


class _Cell(QWidget):
    """A tile cut along its rims, with the sign of its verdict."""

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._image: QImage | None = None
        self._tile: Tile | None = None
        self._mark: Mark | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(_CELL_LEAST_PX, _CELL_LEAST_PX))

    def show_tile(self, image: QImage, tile: Tile, mark: Mark) -> None:
        """Show another cell."""
        self._image, self._tile, self._mark = image, tile, mark
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the cell as large as there is room, and the sign in the corner."""
        del event
        if self._image is None or self._tile is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        draw_tile_cell(painter, QSizeF(self.size()), self._tile, (self._image, 1.0))
        if self._mark is not None:
            size = 0.5 * self._dressing.text_px
            painter.setPen(QColor(self._dressing.tones.ink))
            draw_sign(painter, self._mark, QPointF(1.6 * size, 1.6 * size), size)
