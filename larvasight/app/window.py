"""The window: rail, pages, menus, and what happens when the records cannot be used."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import QLockFile, QSize, QTimer
from PySide6.QtGui import QCloseEvent, QGuiApplication, QKeySequence, QPaintEvent, QShortcut
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
    from larvasight.app.practise_page import PractisePage
    from larvasight.app.welcome import Welcome

PLACES = (
    ("practise", "Practise"),
    ("photos", "My photos"),
    ("progress", "Progress"),
    ("timetable", "Timetable"),
    ("grafts", "Grafts"),
)
_SIZE = QSize(1280, 800)


class Window(QMainWindow):
    """Shows itself first; everything heavy is loaded after the first paint."""

    def __init__(self, dressing: Dressing, settings: WindowSettings) -> None:
        super().__init__()
        self.dressing = dressing
        self.settings = settings
        self.context: Context | None = None
        self.welcome: Welcome | None = None
        self.setWindowTitle("larvasight")
        self.setWindowIcon(icon("larvasight", size_px=64))
        self.rail = Rail(dressing, PLACES)
        self.rail.chosen.connect(self._go_or_return)
        self.rail.set_open(False)
        self.trouble = TroubleBar()
        self.pages = QStackedWidget()
        self.notice = Notice()
        self.pages.addWidget(self.notice)
        self._makers: dict[str, Callable[[], QWidget]] = {}
        self._places: dict[str, QWidget] = {}
        self._lay_out()
        self._was_painted = False
        self._lock: QLockFile | None = None
        self.rail.learner_pressed.connect(self._choose_learner)
        self.trouble.retry.connect(self._try_again)
        QShortcut(QKeySequence("Ctrl+Q"), self, self.close)
        self.dressing.changed.connect(self._fit)
        self._fit()
        if settings.geometry is None or not self.restoreGeometry(settings.geometry):
            # The system's frame stands around the window.
            room = QGuiApplication.primaryScreen().availableSize() - QSize(8, 48)
            self.resize(_SIZE.boundedTo(room))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint; after the first time, begin to load."""
        super().paintEvent(event)
        if not self._was_painted:
            self._was_painted = True
            QTimer.singleShot(0, self._begin)

    def go_to(self, key: str) -> None:
        """Show one of the places."""
        if key not in self._makers or self.context is None or self.context.learner is None:
            return
        page = self.place(key)
        self.rail.set_place(key)
        self.pages.setCurrentWidget(page)
        arrive = getattr(page, "arrive", None)
        if arrive is not None:
            arrive()

    def _go_or_return(self, key: str) -> None:
        """Go to a place; pressed once more, Practise goes back to its list of drills."""
        page = self._places.get(key)
        if key == "practise" and page is not None and self.pages.currentWidget() is page:
            cast("PractisePage", page).stop()
        else:
            self.go_to(key)

    def place(self, key: str) -> QWidget:
        """Return the page of a place; it is made the first time it is asked for."""
        if key not in self._places:
            page = self._places[key] = self._makers[key]()
            self.pages.addWidget(page)
        return self._places[key]

    def closeEvent(self, event: QCloseEvent) -> None:
        """Store what is in line; ask when something cannot be stored."""
        from larvasight.app.jobs import wait_for_jobs
        from larvasight.app.leaving import may_leave

        if self.context is not None and not may_leave(self, self.context):
            event.ignore()
            return
        if self.context is None:  # the records may just be opened, or a backup put in place
            wait_for_jobs()
        self.settings.geometry = self.saveGeometry()
        if self._lock is not None:
            self._lock.unlock()
        event.accept()

    def lock(self, folder: Path) -> bool:
        """Keep other windows off a folder's records; False when one has them already.

        A folder that cannot be written is not locked: what that means is told when it is opened.
        """
        with suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True)
        if self._lock is None:
            self._lock = QLockFile(str(folder / "window.lock"))
            self._lock.setStaleLockTime(0)
        if self._lock.isLocked() or self._lock.tryLock(0):
            return True
        return self._lock.error() is not QLockFile.LockError.LockFailedError

    def start_over(self) -> None:
        """Open the records anew, as at the start; those open before are closed already."""
        self.context = None
        # Not now: a menu of those that go is still at work.
        QTimer.singleShot(0, self._clear_and_begin)

    def show_opened(self, opened: "Opened") -> None:
        """Go on with the open records."""
        from larvasight.app.furnish import furnish

        furnish(self, opened)

    def show_failed(self, title: str, sentence: str, *buttons: QPushButton) -> None:
        """Say why the records cannot be used, and what can be done."""
        self.notice.say(title, sentence, *buttons)
        self.pages.setCurrentWidget(self.notice)

    def add_places(self, makers: Mapping[str, Callable[[], QWidget]]) -> None:
        """Say how the page of each place is made; from now on the rail works."""
        self._makers.update(makers)

    def _clear_and_begin(self) -> None:
        self.menuBar().clear()
        for page in self._places.values():
            self.pages.removeWidget(page)
            page.deleteLater()
        self._places.clear()
        self._makers.clear()
        self.trouble.remark("")
        self.rail.set_learner("")
        self.rail.set_open(False)
        self.pages.setCurrentWidget(self.notice)
        self._begin()

    def _choose_learner(self) -> None:
        from larvasight.app.learners import choose_learner

        if self.context is not None:
            choose_learner(self, self.context)

    def _try_again(self) -> None:
        if self.context is not None:
            self.context.keeper.try_again()

    def _fit(self) -> None:
        """Keep the window large enough for its words, and no larger than the screen."""
        least = QSize(50 * self.dressing.text_px, 33 * self.dressing.text_px)
        room = QGuiApplication.primaryScreen().availableSize() - QSize(8, 48)
        self.setMinimumSize(least.boundedTo(room))

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
