"""Which ages are wanted: the spans that verdicts use, set by the teacher."""

from dataclasses import dataclass

from larvasight.errors import require_between
from larvasight.geometry.facts import Fact, Label

YOUNG_LIMIT_H = Fact(name="youngest usable age", value=6.0, unit="h", label=Label.COMMON_PRACTICE)
OLD_LIMIT_H = Fact(name="oldest usable age", value=30.0, unit="h", label=Label.COMMON_PRACTICE)
BEST_YOUNG_H = Fact(name="youngest best age", value=12.0, unit="h", label=Label.COMMON_PRACTICE)
BEST_OLD_H = Fact(name="oldest best age", value=24.0, unit="h", label=Label.COMMON_PRACTICE)

FACTS: tuple[Fact, ...] = (YOUNG_LIMIT_H, OLD_LIMIT_H, BEST_YOUNG_H, BEST_OLD_H)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Ages in hours after hatching: usable span for verdicts, best span for the strip.

    ``by`` names the teacher whose own line the usable span is, empty for hours set as such.
    """

    young_h: float = YOUNG_LIMIT_H.value
    best_young_h: float = BEST_YOUNG_H.value
    best_old_h: float = BEST_OLD_H.value
    old_h: float = OLD_LIMIT_H.value
    by: str = ""

    def __post_init__(self) -> None:
        """Refuse spans that are not one inside the other."""
        require_between("young_h", self.young_h, 0.0, self.best_young_h)
        require_between("best_old_h", self.best_old_h, self.best_young_h, self.old_h)
        require_between("old_h", self.old_h, self.best_old_h, 96.0)
