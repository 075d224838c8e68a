"""The column beside a comb while nothing is told: the task, how far one is, the keys."""

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtWidgets import QFrame, QHBoxLayout, QProgressBar, QVBoxLayout, QWidget

from larvasight.app.dressing import Dressing
from larvasight.app.parts import button, column, label, side_width_px
from larvasight.app.practise_words import LOOK_FOR

_BAR_STEPS = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class UntoldWords:
    """What stands beside the comb: task, which test, wanted ages, size, how far one is."""

    task: str
    title: str
    spans: str
    size: str = ""
    count: str = ""
    count_of: str = ""


class UntoldSide(QFrame):
    """The column beside a comb.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    enter, take, leave, back, stop : callable
        What the buttons do.
    cannot : callable, optional
        Says of a cell that nothing can be told; without it there is no such button.
    """

    def __init__(
        self,
        dressing: Dressing,
        *,
        enter: Callable[[], object],
        take: Callable[[], object],
        leave: Callable[[], object],
        back: Callable[[], object],
        stop: Callable[[], object],
        cannot: Callable[[], object] | None = None,
    ) -> None:
        super().__init__()
        self.setObjectName("side")
        self._dressing = dressing
        self._page_px = 1280
        self._task, self._title = label("", "lead"), label("", "faint")
        self._doubt = label("")
        self._count, self._count_of = label("", "figure"), label("", "faint")
        self._spans, self._size = label("", "faint"), label("", "faint")
        self._keys = label("", "faint")
        self.time = QProgressBar()
        self.time.setRange(0, _BAR_STEPS)
        self.time.setTextVisible(False)
        self.time.setAccessibleName("Time left for this cell")
        self.enter_button = button("Done with this comb", enter, "main")
        self.back_button = button("Take back", back)
        self.take_button = button("Take it", take, "main")
        self.leave_button = button("Leave it", leave, "main")
        self._has_cannot = cannot is not None
        self.cannot_button = button("Cannot tell", cannot or stop)
        self.stop_button = button("Stop here", stop, "plain")
        self._lay_out()
        dressing.changed.connect(self.fit)
        self.fit()

    def _lay_out(self) -> None:
        self._pair = QWidget()
        pair = QHBoxLayout(self._pair)
        pair.setContentsMargins(0, 0, 0, 0)
        pair.addWidget(self.take_button)
        pair.addWidget(self.leave_button)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(16, 16, 16, 16)
        outer.setSpacing(16)
        outer.addWidget(column(self._title, self._task, self._doubt))
        outer.addWidget(self.time)
        outer.addWidget(column(self._count, self._count_of, spacing=0))
        look_for = label(LOOK_FOR)
        look_for.setVisible(not self._has_cannot)  # whoever shows their own line is told nothing
        for words in (look_for, self._spans, self._size, self._keys):
            outer.addWidget(words)
        outer.addStretch(1)
        outer.addWidget(
            column(
                *(self.enter_button, self._pair, self.cannot_button),
                *(self.back_button, self.stop_button),
                spacing=8,
            )
        )

    def fit_to(self, page_px: int) -> None:
        """Keep the column within a page of this width."""
        self._page_px = page_px
        self.fit()

    def fit(self) -> None:
        """Keep the column as wide as its words need and the page allows."""
        self.setFixedWidth(side_width_px(self._dressing.text_px, self._page_px))

    def ask(self, words: UntoldWords, *, is_patch: bool, is_timed: bool = False) -> None:
        """Show what is asked: a patch at once, or one cell."""
        self._task.setText(words.task)
        self._title.setText(words.title)
        self._spans.setText(words.spans)
        self._spans.setVisible(bool(words.spans))
        self._size.setText(words.size)
        self._size.setVisible(bool(words.size))
        self._doubt.hide()
        self._count.setText(words.count)
        self._count_of.setText(words.count_of)
        self._keys.setText(
            "Click a cell, or move with the arrow keys and press Space. Z takes back, Enter ends "
            "the comb."
            if is_patch
            else "T takes it, L leaves it, N says that you cannot tell."
            if self._has_cannot
            else "T takes it, L leaves it."
        )
        self.enter_button.setText("Done with this comb")
        for widget in (self.enter_button, self.back_button):
            widget.setVisible(is_patch)
        self._pair.setVisible(not is_patch)
        self.cannot_button.setVisible(self._has_cannot and not is_patch)
        self.time.setVisible(is_timed)
        self.set_open(True)

    def set_marked(self, n_marked: int) -> None:
        """Say how many cells of a patch are marked."""
        many = "1 cell is" if n_marked == 1 else f"{n_marked} cells are"
        self.back_button.setEnabled(n_marked > 0)
        self.back_button.setToolTip(f"{many} marked on this comb")
        self._doubt.hide()
        self.enter_button.setText("Done with this comb")

    def ask_again(self, words: str) -> None:
        """Ask whether it is meant, before the comb ends."""
        self._doubt.setText(words)
        self._doubt.show()
        self.enter_button.setText("Yes, done with it")

    def set_open(self, is_open: bool) -> None:
        """Let the buttons be pressed, or not while an answer is stored."""
        for widget in (
            *(self.enter_button, self.take_button, self.leave_button, self.cannot_button),
        ):
            widget.setEnabled(is_open)

    def show_time(self, share: float) -> None:
        """Show how much of the time is left, 1 to 0."""
        self.time.setValue(round(_BAR_STEPS * min(max(share, 0.0), 1.0)))
