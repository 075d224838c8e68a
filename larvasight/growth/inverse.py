"""From a measured length and curl back to an age: the band, and chances of a span."""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import require_between, require_positive
from larvasight.geometry.facts import Fact, Label
from larvasight.growth.curve import AGE_MAX_H, mean_table
from larvasight.growth.spread import COLONY_RATE_SD, CURL_SD, LENGTH_CV

# A closed disc: the curl is at least this, however much more cannot be seen.
CLOSED_FROM = Fact(
    name="curl from which a body can look closed",
    value=300.0,
    unit="deg",
    label=Label.DERIVED,
    source="judgement: from there the gap between the ends is narrower than the body",
)

FACTS: tuple[Fact, ...] = (CLOSED_FROM,)

BAND_SHARE = 0.8
CLOSED_FROM_DEG = CLOSED_FROM.value
_GRID_STEP_H = 0.25
_RATES_SD = np.linspace(-2.5, 2.5, 21)


@dataclass(frozen=True, slots=True, kw_only=True)
class AgePosterior:
    """What length and curl say about age under a flat prior over 0-96 h.

    ``ages_h`` and ``weights`` have shape (N,); the weights sum to 1. Each age stands for
    the span half-way to its neighbours.
    """

    ages_h: NDArray[np.float64]
    weights: NDArray[np.float64]

    def quantile_h(self, share: float) -> float:
        """Return the age below which ``share`` of the probability lies, h."""
        return float(np.interp(share, *self._below()))

    def band_h(self, share: float = BAND_SHARE) -> tuple[float, float]:
        """Return the equal-tailed band that holds ``share`` of the probability, h."""
        tail = (1.0 - share) / 2.0
        return self.quantile_h(tail), self.quantile_h(1.0 - tail)

    def chance_between(self, low_h: float, high_h: float) -> float:
        """Return the probability that the age lies between two limits, h."""
        below, edges_h = self._below()
        low, high = np.interp((low_h, high_h), edges_h, below)
        return float(high - low)

    def _below(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the probability below each edge between ages, and the edges, h."""
        between_h = (self.ages_h[1:] + self.ages_h[:-1]) / 2.0
        edges_h = np.concatenate([self.ages_h[:1], between_h, self.ages_h[-1:]])
        return np.concatenate([[0.0], np.cumsum(self.weights)]), edges_h


def age_posterior(
    length_mm: float,
    curl_deg: float | None,
    *,
    length_mm_sd: float = 0.0,
    curl_deg_sd: float = 0.0,
) -> AgePosterior:
    """Return the probability of each age given what was measured.

    Individual spread, an unknown colony growth rate and measurement error are counted.

    Parameters
    ----------
    length_mm : float
        Measured midline length, mm; > 0.
    curl_deg : float or None
        Measured swept angle, degrees, or None for a closed disc (read as >= 300).
    length_mm_sd, curl_deg_sd : float
        Standard deviations of the measurement errors.

    Returns
    -------
    AgePosterior
        On a grid of 0.25 h over 0-96 h.

    Raises
    ------
    ValueError
        If ``length_mm`` is not above 0, ``curl_deg`` lies outside 0-400 or a standard
        deviation is negative or not a number.
    """
    require_positive("length_mm", length_mm)
    require_between("length_mm_sd", length_mm_sd, 0.0, math.inf)
    require_between("curl_deg_sd", curl_deg_sd, 0.0, math.inf)
    ages_h, log_lengths, curls_deg = _spread_table()
    length_sd = np.hypot(LENGTH_CV.value, length_mm_sd / length_mm)
    log_chance = -0.5 * ((np.log(length_mm) - log_lengths) / length_sd) ** 2
    if curl_deg is None:
        log_chance = log_chance + np.log(_chance_above(CLOSED_FROM_DEG, curls_deg))
    else:
        require_between("curl_deg", curl_deg, 0.0, 400.0)
        curl_sd = np.hypot(CURL_SD.value, curl_deg_sd)
        log_chance = log_chance - 0.5 * ((curl_deg - curls_deg) / curl_sd) ** 2
    chance = np.exp(log_chance - log_chance.max()) * np.exp(-0.5 * _RATES_SD**2)
    weights = chance.sum(axis=1)
    # The first and the last age stand for half a step only.
    weights[[0, -1]] *= 0.5
    return AgePosterior(ages_h=ages_h, weights=weights / weights.sum())


def looks_age_h(length_mm: float, curl_deg: float | None) -> float:
    """Return the age whose mean larva comes nearest to this length and curl.

    Nearest is counted in individual spreads: ``LENGTH_CV`` of length, ``CURL_SD`` of curl.

    Parameters
    ----------
    length_mm : float
        Midline length, mm; > 0.
    curl_deg : float or None
        Swept angle in degrees; None uses the length alone.

    Returns
    -------
    float
        Hours after hatching, 0-96.

    Raises
    ------
    ValueError
        If ``length_mm`` is not above 0.
    """
    require_positive("length_mm", length_mm)
    ages_h, lengths_mm, curls_deg = mean_table()
    miss = (np.log(length_mm / lengths_mm) / LENGTH_CV.value) ** 2
    if curl_deg is not None:
        miss = miss + ((curl_deg - curls_deg) / CURL_SD.value) ** 2
    return float(ages_h[int(np.argmin(miss))])


@cache
def _spread_table() -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    ages_h = np.arange(0.0, AGE_MAX_H + _GRID_STEP_H / 2.0, _GRID_STEP_H)
    rates = 1.0 + COLONY_RATE_SD.value * _RATES_SD
    grown_h = np.minimum(ages_h[:, None] * rates[None, :], AGE_MAX_H)
    table_h, lengths_mm, curls_deg = mean_table()
    log_lengths = np.log(np.interp(grown_h, table_h, lengths_mm))
    return ages_h, log_lengths, np.interp(grown_h, table_h, curls_deg)


def _chance_above(limit_deg: float, means_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    from scipy.special import ndtr  # heavy: only when first needed

    chance: NDArray[np.float64] = ndtr((means_deg - limit_deg) / CURL_SD.value)
    return np.maximum(chance, 1e-12)
