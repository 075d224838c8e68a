"""What is typed about a batch, field by field: read, or refused in one sentence beside the field.

The window and tables of other programs both go through here.
"""

import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from enum import StrEnum
from typing import Any, Final, TypeVar
from uuid import UUID

from larvasight.grafts.batch import CHARS_MAX, CUPS_MAX, RANGES, Alternation, Batch, Cup
from larvasight.grafts.kinds import (
    ALTERNATING,
    AgeBand,
    Factor,
    Feeding,
    Times,
    Tool,
)
from larvasight.grafts.marking import day_problem

# The fields in the order of the form and of tables.
FIELDS: Final = (
    *("day", "time", "grafter", "breeder", "comb", "n_cups", "tool", "second_tool", "cup_kind"),
    *("primed", "second_primed", "feeding", "second_feeding", "age", "second_age", "times"),
    *("magnification", "light", "place", "room_c", "humidity_pct", "out_min", "covered"),
    *("practice", "notes"),
)
# What every second cup can have otherwise, by the field that says so.
SECOND: Final[dict[str, Factor]] = {
    "second_tool": Factor.TOOL,
    "second_primed": Factor.PRIMING,
    "second_feeding": Factor.FEEDING,
    "second_age": Factor.AGE,
}
# The field that says how the other cups of such a bar are.
FIRST_OF: Final[dict[Factor, str]] = {
    Factor.TOOL: "tool",
    Factor.PRIMING: "primed",
    Factor.FEEDING: "feeding",
    Factor.AGE: "age",
}
_NUMBERS: Final[dict[str, str]] = {
    "magnification": "The magnification",
    "room_c": "The room's temperature",
    "humidity_pct": "The room's humidity",
    "out_min": "The time out of the hive",
}
_UNITS: Final[dict[str, str]] = {
    "magnification": "times",
    "room_c": "\N{DEGREE SIGN}C",
    "humidity_pct": "%",
    "out_min": "minutes",
}
_NAMES: Final[dict[str, str]] = {
    "grafter": "The name",
    "breeder": "The breeder",
    "comb": "The comb",
    "cup_kind": "The kind of cup",
    "light": "The light",
    "place": "The place",
    "notes": "The note",
}
_TOO_LONG: Final = "{} may have {} characters at most; shorten it."
_YES_NO: Final = {"": None, "yes": True, "no": False}

_Kind = TypeVar("_Kind", bound=StrEnum)


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """A batch, or what stands against it: one sentence for each field that cannot be so."""

    batch: Batch | None
    problems: Mapping[str, str]


class _Reader:
    """Reads fields one after the other and gathers what is wrong with them."""

    def __init__(self, typed: Mapping[str, str]) -> None:
        self._typed = typed
        self.problems: dict[str, str] = {}

    def text(self, field: str) -> str:
        raw = unicodedata.normalize("NFC", self._typed.get(field, ""))
        found = raw.strip() if field == "notes" else " ".join(raw.split())
        if len(found) > CHARS_MAX.get(field, 200):
            name = _NAMES.get(field, "This")
            self.problems[field] = _TOO_LONG.format(name, CHARS_MAX.get(field, 200))
            return ""
        if any(unicodedata.category(char) in ("Cc", "Cs") and char not in "\n\t" for char in found):
            self.problems[field] = f"{_NAMES.get(field, 'This')} holds signs that cannot be read."
            return ""
        return found

    def number(self, field: str) -> float | None:
        typed, (low, high) = self.text(field), RANGES[field]
        if not typed or field in self.problems:
            return None
        value = _float(typed)
        if value is None or not low <= value <= high:
            what = f"{_NUMBERS[field]} is a number from {low:g} to {high:g} {_UNITS[field]}"
            self.problems[field] = f'{what}; "{typed[:40]}" is not.'
            return None
        return value

    def kind(self, field: str, kinds: type[_Kind]) -> _Kind | None:
        typed = self.text(field)
        if not typed or field in self.problems:
            return None
        try:
            return kinds(typed)
        except ValueError:
            self.problems[field] = _choose([kind.value for kind in kinds])
            return None

    def yes_no(self, field: str) -> bool | None:
        typed = self.text(field)
        if typed not in _YES_NO:
            self.problems[field] = _choose(["yes", "no"])
        return _YES_NO.get(typed)

    def second(self) -> Alternation | None:
        found: list[Alternation] = []
        for field, factor in SECOND.items():
            typed = self.text(field)
            if not typed or field in self.problems:
                continue
            if typed not in ALTERNATING[factor]:
                self.problems[field] = _choose(ALTERNATING[factor])
            elif not self.text(FIRST_OF[factor]):
                self.problems[FIRST_OF[factor]] = "Say how the other cups are, too."
            elif typed == self.text(FIRST_OF[factor]):
                self.problems[field] = "Every second cup must differ from the others here."
            elif found:
                self.problems[field] = "Let every second cup differ in one thing only."
            else:
                found.append(Alternation(factor=factor, value=typed))
        return found[0] if found else None


def read_batch(
    typed: Mapping[str, str],
    *,
    batch_id: UUID,
    zone: tzinfo,
    now: datetime,
    cups: tuple[Cup, ...] = (),
    learner_id: UUID | None = None,
    plan_id: UUID | None = None,
) -> Read:
    """Read what is typed about a batch.

    Parameters
    ----------
    typed : mapping of str to str
        What stands in the ``FIELDS``; one that is missing counts as empty.
    batch_id : UUID
        Its id, kept when it is changed.
    zone : tzinfo
        Zone of the place, for the time of grafting.
    now : datetime
        Aware; nothing was grafted later.
    cups : tuple of Cup
        What is noted already; the number of cups may grow, and shrink to the last cup marked.
    learner_id, plan_id : UUID, optional
        Who grafted and from which plan, where these are known.

    Returns
    -------
    Read
        The batch if nothing stands against it.
    """
    reader = _Reader(typed)
    grafted_at = _grafted_at(reader, zone, now)
    grafter = reader.text("grafter")
    if not grafter:
        reader.problems.setdefault("grafter", "Type who grafted.")
    values: dict[str, Any] = {
        **{name: reader.text(name) for name in _NAMES},
        **{name: reader.number(name) for name in _NUMBERS},
        "tool": reader.kind("tool", Tool),
        "feeding": reader.kind("feeding", Feeding),
        "age_band": reader.kind("age", AgeBand),
        "times": reader.kind("times", Times),
        "is_primed": reader.yes_no("primed"),
        "is_covered": reader.yes_no("covered"),
        "is_practice": reader.yes_no("practice") or False,
        "alternation": reader.second(),
    }
    kept = _cups(reader, cups)
    if grafted_at is not None:
        today = now.astimezone(zone).date()
        found = (day_problem(grafted_at.date(), cup, today) for cup in kept)
        problem = next((sentence for sentence in found if sentence), "")
        if problem:
            reader.problems["day"] = problem
    if reader.problems or grafted_at is None:
        return Read(batch=None, problems=reader.problems)
    batch = Batch(
        **values,
        id=batch_id,
        grafted_at=grafted_at,
        learner_id=learner_id,
        plan_id=plan_id,
        cups=kept,
    )
    return Read(batch=batch, problems={})


def typed_of(batch: Batch) -> dict[str, str]:
    """Return a batch as it would be typed: ``read_batch`` brings it back."""
    typed = {
        **{name: getattr(batch, name) for name in _NAMES},
        **{name: _number_text(getattr(batch, name)) for name in _NUMBERS},
        "day": batch.grafted_at.date().isoformat(),
        "time": batch.grafted_at.strftime("%H:%M"),
        "n_cups": str(len(batch.cups)),
        "tool": batch.tool or "",
        "feeding": batch.feeding or "",
        "age": batch.age_band or "",
        "times": batch.times or "",
        "primed": _yes_no_text(batch.is_primed),
        "covered": _yes_no_text(batch.is_covered),
        "practice": _yes_no_text(batch.is_practice),
    }
    for field, factor in SECOND.items():
        second = batch.alternation
        typed[field] = second.value if second is not None and second.factor is factor else ""
    return {field: str(typed[field]) for field in FIELDS}


def _grafted_at(reader: _Reader, zone: tzinfo, now: datetime) -> datetime | None:
    day = _parsed(reader, "day", date.fromisoformat, "Type the day of grafting as 2027-05-14.")
    clock = _parsed(reader, "time", time.fromisoformat, "Type the time of grafting as 10:30.")
    if day is None or clock is None:
        return None
    if not 1980 <= day.year <= 2199:
        reader.problems["day"] = "Type the day of grafting as 2027-05-14."
        return None
    grafted_at = datetime.combine(day, clock.replace(tzinfo=None), zone)
    if grafted_at > now:
        field = "day" if day > now.astimezone(zone).date() else "time"
        reader.problems[field] = f"This {field} has not come yet; type when it was grafted."
        return None
    return grafted_at


def _parsed(reader: _Reader, field: str, parse: Callable[[str], Any], sentence: str) -> Any:  # noqa: ANN401
    try:
        return parse(reader.text(field))
    except ValueError:
        reader.problems[field] = sentence
        return None


def _cups(reader: _Reader, cups: tuple[Cup, ...]) -> tuple[Cup, ...]:
    typed = reader.text("n_cups")
    value = _float(typed)
    if value is None or value != int(value) or not 1 <= value <= CUPS_MAX:
        reader.problems["n_cups"] = (
            f"A batch has 1 to {CUPS_MAX} cups, a whole number; for more begin another batch."
        )
        return ()
    n_cups = int(value)
    is_bare = {cup.number: cup == Cup(number=cup.number) for cup in cups}
    last = max((number for number, bare in is_bare.items() if not bare), default=0)
    if n_cups < last:
        reader.problems["n_cups"] = (
            f"Something is noted of cup {last}, so there are {last} cups at least."
        )
    more = tuple(Cup(number=number) for number in range(len(cups) + 1, n_cups + 1))
    return (cups + more)[:n_cups]


def _float(typed: str) -> float | None:
    """Return a number typed with a point or a comma, None for anything else."""
    text = typed.replace("\N{MINUS SIGN}", "-").replace(",", ".")
    if len(text) > 20 or not text.isascii() or not set(text) <= set("0123456789.+-"):
        return None
    try:
        return float(text)
    except ValueError:
        return None


def _choose(values: Sequence[str]) -> str:
    return f"Choose one of these or leave it empty: {', '.join(values)}."


def _number_text(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _yes_no_text(value: bool | None) -> str:
    return "" if value is None else "yes" if value else "no"
