"""Intervals of a proportion and of the difference of two, honest for few trials."""

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """Lower and upper limit of a share, or of a difference of shares; both belong to it."""

    lo: float
    hi: float


def wilson_interval(k: int, n: int, *, confidence: float = CONFIDENCE) -> Interval | None:
    """Return the score interval of a proportion (Wilson 1927), no continuity correction.

    Parameters
    ----------
    k, n : int
        Successes and trials; 0 <= k <= n.
    confidence : float
        Chance that such an interval holds the true proportion; inside 0-1.

    Returns
    -------
    Interval or None
        Limits in 0-1; None without trials: no data is not 0 %.

    Raises
    ------
    ValueError
        If a count is not whole or out of range, or ``confidence`` does not lie inside 0-1.
    """
    z = _z_of(confidence)
    successes, trials = require_counts("k", k, "n", n)
    if not trials.all():
        return None
    lo, hi = _bounds(successes, trials, z)
    return Interval(lo=float(lo), hi=float(hi))


def clopper_pearson_interval(k: int, n: int, *, confidence: float = CONFIDENCE) -> Interval | None:
    """Return the exact interval of a proportion (Clopper & Pearson 1934, Biometrika 26:404-413).

    It holds the true proportion at least as often as promised, and is wider for it: for rules
    that must not be too kind. Each limit alone holds with half the doubt, so that the lower one
    at ``confidence`` .9 is the one-sided lower limit at .95.

    Parameters
    ----------
    k, n : int
        Successes and trials; 0 <= k <= n.
    confidence : float
        Least chance that such an interval holds the true proportion; inside 0-1.

    Returns
    -------
    Interval or None
        Limits in 0-1; None without trials.

    Raises
    ------
    ValueError
        If a count is not whole or out of range, or ``confidence`` does not lie inside 0-1.
    """
    from scipy.special import betaincinv  # heavy: only when first needed

    _z_of(confidence)
    require_counts("k", k, "n", n)
    if n == 0:
        return None
    tail = (1.0 - confidence) / 2.0
    some, others = float(k), float(n) - float(k)
    lo = float(betaincinv(some, others + 1.0, tail)) if some else 0.0
    hi = float(betaincinv(some + 1.0, others, 1.0 - tail)) if others else 1.0
    return Interval(lo=lo, hi=hi)


def wilson_bounds(
    k: NDArray[np.integer], n: NDArray[np.integer], *, confidence: float = CONFIDENCE
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the limits of ``wilson_interval`` for many proportions at once.

    Parameters
    ----------
    k, n : ndarray of int
        Successes and trials, broadcast against each other; 0 <= k <= n.
    confidence : float
        Chance that such an interval holds the true proportion; inside 0-1.

    Returns
    -------
    tuple of ndarray
        Lower and upper limits in 0-1; NaN where ``n`` is 0.

    Raises
    ------
    ValueError
        If a count is not whole or out of range, the shapes do not fit each other, or
        ``confidence`` does not lie inside 0-1.
    """
    z = _z_of(confidence)
    successes, trials = require_counts("k", k, "n", n)
    return _bounds(successes, np.where(trials > 0.0, trials, np.nan), z)


def newcombe_difference(
    k1: int, n1: int, k2: int, n2: int, *, confidence: float = CONFIDENCE
) -> Interval | None:
    """Return the interval of ``k1 / n1 - k2 / n2`` for two independent groups.

    The hybrid score interval without continuity correction, method 10 of Newcombe 1998
    (Statistics in Medicine 17:873-890), from the Wilson limits of both proportions.

    Parameters
    ----------
    k1, n1 : int
        Successes and trials of the first group; 0 <= k1 <= n1.
    k2, n2 : int
        The same of the second group.
    confidence : float
        Chance that such an interval holds the true difference; inside 0-1.

    Returns
    -------
    Interval or None
        Limits in -1 to 1; None if a group is without trials.

    Raises
    ------
    ValueError
        If a count is not whole or out of range, or ``confidence`` does not lie inside 0-1.
    """
    require_counts("k1", k1, "n1", n1)
    require_counts("k2", k2, "n2", n2)
    one = wilson_interval(k1, n1, confidence=confidence)
    two = wilson_interval(k2, n2, confidence=confidence)
    if one is None or two is None:
        return None
    share1, share2 = float(k1) / float(n1), float(k2) / float(n2)
    difference = share1 - share2
    return Interval(
        lo=difference - math.hypot(share1 - one.lo, two.hi - share2),
        hi=difference + math.hypot(one.hi - share1, share2 - two.lo),
    )


def require_counts(
    k_name: str, k: ArrayLike, n_name: str, n: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return counts as floats when they are whole and ``0 <= k <= n``.

    Parameters
    ----------
    k_name, n_name : str
        Argument names put into the message.
    k, n : array_like of int
        How many of how many, broadcast against each other.

    Returns
    -------
    tuple of ndarray
        ``k`` and ``n`` in their common shape.

    Raises
    ------
    ValueError
        If a count is a bool or not a finite whole number, or lies out of range.
    """
    some, of = np.broadcast_arrays(_whole(k_name, k), _whole(n_name, n))
    if (of < 0.0).any():
        msg = f"{n_name} must be 0 or more, got {of.min():.0f}"
        raise ValueError(msg)
    outside = (some < 0.0) | (some > of)
    if outside.any():
        got, most = some[outside][0], of[outside][0]
        msg = f"{k_name} must lie between 0 and {n_name} = {most:.0f}, got {got:.0f}"
        raise ValueError(msg)
    return some, of


def _whole(name: str, value: ArrayLike) -> NDArray[np.float64]:
    array = np.asarray(value)
    wrong = np.ones(array.shape, dtype=np.bool_)
    if array.dtype.kind in "iuf":
        wrong = ~np.isfinite(array) | (array != np.rint(array))
    if wrong.any():
        msg = f"{name} must be a finite whole number, got {array[wrong].tolist()[0]!r}"
        raise ValueError(msg)
    return array.astype(np.float64)


def _z_of(confidence: float) -> float:
    if not 0.0 < confidence < 1.0:
        msg = f"confidence must lie inside 0-1, both excluded, got {confidence}"
        raise ValueError(msg)
    # The lower tail: it stays above 0 where 1 minus it would round to 1.
    return -NormalDist().inv_cdf((1.0 - confidence) / 2.0)


def _bounds(
    k: NDArray[np.float64], n: NDArray[np.float64], z: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    # The upper limit of k is the lower one of n - k seen from above, also in rounding.
    return _lower(k, n, z), 1.0 - _lower(n - k, n, z)


def _lower(k: NDArray[np.float64], n: NDArray[np.float64], z: float) -> NDArray[np.float64]:
    # Written so that k = 0 gives 0 exactly: the root is then that of a square.
    share, pull = k / n, z * z / 2.0 / n
    spread = np.sqrt(pull * (2.0 * share * (1.0 - share) + pull))
    lower: NDArray[np.float64] = (share + pull - spread) / (1.0 + 2.0 * pull)
    return lower
