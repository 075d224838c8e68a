"""A batch of cups grafted in one go, and each of its cups."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType
from typing import Final
from uuid import UUID

from larvasight.errors import require_between
from larvasight.grafts.kinds import (
    ALTERNATING,
    DATED,
    AgeBand,
    Factor,
    Fate,
    Feeding,
    Stage,
    Times,
    Tool,
    stages_up_to,
)

# More than anybody grafts in one go: five bars of 20.
CUPS_MAX: Final = 100
CUPS_A_BAR: Final = 20
# Characters that the words in a field may have.
CHARS_MAX: Final[dict[str, int]] = {
    "grafter": 60,
    "breeder": 120,
    "comb": 120,
    "cup_kind": 120,
    "light": 120,
    "place": 120,
    "notes": 2000,
}
# Least and greatest value that can be meant, both allowed.
RANGES: Final[dict[str, tuple[float, float]]] = {
    "magnification": (1.0, 40.0),
    "room_c": (-10.0, 50.0),
    "humidity_pct": (0.0, 100.0),
    "out_min": (0.0, 600.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cup:
    """One cup on the bar.

    ``reached`` is the last stage it is known to have come to. ``days`` holds the day on which
    it was seen to have come to a stage, for as many stages as a day was noted for.
    """

    number: int
    reached: Stage = Stage.GRAFTED
    fate: Fate = Fate.OPEN
    days: Mapping[Stage, date] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        """Refuse a day of a stage that was not reached, and a loss after the last stage."""
        if not 1 <= self.number <= CUPS_MAX:
            msg = f"number must lie between 1 and {CUPS_MAX}, got {self.number}"
            raise ValueError(msg)
        if self.reached is Stage.LAYING and self.fate is Fate.LOST:
            msg = "fate must not be lost for a cup whose queen lays, got lost"
            raise ValueError(msg)
        if self.reached is Stage.GRAFTED and self.fate is Fate.GIVEN_AWAY:
            msg = "fate must not be given-away before the cup is accepted, got given-away"
            raise ValueError(msg)
        beyond = set(self.days) - set(stages_up_to(self.reached)[1:])
        if beyond:
            msg = f"days must be of stages reached, got {sorted(beyond)} beyond {self.reached}"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternation:
    """Every second cup (2, 4, 6 ...) differs from the rest of the bar in one thing."""

    factor: Factor
    value: str

    def __post_init__(self) -> None:
        """Refuse a value that this factor cannot take."""
        if self.value not in ALTERNATING.get(self.factor, ()):
            msg = f"value must be one of {ALTERNATING.get(self.factor, ())}, got {self.value!r}"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Cups grafted in one go under the same conditions.

    ``grafted_at`` is aware and tells the time on the clock of the place, so that its date is
    the day of grafting. None is "not noted" throughout. ``is_practice``: grafted to train the
    hand and thrown away, so it never counts for acceptance. ``out_min`` is how long the comb was
    out of the hive.
    """

    id: UUID
    grafted_at: datetime
    grafter: str
    learner_id: UUID | None = None
    plan_id: UUID | None = None
    breeder: str = ""
    comb: str = ""
    tool: Tool | None = None
    cup_kind: str = ""
    is_primed: bool | None = None
    feeding: Feeding | None = None
    age_band: AgeBand | None = None
    times: Times | None = None
    magnification: float | None = None
    light: str = ""
    place: str = ""
    room_c: float | None = None
    humidity_pct: float | None = None
    out_min: float | None = None
    is_covered: bool | None = None
    is_practice: bool = False
    alternation: Alternation | None = None
    notes: str = ""
    cups: tuple[Cup, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a time without a zone, and what ``RANGES``, ``CHARS_MAX`` or sense forbid."""
        if self.grafted_at.utcoffset() is None:
            msg = f"grafted_at must know its time zone, got {self.grafted_at}"
            raise ValueError(msg)
        if [cup.number for cup in self.cups] != list(range(1, len(self.cups) + 1)):
            msg = f"cups must be numbered from 1 on, got {[cup.number for cup in self.cups]}"
            raise ValueError(msg)
        if not 1 <= len(self.cups) <= CUPS_MAX:
            msg = f"cups must hold 1 to {CUPS_MAX} cups, got {len(self.cups)}"
            raise ValueError(msg)
        for name, (low, high) in RANGES.items():
            if getattr(self, name) is not None:
                require_between(name, getattr(self, name), low, high)
        for name, n_chars in CHARS_MAX.items():
            if len(getattr(self, name)) > n_chars:
                msg = f"{name} must have {n_chars} characters at most"
                raise ValueError(msg)
        for cup in self.cups:
            days = [self.grafted_on, *(cup.days[stage] for stage in DATED if stage in cup.days)]
            if days != sorted(days):
                msg = f"cups must have days in the order of their stages, got {days}"
                raise ValueError(msg)

    @property
    def grafted_on(self) -> date:
        """Day of grafting where it was done."""
        return self.grafted_at.date()


def new_cups(n_cups: int) -> tuple[Cup, ...]:
    """Return cups just grafted, numbered from 1 on."""
    return tuple(Cup(number=number) for number in range(1, n_cups + 1))
