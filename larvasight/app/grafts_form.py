"""The form of a batch: every problem beside its field, nothing typed is ever lost."""

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from PySide6.QtCore import QDate, QLocale, QTime, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QComboBox,
    QDateEdit,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QScrollArea,
    QTimeEdit,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.context import Context
from larvasight.app.day_box import DayBox
from larvasight.app.parts import button, label
from larvasight.app.parts import column as parts_column
from larvasight.desk.grafting import Kept, read_typed
from larvasight.desk.reporting import local_zone
from larvasight.grafts import ALTERNATING, AgeBand, Batch, Feeding, Times, Tool
from larvasight.grafts.typed import FIRST_OF, SECOND, typed_of
from larvasight.grafts.words import (
    AGE_WORDS,
    FEEDING_WORDS,
    PRIMING_WORDS,
    TIMES_WORDS,
    TOOL_WORDS,
    value_words,
)

_NOT_NOTED = "not noted"
_YES_NO = (("yes", "yes"), ("no", "no"))
_CHOICES: dict[str, tuple[tuple[str, str], ...]] = {
    "tool": tuple((kind, TOOL_WORDS[kind]) for kind in Tool),
    "primed": tuple(PRIMING_WORDS.items()),
    "feeding": tuple((kind, FEEDING_WORDS[kind]) for kind in Feeding),
    "age": tuple((kind, AGE_WORDS[kind]) for kind in AgeBand),
    "times": tuple((kind, TIMES_WORDS[kind]) for kind in Times),
    "covered": _YES_NO,
}
_SECTIONS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (
        "When, who, how many",
        (
            ("day", "Day of grafting"),
            ("time", "Time"),
            ("grafter", "Who grafted"),
            ("n_cups", "Cups grafted"),
            ("practice", "What for"),
        ),
    ),
    (
        "Larvae",
        (
            ("breeder", "Breeder queen"),
            ("plan", "Plan of the comb"),
            ("comb", "Comb"),
            ("age", "Age of the larvae"),
            ("feeding", "Larvae"),
        ),
    ),
    (
        "Tools and cups",
        (
            ("tool", "Tool"),
            ("cup_kind", "Cups"),
            ("primed", "Primed with jelly"),
            ("times", "Grafted"),
            ("second", "Every second cup"),
        ),
    ),
    (
        "Light and room",
        (
            ("magnification", "Magnification, times"),
            ("light", "Light"),
            ("place", "Place"),
            ("room_c", "Temperature, \N{DEGREE SIGN}C"),
            ("humidity_pct", "Humidity, %"),
            ("out_min", "Comb out of the hive, min"),
            ("covered", "Kept covered"),
        ),
    ),
)
_HINTS = {
    "magnification": "such as 2.5",
    "light": "such as cold lamp",
    "room_c": "24\N{EN DASH}26 is usual",
    "humidity_pct": "over 50 is usual",
    "cup_kind": "such as plastic, brown",
    "comb": "such as dark comb, box 2",
}
# What is likely the same the next time.
_CARRIED = (
    *("breeder", "tool", "cup_kind", "primed", "times", "magnification", "light", "place"),
    "covered",
)
_BESIDE_EM = 52


class BatchForm(QWidget):
    """Asks for a batch; ``saved`` carries it once nothing stands against it."""

    saved = Signal(object)
    given_up = Signal()

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._kept = Kept(batches=(), plans=(), learners=())
        self._changed: Batch | None = None
        self._title = label("", "title")
        self._trouble = label("", "lead")
        self.fields: dict[str, QWidget] = {}
        self.problems: dict[str, QLabel] = {}
        self._columns = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._columns.setSpacing(32)
        for pair in (_SECTIONS[:2], _SECTIONS[2:]):
            self._columns.addLayout(self._column(pair), 1)
        self._notes = QPlainTextEdit()
        self._notes.setFixedHeight(90)
        self._notes.setTabChangesFocus(True)
        self._notes.setAccessibleName("Notes")
        self._lay_out()

    def ask_new(self, kept: Kept, **known: str) -> None:
        """Ask for a new batch; what is likely the same as the last time stands there already."""
        self._changed = None
        typed = {"n_cups": "20"}
        if kept.batches:
            last = typed_of(kept.batches[0])
            typed |= {field: last[field] for field in _CARRIED}
        learner = self._context.learner
        now = self._context.now().astimezone(local_zone())
        typed |= {"grafter": learner.name if learner else "", **_moment(now), **known}
        self._show("Note a batch", kept, typed, None)

    def ask_change(self, kept: Kept, batch: Batch) -> None:
        """Ask what is to be changed of a batch."""
        self._changed = batch
        self._show("Change a batch", kept, typed_of(batch), batch.plan_id)

    def typed(self) -> dict[str, str]:
        """Return what stands in the fields."""
        typed = {field: _typed_in(widget) for field, widget in self.fields.items()}
        typed["notes"] = self._notes.toPlainText()
        second = typed.pop("second")
        typed.pop("plan")
        if second:
            field, value = second.split("=")
            typed[field] = value
        return typed

    def save(self) -> None:
        """Read what is typed; say beside each field what stands against it, or hand it on."""
        plan_id = _typed_in(self.fields["plan"])
        read = read_typed(
            self.typed(),
            now=self._context.now(),
            zone=local_zone(),
            learners=self._kept.learners,
            changed=self._changed,
            plan_id=UUID(plan_id) if plan_id else None,
        )
        self._say(read.problems)
        if read.batch is not None:
            self.saved.emit(read.batch)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the columns one under the other where the window is narrow."""
        super().resizeEvent(event)
        is_wide = self.width() >= _BESIDE_EM * self._context.dressing.text_px
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._columns.setDirection(across if is_wide else down)

    def _show(self, title: str, kept: Kept, typed: Mapping[str, str], plan_id: UUID | None) -> None:
        self._kept = kept
        self._title.setText(title)
        self._fill_plans(plan_id)
        for field, widget in self.fields.items():
            if field not in ("plan", "second"):
                _type_in(widget, typed.get(field, ""))
        second = next((f"{f}={typed[f]}" for f in SECOND if typed.get(f)), "")
        _type_in(self.fields["second"], second)
        self._notes.setPlainText(typed.get("notes", ""))
        self._say({})
        self.fields["grafter" if not typed.get("grafter") else "n_cups"].setFocus()
        cups = self.fields["n_cups"]
        if isinstance(cups, QLineEdit):
            cups.selectAll()

    def _fill_plans(self, plan_id: UUID | None) -> None:
        box = self.fields["plan"]
        assert isinstance(box, QComboBox)
        box.clear()
        box.addItem("none", "")
        for plan in self._kept.plans:
            box.addItem(plan.name, str(plan.id))
        if plan_id is not None and box.findData(str(plan_id)) < 0:
            box.addItem("a plan taken away since", str(plan_id))
        box.setCurrentIndex(max(0, box.findData(str(plan_id) if plan_id else "")))
        box.setEnabled(box.count() > 1)

    def _say(self, problems: Mapping[str, str]) -> None:
        """Show each problem under its field, and go to the first."""
        shown = {("second" if field in SECOND else field): p for field, p in problems.items()}
        first = None
        for field, told in self.problems.items():
            told.setText(f"\N{BLACK UP-POINTING TRIANGLE} {shown.get(field, '')}")
            told.setVisible(field in shown)
            if field in shown and first is None:
                first = self.fields[field]
        other = [p for field, p in shown.items() if field not in self.problems]
        n = len(shown)
        words = "One thing is not right yet; it is told at its field."
        if n > 1:
            words = f"{n} things are not right yet; each is told at its field."
        told_words = " ".join([words, *other])
        self._trouble.setText(told_words if shown else "")
        if first is not None:
            first.setFocus()
            self._scroll.ensureWidgetVisible(first)

    def _column(self, sections: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(6)
        for title, fields in sections:
            column.addWidget(label(title, "lead"))
            for field, words in fields:
                widget = self._field(field)
                widget.setAccessibleName(words)
                self.fields[field] = widget
                self.problems[field] = label("", "wrong")
                self.problems[field].hide()
                row = QHBoxLayout()
                name = label(words)
                name.setBuddy(widget)
                row.addWidget(name, 2)
                row.addWidget(parts_column(widget, self.problems[field], spacing=2), 3)
                column.addLayout(row)
            column.addSpacing(14)
        column.addStretch(1)
        return column

    def _field(self, field: str) -> QWidget:
        if field == "day":
            return DayBox()
        if field == "time":
            time = QTimeEdit()
            time.lineEdit().setTextMargins(6, 0, 0, 0)  # the style sheet cannot
            time.setDisplayFormat("HH:mm")
            return time
        if field == "second":
            return _combo("like the others", _second_choices())
        if field == "practice":
            return _combo("queens", (("yes", "practice, thrown away"),))
        if field == "plan":
            return _combo("none", ())
        if field in _CHOICES:
            return _combo(_NOT_NOTED, _CHOICES[field])
        line = QLineEdit()
        line.setPlaceholderText(_HINTS.get(field, ""))
        line.returnPressed.connect(self.save)
        return line

    def _lay_out(self) -> None:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(32, 24, 32, 24)
        column.setSpacing(12)
        column.addWidget(self._title)
        column.addWidget(
            label("Only day, who and how many cups are needed. Leave empty what you do not know.")
        )
        column.addLayout(self._columns)
        column.addWidget(label("Notes: weather, flow, anything else", "lead"))
        column.addWidget(self._notes)
        column.addStretch(1)
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setWidget(inside)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self._scroll, 1)
        foot = QHBoxLayout()
        foot.setContentsMargins(32, 8, 32, 16)
        foot.addWidget(self._trouble, 1)
        foot.addWidget(button("Cancel", self.given_up.emit))
        foot.addWidget(button("Save batch", self.save, "main"))
        outer.addLayout(foot)


def _second_choices() -> tuple[tuple[str, str], ...]:
    fields = {factor: field for field, factor in SECOND.items()}
    return tuple(
        (f"{fields[factor]}={value}", value_words(factor, value))
        for factor in FIRST_OF
        for value in ALTERNATING[factor]
    )


def _combo(empty: str, choices: tuple[tuple[str, str], ...]) -> QComboBox:
    box = QComboBox()
    box.addItem(empty, "")
    for value, words in choices:
        box.addItem(words, str(value))
    box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    box.setMinimumContentsLength(12)
    return box


def _typed_in(widget: QWidget) -> str:
    if isinstance(widget, QComboBox):
        return str(widget.currentData() or "")
    if isinstance(widget, QDateEdit):
        return widget.date().toString("yyyy-MM-dd")
    if isinstance(widget, QTimeEdit):
        return QLocale.c().toString(widget.time(), "HH:mm")
    assert isinstance(widget, QLineEdit)
    return widget.text()


def _type_in(widget: QWidget, text: str) -> None:
    if isinstance(widget, QComboBox):
        widget.setCurrentIndex(max(0, widget.findData(text)))
    elif isinstance(widget, QDateEdit):
        widget.setDate(QDate.fromString(text, "yyyy-MM-dd"))
    elif isinstance(widget, QTimeEdit):
        widget.setTime(QTime.fromString(text, "HH:mm"))
    elif isinstance(widget, QLineEdit):
        widget.setText(text)


def _moment(now: datetime) -> dict[str, str]:
    return {"day": now.date().isoformat(), "time": now.strftime("%H:%M")}
