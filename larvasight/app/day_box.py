"""A field for a day, and calendars that can be read in light and dark."""

from datetime import date

from PySide6.QtCore import QDate, Qt
from PySide6.QtGui import QIcon, QTextCharFormat
from PySide6.QtWidgets import QCalendarWidget, QDateEdit, QDateTimeEdit, QToolButton

# Without it the month stands in the window's ink on the accent.
_PLAIN_HEAD = "QWidget#qt_calendar_navigationbar { background: transparent; }"


def with_calendar(box: QDateTimeEdit) -> None:
    """Give a field for a day or a moment a calendar that can be read on any look."""
    box.setCalendarPopup(True)
    calendar = box.calendarWidget()
    calendar.setVerticalHeaderFormat(QCalendarWidget.VerticalHeaderFormat.NoVerticalHeader)
    calendar.setStyleSheet(_PLAIN_HEAD)
    # The arrows are black, whatever they stand on.
    for name, words in (
        ("prevmonth", "\N{LEFTWARDS ARROW}"),
        ("nextmonth", "\N{RIGHTWARDS ARROW}"),
    ):
        arrow = calendar.findChild(QToolButton, f"qt_calendar_{name}")
        if isinstance(arrow, QToolButton):
            arrow.setIcon(QIcon())
            arrow.setText(words)
    for day in (Qt.DayOfWeek.Saturday, Qt.DayOfWeek.Sunday):
        calendar.setWeekdayTextFormat(day, QTextCharFormat())


class DayBox(QDateEdit):
    """Shows a day as ``14 May 2027``; its arrow opens a calendar."""

    def __init__(self) -> None:
        super().__init__()
        with_calendar(self)
        self.setDisplayFormat("d MMM yyyy")

    @property
    def day(self) -> date:
        """The day shown."""
        shown = self.date()
        return date(shown.year(), shown.month(), shown.day())

    def show_day(self, day: date) -> None:
        """Show a day."""
        self.setDate(QDate(day.year, day.month, day.day))
