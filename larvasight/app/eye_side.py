"""What stands beside cells that are judged by eye: the question, then what is true."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from larvasight.app.dressing import Dressing
from larvasight.app.eye_words import RIGHT_MARK
from larvasight.app.parts import button, column, label, side_width_px
from larvasight.app.sign_label import SignLabel
from larvasight.app.why_panel import tied
from larvasight.paper.marks import Mark

_N_SENTENCES = 4


class EyeSide(QFrame):
    """The column beside the cells.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    choices : sequence of QPushButton
        What can be answered.
    keys : str
        Which keys do the same.
    go_on, stop : callable
        What the other buttons do.
    """

    def __init__(
        self,
        dressing: Dressing,
        choices: Sequence[QPushButton],
        keys: str,
        *,
        go_on: Callable[[], object],
        stop: Callable[[], object],
    ) -> None:
        super().__init__()
        self.setObjectName("side")
        self._dressing = dressing
        self._page_px = 1280
        self._choices = tuple(choices)
        self._count, self._task = label("", "faint"), label("", "lead")
        self._step, self._keys = label(""), label(tied(keys), "faint")
        self._sign, self._verdict = SignLabel(dressing, RIGHT_MARK), label("", "lead")
        self._sentences = [label("") for _ in range(_N_SENTENCES)]
        self._head = self._told_head()
        self.next_button = button("Next", go_on, "main")
        self._lay_out(button("Stop here", stop, "plain"))
        dressing.changed.connect(self.fit)
        self.fit()

    def fit_to(self, page_px: int) -> None:
        """Keep the column within a page of this width."""
        self._page_px = page_px
        self.fit()

    def fit(self) -> None:
        """Keep the column as wide as its words need and the page allows."""
        self.setFixedWidth(side_width_px(self._dressing.text_px, self._page_px))

    def ask(self, task: str, step: str, count: str) -> None:
        """Ask the next question."""
        self._task.setText(task)
        self._step.setText(tied(step))
        self._count.setText(count)
        self.set_ready(is_ready=True)
        self._show(is_told=False)

    def set_ready(self, *, is_ready: bool) -> None:
        """Let an answer be given, or not while one is being stored."""
        for choice in self._choices:
            choice.setEnabled(is_ready)

    def tell(self, mark: Mark, verdict: str, sentences: Sequence[str], next_words: str) -> None:
        """Show what is true."""
        self._sign.show_mark(mark)
        self._verdict.setText(tied(verdict))
        told = [*sentences, *[""] * _N_SENTENCES]
        for shown, text in zip(self._sentences, told, strict=False):
            shown.setText(tied(text))
        self.next_button.setText(next_words)
        self._show(is_told=True)

    def _show(self, *, is_told: bool) -> None:
        for widget in (self._task, self._step, self._keys, *self._choices):
            widget.setVisible(not is_told)
        for widget in (self._head, self.next_button):
            widget.setVisible(is_told)
        for sentence in self._sentences:
            sentence.setVisible(is_told and bool(sentence.text()))

    def _told_head(self) -> QWidget:
        head = QWidget()
        row = QHBoxLayout(head)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self._sign)
        row.addWidget(self._verdict, 1)
        return head

    def _lay_out(self, stop: QWidget) -> None:
        inner = column(
            *(self._count, self._task, self._step, *self._choices, self._keys),
            *(self._head, *self._sentences),
            spacing=12,
            margins=(16, 16, 16, 8),
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
        outer.addWidget(scroll, 1)
        outer.addWidget(column(self.next_button, stop, margins=(16, 0, 16, 16)))
