"""How a check or the course day's test went: told once, with how sure it is."""

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from larvasight.app.check_words import (
    NO_PASS,
    held_words,
    mistake_words,
    old_words,
    share_title,
    share_words,
)
from larvasight.app.dressing import Dressing
from larvasight.app.edges_told import EdgeStrip, has_line
from larvasight.app.parts import button, label
from larvasight.desk.checks import ToldCheck

_WIDEST_PX = 960


class CheckTold(QWidget):
    """The page that ends a check.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    save, done : callable
        What the buttons do: save the sheet, go back.
    """

    def __init__(
        self, dressing: Dressing, *, save: Callable[[], object], done: Callable[[], object]
    ) -> None:
        super().__init__()
        self._title, self._share, self._kinds = label("", "title"), label(""), label("")
        self._strip = EdgeStrip(dressing)
        self._old, self._held, self._next = label(""), label(""), label("", "faint")
        self._no_pass = label(NO_PASS, "faint")
        self.save_button = button("Save the sheet (PDF) ...", save)
        self.done_button = button("Done", done, "main")
        card = QFrame()
        card.setObjectName("sheet")
        inside = QVBoxLayout(card)
        inside.setContentsMargins(40, 32, 40, 32)
        inside.setSpacing(16)
        for widget in (
            *(self._title, self._share, self._kinds, self._strip, self._old, self._held),
            *(self._next, self._no_pass),
        ):
            inside.addWidget(widget)
        buttons = QHBoxLayout()
        buttons.addWidget(self.done_button)
        buttons.addWidget(self.save_button)
        buttons.addStretch(1)
        inside.addLayout(buttons)
        card.setMaximumWidth(_WIDEST_PX)
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(32, 24, 32, 24)
        across = QHBoxLayout()
        across.addStretch(1)
        across.addWidget(card, 1000)
        across.addStretch(1)
        column.addStretch(1)
        column.addLayout(across)
        column.addStretch(2)
        scroll = QScrollArea()
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setWidget(middle)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll)

    def tell(self, told: ToldCheck, next_words: str, *, is_course_day: bool) -> None:
        """Show how it went, and when to practise next."""
        check = told.check
        self._title.setText(share_title(check.score))
        self._share.setText(share_words(check.score))
        self._kinds.setText(mistake_words(check.score))
        self._old.setText(old_words(check.edges.old_edge_h, check.limits))
        self._strip.show_edges(check.edges, check.limits)
        has_strip = has_line(check.edges)
        self._strip.setVisible(has_strip)
        self._old.setVisible(not has_strip and check.score.right is not None)
        self._held.setText(held_words(told))
        self._held.setVisible(not is_course_day)
        self._next.setText(next_words)
        self._next.setVisible(bool(next_words))
        for widget in (self._no_pass, self.save_button):
            widget.setVisible(is_course_day)
