"""Telling two shares apart: by one table, within strata, and how many trials that needs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

from larvasight.stats.proportions import require_counts

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

    ``difference`` is the common difference of the shares, first minus second; ``p`` the chance
    of shares at least so different if both groups were alike.
    """

    difference: float
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


def within_strata(pairs: Sequence[Pair]) -> Within | None:
    """Compare two groups within strata by the Cochran-Mantel-Haenszel test.

    The test has no continuity correction. The common difference weights each stratum by
    ``n1 n2 / (n1 + n2)``, as Mantel and Haenszel do.

    Parameters
    ----------
    pairs : sequence of Pair
        One for each stratum. Those where a group has no trials or where every trial went alike
        tell nothing of the test.

    Returns
    -------
    Within or None
        None if no stratum holds both groups. ``p`` is 1 where all trials went alike.

    References
    ----------
    .. [1] Mantel & Haenszel 1959, J. Natl. Cancer Inst. 22:719-748.
    .. [2] Agresti 2002, Categorical Data Analysis, 2nd ed., section 6.3.2.
    """
    surplus = variance = weight = weighted = 0.0
    for pair in pairs:
        k1, n1, k2, n2 = map(float, (pair.k1, pair.n1, pair.k2, pair.n2))
        if n1 == 0.0 or n2 == 0.0:
            continue
        n, k = n1 + n2, k1 + k2
        surplus += k1 - n1 * k / n
        variance += n1 * n2 * k * (n - k) / (n * n * (n - 1.0))
        weight += n1 * n2 / n
        weighted += (k1 * n2 - k2 * n1) / n
    if weight == 0.0:
        return None
    if variance == 0.0:
        return Within(difference=weighted / weight, p=1.0)
    p = math.erfc(abs(surplus) / math.sqrt(2.0 * variance))
    return Within(difference=weighted / weight, p=p)


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
