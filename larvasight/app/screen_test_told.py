"""The screen test's own page: its four parts, what is still missing, what comes next and when."""

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from larvasight.app.dressing import Dressing
from larvasight.app.parts import button, column, label
from larvasight.app.screen_test_words import (
    NO_LICENCE,
    TO_COME,
    WHAT_IT_IS,
    button_words,
    next_words,
    part_rows,
    result_words,
    state_words,
    try_words,
    wrong_list,
)
from larvasight.app.sign_label import SignLabel
from larvasight.desk.screen_test import Now, ScreenTest
from larvasight.grading import Limits

_N_PARTS = 4
_WIDEST_PX = 1120


class ScreenTestTold(QWidget):
    """Tells where a learner stands with the screen test.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    go, anew, match, back : callable
        What the buttons do: what comes next, another try, match the screen, back to the drills.
    """

    def __init__(
        self,
        dressing: Dressing,
        *,
        go: Callable[[], object],
        anew: Callable[[], object],
        match: Callable[[], object],
        back: Callable[[], object],
    ) -> None:
        super().__init__()
        self._dressing = dressing
        self._state, self._next, self._size = label("", "lead"), label(""), label("", "faint")
        self.go_button = button("", go, "main")
        self.match_button = button("Match the screen with a bank card ...", match)
        self.anew_button = button("Begin another try instead", anew, "plain")
        self.back_button = button("Back to the drills", back)
        self._signs = [SignLabel(dressing, TO_COME) for _ in range(_N_PARTS)]
        self._titles = [label("", "lead") for _ in range(_N_PARTS)]
        self._asks = [label("", "faint") for _ in range(_N_PARTS)]
        self._told = [label("") for _ in range(_N_PARTS)]
        self._result, self._wrong = label(""), label("", "faint")
        self._result_card = _card(label("The last try", "lead"), self._result, self._wrong)
        self._tries = label("", "faint")
        self._lay_out()

    def _lay_out(self) -> None:
        inside = QWidget()
        page = QVBoxLayout(inside)
        page.setContentsMargins(40, 32, 40, 32)
        page.setSpacing(16)
        self._buttons = QWidget()
        buttons = QHBoxLayout(self._buttons)
        buttons.setContentsMargins(0, 8, 0, 0)
        for made in (self.go_button, self.match_button, self.anew_button):
            buttons.addWidget(made)
        buttons.addStretch(1)
        page.addWidget(label("The screen test", "title"))
        page.addWidget(label(WHAT_IT_IS))
        page.addWidget(_card(self._state, self._next, self._size, self._buttons))
        page.addWidget(self._part_card())
        page.addWidget(self._result_card)
        page.addWidget(self._tries)
        page.addWidget(label(NO_LICENCE, "faint"))
        page.addWidget(self.back_button, 0, Qt.AlignmentFlag.AlignLeft)
        page.addStretch(1)
        inside.setMaximumWidth(_WIDEST_PX)
        middle = QWidget()
        across = QHBoxLayout(middle)
        across.setContentsMargins(0, 0, 0, 0)
        across.addStretch(1)
        across.addWidget(inside, 1000)
        across.addStretch(1)
        scroll = QScrollArea()
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setWidget(middle)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll)

    def _part_card(self) -> QFrame:
        card = QFrame()
        card.setObjectName("sheet")
        grid = QGridLayout(card)
        grid.setContentsMargins(24, 16, 24, 16)
        grid.setHorizontalSpacing(16)
        grid.setVerticalSpacing(16)
        grid.setColumnStretch(1, 3)
        grid.setColumnStretch(2, 2)
        top = Qt.AlignmentFlag.AlignTop
        for k in range(_N_PARTS):
            grid.addWidget(self._signs[k], k, 0, top)
            grid.addWidget(column(self._titles[k], self._asks[k], spacing=2), k, 1, top)
            grid.addWidget(self._told[k], k, 2, top)
        return card

    def show_test(self, test: ScreenTest, limits: Limits, size: str, *, is_matched: bool) -> None:
        """Show where a learner stands."""
        self._state.setText(state_words(test))
        self._next.setText(next_words(test))
        self._size.setText(size)
        words = button_words(test)
        self.go_button.setText(words)
        is_main = not (test.now is Now.BEGIN and test.passed_on is not None)
        self.go_button.setProperty("role", "main" if is_main else "")
        self.go_button.style().unpolish(self.go_button)
        self.go_button.style().polish(self.go_button)
        self.go_button.setVisible(bool(words))
        self.match_button.setVisible(bool(words) and not is_matched and test.now is not Now.MEASURE)
        self._size.setVisible(bool(words))
        self.anew_button.setVisible(test.open_try is not None and test.may_begin_anew)
        is_any = bool(words) or (test.open_try is not None and test.may_begin_anew)
        self._buttons.setVisible(is_any)
        for k, row in enumerate(part_rows(test, limits)):
            self._signs[k].show_mark(row.mark)
            self._titles[k].setText(row.title)
            self._asks[k].setText(row.asks)
            word = row.mark.word.capitalize()
            self._told[k].setText(f"{word}. {row.told}" if row.told else f"{word}.")
        latest = test.latest
        is_ended = latest is not None and not latest.is_open
        self._result_card.setVisible(is_ended)
        if latest is not None and is_ended:
            self._result.setText("\n".join(result_words(latest)))
            self._wrong.setText(wrong_list(latest))
            self._wrong.setVisible(bool(latest.wrong))
        tries = try_words(test)
        self._tries.setText("\n".join(tries))
        self._tries.setVisible(bool(tries))

    def focus_first(self) -> None:
        """Put the keyboard on what is to be done next."""
        is_to_do = self.go_button.isVisibleTo(self)
        (self.go_button if is_to_do else self.back_button).setFocus()


def _card(*widgets: QWidget) -> QFrame:
    card = QFrame()
    card.setObjectName("sheet")
    inside = QVBoxLayout(card)
    inside.setContentsMargins(24, 16, 24, 16)
    inside.setSpacing(8)
    for widget in widgets:
        inside.addWidget(widget)
    return card
