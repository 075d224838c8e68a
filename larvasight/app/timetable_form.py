"""What is decided for a batch: asked at the side, with what is wrong beside each field."""

from dataclasses import dataclass, replace
from datetime import datetime, tzinfo

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QCheckBox,
    QLabel,
    QRadioButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.parts import column as parts_column
from larvasight.app.parts import label
from larvasight.app.timetable_fields import Choice, Field, Line, Moment
from larvasight.grading import Limits
from larvasight.timetable import Anchor, PlanSpec, Start, Wanted, make_plan
from larvasight.timetable.expected import compare_starts
from larvasight.timetable.reading import Read, Typed, read_typed
from larvasight.timetable.spec import (
    NAME_CHARS_MAX,
    USUAL_LEAD_H,
    USUAL_SETTLE_H,
    anchored,
    graft_at,
)

_STARTS = {
    Start.EDGE: "Hatching edge on a comb",
    Start.COMB: "Comb in the breeder's nest",
    Start.CONFINED: "Queen confined to a comb",
}
_ANCHORS = (
    (Anchor.GRAFT.value, "the day of grafting"),
    (Anchor.NEEDED.value, "the day I need queens"),
    (Anchor.START.value, "the day of the start"),
)
_WANTED = (
    (Wanted.CELLS.value, "ripe cells"),
    (Wanted.VIRGINS.value, "virgin queens"),
    (Wanted.LAYING.value, "laying queens"),
)
_START_MOMENTS = {
    Start.EDGE: "Edge seen on",
    Start.COMB: "Comb put in on",
    Start.CONFINED: "Queen confined on",
}
_LEADS = {
    Start.EDGE: "Hours from seeing the edge to grafting",
    Start.COMB: "Hours from comb in the nest to grafting",
    Start.CONFINED: "Hours from confining to grafting",
}
# Shown as text; each is a field of the plan.
_NUMBERS = (
    *("lead_h", "caged_h", "settle_h", "eggs_per_h", "sealed_c", "n_bars", "cups_per_bar"),
    *("n_nucs", "n_nucs_owned", "first_queen"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """All that stands in the fields, right or wrong."""

    name: str
    typed: Typed


class PlanForm(QScrollArea):
    """Asks for a plan; ``changed`` tells of every change a person makes."""

    changed = Signal()

    def __init__(self, tz: tzinfo, limits: Limits) -> None:
        super().__init__()
        self._tz = tz
        self.limits = limits
        self._is_filling = False
        self._last_good: PlanSpec | None = None
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._make_fields()
        self._make_starts()
        self._lay_out()

    def put(self, draft: Draft) -> None:
        """Show what was decided or typed before."""
        self._is_filling = True
        typed = draft.typed
        self.name.put(draft.name)
        self._starts[typed.start].setChecked(True)
        self.anchor.put(typed.anchor.value)
        self.wanted.put(typed.wanted.value)
        self.at.put(typed.anchor_at)
        for name in _NUMBERS:
            self.lines[name].put(getattr(typed, name))
        self.lines["breeder"].put(typed.breeder)
        self.lines["starter"].put(typed.starter)
        self.has_emerged.setChecked(typed.emerged_at is not None)
        if typed.emerged_at is not None:
            self.emerged.put(typed.emerged_at)
        self._is_filling = False
        self._fit()
        self._check()

    def draft(self) -> Draft:
        """Return what stands in the fields."""
        has_emerged = self.has_emerged.isChecked()
        typed = Typed(
            start=self._start,
            anchor=Anchor(self.anchor.key),
            anchor_at=self.at.at,
            wanted=Wanted(self.wanted.key),
            breeder=self.lines["breeder"].text,
            starter=self.lines["starter"].text,
            emerged_at=self.emerged.at if has_emerged else None,
            **{name: self.lines[name].text for name in _NUMBERS},
        )
        return Draft(name=self.name.text, typed=typed)

    def spec(self) -> PlanSpec | None:
        """Return the plan typed, None while something in it cannot be used."""
        return self._read().spec if self.name.text.strip() else None

    def show_wrong(self) -> None:
        """Go to the first field that cannot be used."""
        for field in self._asked():
            if field.wrong.text() and field.wrong.isVisibleTo(self):
                self.ensureWidgetVisible(field)
                field.inner.setFocus()
                return

    def _read(self) -> Read:
        return read_typed(self.draft().typed, self._tz)

    @property
    def _start(self) -> Start:
        return next(start for start, made in self._starts.items() if made.isChecked())

    def _make_fields(self) -> None:
        edited = self._edited
        self.name = Line("Name of the batch", edited, NAME_CHARS_MAX)
        self.anchor = Choice("I know", _ANCHORS, self._anchor_changed)
        self.wanted = Choice("Needed then", _WANTED, edited)
        self.at = Moment("Grafting on", edited)
        asked = {
            "lead_h": "",
            "caged_h": "Hours the queen is confined",
            "settle_h": "Hours until she lays her first egg",
            "sealed_c": "Warmth of sealed cells, °C (31\N{EN DASH}36)",
            "n_bars": "Bars",
            "cups_per_bar": "Cups on a bar",
            "eggs_per_h": "Eggs she lays an hour",
            "n_nucs": "Nucs for this batch",
            "n_nucs_owned": "Nucs you have in all",
            "first_queen": "Number of the first queen",
            "breeder": "Breeder colony",
            "starter": "Starter colony",
        }
        self.lines = {name: Line(words, edited) for name, words in asked.items()}
        self.has_emerged = QCheckBox("Queens have emerged")
        self.has_emerged.toggled.connect(self._emergence_toggled)
        self.emerged = Moment("Emerged on", edited)

    def _make_starts(self) -> None:
        self._starts: dict[Start, QRadioButton] = {}
        self._promises: dict[Start, QLabel] = {}
        group = QButtonGroup(self)
        for start, words in _STARTS.items():
            made = QRadioButton(words)
            made.clicked.connect(self._start_changed)
            group.addButton(made)
            self._starts[start] = made
            self._promises[start] = label("", "faint")
            self._promises[start].setIndent(30)
        self._starts[Start.EDGE].setChecked(True)

    def _lay_out(self) -> None:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(24, 16, 24, 24)
        column.setSpacing(12)
        column.addWidget(self.name)
        column.addWidget(label("Larvae come from", "lead"))
        for start, made in self._starts.items():
            column.addWidget(parts_column(made, self._promises[start], spacing=0))
        for field in (self.anchor, self.wanted, self.at):
            column.addWidget(field)
        for name in ("lead_h", "caged_h", "settle_h"):
            column.addWidget(self.lines[name])
        column.addWidget(label("Colonies and cups", "lead"))
        for name in list(self.lines)[3:]:
            column.addWidget(self.lines[name])
        column.addWidget(self.has_emerged)
        column.addWidget(self.emerged)
        column.addStretch(1)
        self.setWidget(inside)

    def _asked(self) -> list[Field]:
        return [self.name, self.anchor, self.wanted, self.at, *self.lines.values(), self.emerged]

    def _edited(self) -> None:
        if not self._is_filling:
            self._fit()
            self._check()
            self.changed.emit()

    def _start_changed(self) -> None:
        """Begin anew with the usual hours of another start; grafting stays where it is."""
        start = self._start
        told = self._last_good
        at = graft_at(told, self._tz) if told is not None else None
        self.lines["lead_h"].put(f"{USUAL_LEAD_H[start]:g}")
        self.lines["settle_h"].put(f"{USUAL_SETTLE_H[start]:g}")
        read = self._read().spec
        if read is not None and at is not None and read.anchor is Anchor.START:
            moved = replace(read, anchor=Anchor.GRAFT, anchor_at=at)
            self._put_moment(anchored(moved, Anchor.START, self._tz).anchor_at)
        self._edited()

    def _anchor_changed(self) -> None:
        """Tell the same plan from another moment."""
        told = self._last_good
        if told is not None:
            asked = replace(told, wanted=Wanted(self.wanted.key))
            moved = anchored(asked, Anchor(self.anchor.key), self._tz)
            self._put_moment(moved.anchor_at)
        self._edited()

    def _put_moment(self, at: datetime) -> None:
        self._is_filling = True
        self.at.put(at.astimezone(self._tz))
        self._is_filling = False

    def _emergence_toggled(self, is_on: bool) -> None:
        told = self._last_good
        if is_on and not self._is_filling and told is not None:
            self._is_filling = True
            plan = make_plan(replace(told, emerged_at=None), self._tz, self.limits)
            self.emerged.put(plan.step("emergence").usual_at.replace(minute=0))
            self._is_filling = False
        self._edited()

    def _fit(self) -> None:
        """Ask only what counts for this start, in its words."""
        start, anchor = self._start, Anchor(self.anchor.key)
        moments = {
            Anchor.GRAFT: "Grafting on",
            Anchor.NEEDED: "Queens needed on; time of day of grafting",
            Anchor.START: _START_MOMENTS[start],
        }
        self.at.ask(moments[anchor])
        self.wanted.setVisible(anchor is Anchor.NEEDED)
        self.lines["lead_h"].ask(_LEADS[start])
        self.lines["caged_h"].setVisible(start is Start.CONFINED)
        self.lines["settle_h"].setVisible(start is not Start.EDGE)
        self.lines["eggs_per_h"].setVisible(start is not Start.EDGE)
        self.emerged.setVisible(self.has_emerged.isChecked())

    def _check(self) -> None:
        """Say beside each field what cannot be used."""
        read = self._read()
        self.name.say_wrong("" if self.name.text.strip() else "Type a name.")
        self.at.say_wrong(read.wrong.get("anchor_at", ""))
        self.emerged.say_wrong(read.wrong.get("emerged_at", ""))
        for name, line in self.lines.items():
            line.say_wrong(read.wrong.get(name, ""))
        if read.spec is not None:
            self._last_good = read.spec
            self._promise(read.spec)

    def _promise(self, spec: PlanSpec) -> None:
        """Say under each start how many larvae would be right, grafted at its best hour."""
        for found in compare_starts(spec, self.limits):
            told = f"{100.0 * found.ages.right_of_larvae:.0f} of 100 larvae of the best ages"
            if found.spec.start is Start.CONFINED:
                told += f" ({found.spec.caged_h:g} h)"
            self._promises[found.spec.start].setText(told)


def draft_of(name: str, spec: PlanSpec, tz: tzinfo) -> Draft:
    """Return what stands in the fields for a plan that is kept."""
    emerged = spec.emerged_at
    typed = Typed(
        start=spec.start,
        anchor=spec.anchor,
        anchor_at=spec.anchor_at.astimezone(tz).replace(tzinfo=None),
        wanted=spec.wanted,
        breeder=spec.breeder,
        starter=spec.starter,
        emerged_at=None if emerged is None else emerged.astimezone(tz).replace(tzinfo=None),
        **{field: f"{getattr(spec, field):g}" for field in _NUMBERS},
    )
    return Draft(name=name, typed=typed)
