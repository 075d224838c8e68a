"""What stands beside the comb while practising: the task, then how it went and why."""

from collections.abc import Callable

from PySide6.QtWidgets import QFrame, QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from larvasight.app.dressing import Dressing
from larvasight.app.parts import button, column, label, side_width_px
from larvasight.app.why_panel import WhyPanel
from larvasight.practice import Drill, Feedback


class PractiseSide(QFrame):
    """The column beside the comb: asking, then telling.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    enter, take, leave, go_on, stop, back : callable
        What the buttons do.
    """

    def __init__(
        self,
        dressing: Dressing,
        *,
        enter: Callable[[], object],
        take: Callable[[], object],
        leave: Callable[[], object],
        go_on: Callable[[], object],
        stop: Callable[[], object],
        back: Callable[[], object],
    ) -> None:
        super().__init__()
        self.setObjectName("side")
        self._dressing = dressing
        self._page_px = 1280
        self._is_asking_again = False
        self._title = label("", "lead")
        self._words = label("")
        self._count = label("", "figure")
        self._count_of = label("", "faint")
        self._look_for = label("")
        self._spans = label("", "faint")
        self._keys = label("", "faint")
        self.enter_button = button("Done: show me", enter, "main")
        self.back_button = button("Take back", back)
        self.take_button = button("Take it", take, "main")
        self.leave_button = button("Leave it", leave, "main")
        self.next_button = button("Next comb", go_on, "main")
        self._pair = QWidget()
        pair = QHBoxLayout(self._pair)
        pair.setContentsMargins(0, 0, 0, 0)
        pair.addWidget(self.take_button)
        pair.addWidget(self.leave_button)
        self.why = WhyPanel(dressing)
        self._middle = QStackedWidget()
        self._middle.addWidget(self._asking())
        self._middle.addWidget(self.why)
        self._middle.addWidget(QWidget())
        self._lay_out(button("Stop here", stop, "plain"))
        dressing.changed.connect(self.fit)
        self.fit()

    def _asking(self) -> QWidget:
        count = column(self._count, self._count_of, spacing=0)
        words = column(count, self._look_for, self._spans, self._keys, spacing=16)
        frame = QWidget()
        inside = QVBoxLayout(frame)
        inside.setContentsMargins(16, 8, 16, 8)
        inside.addWidget(words)
        inside.addStretch(1)
        return frame

    def _lay_out(self, stop: QWidget) -> None:
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(column(self._title, self._words, margins=(16, 16, 16, 0)))
        outer.addWidget(self._middle, 1)
        buttons = (self.enter_button, self._pair, self.next_button, self.back_button, stop)
        outer.addWidget(column(*buttons, margins=(16, 0, 16, 16)))

    def fit_to(self, page_px: int) -> None:
        """Keep the column within a page of this width."""
        self._page_px = page_px
        self.fit()

    def fit(self) -> None:
        """Keep the column as wide as its words need and the page allows."""
        self.setFixedWidth(side_width_px(self._dressing.text_px, self._page_px))

    def ask_patch(self, drill: Drill, look_for: str, spans: str) -> None:
        """Show what is asked of a patch, or of a whole comb side."""
        self._ask(drill.title, drill.task, look_for, spans)
        keys = (
            "Click a cell, or move with the arrow keys and press Space. Z takes back. "
            "+ and \N{MINUS SIGN} zoom, C looks closer, M takes the loupe."
        )
        move = "Drag the comb or turn the wheel to go over it. " if drill.is_side else ""
        self._keys.setText(move + keys)
        self._show(self.enter_button, self.back_button)
        self.set_marked(0)

    def ask_one(self, drill: Drill, look_for: str, spans: str, at: int, n: int) -> None:
        """Show what is asked of one cell, the ``at``-th of ``n``."""
        self._ask(drill.title, drill.task, look_for, spans)
        self._count.setText(f"{at} of {n}")
        is_told = drill.feedback is Feedback.AFTER_EACH
        self._count_of.setText(
            "cells of this comb" if is_told else "cells at most. Nothing is told until the end."
        )
        self._keys.setText("T takes it, L leaves it. + and \N{MINUS SIGN} zoom.")
        self._show(self._pair)

    def set_marked(self, n_marked: int) -> None:
        """Say how many cells are marked."""
        self._count.setText(str(n_marked))
        self._count_of.setText("marked to graft")
        if n_marked > 0 and self._is_asking_again:
            self._is_asking_again = False
            self._words.hide()
            self.enter_button.setText("Done: show me")
        self.back_button.setEnabled(n_marked > 0)

    def ask_again(self, words: str) -> None:
        """Ask whether it is meant, before the comb ends."""
        self._words.setText(words)
        self._words.show()
        self.enter_button.setText("Yes: show me")
        self._is_asking_again = True

    def tell(self, title: str, words: str, next_words: str, *, has_why: bool = True) -> None:
        """Show how it went, with the reason of one cell under it if it is to be told."""
        self._title.setText(title)
        self._words.setText(words)
        self._words.setVisible(bool(words))
        self._middle.setCurrentIndex(1 if has_why else 2)
        self.next_button.setText(next_words)
        self._show(self.next_button)

    def wait(self, words: str) -> None:
        """Show that an answer is being stored."""
        self._words.setText(words)
        self._words.setVisible(True)
        for widget in (self.enter_button, self.back_button, self.take_button, self.leave_button):
            widget.setEnabled(False)

    def _ask(self, title: str, task: str, look_for: str, spans: str) -> None:
        self._title.setText(task)
        self._words.setText(title)
        self._words.setVisible(False)
        self._is_asking_again = False
        self.enter_button.setText("Done: show me")
        self._look_for.setText(look_for)
        self._spans.setText(spans)
        self._middle.setCurrentIndex(0)
        for widget in (self.enter_button, self.take_button, self.leave_button):
            widget.setEnabled(True)

    def _show(self, *shown: QWidget) -> None:
        for widget in (self.enter_button, self.back_button, self._pair, self.next_button):
            widget.setVisible(widget in shown)
