"""The comb with its line below: what the signs mean, the loupe, and buttons to go nearer."""

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.card_dialog import choose_magnification
from larvasight.app.comb_view import ZOOM_STEP, CombView
from larvasight.app.dressing import Dressing
from larvasight.app.legend import Legend
from larvasight.app.loupe import Loupe, words_of
from larvasight.app.parts import button
from larvasight.geometry.loupe import magnifications


class CombFrame(QWidget):
    """A comb view, the legend of its signs, the loupe, and buttons for who has no wheel."""

    def __init__(self, dressing: Dressing, loupe: Loupe) -> None:
        super().__init__()
        self._loupe = loupe
        self.comb = CombView(loupe)
        self.legend = Legend(dressing)
        self._foot = foot = QFrame()
        foot.setObjectName("foot")
        self._rows = QBoxLayout(QBoxLayout.Direction.LeftToRight, foot)
        self._rows.setContentsMargins(0, 0, 8, 0)
        self._rows.setSpacing(0)
        self._rows.addWidget(self.legend, 1)
        self._tools = QWidget()
        self._rows.addWidget(self._tools)
        row = QHBoxLayout(self._tools)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addStretch(1)
        self.loupes = self._loupes()
        row.addWidget(self.loupes)
        self._near: list[QPushButton] = []
        for words, name, pressed in (
            ("\N{MINUS SIGN}", "Further away", lambda: self.comb.zoom_by(1.0 / ZOOM_STEP)),
            ("+", "Nearer", lambda: self.comb.zoom_by(ZOOM_STEP)),
            ("All", "The whole comb", self.comb.put_loupe_away),
        ):
            made = button(words, pressed, "plain")
            made.setToolTip(name)
            made.setAccessibleName(name)
            row.addWidget(made)
            self._near.append(made)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.comb, 1)
        column.addWidget(foot)
        self.legend.changed.connect(self._fit)
        dressing.changed.connect(self._fit)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the legend above the loupe where both have no room beside each other."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        needed_px = self.legend.needed_px + self._tools.sizeHint().width() + 8
        beside = needed_px <= self.width()
        ways = QBoxLayout.Direction
        self._rows.setDirection(ways.LeftToRight if beside else ways.TopToBottom)

    @property
    def foot_px(self) -> int:
        """Height of the line below the comb."""
        return self._foot.sizeHint().height()

    def hold_loupe(self, *, is_held: bool) -> None:
        """Let nobody change the loupe; one that is held lets nothing be brought nearer, too."""
        self.loupes.hide()
        for widget in self._near:
            widget.setVisible(not is_held)

    def _loupes(self) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName("Loupe")
        box.setToolTip("How large cells are shown (M)")
        for magnification in (None, *magnifications()):
            box.addItem(words_of(magnification), magnification)
        self._loupe.changed.connect(self._follow)
        box.activated.connect(self._choose)
        box.setCurrentIndex(box.findData(self._loupe.magnification))
        return box

    def _follow(self) -> None:
        self.loupes.setCurrentIndex(self.loupes.findData(self._loupe.magnification))

    def _choose(self, row: int) -> None:
        choose_magnification(self, self._loupe, self.loupes.itemData(row))
        self._follow()
        self.comb.setFocus()
