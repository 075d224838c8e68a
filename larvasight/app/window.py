"""The window: rail, pages, menus, and what happens when the records cannot be used."""

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, QTimer
from PySide6.QtGui import QCloseEvent, QGuiApplication, QPaintEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QMainWindow,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.dressing import Dressing
from larvasight.app.icon import icon
from larvasight.app.parts import Notice
from larvasight.app.rail import Rail
from larvasight.app.settings import WindowSettings
from larvasight.app.trouble import TroubleBar

if TYPE_CHECKING:
    from larvasight.app.context import Context
    from larvasight.app.opening import Opened

PLACES = (("practise", "Practise"), ("photos", "My photos"), ("progress", "Progress"))
_SIZE = QSize(1280, 800)
_LEAST = QSize(900, 600)


class Window(QMainWindow):
    """Shows itself first; everything heavy is loaded after the first paint."""

    def __init__(self, dressing: Dressing, settings: WindowSettings) -> None:
        super().__init__()
        self.dressing = dressing
        self.settings = settings
        self.context: Context | None = None
        self.setWindowTitle("larvasight")
        self.setWindowIcon(icon("larvasight", size_px=64))
        self.rail = Rail(dressing, PLACES)
        self.rail.chosen.connect(self.go_to)
        self.rail.set_open(False)
        self.trouble = TroubleBar()
        self.pages = QStackedWidget()
        self.notice = Notice()
        self.pages.addWidget(self.notice)
        self._places: dict[str, QWidget] = {}
        self._lay_out()
        self._was_painted = False
        self._leaves_at_once = False
        self.setMinimumSize(_LEAST)
        if settings.geometry is None or not self.restoreGeometry(settings.geometry):
            self.resize(_SIZE.boundedTo(QGuiApplication.primaryScreen().availableSize()))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint; after the first time, begin to load."""
        super().paintEvent(event)
        if not self._was_painted:
            self._was_painted = True
            QTimer.singleShot(0, self._begin)

    def go_to(self, key: str) -> None:
        """Show one of the places."""
        page = self._places.get(key)
        if page is None:
            return
        self.rail.set_place(key)
        self.pages.setCurrentWidget(page)
        arrive = getattr(page, "arrive", None)
        if arrive is not None:
            arrive()

    def place(self, key: str) -> QWidget:
        """Return the page of a place."""
        return self._places[key]

    def closeEvent(self, event: QCloseEvent) -> None:
        """Store what is in line; ask when something cannot be stored."""
        from larvasight.app.leaving import may_leave

        if self._leaves_at_once:
            event.accept()
            return
        if self.context is not None and not may_leave(self, self.context):
            event.ignore()
            return
        self.settings.geometry = self.saveGeometry()
        event.accept()

    def leave_at_once(self) -> None:
        """Close without a question: the records are closed already."""
        self._leaves_at_once = True
        self.close()

    def show_opened(self, opened: "Opened") -> None:
        """Go on with the open records."""
        from larvasight.app.furnish import furnish

        furnish(self, opened)

    def show_failed(self, title: str, sentence: str, *buttons: QPushButton) -> None:
        """Say why the records cannot be used, and what can be done."""
        self.notice.say(title, sentence, *buttons)
        self.pages.setCurrentWidget(self.notice)

    def add_places(self, places: dict[str, QWidget]) -> None:
        """Put the pages in; from now on the rail works."""
        for key, page in places.items():
            self._places[key] = page
            self.pages.addWidget(page)

    def _begin(self) -> None:
        from larvasight.app.opening import open_records

        open_records(self)

    def _lay_out(self) -> None:
        ground = QWidget()
        ground.setObjectName("ground")
        row = QHBoxLayout(ground)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.rail)
        right = QVBoxLayout()
        right.setSpacing(0)
        right.addWidget(self.trouble)
        right.addWidget(self.pages, 1)
        row.addLayout(right, 1)
        self.setCentralWidget(ground)
