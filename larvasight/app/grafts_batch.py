"""One batch: its bar to be marked cup by cup, what came of it, and how it was grafted."""

from collections import Counter
from collections.abc import Callable
from datetime import date
from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.context import Context
from larvasight.app.day_box import DayBox
from larvasight.app.grafts_bar import CupBar
from larvasight.app.parts import button, label, side_width_px
from larvasight.desk.reporting import local_zone
from larvasight.errors import GraftInvalidError
from larvasight.grafts import Batch, Fate, Stage
from larvasight.grafts.acceptance import steps_of, takes_of
from larvasight.grafts.marking import cleared, cup_of, fated, reached
from larvasight.grafts.telling import hundred, steps_words
from larvasight.grafts.words import (
    AGE_WORDS,
    FEEDING_WORDS,
    PRIMING_WORDS,
    TIMES_WORDS,
    TOOL_WORDS,
    batch_words,
    cup_words,
    day_words,
    value_words,
)

_OUTCOMES: tuple[tuple[str, str, Stage | Fate | None], ...] = (
    ("A", "accepted", Stage.ACCEPTED),
    ("X", "not accepted, or lost", Fate.LOST),
    ("C", "capped", Stage.CAPPED),
    ("E", "emerged", Stage.EMERGED),
    ("M", "mated", Stage.MATED),
    ("L", "laying", Stage.LAYING),
    ("G", "given away alive", Fate.GIVEN_AWAY),
    ("O", "not looked at yet", None),
)
_STORING, _STORED = "Storing ...", "Everything is stored."


class BatchView(QWidget):
    """Shows one batch; ``changed`` carries it after each mark, to be stored."""

    changed = Signal(object, int)
    back_pressed = Signal()
    change_pressed = Signal()
    delete_pressed = Signal()

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._before: list[tuple[Batch, int]] = []
        self._waiting: Counter[int] = Counter()
        self.batch: Batch | None = None
        self._title = label("", "lead")
        self._problem = label("", "wrong")
        self._stored = label("", "faint")
        self._seen_on = DayBox()
        self._seen_on.setAccessibleName("Day on which it was seen")
        self._seen_on.setMinimumWidth(170)
        self.bar = CupBar(context.dressing)
        self.bar.stage_wanted.connect(self.note)
        self.bar.fate_wanted.connect(self.note)
        self.bar.clear_wanted.connect(lambda number: self.note(number, None))
        self.bar.back_wanted.connect(self.take_back)
        self.bar.current_changed.connect(lambda _number: self._say_cup())
        self._side = _Side(context)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(0)
        outer.addWidget(self._head())
        row = QHBoxLayout()
        row.setSpacing(0)
        row.addWidget(self._middle(), 1)
        row.addWidget(self._side)
        outer.addLayout(row, 1)

    def show_batch(self, batch: Batch, *, anew: bool = True) -> None:
        """Show a batch; ``anew`` forgets what could be taken back, and looks at today."""
        if anew:
            self._before.clear()
            self._waiting.clear()
            self._problem.hide()
            self._stored.setText("")
            self._seen_on.show_day(self._today())
        self.batch = batch
        self._title.setText(batch_words(batch))
        self._show()
        self.bar.setFocus()

    def note(self, number: int, what: Stage | Fate | None) -> None:
        """Note what a cup came to, None for nothing, and go to the next cup."""
        if self.batch is None:
            return
        try:
            changed = self._noted(self.batch, number, what)
        except GraftInvalidError as error:
            self._problem.setText(f"\N{BLACK UP-POINTING TRIANGLE} {error}")
            self._problem.show()
            return
        self._problem.hide()
        self._before.append((self.batch, number))
        self._change(changed, number)
        self.bar.go_to(number + 1)

    def take_back(self) -> None:
        """Take the latest mark back and go to its cup."""
        if self._before:
            batch, number = self._before.pop()
            self._problem.hide()
            self._change(batch, number)
            self.bar.go_to(number)

    def stored(self, batch: Batch, number: int) -> None:
        """Show a cup's mark as kept; called once it is on the disk."""
        if self.batch is None or batch.id != self.batch.id:
            return
        self._waiting[number] -= 1
        self._waiting = +self._waiting
        self._stored.setText(_STORING if self._waiting else _STORED)
        self.bar.show_batch(self.batch, frozenset(self._waiting))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the column beside the bar within the page."""
        super().resizeEvent(event)
        self._side.fit_to(self.width())

    def _noted(self, batch: Batch, number: int, what: Stage | Fate | None) -> Batch:
        if isinstance(what, Stage):
            day = self._seen_on.day
            return reached(batch, number, what, seen_on=day, today=self._today())
        return cleared(batch, number) if what is None else fated(batch, number, what)

    def _change(self, batch: Batch, number: int) -> None:
        self.batch = batch
        self._waiting[number] += 1
        self._stored.setText(_STORING)
        self._show()
        self.changed.emit(batch, number)

    def _show(self) -> None:
        if self.batch is not None:
            self.bar.show_batch(self.batch, frozenset(self._waiting))
            self._side.show_batch(self.batch)
            self._say_cup()

    def _say_cup(self) -> None:
        if self.batch is not None:
            self._side.show_cup(self.batch, self.bar.current)

    def _today(self) -> date:
        return self._context.now().astimezone(local_zone()).date()

    def _head(self) -> QFrame:
        head = QFrame()
        head.setObjectName("bar")
        row = QHBoxLayout(head)
        row.setContentsMargins(16, 8, 16, 8)
        row.addWidget(button("All batches", self.back_pressed.emit))
        row.addWidget(self._title, 1)
        row.addWidget(button("Change ...", self.change_pressed.emit))
        row.addWidget(button("Delete ...", self.delete_pressed.emit, "plain"))
        return head

    def _middle(self) -> QWidget:
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(24, 16, 24, 16)
        column.setSpacing(12)
        seen = QHBoxLayout()
        seen.addWidget(label("Seen on", wrap=False))
        seen.addWidget(self._seen_on)
        seen.addWidget(button("Today", lambda: self._seen_on.show_day(self._today())))
        seen.addStretch(1)
        column.addLayout(seen)
        column.addWidget(self._problem)
        column.addWidget(self.bar)
        column.addWidget(_Outcomes(self._press))
        column.addWidget(
            label(
                "Arrow keys go from cup to cup; a letter marks the cup in the frame and goes on to "
                "the next. Z takes the latest mark back.",
                "faint",
            )
        )
        column.addWidget(self._stored)
        column.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(middle)
        return scroll

    def _press(self, what: Stage | Fate | None) -> None:
        self.note(self.bar.current, what)
        self.bar.setFocus()


class _Side(QFrame):
    """The column beside the bar: what was accepted, the cup in the frame, how it was grafted."""

    def __init__(self, context: Context) -> None:
        super().__init__()
        self.setObjectName("side")
        self._dressing = context.dressing
        self._page_px = 1280
        self._figure = label("", "figure", wrap=False)
        self._takes = label("")
        self._cup = label("", "lead")
        self._days = label("", "faint")
        self._steps = label("")
        self._how = label("")
        self._notes = label("", "faint")
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(20, 16, 20, 16)
        column.setSpacing(10)
        for widget in (self._figure, self._takes, self._steps):
            column.addWidget(widget)
        for widgets in ((self._cup, self._days), (label("How it was grafted", "lead"), self._how)):
            column.addSpacing(14)
            for widget in widgets:
                column.addWidget(widget)
        column.addWidget(self._notes)
        column.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(inside)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll)
        self._dressing.changed.connect(self._fit)
        self._fit()

    def fit_to(self, page_px: int) -> None:
        """Keep the column within a page of this width."""
        self._page_px = page_px
        self._fit()

    def show_batch(self, batch: Batch) -> None:
        """Show what came of a batch and how it was grafted."""
        takes = takes_of(batch.cups)
        if batch.is_practice:
            self._figure.setText("Practice")
            self._takes.setText("Thrown away after grafting: it never counts for acceptance.")
        elif takes.share is None:
            self._figure.setText(f"{len(batch.cups)} cups")
            self._takes.setText("Not looked at yet. Look a day after grafting, then mark each cup.")
        else:
            self._figure.setText(f"{takes.n_accepted} of {takes.n_known}")
            left = f" {takes.n_open} not looked at yet." if takes.n_open else ""
            self._takes.setText(
                f"accepted.{left} So few cups fit any true share between "
                f"{hundred(takes.share.lo)} and {hundred(takes.share.hi)} of 100."
            )
        self._steps.setText(steps_words(steps_of(batch.cups)))
        self._how.setText(how_words(batch))
        self._notes.setText(batch.notes)
        self._notes.setVisible(bool(batch.notes))

    def show_cup(self, batch: Batch, number: int) -> None:
        """Say what is noted of one cup."""
        cup = cup_of(batch, number)
        self._cup.setText(f"Cup {number}: {cup_words(cup.reached, cup.fate)}")
        days = [f"{stage} {day_words(day)}" for stage, day in cup.days.items()]
        second = batch.alternation
        if second is not None and number % 2 == 0:
            days.append(value_words(second.factor, second.value))
        self._days.setText(", ".join(days))
        self._days.setVisible(bool(days))

    def _fit(self) -> None:
        self.setFixedWidth(side_width_px(self._dressing.text_px, self._page_px))


def how_words(batch: Batch) -> str:
    """Return how a batch was grafted, one thing on a line, what was not noted left out."""
    told = [f"{day_words(batch.grafted_on)}, {batch.grafted_at:%H:%M}"]
    covered = {True: "kept covered", False: "not covered", None: ""}
    primed = {None: None, True: PRIMING_WORDS["yes"], False: PRIMING_WORDS["no"]}
    told += [f"from {batch.breeder}"] if batch.breeder else []
    plain = (
        batch.comb,
        TOOL_WORDS.get(batch.tool) if batch.tool else None,
        batch.cup_kind,
        primed[batch.is_primed],
        FEEDING_WORDS.get(batch.feeding) if batch.feeding else None,
        f"larvae of {AGE_WORDS[batch.age_band]}" if batch.age_band else None,
        TIMES_WORDS.get(batch.times) if batch.times else None,
        f"{batch.magnification:g} times larger" if batch.magnification else None,
        *(batch.light, batch.place, _room_words(batch)),
        f"comb out of the hive {batch.out_min:g} min" if batch.out_min is not None else None,
        covered[batch.is_covered],
    )
    told += [words for words in plain if words]
    if batch.alternation is not None:
        second = value_words(batch.alternation.factor, batch.alternation.value)
        told.append(f"every second cup (numbers underlined): {second}")
    return "\n".join(told)


def _room_words(batch: Batch) -> str:
    room = f"room {batch.room_c:g} \N{DEGREE SIGN}C" if batch.room_c is not None else ""
    damp = f"humidity {batch.humidity_pct:g} %" if batch.humidity_pct is not None else ""
    return ", ".join(words for words in (room, damp) if words)


class _Outcomes(QWidget):
    """The outcomes with their letters, which are buttons, too; as many beside each other as fit."""

    def __init__(self, press: Callable[[Stage | Fate | None], None]) -> None:
        super().__init__()
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(8)
        self._buttons: list[QPushButton] = []
        for letter, words, what in _OUTCOMES:
            made = button(f"{letter}   {words}", partial(press, what))
            made.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            self._buttons.append(made)
        self._lay(1)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put as many in a row as can be read."""
        super().resizeEvent(event)
        widest = max(made.sizeHint().width() for made in self._buttons) + 8
        self._lay(min(4, max(1, self.width() // widest)))

    def _lay(self, n_columns: int) -> None:
        for index, made in enumerate(self._buttons):
            self._grid.addWidget(made, index // n_columns, index % n_columns)
        for column in range(4):
            self._grid.setColumnStretch(column, 1 if column < n_columns else 0)
