"""How far two ways of naming the same things agree, beyond what chance would give."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from larvasight.stats.proportions import require_counts

Weights = Literal["none", "linear", "quadratic"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """Agreement of two ways of naming ``n`` things.

    ``same_share`` were named alike. ``kappa`` is 1 where all are, 0 where no more are than by
    chance. Kappa moves with how common the names are, so that both are to be told together.
    """

    n: int
    same_share: float
    kappa: float


def agreement(counts: NDArray[np.integer], *, weights: Weights = "none") -> Agreement | None:
    """Return Cohen's kappa of a square table of counts.

    Parameters
    ----------
    counts : ndarray of int, shape (K, K)
        Row: what the first said; column: what the second said. In order, where names have one.
    weights : {"none", "linear", "quadratic"}
        How grave a difference of names is: all alike (Cohen 1960, Educational and Psychological
        Measurement 20:37-46), or by its steps or their square (Cohen 1968, Psychological
        Bulletin 70:213-220).

    Returns
    -------
    Agreement or None
        None where nothing was named, or all things got one and the same name from both: chance
        alone then agrees fully.

    Raises
    ------
    ValueError
        If the table is not square, a count is not whole or below 0, or there are no such weights.
    """
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1]:
        msg = f"counts must have shape (K, K), got {counts.shape}"
        raise ValueError(msg)
    table = require_counts("counts", counts, "their sum", counts.sum())[0]
    n = float(table.sum())
    graveness = _graveness(len(table), weights)
    by_chance = np.outer(table.sum(axis=1), table.sum(axis=0)) / max(n, 1.0)
    expected = float((graveness * by_chance).sum())
    if expected == 0.0:
        return None
    kappa = 1.0 - float((graveness * table).sum()) / expected
    return Agreement(n=int(n), same_share=float(np.trace(table)) / n, kappa=kappa)


def _graveness(n_names: int, weights: Weights) -> NDArray[np.float64]:
    steps = np.abs(np.subtract.outer(np.arange(n_names), np.arange(n_names))).astype(np.float64)
    if weights == "none":
        return np.minimum(steps, 1.0)
    if weights == "linear":
        return steps
    if weights == "quadratic":
        return np.asarray(steps**2)
    msg = f"weights must be 'none', 'linear' or 'quadratic', got {weights!r}"
    raise ValueError(msg)
