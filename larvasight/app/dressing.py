"""What every widget needs to know of the present look."""

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QApplication

from larvasight.app.theme import NIGHT, PAPER, Look, Tones, dress, tones_of

if TYPE_CHECKING:
    from larvasight.paper.inks import Inks


class Dressing(QObject):
    """The present colours and text size; ``changed`` tells when they change."""

    changed = Signal()

    def __init__(self, app: QApplication, look: Look, text_px: int) -> None:
        super().__init__()
        self._app = app
        self.look = look
        self.text_px = text_px
        self.tones: Tones = PAPER
        self.apply()
        app.styleHints().colorSchemeChanged.connect(self._system_changed)

    @property
    def inks(self) -> "Inks":
        """The colours of charts."""
        from larvasight.paper.inks import DARK, LIGHT  # not needed before the first paint

        return DARK if self.tones is NIGHT else LIGHT

    def wear(self, *, look: Look | None = None, text_px: int | None = None) -> None:
        """Change the look or the text size of the whole program."""
        self.look = look or self.look
        self.text_px = text_px or self.text_px
        self.apply()
        self.changed.emit()

    def apply(self) -> None:
        """Give the program its present look."""
        self.tones = tones_of(self.look)
        dress(self._app, self.tones, self.text_px)

    def _system_changed(self) -> None:
        if self.look is Look.SYSTEM:
            self.wear()
