"""The loupe in the View menu."""

from collections.abc import Callable
from functools import partial

from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QMenu, QWidget

from larvasight.app.card_dialog import choose_magnification, match_screen
from larvasight.app.loupe import Loupe, words_of
from larvasight.geometry.loupe import magnifications


def add_loupe_menu(menu: QMenu, window: QWidget, loupe: Loupe) -> None:
    """Offer every loupe, and to match the screen again."""
    inner = menu.addMenu("Loupe")
    group = QActionGroup(inner)
    made: dict[float | None, QAction] = {}

    def follow() -> None:
        made[loupe.magnification].setChecked(True)

    def choose(magnification: float | None) -> None:
        choose_magnification(window, loupe, magnification)
        follow()

    for magnification in (None, *magnifications()):
        action = inner.addAction(words_of(magnification))
        action.setCheckable(True)
        action.triggered.connect(partial(_ignoring, partial(choose, magnification)))
        group.addAction(action)
        made[magnification] = action
    follow()
    loupe.changed.connect(follow)
    inner.addSeparator()
    again = inner.addAction("Match the screen with a card ...")
    again.triggered.connect(partial(_ignoring, partial(match_screen, window, loupe)))


def _ignoring(done: Callable[[], object], _checked: bool = False) -> None:
    done()
