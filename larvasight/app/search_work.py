"""A search under way: the comb side through its field, and the bar of cups beside it."""

from collections.abc import Callable

from PySide6.QtCore import QElapsedTimer, QPointF, QSizeF, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from larvasight.app.cell_item import Face, Rim
from larvasight.app.comb_supply import ReadyComb
from larvasight.app.dressing import Dressing
from larvasight.app.loupe import Loupe
from larvasight.app.parts import button, column, label, side_width_px
from larvasight.app.practise_words import LOOK_FOR, span_words
from larvasight.app.search_cups import CupBar, SideMap
from larvasight.app.search_sight import SearchSight
from larvasight.app.search_words import KEYS, cups_words, level_words, time_words
from larvasight.desk.searching import SearchSession

_LOOK_MS = 100
_BARE = Face()
_PENCIL, _INK = Face(rim=Rim.PENCIL), Face(rim=Rim.INK)


class SearchWork(QWidget):
    """Puts a comb side before the learner; ``ended`` carries the session once all is stored.

    Parameters
    ----------
    dressing, loupe : Dressing, Loupe
        The present look, and the loupe to look through.
    """

    ended = Signal(object)
    stopped = Signal()

    def __init__(self, dressing: Dressing, loupe: Loupe) -> None:
        super().__init__()
        self._session: SearchSession | None = None
        self._is_storing = False
        # What was done last to each cell: an older step that is stored shows nothing.
        self._latest: dict[int, int] = {}
        self._n_steps = 0
        self._stored: set[int] = set()
        self.sight = SearchSight(loupe)
        self.side = _Column(dressing, end=self.end, back=self.take_back, stop=self.stopped.emit)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.sight, 1)
        row.addWidget(self.side)
        self.sight.cell_pressed.connect(self.press)
        self._watch = QElapsedTimer()
        self._timer = QTimer(self)
        self._timer.setInterval(_LOOK_MS)
        self._timer.timeout.connect(self.look)

    @property
    def session(self) -> SearchSession | None:
        """The search under way, None between searches."""
        return self._session

    def ask(self, ready: ReadyComb, session: SearchSession) -> None:
        """Begin a search; the comb is out of the hive from now on."""
        self._session, self._is_storing = session, False
        self._latest.clear()
        self._stored.clear()
        sheet = ready.comb.sheet
        self.sight.show_comb(
            ready.image,
            ready.places,
            sheet.lattice.row_angle_deg,
            px_per_mm=sheet.scale.px_per_mm,
            smaller=ready.smaller,
            scrolls=True,
        )
        self.sight.go_to(session.side.begin_xy_px)
        self.side.ask(session, QSizeF(ready.image.size()))
        session.begin(self.sight.magnification)
        self._watch.start()
        self._timer.start()
        self.look()
        self.sight.setFocus()

    def put_away(self) -> None:
        """Show nothing more of a side."""
        self._timer.stop()
        self._session = None
        self.sight.clear()

    def press(self, index: int) -> None:
        """Take a larva, or put it back; the last cup filled ends the search."""
        session = self._session
        if session is None or self._is_storing:
            return
        is_taken = session.toggle(index, self._when_stored(session, index))
        self._show_step(session, index, is_taken=is_taken)
        if session.is_full:
            self.end()

    def take_back(self) -> None:
        """Put the latest larva back."""
        session = self._session
        if session is None or self._is_storing or not session.taken:
            return
        index = session.taken[-1]
        session.take_back(self._when_stored(session, index))
        self._show_step(session, index, is_taken=False)

    def end(self) -> None:
        """End the search; told once all of it is stored."""
        session = self._session
        if session is None or self._is_storing:
            return
        self.look()
        self._is_storing = True
        self._timer.stop()
        self.side.wait()
        session.end(lambda: self._tell(session))

    def look(self) -> None:
        """Note where the field is; the clock goes on."""
        session = self._session
        if session is None:
            return
        for_s = self._watch.restart() / 1000.0
        middle = self.sight.middle
        seen_s = min(for_s, 1.0) if self.sight.isVisible() else 0.0
        session.look((middle.x(), middle.y()), self.sight.in_field(), seen_s)
        self.side.map.show_field(middle, self.sight.radius_px)
        self.side.show_time(session.minutes)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter ends, Z puts back; the comb has the keys for moving and taking."""
        if event.isAutoRepeat():
            super().keyPressEvent(event)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.end()
        elif event.key() == Qt.Key.Key_Z:
            self.take_back()
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the column within the page."""
        super().resizeEvent(event)
        self.side.fit_to(self.width())

    def _when_stored(self, session: SearchSession, index: int) -> Callable[[], None]:
        self._n_steps += 1
        step = self._latest[index] = self._n_steps

        def stored() -> None:
            if self._session is session and self._latest.get(index) == step:
                is_taken = index in session.taken
                (self._stored.add if is_taken else self._stored.discard)(index)
                self.sight.set_face(index, _INK if is_taken else _BARE)
                self._show_cups(session)

        return stored

    def _show_step(self, session: SearchSession, index: int, *, is_taken: bool) -> None:
        """Show a larva taken in pencil until it is stored; one put back is gone at once."""
        self._stored.discard(index)
        self.sight.set_face(index, _PENCIL if is_taken else _BARE)
        self._show_cups(session)

    def _show_cups(self, session: SearchSession) -> None:
        self.side.show_taken(len(session.taken), sum(k in self._stored for k in session.taken))
        middles = session.side.middles_xy_px[session.taken]
        self.side.map.show_taken([QPointF(x, y) for x, y in middles])

    def _tell(self, session: SearchSession) -> None:
        if self._session is session:
            self._session = None
            self.ended.emit(session)


class _Column(QFrame):
    """What stands beside the field: task, cups, clock, map, keys."""

    def __init__(
        self,
        dressing: Dressing,
        *,
        end: Callable[[], object],
        back: Callable[[], object],
        stop: Callable[[], object],
    ) -> None:
        super().__init__()
        self.setObjectName("side")
        self._dressing = dressing
        self._page_px = 1280
        self._task, self._level = label("", "lead"), label("", "faint")
        self._cups, self._count = CupBar(dressing), label("")
        self._clock = label("")
        self.map = SideMap(dressing)
        self._spans = label("", "faint")
        self.end_button = button("Done: show me", end, "main")
        self.back_button = button("Put the last one back", back)
        here = QWidget()
        beside = QHBoxLayout(here)
        beside.setContentsMargins(0, 0, 0, 0)
        beside.addWidget(self.map, 5)
        beside.addWidget(column(self._count, self._clock), 6)
        look_for = label(LOOK_FOR)
        keys = label(KEYS, "faint")
        inner = column(
            *(self._cups, here, look_for, self._spans, keys), spacing=12, margins=(16, 8, 16, 8)
        )
        inside = inner.layout()
        if isinstance(inside, QVBoxLayout):
            inside.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setWidget(inner)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(column(self._task, self._level, margins=(16, 16, 16, 0)))
        outer.addWidget(scroll, 1)
        stop_button = button("Stop here", stop, "plain")
        buttons = (self.end_button, self.back_button, stop_button)
        outer.addWidget(column(*buttons, margins=(16, 0, 16, 16)))
        dressing.changed.connect(self.fit)
        self.fit()

    def fit_to(self, page_px: int) -> None:
        """Keep the column within a page of this width."""
        self._page_px = page_px
        self.fit()

    def fit(self) -> None:
        """Keep the column as wide as its words need and the page allows."""
        self.setFixedWidth(side_width_px(self._dressing.text_px, self._page_px))

    def ask(self, session: SearchSession, size_px: QSizeF) -> None:
        """Show what is asked."""
        self._task.setText(session.side.comb.drill.task)
        self._level.setText(level_words(session.side.level))
        self._spans.setText(span_words(session.limits))
        self.map.show_side(size_px)
        self.end_button.setEnabled(True)
        self.end_button.setText("Done: show me")
        self.show_taken(0, 0)

    def show_taken(self, n_taken: int, n_stored: int) -> None:
        """Show how many cups are filled."""
        self._cups.show_taken(n_taken, n_stored)
        self._count.setText(cups_words(n_taken))
        self.back_button.setEnabled(n_taken > 0)

    def show_time(self, minutes: float) -> None:
        """Show how long the comb has been out of the hive."""
        self._clock.setText(f"Out of the hive for {time_words(minutes)}")

    def wait(self) -> None:
        """Show that answers are being stored."""
        self.end_button.setText("Storing ...")
        for widget in (self.end_button, self.back_button):
            widget.setEnabled(False)
