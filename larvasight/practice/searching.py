"""Search a comb side: how a search went, and how hard the next one is."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import require_positive

N_CUPS = 15
# A cell counts as looked at after so long within the field, s.
SEEN_S = 0.5
_SURE_SHARE = 0.9
_UNSURE_SHARE = 0.7
# Fifteen cups in five minutes: larvae dry while they are out of the hive.
_QUICK_PER_MIN = 3.0
# With fewer picks that count a search says little.
_PICKS_LEAST = 8
_IN_A_ROW = 2


class SearchLevel(IntEnum):
    """How hard the larvae of the right age are to find."""

    BROAD = 0
    SOME_WAY_OFF = 1
    NARROW = 2
    MIXED = 3


LEVEL_WORDS: dict[SearchLevel, str] = {
    SearchLevel.BROAD: "a broad band of right ages, near where you begin",
    SearchLevel.SOME_WAY_OFF: "a band of right ages some way off",
    SearchLevel.NARROW: "a narrow band of right ages, far from where you begin",
    SearchLevel.MIXED: "a narrow band far off, on comb with ages mixed",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Searched:
    """How one search went.

    ``n_picks`` counts what was taken and counts for or against, ``n_right`` of them were right or
    very young; ``minutes`` is how long the comb was out of the hive.
    """

    level: SearchLevel
    n_picks: int
    n_right: int
    minutes: float

    @property
    def right_share(self) -> float | None:
        """Share of right picks, None without any."""
        return self.n_right / self.n_picks if self.n_picks else None

    @property
    def right_per_min(self) -> float:
        """Right picks in a minute."""
        return self.n_right / require_positive("minutes", self.minutes)

    @property
    def is_good(self) -> bool:
        """Whether it was sure and quick enough for something harder."""
        is_sure = self.n_right >= _SURE_SHARE * self.n_picks
        is_quick = self.right_per_min >= _QUICK_PER_MIN
        return self.n_picks >= _PICKS_LEAST and is_sure and is_quick

    @property
    def is_poor(self) -> bool:
        """Whether something easier should come: many wrong."""
        return self.n_picks > 0 and self.n_right < _UNSURE_SHARE * self.n_picks


def next_level(searches: Sequence[Searched]) -> SearchLevel:
    """Return how hard the next search is.

    Two good searches in a row go one level on, a poor one goes one back.

    Parameters
    ----------
    searches : sequence of Searched
        The learner's latest, oldest first; without any it is the easiest.
    """
    if not searches:
        return SearchLevel.BROAD
    last = searches[-1]
    if last.is_poor:
        return SearchLevel(max(last.level - 1, SearchLevel.BROAD))
    latest = searches[-_IN_A_ROW:]
    if len(latest) == _IN_A_ROW and all(s.is_good and s.level == last.level for s in latest):
        return SearchLevel(min(last.level + 1, SearchLevel.MIXED))
    return last.level


def way_mm(path_xy_mm: NDArray[np.float64]) -> float:
    """Return how far a field was moved, mm; ``path_xy_mm`` has shape (N, 2)."""
    return float(np.hypot(*np.diff(path_xy_mm, axis=0).T).sum())


def vain_share(
    path_xy_mm: NDArray[np.float64],
    takeable_xy_mm: NDArray[np.float64],
    taken_at: NDArray[np.float64],
    reach_mm: float,
) -> float | None:
    """Return the share of a field's way on which nothing to take lay in it.

    Parameters
    ----------
    path_xy_mm : ndarray of shape (N, 2)
        Middle of the field, one after the other.
    takeable_xy_mm : ndarray of shape (M, 2)
        Larvae of the right age.
    taken_at : ndarray of shape (M,)
        From which place of the path on each was taken already; inf for one never taken.
    reach_mm : float
        How far from its middle a larva is seen in the field.

    Returns
    -------
    float or None
        None where the field was never moved.
    """
    steps = np.hypot(*np.diff(path_xy_mm, axis=0).T) if len(path_xy_mm) > 1 else np.zeros(0)
    whole_mm = float(steps.sum())
    if not whole_mm > 0.0:
        return None
    middles = (path_xy_mm[1:] + path_xy_mm[:-1]) / 2.0
    in_vain = 0.0
    for number, (step_mm, middle) in enumerate(zip(steps, middles, strict=True)):
        if step_mm > 0.0:
            away_mm = np.hypot(*(takeable_xy_mm - middle).T)
            if not ((away_mm <= reach_mm) & (taken_at > number)).any():
                in_vain += float(step_mm)
    return in_vain / whole_mm


def start_of(
    size_mm: tuple[float, float],
    takeable_xy_mm: NDArray[np.float64],
    level: SearchLevel,
    margin_mm: float,
) -> tuple[float, float]:
    """Return where a search begins: as far from what can be taken as the level wants.

    Parameters
    ----------
    size_mm : tuple of float
        Width and height of the side, its corner being the origin.
    takeable_xy_mm : ndarray of shape (M, 2)
        Larvae of the right age.
    level : SearchLevel
        How hard it should be.
    margin_mm : float
        How near to the side's edge it may begin.
    """
    wanted_mm = _BEGIN_AWAY_MM[level]
    across = np.linspace(margin_mm, size_mm[0] - margin_mm, 9)
    down = np.linspace(margin_mm, size_mm[1] - margin_mm, 5)
    places = np.array([(x, y) for x in across for y in down])
    if not len(takeable_xy_mm):
        return float(places[0, 0]), float(places[0, 1])
    away_mm = np.array([np.hypot(*(takeable_xy_mm - place).T).min() for place in places])
    x, y = places[int(np.abs(away_mm - wanted_mm).argmin())]
    return float(x), float(y)


# From the nearest larva to take to where the search begins, mm.
_BEGIN_AWAY_MM: dict[SearchLevel, float] = {
    SearchLevel.BROAD: 12.0,
    SearchLevel.SOME_WAY_OFF: 35.0,
    SearchLevel.NARROW: 60.0,
    SearchLevel.MIXED: 200.0,
}
