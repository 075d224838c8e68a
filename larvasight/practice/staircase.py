"""Younger of two: the gap of ages narrows as the eye gets sharper."""

from dataclasses import dataclass

from larvasight.errors import require_between

GAPS_H = (12.0, 8.0, 6.0, 4.0, 3.0)
N_PAIRS = 12
_RIGHT_TO_NARROW = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class GapStaircase:
    """Two right in a row narrow the gap, one wrong widens it.

    Such steps settle where 71 in 100 answers are right (Levitt 1971, Journal of the Acoustical
    Society of America 49:467-477). ``step`` counts from 0 into ``GAPS_H``.
    """

    step: int = 0
    n_right: int = 0

    def __post_init__(self) -> None:
        """Refuse steps that are not there."""
        require_between("step", self.step, 0, len(GAPS_H) - 1)
        require_between("n_right", self.n_right, 0, _RIGHT_TO_NARROW - 1)

    @property
    def gap_h(self) -> float:
        """Hours by which the two larvae of the next pair differ in the age they look."""
        return GAPS_H[self.step]

    def after(self, *, is_right: bool) -> "GapStaircase":
        """Return the staircase after one answer."""
        if not is_right:
            return GapStaircase(step=max(self.step - 1, 0))
        if self.n_right + 1 < _RIGHT_TO_NARROW:
            return GapStaircase(step=self.step, n_right=self.n_right + 1)
        return GapStaircase(step=min(self.step + 1, len(GAPS_H) - 1))
