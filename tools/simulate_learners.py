"""How many cells simulated learners need until their edges are known, and whether intervals hold.

python tools/simulate_learners.py [--learners 400] [--seed 1] [--case NAME]

Learners differ in youngest and oldest age taken, in how gradual that is, and in slips. In the first
case a larva is its age; in all others it is drawn with individual length and curl and the
learner judges the age that it looks, as in practice. In the last two the learner follows another
curve than the one that is fitted.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from larvasight.growth import looks_age_h, sample_body
from larvasight.practice.measuring import (
    ASKED_AGES_H,
    EGG_LOOKS_H,
    KNOWN_TO_H,
    next_measuring_age_h,
)
from larvasight.stats import EdgePosterior
from larvasight.stats.edges import QUESTION_AGES_H

if TYPE_CHECKING:
    from collections.abc import Iterable

CELLS_MOST = 200
CELLS_FIXED = (60, 100)
_CHECKS_IN_A_ROW = 2
# Standard deviation of the logistic curve of spread 1.
_LOGISTIC_SD = math.pi / math.sqrt(3.0)
_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """How learners of one line of the table see and judge."""

    name: str
    sees_bodies: bool = True
    one_spread: bool = True
    is_normal: bool = False


CASES = (
    Case(name="true ages", sees_bodies=False),
    Case(name="as seen"),
    Case(name="as seen, two spreads", one_spread=False),
    Case(name="as seen, normal curve", is_normal=True),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Learner:
    """Where one simulated learner draws the lines, and how surely."""

    young_edge_h: float
    old_edge_h: float
    young_spread_h: float
    old_spread_h: float
    slip_share: float
    is_normal: bool

    def takes(self, looks_h: float, rng: np.random.Generator) -> bool:
        """Return whether a larva that looks this age is taken."""
        passed = self._passed((looks_h - self.young_edge_h) / self.young_spread_h)
        passed *= self._passed((self.old_edge_h - looks_h) / self.old_spread_h)
        share = 0.5 * self.slip_share + (1.0 - self.slip_share) * passed
        return bool(rng.random() < share)

    def _passed(self, spreads: float) -> float:
        if self.is_normal:
            return _NORMAL.cdf(spreads / _LOGISTIC_SD)
        return 0.5 + 0.5 * math.tanh(0.5 * spreads)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What became of one learner.

    ``n_narrow`` counts cells until both edges were first known to within 3 h, ``n_stop`` until
    they were twice in a row; ``CELLS_MOST`` + 1 where they never were. ``held`` and
    ``misses_h`` tell of young and old edge, by ``CELLS_FIXED`` and last where it stopped:
    whether the interval held the truth, and how far off the value was.
    """

    n_narrow: int
    n_stop: int
    held: tuple[tuple[bool, bool], ...]
    misses_h: tuple[tuple[float, float], ...]


def sample_learner(case: Case, rng: np.random.Generator) -> Learner:
    """Draw one learner."""
    young_spread_h, old_spread_h = np.exp(rng.uniform(0.0, math.log(5.0), 2)).tolist()
    return Learner(
        young_edge_h=rng.uniform(0.0, 14.0),
        old_edge_h=rng.uniform(22.0, 46.0),
        young_spread_h=young_spread_h,
        old_spread_h=young_spread_h if case.one_spread else old_spread_h,
        slip_share=rng.uniform(0.0, 0.08),
        is_normal=case.is_normal,
    )


def follow(case: Case, rng: np.random.Generator) -> Found:
    """Ask one learner cell after cell."""
    learner = sample_learner(case, rng)
    posterior = EdgePosterior(ASKED_AGES_H if case.sees_bodies else QUESTION_AGES_H)
    n_narrow, in_a_row, n_stop = CELLS_MOST + 1, 0, CELLS_MOST + 1
    told = []
    for n in range(1, CELLS_MOST + 1):
        if case.sees_bodies:
            looks_h = looks(next_measuring_age_h(posterior, rng), rng)
        else:
            looks_h = posterior.next_age_h()
        posterior.update(looks_h, learner.takes(looks_h, rng))
        if n_stop > CELLS_MOST:
            narrow = posterior.is_known_to(KNOWN_TO_H)
            in_a_row = in_a_row + 1 if narrow else 0
            n_narrow = min(n_narrow, n) if narrow else n_narrow
        stops = n_stop > CELLS_MOST and (in_a_row >= _CHECKS_IN_A_ROW or n == CELLS_MOST)
        if stops:
            at_stop = judge(posterior, learner)
            n_stop = n if in_a_row >= _CHECKS_IN_A_ROW else n_stop
        if n in CELLS_FIXED:
            told.append(judge(posterior, learner))
        if n >= CELLS_FIXED[-1] and n_stop <= CELLS_MOST:
            break
    held, misses_h = zip(*told, at_stop, strict=True)
    return Found(n_narrow=n_narrow, n_stop=n_stop, held=held, misses_h=misses_h)


def looks(age_h: float, rng: np.random.Generator) -> float:
    """Return the age that an egg, or one larva of this true age, looks."""
    if age_h < 0.0:
        return EGG_LOOKS_H
    body = sample_body(age_h, rng)
    return looks_age_h(body.length_mm, body.curl_deg)


def judge(
    posterior: EdgePosterior, learner: Learner
) -> tuple[tuple[bool, bool], tuple[float, float]]:
    """Return whether each interval holds the truth, and how far off each value is, h."""
    young, old = posterior.young_edge_h, posterior.old_edge_h
    young_h, old_h = learner.young_edge_h, learner.old_edge_h
    held = (young.lo <= young_h <= young.hi, old.lo <= old_h <= old.hi)
    return held, (young.value - young_h, old.value - old_h)


def simulate(case: Case, n_learners: int, seed: int) -> list[Found]:
    """Follow many learners; the same seed gives the same learners in every case."""
    return [follow(case, np.random.default_rng((seed, k))) for k in range(n_learners)]


def coverage(found: Iterable[Found], at: int) -> float:
    """Return how many intervals held the truth, of both edges together, at one of the counts."""
    return float(np.mean([one.held[at] for one in found]))


def table_line(case: Case, found: list[Found]) -> str:
    """Return one line of the table."""
    narrow, stop = (np.array([getattr(one, n) for one in found]) for n in ("n_narrow", "n_stop"))
    reached = np.mean(stop <= CELLS_MOST)
    misses_h = np.array([one.misses_h for one in found])
    rmse_h = np.sqrt((misses_h[:, 0] ** 2).mean(axis=0))
    held = "  ".join(f"{coverage(found, at):8.3f}" for at in range(len(CELLS_FIXED) + 1))
    return (
        f"{case.name:24s}{np.median(narrow):8.0f}{np.median(stop):8.0f}"
        f"{np.quantile(stop, 0.9):8.0f}{reached:9.2f}   {held}"
        f"{rmse_h[0]:10.2f}{rmse_h[1]:8.2f}"
    )


HEADINGS = (
    f"{'':24s}{'cells until both edges +-3 h':33s}   {'95 % intervals that hold':28s}"
    f"{'miss at 60, h':>18s}\n"
    f"{'':24s}{'first':>8s}{'twice':>8s}{'p90':>8s}{'reached':>9s}   "
    f"{'60 cells':>8s}  {'100':>8s}  {'at stop':>8s}{'young':>10s}{'old':>8s}"
)


def main(arguments: list[str]) -> int:
    """Print the table and return 0."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--learners", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--case", choices=[case.name for case in CASES])
    options = parser.parse_args(arguments)
    begun_s = time.monotonic()
    print(HEADINGS)
    for case in CASES:
        if options.case in (None, case.name):
            print(table_line(case, simulate(case, options.learners, options.seed)), flush=True)
    print(f"{options.learners} learners a line, seed {options.seed}", end="")
    print(f"; {time.monotonic() - begun_s:.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
