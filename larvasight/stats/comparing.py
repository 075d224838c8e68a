"""Telling two shares apart: by one table, within strata, and how many trials that needs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np

from larvasight.stats.proportions import (
    CONFIDENCE,
    Interval,
    newcombe_difference,
    require_counts,
)

_NORMAL: Final = NormalDist()
SIGNIFICANCE: Final = 0.05
POWER: Final = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Successes and trials of two groups under the same conditions, as on one day."""

    k1: int
    n1: int
    k2: int
    n2: int

    def __post_init__(self) -> None:
        """Refuse counts that are not whole or out of range."""
        require_counts("k1", self.k1, "n1", self.n1)
        require_counts("k2", self.k2, "n2", self.n2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Within:
    """Two groups compared within strata.

    ``difference`` is the common difference of the shares, first minus second, ``interval`` where
    the true one most likely lies, and ``p`` the chance of shares at least so different if both
    groups were alike.
    """

    difference: float
    interval: Interval
    p: float


def fisher_p(pair: Pair) -> float:
    """Return the two-sided chance of shares at least so different, by Fisher's exact test.

    Parameters
    ----------
    pair : Pair
        Both groups; one without trials gives 1.

    Returns
    -------
    float
        In 0-1.

    References
    ----------
    .. [1] Fisher 1935, The Design of Experiments; computed by ``scipy.stats.fisher_exact``.
    """
    from scipy.stats import fisher_exact  # takes long to import

    table = [[pair.k1, pair.n1 - pair.k1], [pair.k2, pair.n2 - pair.k2]]
    return float(fisher_exact(table).pvalue)


def within_strata(pairs: Sequence[Pair], *, confidence: float = CONFIDENCE) -> Within | None:
    """Compare two groups within strata by the Cochran-Mantel-Haenszel test.

    The test has no continuity correction. The common difference weights each stratum by
    ``n1 n2 / (n1 + n2)``, as Mantel and Haenszel do; its interval holds all differences ``d``
    with ``(difference - d)**2 <= z**2 (d P + Q) / W**2`` (Klingenberg), where ``P`` and ``Q`` are
    those of Sato's variance and ``W`` is the sum of weights. It needs no large strata. Where
    all trials went alike nothing varies between strata, and the interval is Newcombe's of all
    trials together.

    Parameters
    ----------
    pairs : sequence of Pair
        One for each stratum. Those where a group has no trials or where every trial went alike
        tell nothing of the test.
    confidence : float
        Chance that such an interval holds the true difference; inside 0-1.

    Returns
    -------
    Within or None
        None if no stratum holds both groups. ``p`` is 1 where all trials went alike.

    Raises
    ------
    ValueError
        If ``confidence`` does not lie inside 0-1.

    References
    ----------
    .. [1] Mantel & Haenszel 1959, J. Natl. Cancer Inst. 22:719-748.
    .. [2] Agresti 2002, Categorical Data Analysis, 2nd ed., section 6.3.2.
    .. [3] Sato 1989, Biometrics 45:1323-1324.
    .. [4] Klingenberg 2014, Statistics in Medicine 33:2968-2983.
    """
    if not 0.0 < confidence < 1.0:
        msg = f"confidence must lie inside 0-1, both excluded, got {confidence}"
        raise ValueError(msg)
    both = [pair for pair in pairs if pair.n1 and pair.n2]
    if not both:
        return None
    sums = _sums(both)
    if sums.variance == 0.0:
        return Within(difference=0.0, interval=_of_all(both, confidence), p=1.0)
    p = math.erfc(abs(sums.surplus) / math.sqrt(2.0 * sums.variance))
    interval = _klingenberg(sums, confidence)
    return Within(difference=sums.difference, interval=interval, p=p)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sums:
    """Sums over strata: of the test, of the weights, and of Sato's variance."""

    surplus: float
    variance: float
    weight: float
    difference: float
    p: float
    q: float


def _sums(pairs: Sequence[Pair]) -> _Sums:
    k1, n1, k2, n2 = (
        np.array([getattr(pair, name) for pair in pairs], dtype=float)
        for name in ("k1", "n1", "k2", "n2")
    )
    n, k = n1 + n2, k1 + k2
    weight = float((n1 * n2 / n).sum())
    p = (n1 * n1 * k2 - n2 * n2 * k1 + n1 * n2 * (n2 - n1) / 2.0) / (n * n)
    q = (k1 * (n2 - k2) + k2 * (n1 - k1)) / (2.0 * n)
    return _Sums(
        surplus=float((k1 - n1 * k / n).sum()),
        variance=float((n1 * n2 * k * (n - k) / (n * n * (n - 1.0))).sum()),
        weight=weight,
        difference=float(((k1 * n2 - k2 * n1) / n).sum()) / weight,
        p=float(p.sum()),
        q=float(q.sum()),
    )


def _klingenberg(sums: _Sums, confidence: float) -> Interval:
    """Return the two solutions of ``(difference - d)**2 == z**2 (d P + Q) / W**2``."""
    z = -_NORMAL.inv_cdf((1.0 - confidence) / 2.0)
    pull = (z / sums.weight) ** 2
    middle = sums.difference + pull * sums.p / 2.0
    reach = math.sqrt(max(0.0, middle**2 - sums.difference**2 + pull * sums.q))
    return Interval(lo=max(-1.0, middle - reach), hi=min(1.0, middle + reach))


def _of_all(pairs: Sequence[Pair], confidence: float) -> Interval:
    counts = [sum(getattr(pair, name) for pair in pairs) for name in ("k1", "n1", "k2", "n2")]
    interval = newcombe_difference(*counts, confidence=confidence)
    assert interval is not None  # both groups have trials
    return interval


def trials_to_tell(
    share1: float, share2: float, *, significance: float = SIGNIFICANCE, power: float = POWER
) -> int:
    """Return how many trials each of two groups needs to tell their shares apart.

    The usual formula for two independent shares of equal groups, without continuity
    correction.

    Parameters
    ----------
    share1, share2 : float
        True shares; inside 0-1 and different.
    significance : float
        Chance, both ways, to see a difference where there is none; inside 0-1.
    power : float
        Chance to see the difference; inside 0-1.

    Returns
    -------
    int
        Trials of each group.

    Raises
    ------
    ValueError
        If an argument is out of range or both shares are the same.

    References
    ----------
    .. [1] Fleiss, Levin & Paik 2003, Statistical Methods for Rates and Proportions, 3rd ed.,
       equation 4.14.
    """
    named = {"share1": share1, "share2": share2, "significance": significance, "power": power}
    for name, value in named.items():
        if not 0.0 < value < 1.0:
            msg = f"{name} must lie inside 0-1, both excluded, got {value}"
            raise ValueError(msg)
    if share1 == share2:
        msg = f"share2 must differ from share1, got {share2} twice"
        raise ValueError(msg)
    mean = (share1 + share2) / 2.0
    z_alike = -_NORMAL.inv_cdf(significance / 2.0) * math.sqrt(2.0 * mean * (1.0 - mean))
    z_apart = _NORMAL.inv_cdf(power) * math.sqrt(share1 * (1 - share1) + share2 * (1 - share2))
    return math.ceil(((z_alike + z_apart) / (share1 - share2)) ** 2)
