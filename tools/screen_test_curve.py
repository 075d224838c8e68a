"""How often learners of a known share of right picks pass the screen test.

python tools/screen_test_curve.py [--learners 200] [--seed 1]

Picks and check are computed exactly. The line is simulated: sharp to ordinary eyes whose old edge
lies where the larvae too old come to their part of the wrong picks, measured by one or two blocks
on drawn larvae.
"""

from __future__ import annotations

import argparse
import math
import sys
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq
from scipy.special import expit
from scipy.stats import betabinom, binom

from larvasight.grading import NOT_COUNTED_H, Limits
from larvasight.practice.measuring import MeasuringBlock
from larvasight.practice.readiness import (
    BLOCKS_MOST,
    CHECK_PICKS,
    CHECK_WRONG_MOST,
    COMB_PICKS_MOST,
    DAY_PICKS_MOST,
    DAY_WRONG_MOST,
    N_PICKS,
    TOO_OLD_MOST,
    WRONG_MOST,
    is_line_met,
)
from simulate_learners import Learner, looks

if TYPE_CHECKING:
    from numpy.typing import NDArray

SHARES = (0.80, 0.85, 0.88, 0.90, 0.92, 0.94, 0.95, 0.96, 0.97, 0.98, 0.99)
TOO_OLD_PART = 0.25
# Spreads of the eyes simulated, h: who picks 99 in 100 right is hardly less sharp.
_SPREADS_H = (0.7, 1.8)
_YOUNG_EDGE_H = 5.0
# Ages on a comb as a queen lays it: about as many cells of every hour.
_COMB_AGES_H = (-24.0, 74.0)
_N_COMB = 6000


def wrong_of(n: int, wrong_share: float, alike: float = 0.0) -> NDArray[np.float64]:
    """Return the chance of each number of wrong picks among ``n``, comb by comb.

    ``alike`` is the correlation of picks on one comb.
    """
    if alike == 0.0:
        return np.asarray(binom.pmf(np.arange(n + 1), n, wrong_share))
    total = np.ones(1)
    strength = (1.0 - alike) / alike
    for _ in range(n // COMB_PICKS_MOST):
        k = np.arange(COMB_PICKS_MOST + 1)
        comb = betabinom.pmf(
            k, COMB_PICKS_MOST, wrong_share * strength, (1.0 - wrong_share) * strength
        )
        total = np.convolve(total, comb)
    return total


def chance_of_picks(
    right_share: float, *, too_old_part: float = TOO_OLD_PART, alike: float = 0.0
) -> float:
    """Return the exact chance that picks and too old ones are met, on two even days."""
    day = wrong_of(DAY_PICKS_MOST, 1.0 - right_share, alike)[: DAY_WRONG_MOST + 1]
    both = np.convolve(day, day)[: WRONG_MOST + 1]
    few_old = binom.cdf(TOO_OLD_MOST, np.arange(len(both)), too_old_part)
    return float(both @ few_old)


def chance_of_check(right_share: float, *, alike: float = 0.0) -> float:
    """Return the exact chance that the check is met."""
    return float(wrong_of(CHECK_PICKS, 1.0 - right_share, alike)[: CHECK_WRONG_MOST + 1].sum())


def within(n_tries: int, chance: float) -> float:
    """Return the chance of passing at least once in some tries."""
    return 1.0 - (1.0 - chance) ** n_tries


def old_edge_of(
    too_old_share: float, spread_h: float, ages_h: NDArray[np.float64], looks_h: NDArray[np.float64]
) -> float:
    """Return the old edge at which this share of counted picks is too old, h."""
    limit_h = Limits().old_h
    is_right = (ages_h >= 0.0) & (ages_h <= limit_h)
    is_old = ages_h > limit_h + NOT_COUNTED_H

    def excess(old_edge_h: float) -> float:
        taken = expit((looks_h - _YOUNG_EDGE_H) / spread_h) * expit(
            (old_edge_h - looks_h) / spread_h
        )
        return float(taken[is_old].sum() / taken[is_right | is_old].sum()) - too_old_share

    return float(brentq(excess, 12.0, 60.0))


def chance_of_line(too_old_share: float, n_learners: int, seed: int) -> float:
    """Return how often such learners meet the line, by simulation."""
    rng = np.random.default_rng(seed)
    ages_h = rng.uniform(*_COMB_AGES_H, _N_COMB)
    looks_h = np.array([looks(age_h, rng) for age_h in ages_h.tolist()])
    n_met = 0
    for _ in range(n_learners):
        spread_h = math.exp(rng.uniform(*np.log(_SPREADS_H)))
        learner = Learner(
            young_edge_h=_YOUNG_EDGE_H,
            old_edge_h=old_edge_of(too_old_share, spread_h, ages_h, looks_h),
            young_spread_h=spread_h,
            old_spread_h=spread_h,
            slip_share=0.0,
            is_normal=False,
        )
        n_met += meets_line(learner, rng)
    return n_met / n_learners


def meets_line(learner: Learner, rng: np.random.Generator) -> bool:
    """Measure one learner as the test does, and say whether the line is met."""
    answers: list[tuple[float, bool]] = []
    for _ in range(BLOCKS_MOST):
        block = MeasuringBlock(rng)
        while (age_h := block.next_age_h()) is not None:
            looks_h = looks(age_h, rng)
            answers.append((looks_h, learner.takes(looks_h, rng)))
            block.answer(*answers[-1])
        edges = MeasuringBlock(rng).posterior
        edges.update_many(*zip(*answers, strict=True))
        if is_line_met(edges, Limits()):
            return True
    return False


def main(arguments: list[str]) -> int:
    """Print the curve and return 0."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--learners", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    print(f"{N_PICKS} picks, {CHECK_PICKS} in the check; a quarter of wrong picks too old")
    print(
        f"{'right':>6s}{'picks':>9s}{'check':>8s}{'line':>7s}{'a try':>9s}{'3 tries':>9s}"
        f"{'without line or too old, 3 tries':>36s}{'the same, combs alike .02':>28s}"
    )
    for share in SHARES:
        picks, check = chance_of_picks(share), chance_of_check(share)
        line = chance_of_line(TOO_OLD_PART * (1.0 - share), options.learners, options.seed)
        least, alike = (
            chance_of_picks(share, too_old_part=0.0, alike=a) * chance_of_check(share, alike=a)
            for a in (0.0, 0.02)
        )
        print(
            f"{share:6.2f}{picks:9.4f}{check:8.4f}{line:7.2f}{picks * check * line:9.4f}"
            f"{within(3, picks * check * line):9.4f}{within(3, least):36.4f}"
            f"{within(3, alike):28.4f}",
            flush=True,
        )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
