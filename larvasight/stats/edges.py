"""Where a picker draws the line: youngest and oldest age taken, how sharply, and slips.

``P(pick | age) = slips / 2 + (1 - slips) F((age - young) / spread) F((old - age) / spread)`` with
the logistic ``F``. An edge is the age at which it alone is passed half of the time. All parameters
are estimated together on a grid (Bayes), slips among them: a fixed slip share biases edge and
spread (Wichmann & Hill 2001, Perception & Psychophysics 63:1293-1313).
"""

import math
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from larvasight.errors import require_between
from larvasight.stats.adaptive import QuestionTable, bayes
from larvasight.stats.proportions import CONFIDENCE

Floats = NDArray[np.float64]
Rule = Literal["variance", "entropy"]
Edge = Literal["young", "old"]

YOUNG_EDGES_H = np.arange(-6.0, 25.0)
OLD_EDGES_H = np.arange(12.0, 61.0)
SPREADS_H = np.array([0.7, 1.1, 1.7, 2.6, 4.0, 6.2])
SLIP_SHARES = np.array([0.01, 0.05, 0.12])
QUESTION_AGES_H = np.arange(-12.0, 73.0, 2.0)
AGE_SPAN_H = (-96.0, 96.0)

# Mean and standard deviation of the weak priors of the edges; those of spread and slips are flat.
_YOUNG_PRIOR_H = (8.0, 8.0)
_OLD_PRIOR_H = (32.0, 14.0)
_WINDOW_LEAST_H = 4.0
# Between edges closer than this many spreads an edge is no longer where half are taken.
_CLEAR_SPREADS = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value and its interval, which holds the true one with 95 % chance; one unit."""

    value: float
    lo: float
    hi: float

    @property
    def half_width(self) -> float:
        """Half of the interval's width."""
        return (self.hi - self.lo) / 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeGrid:
    """Every combination of edges, spread and slips that is thought possible.

    The first five have shape (K,): the parameters, and the weight before any answer. The
    indices, shape (K,) too, say which of the edges and spreads above each one has; ``young_at``
    and ``old_at`` where its edge and spread stand in a table of all edges by all spreads.
    """

    young_edge_h: Floats
    old_edge_h: Floats
    spread_h: Floats
    slip_share: Floats
    prior: Floats
    young_index: NDArray[np.intp]
    old_index: NDArray[np.intp]
    spread_index: NDArray[np.intp]
    young_at: NDArray[np.intp]
    old_at: NDArray[np.intp]

    def chance_of_pick(self, age_h: float) -> Floats:
        """Return each combination's chance of picking a larva that looks ``age_h``, shape (K,)."""
        young = _logistic((age_h - YOUNG_EDGES_H[:, None]) / SPREADS_H).ravel()
        old = _logistic((OLD_EDGES_H[:, None] - age_h) / SPREADS_H).ravel()
        passed = young.take(self.young_at) * old.take(self.old_at)
        return np.asarray(0.5 * self.slip_share + (1.0 - self.slip_share) * passed)

    def questions(self, ages_h: Floats) -> QuestionTable:
        """Return the table of asking larvae of these ages, the edges being what is wanted."""
        chance = np.stack([self.chance_of_pick(float(age_h)) for age_h in ages_h])
        values = np.stack([self.young_edge_h, self.old_edge_h])
        return QuestionTable(chance.astype(np.float32), values.astype(np.float32))


class EdgePosterior:
    """What answers tell of one learner's edges; it changes with every answer.

    Parameters
    ----------
    ages_h : sequence of float, optional
        Ages that can be asked, ``QUESTION_AGES_H`` without them.

    Raises
    ------
    ValueError
        If there is no age or one lies outside -96 to 96 h.
    """

    def __init__(self, ages_h: ArrayLike = QUESTION_AGES_H) -> None:
        ages = np.atleast_1d(np.asarray(ages_h, dtype=np.float64))
        if ages.size == 0:
            msg = "ages_h must hold at least one age, got none"
            raise ValueError(msg)
        self._grid = edge_grid()
        self._ages_h = tuple(require_between("ages_h", a, *AGE_SPAN_H) for a in ages.tolist())
        self._weights = self._grid.prior
        self._n_answers = 0

    @property
    def n_answers(self) -> int:
        """How many answers it rests on."""
        return self._n_answers

    @property
    def young_edge_h(self) -> Estimate:
        """The youngest age taken half of the time, h."""
        return _estimate(YOUNG_EDGES_H, self.marginal("young"))

    @property
    def old_edge_h(self) -> Estimate:
        """The oldest age taken half of the time, h."""
        return _estimate(OLD_EDGES_H, self.marginal("old"))

    @property
    def spread_h(self) -> Estimate:
        """How gradual the edges are, h: between 1 in 4 and 3 in 4 taken lie 2.2 of these."""
        index, n = self._grid.spread_index, len(SPREADS_H)
        weights: Floats = np.asarray(np.bincount(index, self._weights, minlength=n), np.float64)
        logs = _estimate(np.asarray(np.log(SPREADS_H)), weights)
        value = float(weights @ SPREADS_H)
        return Estimate(value=value, lo=math.exp(logs.lo), hi=math.exp(logs.hi))

    @property
    def has_clear_window(self) -> bool:
        """Whether the edges lie so far apart that each is where half are taken."""
        apart_h = self.old_edge_h.value - self.young_edge_h.value
        return apart_h > _CLEAR_SPREADS * self.spread_h.value

    def is_known_to(self, within_h: float) -> bool:
        """Return whether both edges' intervals reach no further than ``within_h`` each way."""
        edges = (self.young_edge_h, self.old_edge_h)
        return all(edge.half_width <= within_h for edge in edges)

    def marginal(self, edge: Edge) -> Floats:
        """Return the weights of ``YOUNG_EDGES_H`` or ``OLD_EDGES_H``, summing to 1."""
        if edge not in ("young", "old"):
            msg = f"edge must be 'young' or 'old', got {edge!r}"
            raise ValueError(msg)
        is_young = edge == "young"
        index = self._grid.young_index if is_young else self._grid.old_index
        n = len(YOUNG_EDGES_H if is_young else OLD_EDGES_H)
        return np.asarray(np.bincount(index, self._weights, minlength=n))

    def update(self, age_h: float, picked: bool) -> None:
        """Take in one answer.

        Parameters
        ----------
        age_h : float
            The age that the larva looks (``looks_age_h``), -96 to 96 h.
        picked : bool
            Whether the learner took it.

        Raises
        ------
        ValueError
            If ``age_h`` lies outside its span or is not a number.
        """
        require_between("age_h", age_h, *AGE_SPAN_H)
        chance = self._grid.chance_of_pick(age_h)
        self._weights = bayes(self._weights, chance, is_yes=bool(picked)).astype(np.float64)
        self._n_answers += 1

    def update_many(self, ages_h: ArrayLike, picked: ArrayLike) -> None:
        """Take in many answers at once, as ``update`` one by one would.

        Parameters
        ----------
        ages_h : array_like of float, shape (N,)
            Ages that the larvae look, -96 to 96 h.
        picked : array_like of bool, shape (N,)
            Whether the learner took them.

        Raises
        ------
        ValueError
            If the lengths differ, or an age lies outside its span or is not a number; nothing
            is taken in then.
        """
        ages, taken = np.atleast_1d(ages_h).tolist(), np.atleast_1d(picked).tolist()
        if len(ages) != len(taken):
            msg = f"ages_h and picked must have one length, got {len(ages)} and {len(taken)}"
            raise ValueError(msg)
        for age_h in ages:
            require_between("ages_h", age_h, *AGE_SPAN_H)
        for age_h, is_taken in zip(ages, taken, strict=True):
            self.update(age_h, bool(is_taken))

    def update_by(self, log_chance: ArrayLike, n_answers: int) -> None:
        """Take in answers by the logarithm of their chance, which ``edge_groups`` sums up.

        Parameters
        ----------
        log_chance : array_like of float, shape (K,)
            For each combination of the grid, up to a number that is the same for all.
        n_answers : int
            How many answers these are.

        Raises
        ------
        ValueError
            If there is not one number for each combination.
        """
        logs = np.asarray(log_chance, dtype=np.float64)
        if logs.shape != self._weights.shape or not np.isfinite(logs).all():
            msg = f"log_chance must hold {len(self._weights)} numbers, got shape {logs.shape}"
            raise ValueError(msg)
        weights = self._weights * np.exp(logs - logs.max())
        self._weights = np.asarray(weights / weights.sum())
        self._n_answers += n_answers

    def pick_share(self, ages_h: ArrayLike) -> Floats:
        """Return the share that would be taken of larvae that look these ages, for drawing."""
        ages = np.atleast_1d(np.asarray(ages_h, dtype=np.float64)).tolist()
        # No matrix product: its threads wait for each other where the machine is busy.
        return np.array([np.sum(self._grid.chance_of_pick(a) * self._weights) for a in ages])

    def gain_over_chance(self, ages_h: ArrayLike, picked: ArrayLike) -> float:
        """Return how much likelier answers are by these edges than if age did not matter.

        Parameters
        ----------
        ages_h, picked : array_like, shape (N,)
            The answers, as of ``update_many``.

        Returns
        -------
        float
            Natural logarithm of the ratio of likelihoods; below 0 where one share for all ages
            tells the answers better.
        """
        taken = np.atleast_1d(np.asarray(picked, dtype=bool))
        if not taken.size:
            return 0.0
        least = 1e-6
        by_age = np.clip(self.pick_share(ages_h), least, 1.0 - least)
        share = np.clip(taken.mean(), least, 1.0 - least)
        gained = np.where(taken, np.log(by_age / share), np.log((1.0 - by_age) / (1.0 - share)))
        return float(gained.sum())

    def next_age_h(self, rule: Rule = "variance") -> float:
        """Return the age that tells most if asked next.

        Parameters
        ----------
        rule : {"variance", "entropy"}
            Least expected variance of both edges, or least expected entropy of everything.

        Returns
        -------
        float
            One of ``ages_h``, the first among equals.

        Raises
        ------
        ValueError
            If there is no such rule.
        """
        table = _questions(self._ages_h)
        if rule == "variance":
            return self._ages_h[int(np.argmin(table.expected_variance(self._weights)))]
        if rule == "entropy":
            return self._ages_h[int(np.argmax(table.information(self._weights)))]
        msg = f"rule must be 'variance' or 'entropy', got {rule!r}"
        raise ValueError(msg)


def edge_difference(before: EdgePosterior, after: EdgePosterior, edge: Edge) -> Estimate:
    """Return by how much an edge moved between two independent sets of answers, h.

    Parameters
    ----------
    before, after : EdgePosterior
        What the answers of each time tell; no answer may stand in both.
    edge : {"young", "old"}
        Which edge.

    Returns
    -------
    Estimate
        Above 0 where the edge moved to older larvae.
    """
    weights = np.convolve(after.marginal(edge), before.marginal(edge)[::-1])
    most_h = len(weights) // 2
    return _estimate(np.arange(-most_h, most_h + 1.0), weights)


@cache
def edge_grid() -> EdgeGrid:
    """Return the grid, made once: 24,894 combinations."""
    shape = (len(YOUNG_EDGES_H), len(OLD_EDGES_H), len(SPREADS_H), len(SLIP_SHARES))
    young, old, spread, slip = (index.ravel() for index in np.indices(shape))
    wide = OLD_EDGES_H[old] >= YOUNG_EDGES_H[young] + _WINDOW_LEAST_H
    young, old, spread, slip = young[wide], old[wide], spread[wide], slip[wide]
    prior = _bell(YOUNG_EDGES_H, *_YOUNG_PRIOR_H)[young] * _bell(OLD_EDGES_H, *_OLD_PRIOR_H)[old]
    grid = EdgeGrid(
        young_edge_h=YOUNG_EDGES_H[young],
        old_edge_h=OLD_EDGES_H[old],
        spread_h=SPREADS_H[spread],
        slip_share=SLIP_SHARES[slip],
        prior=prior / prior.sum(),
        young_index=young,
        old_index=old,
        spread_index=spread,
        young_at=young * len(SPREADS_H) + spread,
        old_at=old * len(SPREADS_H) + spread,
    )
    grid.prior.setflags(write=False)
    return grid


@cache
def _questions(ages_h: tuple[float, ...]) -> QuestionTable:
    return edge_grid().questions(np.array(ages_h))


def _estimate(values: Floats, weights: Floats) -> Estimate:
    """Return mean and equal-tailed interval; each value stands for a bin as wide as all."""
    half = (values[1] - values[0]) / 2.0
    ends = np.concatenate([values - half, [values[-1] + half]])
    below = np.concatenate([[0.0], np.cumsum(weights)])
    tail = (1.0 - CONFIDENCE) / 2.0
    lo, hi = np.interp([tail * below[-1], (1.0 - tail) * below[-1]], below, ends).tolist()
    return Estimate(value=float(weights @ values / below[-1]), lo=lo, hi=hi)


def _bell(values: Floats, mean: float, sd: float) -> Floats:
    return np.asarray(np.exp(-0.5 * ((values - mean) / sd) ** 2))


def _logistic(x: Floats) -> Floats:
    return np.asarray(0.5 + 0.5 * np.tanh(0.5 * x))
