"""Asking for the known age of a comb: when the queen laid there, and when the photo was taken."""

from dataclasses import asdict, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QDate, QDateTime, QTime
from PySide6.QtWidgets import QDateTimeEdit, QDialog, QFormLayout, QHBoxLayout, QVBoxLayout, QWidget

from larvasight.app.day_box import with_calendar
from larvasight.app.parts import button, label
from larvasight.desk.known_age import age_of_times, known_words, taken_at, wall_time

if TYPE_CHECKING:
    from larvasight.records.types import KnownAge

_TELL = (
    "If the queen was confined to this comb, the hours tell how old its larvae can be: an egg "
    "takes 70 to 78 hours to hatch. Give times as the clock on your wall shows them; a change to "
    "summer time is counted."
)
_NOTED = "The camera noted when the photo was taken. Put it right if its clock was wrong."
_NOT_NOTED = "The camera noted no time: say when the photo was taken."
# What is offered first: confined for a day, the photo taken four days after the beginning.
_LAID_H = 24
_BEGAN_H = 96


class AgeDialog(QDialog):
    """Three times; ``age`` is what they tell, None where the known age is taken away.

    Parameters
    ----------
    parent : QWidget
        Where the dialog belongs.
    age : KnownAge or None
        What is known so far.
    photo : Path or None
        The photo's file, whose camera may have noted the time.
    now : datetime
        The time, UTC.
    """

    def __init__(
        self, parent: QWidget, age: "KnownAge | None", photo: Path | None, now: datetime
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Known age of the comb")
        self.setMinimumWidth(620)
        self._now = now
        self.age: KnownAge | None = age
        self._before = age
        noted = None if photo is None else taken_at(photo)
        taken = noted or wall_time(now)
        if age is not None:
            taken = wall_time(age.taken_at_utc)
        began = taken - timedelta(hours=_BEGAN_H) if age is None else wall_time(age.laid_from_utc)
        ended = began + timedelta(hours=_LAID_H) if age is None else wall_time(age.laid_to_utc)
        self.laid_from, self.laid_to, self.taken = (_at(t) for t in (began, ended, taken))
        form = QFormLayout()
        form.setSpacing(12)
        for words, box in (
            ("Queen confined from", self.laid_from),
            ("Queen confined until", self.laid_to),
            ("Photo taken", self.taken),
        ):
            box.setAccessibleName(words)
            box.dateTimeChanged.connect(self._tell)
            form.addRow(words, box)
        self._told = label("", "lead")
        self.use_button = button("Use these times", self.use, "main")
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 24)
        column.setSpacing(16)
        column.addWidget(label("How old is this comb?", "title"))
        column.addWidget(label(_TELL))
        column.addLayout(form)
        column.addWidget(label(_NOTED if noted is not None else _NOT_NOTED, "faint"))
        column.addWidget(self._told)
        column.addWidget(self.use_button)
        row = QHBoxLayout()
        self.forget_button = button("Age not known", self.forget)
        self.forget_button.setVisible(age is not None)
        row.addWidget(self.forget_button)
        row.addStretch(1)
        row.addWidget(button("Cancel", self.reject, "plain"))
        column.addLayout(row)
        self._tell()

    def use(self) -> None:
        """Take the times if they can follow each other."""
        found = self._read()
        if found is not None:
            self.age = found
            self.accept()

    def forget(self) -> None:
        """Take the known age away."""
        self.age = None
        self.accept()

    def _tell(self) -> None:
        found = self._read()
        self.use_button.setEnabled(found is not None)
        if found is not None:
            self._told.setText(known_words(found))

    def _read(self) -> "KnownAge | None":
        try:
            times = (_of(self.laid_from), _of(self.laid_to), _of(self.taken))
            return self._as_stored(age_of_times(*times, now=self._now))
        except ValueError as error:
            self._told.setText(str(error))
            return None

    def _as_stored(self, found: "KnownAge") -> "KnownAge":
        """Keep the moments whose boxes were left alone: an hour in autumn comes twice."""
        if self._before is None:
            return found
        kept = {
            name: moment
            for name, moment in asdict(self._before).items()
            if wall_time(getattr(found, name)) == wall_time(moment).replace(second=0, microsecond=0)
        }
        return replace(found, **kept)


def _at(at: datetime) -> QDateTimeEdit:
    box = QDateTimeEdit(QDateTime(QDate(at.year, at.month, at.day), QTime(at.hour, at.minute)))
    box.setDisplayFormat("ddd d MMM yyyy  HH:mm")
    with_calendar(box)
    return box


def _of(box: QDateTimeEdit) -> datetime:
    day, time = box.date(), box.time()
    return datetime(day.year(), day.month(), day.day(), time.hour(), time.minute())  # noqa: DTZ001
