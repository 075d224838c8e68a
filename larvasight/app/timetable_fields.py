"""Fields of the timetable's form: a name, what is typed, and what is wrong with it beside it."""

from collections.abc import Callable
from datetime import datetime

from PySide6.QtCore import QDate, QLocale, QTime
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import (
    QComboBox,
    QDateEdit,
    QHBoxLayout,
    QLineEdit,
    QSizePolicy,
    QTimeEdit,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.day_box import with_calendar
from larvasight.app.parts import label
from larvasight.timetable.spec import YEARS_SPAN

_SIGN = "\N{BLACK UP-POINTING TRIANGLE}"


class _Still:
    """Leaves the wheel to the page: turning it over a field must not change a plan."""

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Let the page scroll."""
        event.ignore()


class _StillDay(_Still, QDateEdit):
    pass


class _StillTime(_Still, QTimeEdit):
    pass


class _StillBox(_Still, QComboBox):
    pass


class Field(QWidget):
    """One thing asked, its words over it and room for a sentence under it."""

    def __init__(self, words: str, inner: QWidget) -> None:
        super().__init__()
        self._words = label(words)
        self._words.setBuddy(inner)
        inner.setAccessibleName(words)
        self.inner = inner
        self.wrong = label("", "wrong")
        self.wrong.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        for part in (self._words, inner, self.wrong):
            column.addWidget(part)

    def ask(self, words: str) -> None:
        """Ask in other words."""
        self._words.setText(words)
        self.inner.setAccessibleName(words)

    def say_wrong(self, sentence: str) -> None:
        """Say what is wrong with what is typed; nothing for an empty sentence."""
        self.wrong.setText(f"{_SIGN} {sentence}")
        self.wrong.setVisible(bool(sentence))
        if self.inner.property("wrong") is not bool(sentence):
            self.inner.setProperty("wrong", bool(sentence))
            self.inner.style().unpolish(self.inner)
            self.inner.style().polish(self.inner)


class Line(Field):
    """A field for a line of text or a number."""

    def __init__(self, words: str, changed: Callable[[], object], most_chars: int = 60) -> None:
        self.line = QLineEdit()
        self.line.setMaxLength(most_chars)
        super().__init__(words, self.line)
        self.line.textEdited.connect(lambda _text: changed())

    @property
    def text(self) -> str:
        """What is typed."""
        return self.line.text()

    def put(self, text: str) -> None:
        """Show another text; one that is there already keeps the cursor."""
        if self.line.text() != text:
            self.line.setText(text)


class Choice(Field):
    """A field with a few answers, each with its key."""

    def __init__(
        self, words: str, answers: tuple[tuple[str, str], ...], changed: Callable[[], object]
    ) -> None:
        self.box = _StillBox()
        for key, told in answers:
            self.box.addItem(told, key)
        self.box.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.box.setMinimumContentsLength(10)
        super().__init__(words, self.box)
        self.box.activated.connect(lambda _row: changed())

    @property
    def key(self) -> str:
        """The answer chosen."""
        return str(self.box.currentData())

    def put(self, key: str) -> None:
        """Show another answer."""
        self.box.setCurrentIndex(max(0, self.box.findData(key)))


class Moment(Field):
    """A field for a day and an hour, as a clock on the wall tells it."""

    def __init__(self, words: str, changed: Callable[[], object]) -> None:
        self.day = _StillDay()
        self.day.setLocale(QLocale(QLocale.Language.English))
        with_calendar(self.day)
        self.day.setDisplayFormat("ddd d MMM yyyy")
        self.day.setMinimumDate(QDate(YEARS_SPAN[0] + 1, 1, 1))
        self.day.setMaximumDate(QDate(YEARS_SPAN[1] - 1, 12, 31))
        self.time = _StillTime()
        self.time.lineEdit().setTextMargins(6, 0, 0, 0)  # the style sheet cannot
        self.time.setDisplayFormat("HH:mm")
        self.time.setAccessibleName("Time of day")
        self.day.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        inner = QWidget()
        row = QHBoxLayout(inner)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        row.addWidget(self.day, 3)
        row.addWidget(self.time, 2)
        super().__init__(words, inner)
        self.day.setAccessibleName(words)
        self.day.dateChanged.connect(lambda _day: changed())
        self.time.timeChanged.connect(lambda _time: changed())

    @property
    def at(self) -> datetime:
        """The moment typed, without a zone."""
        day, time = self.day.date(), self.time.time()
        return datetime(day.year(), day.month(), day.day(), time.hour(), time.minute())  # noqa: DTZ001

    def put(self, at: datetime) -> None:
        """Show another moment."""
        self.day.setDate(QDate(at.year, at.month, at.day))
        self.time.setTime(QTime(at.hour, at.minute))
