"""Which ages "Take or leave" asks: near the learner's edges, right about 85 times in 100."""

import math
from dataclasses import dataclass

import numpy as np

from larvasight.errors import require_between
from larvasight.geometry.facts import Fact, Label
from larvasight.grading import Limits
from larvasight.growth import AGE_MAX_H
from larvasight.stats import EdgePosterior

RIGHT_SHARE = Fact(
    name="share of right answers at which practice teaches most",
    value=0.85,
    unit="share",
    label=Label.DERIVED,
    source=(
        "Wilson et al. 2019, Nature Communications 10:4646, abstract: theory for learners by small"
        " steps gives 15.87 % wrong; no trial with people"
    ),
)
FACTS: tuple[Fact, ...] = (RIGHT_SHARE,)

# So many spreads from an edge the logistic curve is passed that often: 1.735.
TEACHING_SPREADS = math.log(RIGHT_SHARE.value / (1.0 - RIGHT_SHARE.value))
# One in five each; an easy cell lies this much farther out, a harder one this much nearer.
_EASY_SHARE, _EASY_TIMES = 0.2, 2.5
_HARD_SHARE, _HARD_TIMES = 0.2, 0.4
# The worse edge is asked more often, but neither is dropped.
_EDGE_SHARE_MOST = 0.75
# An edge so many hours from where it should lie is asked twice as often as one that lies well.
_FAR_H = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedAge:
    """One age to ask: near which edge, on which side of it, and how far in spreads."""

    age_h: float
    is_old_edge: bool
    is_inside: bool
    spreads: float


def choose_age(edges: EdgePosterior, limits: Limits, rng: np.random.Generator) -> AskedAge:
    """Choose the age that the next cell should look.

    Parameters
    ----------
    edges : EdgePosterior
        What is known of the learner; before any answer, what is thought of beginners.
    limits : Limits
        The teacher's spans.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    AskedAge
        Below 0 h it asks for an egg.
    """
    is_old_edge = bool(rng.random() < old_edge_share(edges, limits))
    kind = rng.random()
    times = 1.0
    if kind < _EASY_SHARE:
        times = _EASY_TIMES
    elif kind < _EASY_SHARE + _HARD_SHARE:
        times = _HARD_TIMES
    young_h, old_h = edges.young_edge_h.value, edges.old_edge_h.value
    away_h = times * TEACHING_SPREADS * edges.spread_h.value
    is_inside = bool(rng.random() < 0.5)
    # Inside a narrow window the middle is as far from both edges as there is room.
    away_h = min(away_h, (old_h - young_h) / 2.0) if is_inside else away_h
    sign = 1.0 if is_old_edge != is_inside else -1.0
    age_h = (old_h if is_old_edge else young_h) + sign * away_h
    return AskedAge(
        age_h=min(age_h, AGE_MAX_H),
        is_old_edge=is_old_edge,
        is_inside=is_inside,
        spreads=away_h / edges.spread_h.value,
    )


def old_edge_share(edges: EdgePosterior, limits: Limits) -> float:
    """Return how often the old edge is asked: half the time, more where it is the worse one.

    The young edge lies well from hatching to the youngest usable age, the old one from the
    oldest best to the oldest usable age.
    """
    young_h, old_h = edges.young_edge_h.value, edges.old_edge_h.value
    young_off_h = max(-young_h, young_h - limits.young_h, 0.0)
    old_off_h = max(limits.best_old_h - old_h, old_h - limits.old_h, 0.0)
    share = (old_off_h + _FAR_H) / (young_off_h + old_off_h + 2.0 * _FAR_H)
    return min(max(share, 1.0 - _EDGE_SHARE_MOST), _EDGE_SHARE_MOST)


def right_share_at(spreads: float) -> float:
    """Return how often one edge is judged right at this many spreads from it, slips aside."""
    require_between("spreads", spreads, 0.0, math.inf)
    return 1.0 / (1.0 + math.exp(-spreads))
