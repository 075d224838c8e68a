"""Search a comb side: a search by one learner, every answer kept, and how it went."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

import numpy as np
from numpy.typing import NDArray

from larvasight.desk.kept_answers import outcomes_of
from larvasight.desk.search_side import LEVEL_MARK, SearchSide
from larvasight.desk.why import Why, why_true
from larvasight.grading import Limits
from larvasight.practice import Answer, Given, Outcome, outcome_of
from larvasight.practice.drills import SEARCH_A_SIDE
from larvasight.practice.searching import (
    N_CUPS,
    SEEN_S,
    Searched,
    SearchLevel,
    next_level,
    vain_share,
)
from larvasight.sheet import Jelly

if TYPE_CHECKING:
    from larvasight.desk.keeping import Keeper
    from larvasight.records.store import Store
    from larvasight.records.types import KeptRound

_RIGHT = frozenset({Outcome.RIGHT, Outcome.VERY_YOUNG})
_WRONG = frozenset({Outcome.TOO_OLD, Outcome.EGG, Outcome.NO_LARVA})
_ROUNDS_READ = 3
_MINUTES_LEAST = 1.0 / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchTold:
    """How a search went.

    ``vain_share`` is the share of the field's way on which nothing to take lay in it, None where
    the field was not moved. ``n_dry`` of the right picks lay on hardly any jelly, ``n_hidden``
    picks were half hidden, ``n_past`` just past the limit: none of them is counted wrong.
    """

    searched: Searched
    next_level: SearchLevel
    vain_share: float | None
    n_taken: int
    n_too_old: int
    n_egg: int
    n_no_larva: int
    n_very_young: int
    n_past: int
    n_hidden: int
    n_dry: int
    n_seen_left: int
    n_never_seen: int


def searches_of(store: "Store", learner_id: UUID) -> list[Searched]:
    """Return how a learner's latest searches went, oldest first.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    kept = store.kept_rounds(learner_id, [SEARCH_A_SIDE.key], n_latest=_ROUNDS_READ)
    return [found for one in kept if (found := _searched(one)) is not None]


class SearchSession:
    """One side searched by one learner; what is taken is handed to the keeper as it comes.

    Parameters
    ----------
    side : SearchSide
        What is searched.
    keeper : Keeper
        Stores answers, one after the other.
    learner_id : UUID
        Who searches.
    limits : Limits
        The teacher's spans now.
    now : callable
        The clock, UTC.
    failed : callable, optional
        Gets one plain sentence when something is given up by the keeper.
    """

    def __init__(
        self,
        side: SearchSide,
        keeper: "Keeper",
        *,
        learner_id: UUID,
        limits: Limits,
        now: Callable[[], datetime],
        failed: Callable[[str], None] | None = None,
    ) -> None:
        self.side, self.limits = side, limits
        self.round_id = uuid4()
        self.taken: list[int] = []
        self.path_xy_px: list[tuple[float, float]] = []
        self.is_ended = False
        self._keeper, self._learner_id, self._now, self._failed = keeper, learner_id, now, failed
        self._seen_s = np.zeros(len(side.comb.asked))
        self._response_ms: dict[int, int] = {}
        self._taken_at: dict[int, int] = {}
        self._begun = self._since = now()
        self._ended: datetime | None = None

    def begin(self, magnification: float | None = None) -> None:
        """Keep that this side is shown; the comb is out of the hive from now on."""
        from larvasight.records.types import ShownRound

        recipe: dict[str, Any] = dict(self.side.comb.recipe)
        if magnification is not None:
            recipe["magnification"] = magnification
        self._begun = self._since = self._now()
        shown = ShownRound(
            id=self.round_id,
            learner_id=self._learner_id,
            drill=SEARCH_A_SIDE,
            cells=self.side.comb.asked,
            limits=self.limits,
            recipe=recipe,
            kind="drawn",
            shown_at_utc=self._begun,
        )
        self._keeper.hand(lambda store: store.show_round(shown), None, self._failed)

    @property
    def minutes(self) -> float:
        """How long the comb is, or was, out of the hive."""
        until = self._ended or self._now()
        return max((until - self._begun).total_seconds() / 60.0, _MINUTES_LEAST)

    @property
    def is_full(self) -> bool:
        """Whether every cup has its larva."""
        return len(self.taken) >= N_CUPS

    @property
    def seen(self) -> NDArray[np.bool_]:
        """Which cells were in the field long enough to be looked at, shape (N,)."""
        seen = self._seen_s >= SEEN_S
        seen[self.taken] = True
        return np.asarray(seen)

    def look(
        self, middle_xy_px: tuple[float, float], in_field: NDArray[np.bool_], for_s: float
    ) -> None:
        """Note where the field is, and for how long which cells have been in it.

        Parameters
        ----------
        middle_xy_px : tuple of float
            Its middle in the picture.
        in_field : ndarray of shape (N,)
            Which cells lie in it.
        for_s : float
            Since the look before, s.
        """
        if self.is_ended:
            return
        self._seen_s[in_field] += for_s
        if not self.path_xy_px or self.path_xy_px[-1] != middle_xy_px:
            self.path_xy_px.append(middle_xy_px)

    def toggle(self, index: int, stored: Callable[[], None]) -> bool:
        """Take a larva into the next cup, or put one back; return whether it is taken now.

        ``stored`` is called once that is kept.

        Raises
        ------
        ValueError
            If the search has ended, or all cups are full.
        """
        is_taken = index not in self.taken
        if self.is_ended or (is_taken and self.is_full):
            msg = f"toggle needs an empty cup in a search under way, got {len(self.taken)} full"
            raise ValueError(msg)
        now = self._now()
        took_ms = max(0, round((now - self._since).total_seconds() * 1000.0))
        self._since = now
        if is_taken:
            self.taken.append(index)
            self._response_ms[index] = took_ms
            self._taken_at[index] = len(self.path_xy_px)
        else:
            self.taken.remove(index)
        given = Given(
            cell_id=self.side.comb.asked[index].id,
            answer=Answer.TAKE if is_taken else None,
            response_ms=took_ms,
            is_final=False,
        )
        self._keeper.hand(lambda store: store.keep([given], now=now), stored, self._failed)
        return is_taken

    def take_back(self, stored: Callable[[], None]) -> int | None:
        """Put the latest larva back; return its cell's index, None when no cup is full."""
        if not self.taken or self.is_ended:
            return None
        index = self.taken[-1]
        self.toggle(index, stored)
        return index

    def end(self, stored: Callable[[], None]) -> None:
        """End the search: what was seen and not taken was left, the rest was never judged."""
        if self.is_ended:
            return
        self.is_ended = True
        now = self._ended = self._now()
        seen = self.seen
        givens = tuple(
            Given(
                cell_id=cell.id,
                answer=Answer.TAKE if index in self.taken else Answer.LEAVE,
                response_ms=self._response_ms.get(index),
                is_final=True,
            )
            for index, cell in enumerate(self.side.comb.asked)
            if seen[index]
        )
        round_id = self.round_id
        self._keeper.hand(
            lambda store: store.end_round(round_id, givens, now=now), stored, self._failed
        )

    def outcome(self, index: int) -> Outcome:
        """Return what taking or leaving a cell was."""
        answer = Answer.TAKE if index in self.taken else Answer.LEAVE
        return outcome_of(self.side.comb.asked[index], answer, self.limits)

    def why(self, index: int) -> Why:
        """Return what is shown of a cell once the search is told."""
        return why_true(self.side.comb.cell_of(index), self.side.comb.sheet, self.limits)

    def told(self, before: Sequence[Searched], reach_px: float) -> SearchTold:
        """Return how the search went.

        Parameters
        ----------
        before : sequence of Searched
            The learner's searches before this one.
        reach_px : float
            How far from its middle a larva is seen in the field.
        """
        found = [self.outcome(index) for index in self.taken]
        n_right = sum(one in _RIGHT for one in found)
        searched = Searched(
            level=self.side.level,
            n_picks=n_right + sum(one in _WRONG for one in found),
            n_right=n_right,
            minutes=self.minutes,
        )
        takeable, asked, seen = self.side.takeable, self.side.comb.asked, self.seen
        left = [index for index in takeable if index not in self.taken]
        return SearchTold(
            searched=searched,
            next_level=next_level([*before, searched]),
            vain_share=vain_share(
                np.array(self.path_xy_px).reshape(-1, 2),
                self.side.middles_xy_px[list(takeable)],
                np.array([self._taken_at.get(k, math.inf) for k in takeable]),
                reach_px,
            ),
            n_taken=len(found),
            n_too_old=found.count(Outcome.TOO_OLD),
            n_egg=found.count(Outcome.EGG),
            n_no_larva=found.count(Outcome.NO_LARVA),
            n_very_young=found.count(Outcome.VERY_YOUNG),
            n_past=found.count(Outcome.JUST_PAST),
            n_hidden=found.count(Outcome.HIDDEN),
            n_dry=sum(
                asked[index].jelly is Jelly.NONE
                for index, one in zip(self.taken, found, strict=True)
                if one in _RIGHT
            ),
            n_seen_left=sum(bool(seen[index]) for index in left),
            n_never_seen=sum(not seen[index] for index in left),
        )


def _searched(kept: "KeptRound") -> Searched | None:
    """Return how a kept search went; None for one that says nothing."""
    level = kept.recipe.get(LEVEL_MARK)
    if type(level) is not int or not 0 <= level < len(SearchLevel) or kept.ended_at_utc is None:
        return None
    found = [outcome for _, outcome in outcomes_of(kept)]
    n_right = sum(one in _RIGHT for one in found)
    n_picks = n_right + sum(one in _WRONG for one in found)
    if n_picks == 0:
        return None
    minutes = (kept.ended_at_utc - kept.shown_at_utc).total_seconds() / 60.0
    return Searched(
        level=SearchLevel(level),
        n_picks=n_picks,
        n_right=n_right,
        minutes=max(minutes, _MINUTES_LEAST),
    )
