"""The loupe: how many times larger comb is shown, on a screen whose dots are known in mm."""

from PySide6.QtCore import QObject, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QPainter, QPainterPath, QPen, QScreen
from PySide6.QtWidgets import QWidget

from larvasight.app.settings import WindowSettings
from larvasight.geometry.loupe import magnifications, screen_px_per_mm

# Around a loupe it is dark in either look.
DARK_AROUND = QColor("#0b0806")
_RIM_WIDTH_PX = 5.0
_RIM_COLOUR = QColor("#3a2f26")
_RIM_EDGE = QColor("#8a7866")


class Loupe(QObject):
    """Which loupe all views of comb share; ``changed`` tells when it is another one.

    Parameters
    ----------
    settings : WindowSettings
        Remembers it, and what was measured on each screen.
    """

    changed = Signal()

    def __init__(self, settings: WindowSettings) -> None:
        super().__init__()
        self._settings = settings
        self._magnification = settings.magnification
        if self._magnification not in magnifications():
            self._magnification = None

    @property
    def magnification(self) -> float | None:
        """How many times larger comb is shown, None without a loupe."""
        return self._magnification

    def use(self, magnification: float | None) -> None:
        """Take another loupe, None puts it away."""
        if magnification != self._magnification:
            self._magnification = self._settings.magnification = magnification
            self.changed.emit()

    def next_after(self, step: int) -> float | None:
        """Return the loupe ``step`` places on, none at all being one of them."""
        every = (None, *magnifications())
        return every[(every.index(self._magnification) + step) % len(every)]

    def stronger(self, step: int) -> float | None:
        """Return the loupe ``step`` places stronger, the strongest and none being the ends."""
        every = (None, *magnifications())
        at = every.index(self._magnification) + step
        return every[min(max(at, 0), len(every) - 1)]

    def is_matched(self, screen: QScreen) -> bool:
        """Return whether a card was held to this screen."""
        return self._settings.screen_dots_per_mm(screen_key(screen)) is not None

    def px_per_mm(self, screen: QScreen) -> float | None:
        """Return how many of the window's pixels a mm of a screen has; None where unknown."""
        dots = self._settings.screen_dots_per_mm(screen_key(screen))
        return None if dots is None else dots / screen.devicePixelRatio()

    def match(self, screen: QScreen, card_width_px: float) -> None:
        """Remember how wide, in the window's pixels, a bank card is on a screen."""
        dots = screen_px_per_mm(card_width_px) * screen.devicePixelRatio()
        self._settings.set_screen_dots_per_mm(screen_key(screen), dots)
        self.changed.emit()


def screen_key(screen: QScreen) -> str:
    """Return a name for a screen at its present number of dots."""
    size = screen.size() * screen.devicePixelRatio()
    named = (screen.manufacturer(), screen.model(), screen.serialNumber(), screen.name())
    words = " ".join((*named, f"{size.width()}x{size.height()}"))
    return "".join(sign if sign.isalnum() else "-" for sign in words)


def words_of(magnification: float | None) -> str:
    """Return what a loupe is called."""
    if magnification is None:
        return "No loupe"
    kind = "Microscope" if magnification == magnifications()[-1] else "Loupe"
    return f"{kind} {magnification:g}\N{MULTIPLICATION SIGN}"


def draw_dark_around(
    painter: QPainter, view: QWidget, field_px: float, dark: QColor = DARK_AROUND
) -> None:
    """Darken a view but for a round field in its middle; ``dark`` may let some of it through."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    whole = QRectF(view.rect())
    middle, reach = QPointF(whole.center()), field_px / 2.0
    path = QPainterPath()
    path.addRect(whole.adjusted(-2.0, -2.0, 2.0, 2.0))
    path.addEllipse(middle, reach, reach)
    painter.fillPath(path, QBrush(dark))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for colour, width, inset in ((_RIM_COLOUR, _RIM_WIDTH_PX, 0.0), (_RIM_EDGE, 1.0, 2.5)):
        painter.setPen(QPen(colour, width))
        painter.drawEllipse(middle, reach - inset, reach - inset)
