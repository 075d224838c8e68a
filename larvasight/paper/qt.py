"""Qt without a window: the application object that text drawing needs, and our font."""

import os
import sys
from functools import cache
from pathlib import Path

from PySide6.QtGui import QFont, QFontDatabase, QGuiApplication

_FOLDER = Path(__file__).with_name("fonts")
FONT_FILES = ("AtkinsonHyperlegibleNext_400Regular.ttf", "AtkinsonHyperlegibleNext_700Bold.ttf")


def ensure_application() -> QGuiApplication:
    """Return the running Qt application, or start one that needs no screen."""
    running = QGuiApplication.instance()
    if isinstance(running, QGuiApplication):
        return running
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    return QGuiApplication(sys.argv[:1] or ["larvasight"])


@cache
def font_family() -> str:
    """Return the family name of the bundled font, loaded once; needs a Qt application."""
    families: list[str] = []
    for name in FONT_FILES:
        number = QFontDatabase.addApplicationFontFromData((_FOLDER / name).read_bytes())
        families += QFontDatabase.applicationFontFamilies(number)
    return families[0] if families else QFont().defaultFamily()


def text_font(size_px: float, *, bold: bool = False) -> QFont:
    """Return the bundled font at a size in px."""
    font = QFont(font_family())
    font.setPixelSize(max(1, round(size_px)))
    font.setBold(bold)
    return font
