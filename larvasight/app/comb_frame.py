"""The comb with its line below: what the signs mean, and buttons to go nearer."""

from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from larvasight.app.comb_view import ZOOM_STEP, CombView
from larvasight.app.dressing import Dressing
from larvasight.app.legend import Legend
from larvasight.app.parts import button


class CombFrame(QWidget):
    """A comb view, the legend of its signs, and buttons for who has no wheel."""

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self.comb = CombView()
        self.legend = Legend(dressing)
        self._foot = foot = QFrame()
        foot.setObjectName("foot")
        row = QHBoxLayout(foot)
        row.setContentsMargins(0, 0, 8, 0)
        row.setSpacing(0)
        row.addWidget(self.legend, 1)
        for words, name, pressed in (
            ("\N{MINUS SIGN}", "Further away", lambda: self.comb.zoom_by(1.0 / ZOOM_STEP)),
            ("+", "Nearer", lambda: self.comb.zoom_by(ZOOM_STEP)),
            ("All", "The whole comb", self.comb.see_all),
        ):
            made = button(words, pressed, "plain")
            made.setToolTip(name)
            made.setAccessibleName(name)
            row.addWidget(made)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.comb, 1)
        column.addWidget(foot)

    @property
    def foot_px(self) -> int:
        """Height of the line below the comb."""
        return self._foot.sizeHint().height()
