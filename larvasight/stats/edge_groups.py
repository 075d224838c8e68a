"""The edges of many groups of answers at once, such as the days of one learner.

One product of a table of ages with counts stands for all answers: between whole hours the
logarithm of a chance is taken as straight, which is right at the hours and between them off by
less than 0.07 for the sharpest edge of the grid, by far less for the usual ones.
"""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from larvasight.stats.edges import EdgePosterior, edge_grid

# Whole hours of the table; ages beyond count as its ends, where no edge is near.
_HOURS = np.arange(-6.0, 73.0)


def edges_of_groups(
    ages_h: ArrayLike, picked: ArrayLike, group: ArrayLike, n_groups: int
) -> tuple[EdgePosterior, ...]:
    """Return what each group of answers tells of the edges.

    Parameters
    ----------
    ages_h : array_like of float, shape (N,)
        Ages that the larvae look, h; those beyond -6 to 72 h count as these.
    picked : array_like of bool, shape (N,)
        Whether each was taken.
    group : array_like of int, shape (N,)
        The group that each answer belongs to, 0 to ``n_groups - 1``.
    n_groups : int
        How many groups there are.

    Returns
    -------
    tuple of EdgePosterior
        One for each group; one without answers is what was thought before.

    Raises
    ------
    ValueError
        If the lengths differ, an age is not a number or there is no such group.
    """
    ages = np.atleast_1d(np.asarray(ages_h, dtype=np.float64))
    taken = np.atleast_1d(np.asarray(picked, dtype=np.bool_))
    groups = np.atleast_1d(np.asarray(group, dtype=np.int64))
    if not ages.shape == taken.shape == groups.shape:
        sizes = (ages.size, taken.size, groups.size)
        msg = f"ages_h, picked and group must have one length, got {sizes}"
        raise ValueError(msg)
    if np.isnan(ages).any():
        msg = "ages_h must hold numbers, got nan"
        raise ValueError(msg)
    if groups.size and not 0 <= groups.min() <= groups.max() < n_groups:
        msg = f"group must lie from 0 to {n_groups - 1}, got {groups.min()} to {groups.max()}"
        raise ValueError(msg)
    logs = _counts(ages, taken, groups, n_groups) @ _log_chances()
    found = []
    for log_chance, n in zip(logs, np.bincount(groups, minlength=n_groups).tolist(), strict=True):
        posterior = EdgePosterior()
        posterior.update_by(log_chance, n)
        found.append(posterior)
    return tuple(found)


def _counts(
    ages_h: NDArray[np.float64], taken: NDArray[np.bool_], group: NDArray[np.int64], n_groups: int
) -> NDArray[np.float32]:
    """Return the answers of each group at each hour, takes before leaves, shape (G, 2 H)."""
    n = len(_HOURS)
    place = np.clip(ages_h, _HOURS[0], _HOURS[-1]) - _HOURS[0]
    below = np.minimum(place.astype(np.int64), n - 2)
    share = place - below
    cell = group * (2 * n) + np.where(taken, 0, n) + below
    size = n_groups * 2 * n
    counts = np.bincount(cell, 1.0 - share, size) + np.bincount(cell + 1, share, size)
    return counts.reshape(n_groups, 2 * n).astype(np.float32)


@cache
def _log_chances() -> NDArray[np.float32]:
    """Return the logarithms of taking and of leaving at each hour, shape (2 H, K); made once."""
    grid = edge_grid()
    chance = np.stack([grid.chance_of_pick(hour).astype(np.float32) for hour in _HOURS.tolist()])
    return np.concatenate([np.log(chance), np.log1p(-chance)])
