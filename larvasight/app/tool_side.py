"""What stands beside the cell: tool and hand to choose, then what became of it."""

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QRadioButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.dressing import Dressing
from larvasight.app.parts import button, column, label, side_width_px
from larvasight.app.sign_label import SignLabel
from larvasight.app.tool_words import (
    CAUTION,
    HAND_WORDS,
    HIT_MARK,
    KEYS,
    PRACTICE,
    RIGID_KEYS,
    TASK,
    TOOL_WORDS,
)
from larvasight.app.why_panel import tied
from larvasight.paper.marks import Mark
from larvasight.practice.tool_entry import EntryTool, Hand


class ToolSide(QFrame):
    """The column beside the cell; ``chosen`` tells that another tool or hand was chosen.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    enter, go_on, stop : callable
        What the buttons do.
    """

    chosen = Signal()

    def __init__(
        self,
        dressing: Dressing,
        *,
        enter: Callable[[], object],
        go_on: Callable[[], object],
        stop: Callable[[], object],
    ) -> None:
        super().__init__()
        self.setObjectName("side")
        self._dressing = dressing
        self._page_px = 1280
        self._task, self._step, self._count = label(TASK, "lead"), label(""), label("", "faint")
        self._tools = {tool: QRadioButton(words) for tool, words in TOOL_WORDS.items()}
        self._hands = {hand: QRadioButton(words) for hand, words in HAND_WORDS.items()}
        self._tool_group, self._hand_group = QButtonGroup(self), QButtonGroup(self)
        for group, radios in (
            (self._tool_group, list(self._tools.values())),
            (self._hand_group, list(self._hands.values())),
        ):
            for radio in radios:
                group.addButton(radio)
                radio.setFocusPolicy(Qt.FocusPolicy.TabFocus)
                radio.clicked.connect(self.chosen)
        self._tools[EntryTool.FLEXIBLE].setChecked(True)
        self._hands[Hand.RIGHT].setChecked(True)
        self._keys = label(KEYS, "faint")
        self._sign, self._verdict = SignLabel(dressing, HIT_MARK), label("", "lead")
        self._words, self._off, self._moved = label(""), label("", "faint"), label("")
        self._told = self._telling()
        self.enter_button = button("Set the tip here", enter, "main")
        self.next_button = button("Next cell", go_on, "main")
        self._lay_out(button("Stop here", stop, "plain"))
        dressing.changed.connect(self.fit)
        self.fit()

    @property
    def tool(self) -> EntryTool:
        """The tool that is chosen."""
        return next(tool for tool, radio in self._tools.items() if radio.isChecked())

    @property
    def hand(self) -> Hand:
        """The hand that is chosen."""
        return next(hand for hand, radio in self._hands.items() if radio.isChecked())

    def choose(self, *, tool: EntryTool | None = None, hand: Hand | None = None) -> None:
        """Choose a tool or a hand from the keyboard; what may not be chosen stays."""
        for radio in (self._tools.get(tool or self.tool), self._hands.get(hand or self.hand)):
            if radio is not None and radio.isEnabled():
                radio.setChecked(True)
        self.chosen.emit()

    def hold(self, hand: Hand | None) -> None:
        """Let only one hand be used; None lets both."""
        if hand is not None:
            self._hands[hand].setChecked(True)
        for each, radio in self._hands.items():
            radio.setEnabled(hand is None or each is hand)

    def fit_to(self, page_px: int) -> None:
        """Keep the column within a page of this width."""
        self._page_px = page_px
        self.fit()

    def fit(self) -> None:
        """Keep the column as wide as its words need and the page allows."""
        self.setFixedWidth(side_width_px(self._dressing.text_px, self._page_px))

    def ask(self, step: str, count: str) -> None:
        """Ask for the next entry."""
        self._step.setText(step)
        self._count.setText(count)
        self._show(is_told=False)
        self.set_ready(is_ready=False)

    def set_ready(self, *, is_ready: bool) -> None:
        """Say whether the tip was put anywhere yet, and which keys turn a hook."""
        self.enter_button.setEnabled(is_ready)
        more = f" {RIGID_KEYS}" if self.tool is EntryTool.RIGID else ""
        self._keys.setText(f"{KEYS}{more}")

    def wait(self) -> None:
        """Show that the entry is being stored."""
        self.enter_button.setEnabled(False)

    def tell(self, mark: Mark, words: str, off: str, moved: str, *, is_last: bool) -> None:
        """Show what became of it."""
        self._sign.show_mark(mark)
        self._verdict.setText(f"{mark.word[0].upper()}{mark.word[1:]}")
        for shown, text in ((self._words, words), (self._off, off), (self._moved, moved)):
            shown.setText(tied(text))
            shown.setVisible(bool(text))
        self.next_button.setText("How it went" if is_last else "Next cell")
        self._show(is_told=True)

    def _show(self, *, is_told: bool) -> None:
        self._told.setVisible(is_told)
        self.next_button.setVisible(is_told)
        for widget in (self._choices, self._keys, self.enter_button, self._task):
            widget.setVisible(not is_told)

    def _telling(self) -> QWidget:
        head = QWidget()
        row = QHBoxLayout(head)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self._sign)
        row.addWidget(self._verdict, 1)
        zone = label("The green strip is where this tool may go in.", "faint")
        caution, practice = label(CAUTION), label(tied(PRACTICE), "faint")
        return column(
            *(head, self._words, self._off, zone, self._moved, caution, practice), spacing=12
        )

    def _lay_out(self, stop: QWidget) -> None:
        self._choices = column(
            *(label("Tool", "day"), *self._tools.values()),
            *(label("Hand", "day"), *self._hands.values()),
            spacing=8,
        )
        inner = column(
            *(self._count, self._step, self._task, self._choices, self._keys, self._told),
            spacing=16,
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
        buttons = (self.enter_button, self.next_button, stop)
        outer.addWidget(column(*buttons, margins=(16, 0, 16, 16)))
