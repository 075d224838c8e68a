"""At the bench: minutes out of the hive and cups done, in letters that are read from afar."""

from datetime import datetime, timedelta
from typing import Final

from PySide6.QtCore import QSize, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QCheckBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.context import Context
from larvasight.app.parts import button, label, side_width_px
from larvasight.grafts import CUPS_MAX
from larvasight.timetable.cautions import GRAFTING_DAY

SOUND_EVERY_MIN: Final = 5
_TICK_MS: Final = 1000
# Height of the figures in text heights, and most of the page's height.
_LARGE_EM: Final = 8
_LARGE_SHARE: Final = 0.19
_NO_LIMIT: Final = (
    "No measured limit is known to us: be quick, and keep the comb warm, damp and covered."
)


class Bench(QWidget):
    """Counts minutes and cups; ``done`` carries both once the comb is back.

    The clock goes on while another page is looked at.
    """

    done = Signal(float, int, object)
    given_up = Signal()

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._began: datetime | None = None
        self._n_sounds = 0
        self.n_cups = 0
        self._minutes = _large()
        self._cups = _large()
        self._told = label("", "lead")
        self._told.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        self.sound = QCheckBox(f"A soft sound every {SOUND_EVERY_MIN} minutes")
        self.sound.setChecked(True)
        self._start = button("The comb is out: start  (Enter)", self.start, "main")
        self._more = button("One cup more  (Space)", lambda: self.count(1), "main")
        self._less = button("One less  (Backspace)", lambda: self.count(-1))
        self._stop = button("The comb is back  (Enter)", self.stop)
        self._leave = button("Leave", self.leave, "plain")
        for made in (self._more, self._less, self._stop):
            made.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._timer = QTimer(self)
        self._timer.setInterval(_TICK_MS)
        self._timer.timeout.connect(self.tick)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._side = _cautions_side()
        self._lay_out()
        context.dressing.changed.connect(self._fit)
        self._fit()
        self._show()

    @property
    def minutes(self) -> int | None:
        """Whole minutes that a comb is out of the hive, None while none is."""
        return int(self._out() / timedelta(minutes=1)) if self.is_running else None

    @property
    def is_running(self) -> bool:
        """Whether a comb is out of the hive."""
        return self._began is not None

    def start(self) -> None:
        """Begin to count."""
        self._began = self._context.now()
        self._n_sounds = 0
        self.n_cups = 0
        self._timer.start()
        self._show()
        self.setFocus()

    def stop(self) -> None:
        """End counting and hand on minutes, cups and when it began."""
        if self._began is None:
            return
        began, minutes = self._began, round(self._out() / timedelta(minutes=1))
        self._end()
        self.done.emit(float(minutes), self.n_cups, began)

    def leave(self) -> None:
        """Go back; a clock that runs goes on."""
        self.given_up.emit()

    def count(self, step: int) -> None:
        """Count a cup, or take one back."""
        if self._began is not None:
            self.n_cups = min(max(self.n_cups + step, 0), CUPS_MAX)
            self._show()
            self.setFocus()

    def tick(self) -> None:
        """Show the time anew; every five minutes make a sound."""
        if self._began is None:
            return
        n_due = int(self._out() / timedelta(minutes=SOUND_EVERY_MIN))
        if n_due > self._n_sounds:
            self._n_sounds = n_due
            if self.sound.isChecked():
                QApplication.beep()
        self._show()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter starts and ends, Space counts a cup, Backspace takes it back."""
        key = event.key()
        is_enter = key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and not event.isAutoRepeat()
        if is_enter and not self.is_running:
            self.start()
        elif not self.is_running:
            super().keyPressEvent(event)
        elif key == Qt.Key.Key_Space:
            self.count(1)
        elif key == Qt.Key.Key_Backspace:
            self.count(-1)
        elif is_enter:
            self.stop()
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the cautions beside the figures."""
        super().resizeEvent(event)
        self._fit()

    def _out(self) -> timedelta:
        assert self._began is not None
        return max(timedelta(), self._context.now() - self._began)

    def _end(self) -> None:
        self._timer.stop()
        self._began = None
        self._show()

    def _show(self) -> None:
        is_running = self.is_running
        minutes = self.minutes or 0
        self._minutes.setText(f"{minutes} min")
        self._cups.setText(str(self.n_cups) if is_running else "0")
        self._told.setText(self._words(minutes) if is_running else _NO_LIMIT)
        self._start.setVisible(not is_running)
        for made in (self._more, self._less, self._stop):
            made.setVisible(is_running)
        if self._side.isHidden() is not is_running:
            self._side.setVisible(not is_running)
            self._fit()

    def _words(self, minutes: int) -> str:
        """Say what the sound says, for those who cannot hear it, and otherwise what matters."""
        if self._n_sounds and minutes == self._n_sounds * SOUND_EVERY_MIN:
            return f"{minutes} minutes out of the hive."
        return _NO_LIMIT

    def _fit(self) -> None:
        """Make the figures as large as the page allows; the cautions leave while a comb is out."""
        text_px = self._context.dressing.text_px
        size_px = round(min(_LARGE_EM * text_px, _LARGE_SHARE * max(self.height(), 20 * text_px)))
        for made in (self._minutes, self._cups):
            made.setStyleSheet(f"font-size: {size_px}px; font-weight: 700;")
        self._side.setFixedWidth(side_width_px(text_px, max(self.width(), 640)))

    def _lay_out(self) -> None:
        figures = QHBoxLayout()
        figures.setSpacing(24)
        for figure, words in (
            (self._minutes, "since the comb left the hive"),
            (self._cups, "cups done"),
        ):
            figures.addWidget(_card(figure, words), 1)
        column = QVBoxLayout()
        column.setContentsMargins(32, 24, 32, 24)
        column.setSpacing(20)
        column.addWidget(label("At the bench", "title"))
        column.addLayout(figures, 1)
        column.addWidget(self._told)
        column.addWidget(self._start)
        column.addWidget(self._more)
        row = QHBoxLayout()
        row.addWidget(self._less, 1)
        row.addWidget(self._stop, 1)
        column.addLayout(row)
        foot = QHBoxLayout()
        foot.addWidget(self.sound)
        foot.addStretch(1)
        foot.addWidget(self._leave)
        column.addLayout(foot)
        outer = QHBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(0)
        outer.addLayout(column, 1)
        outer.addWidget(self._side)


def _large() -> QLabel:
    made = label("", wrap=False)
    made.setAlignment(Qt.AlignmentFlag.AlignCenter)
    return made


def _card(figure: QLabel, words: str) -> QFrame:
    card = QFrame()
    card.setObjectName("sheet")
    column = QVBoxLayout(card)
    column.setContentsMargins(16, 24, 16, 24)
    column.addStretch(1)
    column.addWidget(figure)
    under = label(words, "lead")
    under.setAlignment(Qt.AlignmentFlag.AlignHCenter)
    column.addWidget(under)
    column.addStretch(1)
    return card


def _cautions_side() -> QFrame:
    """Return the column of what can go wrong on the day of grafting."""
    side = QFrame()
    side.setObjectName("side")
    inside = QWidget()
    column = QVBoxLayout(inside)
    column.setContentsMargins(20, 16, 20, 16)
    column.setSpacing(12)
    column.addWidget(label("Before you begin", "lead"))
    for sentence in GRAFTING_DAY:
        column.addWidget(label(sentence))
    column.addStretch(1)
    scroll = QScrollArea()
    scroll.setWidgetResizable(True)
    scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    scroll.setMinimumSize(QSize(0, 0))
    scroll.setWidget(inside)
    outer = QVBoxLayout(side)
    outer.setContentsMargins(0, 0, 0, 0)
    outer.addWidget(scroll)
    return side
