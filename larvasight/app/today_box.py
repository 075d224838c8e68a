"""Today, the first thing on Practise: its parts, which are done, and the button for the next."""

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from larvasight.app.dressing import Dressing
from larvasight.app.parts import button, label
from larvasight.app.sign_label import SignLabel
from larvasight.desk.todays import TodayPart, Todays
from larvasight.paper.marks import Mark, Shape

DONE = Mark(colour="#009E73", shape=Shape.DISC, word="done")
NEXT = Mark(colour="#E69F00", shape=Shape.WEDGE, word="next")
LATER = Mark(colour="#FFFFFF", shape=Shape.OPEN_DISC, word="later")
_PARTS_MOST = 6


class TodayBox(QFrame):
    """Today's plan; ``started`` carries the key of the part that is to be done next."""

    started = Signal(str)

    def __init__(self, dressing: Dressing, *, next_time: Callable[[], str]) -> None:
        super().__init__()
        self.setObjectName("sheet")
        self._next_time = next_time
        self._today: Todays | None = None
        self._title, self._after = label("", "lead"), label("")
        self.button = button("", self._start, "main")
        self._signs = [SignLabel(dressing, LATER) for _ in range(_PARTS_MOST)]
        self._names = [label("", wrap=False) for _ in range(_PARTS_MOST)]
        self._whys = [label("", "faint") for _ in range(_PARTS_MOST)]
        self._words = [label("", "faint", wrap=False) for _ in range(_PARTS_MOST)]
        grid = QGridLayout()
        grid.setHorizontalSpacing(16)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(2, 1)
        middle = Qt.AlignmentFlag.AlignVCenter
        for k in range(_PARTS_MOST):
            for column, widget in enumerate(self._row(k)):
                grid.addWidget(widget, k, column, middle)
        head = QHBoxLayout()
        head.addWidget(self._title, 1)
        head.addWidget(self.button)
        page = QVBoxLayout(self)
        page.setContentsMargins(24, 16, 24, 16)
        page.setSpacing(8)
        page.addLayout(head)
        page.addLayout(grid)
        page.addWidget(self._after)

    @property
    def today(self) -> Todays | None:
        """The plan that is shown."""
        return self._today

    @property
    def is_open(self) -> bool:
        """Whether something of today is still to be done."""
        return self._today is not None and self._today.next_part is not None

    def is_part_done(self, drill: str) -> bool:
        """Return whether a drill, by key, is a part of today that was done when last looked."""
        part = None if self._today is None else self._today.part_of(drill)
        return part is not None and part.is_done

    def show_today(self, today: Todays | None, *, is_next: bool = True) -> None:
        """Show what is planned and what is done; None hides it.

        ``is_next`` is False where something else on the page is to be done first.
        """
        self._today = today
        self.setVisible(today is not None)
        if today is None:
            return
        next_part = today.next_part
        self._title.setText(_title(today))
        self.button.setVisible(next_part is not None)
        if next_part is not None:
            began = "Go on" if next_part.n_done else "Start"
            self.button.setText(f"{began}: {next_part.title}")
            self.button.setProperty("role", "main" if is_next else "")
            self.button.style().unpolish(self.button)
            self.button.style().polish(self.button)
        for k in range(_PARTS_MOST):
            part = today.parts[k] if k < len(today.parts) else None
            for widget in self._row(k):
                widget.setVisible(part is not None)
            if part is not None:
                self._show_part(k, part, is_next=part is next_part)
        self._after.setText("" if next_part is not None else self._next_time())
        self._after.setVisible(bool(self._after.text()))

    def _show_part(self, k: int, part: TodayPart, *, is_next: bool) -> None:
        mark = DONE if part.is_done else NEXT if is_next else LATER
        self._signs[k].show_mark(mark)
        gap = " " if part.title.endswith("?") else ", "
        self._names[k].setText(f"{part.title}{gap}{part.amount}")
        self._whys[k].setText(part.why)
        said = mark.word
        if not part.is_done and part.n_done:
            said = f"{part.n_done} of {part.n} done"
        self._words[k].setText(said)

    def _row(self, k: int) -> tuple[QWidget, ...]:
        return (self._signs[k], self._names[k], self._whys[k], self._words[k])

    def _start(self) -> None:
        part = None if self._today is None else self._today.next_part
        if part is not None:
            self.started.emit(part.key)


def _title(today: Todays) -> str:
    if today.next_part is None:
        return "Done for today."
    left = max(1, round(today.minutes_left))
    many = f"about {left} minute{'' if left == 1 else 's'}"
    if any(part.is_done or part.n_done for part in today.parts):
        return f"Today: {many} more"
    return f"Today: {many}"
