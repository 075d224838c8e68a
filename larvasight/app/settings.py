"""What this computer remembers of the window: its place, look and text size."""

from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings

from larvasight.app.theme import TEXT_PX_DEFAULT, TEXT_PX_MAX, TEXT_PX_MIN, Look

# No screen has fewer or more dots to a mm.
_DOTS_LEAST = 0.2
_DOTS_MOST = 60.0


class WindowSettings:
    """The window's own settings; everything about learners lives in the records.

    Parameters
    ----------
    folder : Path, optional
        Keep them in this folder instead of the platform's place.
    """

    def __init__(self, folder: Path | None = None) -> None:
        if folder is None:
            self._stored = QSettings("larvasight", "larvasight")
        else:
            self._stored = QSettings(str(folder / "window.ini"), QSettings.Format.IniFormat)

    @property
    def look(self) -> Look:
        """Light, dark or the system's."""
        try:
            return Look(str(self._stored.value("look", Look.SYSTEM.value)))
        except ValueError:
            return Look.SYSTEM

    @look.setter
    def look(self, look: Look) -> None:
        self._stored.setValue("look", look.value)

    @property
    def text_px(self) -> int:
        """Height of the text, px."""
        try:
            wanted = int(str(self._stored.value("text_px", TEXT_PX_DEFAULT)))
        except ValueError:
            return TEXT_PX_DEFAULT
        return min(max(wanted, TEXT_PX_MIN), TEXT_PX_MAX)

    @text_px.setter
    def text_px(self, text_px: int) -> None:
        self._stored.setValue("text_px", text_px)

    @property
    def geometry(self) -> QByteArray | None:
        """Where the window was and how large, None the first time."""
        stored = self._stored.value("geometry")
        return stored if isinstance(stored, QByteArray) else None

    @geometry.setter
    def geometry(self, geometry: QByteArray) -> None:
        self._stored.setValue("geometry", geometry)

    @property
    def learner(self) -> str:
        """Id of the learner who was here last, empty the first time."""
        return str(self._stored.value("learner", ""))

    @learner.setter
    def learner(self, learner: str) -> None:
        self._stored.setValue("learner", learner)

    @property
    def photo_folder(self) -> str:
        """Folder of the photo opened last, empty the first time."""
        return str(self._stored.value("photo_folder", ""))

    @photo_folder.setter
    def photo_folder(self, folder: str) -> None:
        self._stored.setValue("photo_folder", folder)

    @property
    def magnification(self) -> float | None:
        """How many times larger comb was shown last, None without a loupe."""
        return self._number("magnification")

    @magnification.setter
    def magnification(self, magnification: float | None) -> None:
        self._stored.setValue("magnification", "" if magnification is None else magnification)

    def screen_dots_per_mm(self, screen: str) -> float | None:
        """Return how many dots a mm of a screen has, None where nobody measured it."""
        dots = self._number(f"screens/{screen}")
        return dots if dots is not None and _DOTS_LEAST < dots < _DOTS_MOST else None

    def set_screen_dots_per_mm(self, screen: str, dots_per_mm: float) -> None:
        """Remember what was measured on a screen."""
        self._stored.setValue(f"screens/{screen}", dots_per_mm)

    def _number(self, name: str) -> float | None:
        try:
            return float(str(self._stored.value(name, "")))
        except ValueError:
            return None
