"""Younger of two: which pair comes next, and every choice kept before it is told."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from larvasight.desk.eye_bouts import BoutSoFar, EyeBout, Sitting, bout_so_far, kept_bouts
from larvasight.practice import Answer
from larvasight.practice.drills import YOUNGER_OF_TWO
from larvasight.practice.staircase import GAPS_H, N_PAIRS, GapStaircase
from larvasight.render.tiles import Tile

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import KeptRound

_STEP = "step"
# Each sitting begins a step easier than the last one ended: some ease before it gets close.
_EASE = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class PairStanding:
    """How close in age the next pair is, and the bout to go on with."""

    stairs: GapStaircase
    so_far: BoutSoFar | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenYounger:
    """What a choice was: which side was chosen and which is younger, 0 left and 1 right."""

    chosen: int
    younger: int
    tiles: tuple[Tile, ...]
    before: GapStaircase
    after: GapStaircase

    @property
    def is_right(self) -> bool:
        """Whether the younger one was chosen."""
        return self.chosen == self.younger


def standing_of(store: "Store", learner_id: UUID, *, now: datetime) -> PairStanding:
    """Return how far a learner has come, from the pairs that are kept.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    kept = kept_bouts(store, learner_id, YOUNGER_OF_TWO, N_PAIRS)
    so_far = bout_so_far(kept, N_PAIRS, now)
    stairs = _stairs(kept)
    if so_far is None:
        stairs = GapStaircase(step=max(stairs.step - _EASE, 0))
    return PairStanding(stairs=stairs, so_far=so_far)


class PairBout(EyeBout):
    """Twelve pairs.

    Parameters
    ----------
    sitting : Sitting
        What it is asked with.
    standing : PairStanding
        How far the learner has come.
    """

    def __init__(self, sitting: Sitting, standing: PairStanding) -> None:
        super().__init__(YOUNGER_OF_TWO, sitting, standing.so_far)
        self.stairs = standing.stairs
        answered = () if standing.so_far is None else standing.so_far.answered
        self.rights = [_is_right(one) for one in answered]

    @property
    def is_done(self) -> bool:
        """Whether all pairs are told."""
        return self.n_done >= N_PAIRS

    def ask(self) -> None:
        """Show the next pair, as far apart as the learner stands."""
        pair = self._cells.pair(self.stairs.gap_h, self.limits, self._rng, self._seen)
        tiles = pair if self._rng.random() < 0.5 else pair[::-1]
        self._show(tiles, {_STEP: self.stairs.step})

    def choose(self, side: int, stored: Callable[[ChosenYounger], None]) -> None:
        """Say which is younger, 0 left or 1 right; ``stored`` gets what that was."""
        before = self.stairs
        younger = _younger([tile.age_h for tile in self.tiles])
        after = before.after(is_right=side == younger)
        told = ChosenYounger(
            chosen=side, younger=younger, tiles=self.tiles, before=before, after=after
        )
        answers = [Answer.YOUNGER if k == side else Answer.OLDER for k in range(2)]
        self._answer(answers, lambda: stored(told))
        self.stairs = after
        self.rights.append(told.is_right)


def _younger(ages_h: list[float | None]) -> int:
    left_h, right_h = (0.0 if age_h is None else age_h for age_h in ages_h)
    return 0 if left_h < right_h else 1


def _is_right(kept: "KeptRound") -> bool:
    younger = _younger([cell.age_h for cell in kept.cells])
    return kept.answers[younger] is Answer.YOUNGER


def _stairs(kept: "list[KeptRound]") -> GapStaircase:
    """Return the stairs after the latest pair."""
    stairs = GapStaircase()
    for one in kept:
        step = one.recipe.get(_STEP)
        if type(step) is not int or not 0 <= step < len(GAPS_H):
            continue
        if step != stairs.step:
            stairs = GapStaircase(step=step)
        stairs = stairs.after(is_right=_is_right(one))
    return stairs
