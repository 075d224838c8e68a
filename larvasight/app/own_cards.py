"""The last cards on the first screen of Practise: own combs, and the teacher's own line."""

from collections.abc import Callable
from functools import partial

from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from larvasight.app.context import Context
from larvasight.app.parts import button, column, label
from larvasight.errors import LarvasightError
from larvasight.practice import Drill
from larvasight.practice.drills import PICK_ON_OWN, TAKE_ON_OWN, TEACHERS_LINE, TEST_ON_OWN

_OWN = (
    "Pick from a patch and Take or leave on the photos whose cells were checked on My photos. "
    "Cells without a sure answer are grey and not scored."
)
_TEST = (
    "The test asks the half of the cells that is kept apart and never told in practice. Take it "
    "once in a while."
)


class OwnCards(QWidget):
    """Offers what is done on own photos once there are some, and the teacher's line.

    Parameters
    ----------
    context : Context
        The records.
    chosen : callable
        Begins a drill.
    """

    def __init__(self, context: Context, chosen: Callable[[Drill], object]) -> None:
        super().__init__()
        self._context = context
        self.pick_button = button("Pick", partial(chosen, PICK_ON_OWN))
        self.take_button = button("Take or leave", partial(chosen, TAKE_ON_OWN))
        self.test_button = button("Test", partial(chosen, TEST_ON_OWN))
        self.teacher_button = button("Start", partial(chosen, TEACHERS_LINE))
        own = (self.pick_button, self.take_button, self.test_button)
        for drill, start in zip((PICK_ON_OWN, TAKE_ON_OWN, TEST_ON_OWN), own, strict=True):
            start.setAccessibleName(f"Start: {drill.title}")
        self.teacher_button.setAccessibleName(f"Start: {TEACHERS_LINE.title}")
        self._own = _card("On your own combs", (_OWN, _TEST), own)
        teacher = _card(TEACHERS_LINE.title, (TEACHERS_LINE.trains,), (self.teacher_button,))
        self.starts = (*own, self.teacher_button)
        rows = QVBoxLayout(self)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(12)
        rows.addWidget(self._own)
        rows.addWidget(teacher)

    def showEvent(self, event: QShowEvent) -> None:
        """See whether there are own combs now."""
        super().showEvent(event)
        self.refresh()

    def refresh(self) -> None:
        """Offer own combs only where a photo is used for practice."""
        try:
            has_own = bool(self._context.store.practice_photos())
        except LarvasightError:
            has_own = False  # they are offered the next time
        self._own.setVisible(has_own)


def _card(title: str, told: tuple[str, ...], starts: tuple[QPushButton, ...]) -> QFrame:
    card = QFrame()
    card.setObjectName("sheet")
    inside = QHBoxLayout(card)
    inside.setContentsMargins(24, 16, 24, 16)
    inside.setSpacing(24)
    words = QVBoxLayout()
    words.setSpacing(4)
    words.addStretch(1)
    for widget in (label(title, "lead"), *(label(one) for one in told)):
        words.addWidget(widget)
    words.addStretch(1)
    inside.addLayout(words, 1)
    inside.addWidget(column(*starts))
    return card
