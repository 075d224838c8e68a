"""Thinning broad lines to the path through their middle, many lines at once."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

# The eight neighbours of a pixel, (row, col), and how far they are.
_STEPS_RC = ((-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1))
_LENGTHS = np.hypot(*np.array(_STEPS_RC, dtype=np.float64).T)


def thin_paths(masks: Sequence[NDArray[np.bool_]]) -> list[NDArray[np.int64]]:
    """Return the longest of the shortest ways along each thinned mask.

    Parameters
    ----------
    masks : sequence of ndarray of shape (H, W), bool
        Each one connected part, with at least one point.

    Returns
    -------
    list of ndarray of shape (N, 2), int64
        Pixels from end to end as ``(row, col)``.
    """
    if not masks:
        return []
    # All thinned lines stand in one tall picture, so that one search walks along all of them.
    heights = np.array([mask.shape[0] + 1 for mask in masks])
    tops = np.concatenate([[1], 1 + np.cumsum(heights)[:-1]])
    tall = np.zeros((1 + int(heights.sum()), max(mask.shape[1] for mask in masks) + 2), bool)
    for top, thin in zip(tops, _thinned(masks), strict=True):
        tall[top : top + thin.shape[0], 1 : thin.shape[1] + 1] = thin
    flat = np.flatnonzero(tall)
    first = np.searchsorted(flat, tops * tall.shape[1])
    rows, cols = np.divmod(flat, tall.shape[1])
    ways = _longest_ways(flat, first, tall.shape)
    return [
        np.column_stack([rows[way] - top, cols[way] - 1])
        for way, top in zip(ways, tops, strict=True)
    ]


def _thinned(masks: Sequence[NDArray[np.bool_]]) -> list[NDArray[np.bool_]]:
    from skimage.morphology import skeletonize  # heavy: only when first needed

    return [skeletonize(mask) for mask in masks]


def _longest_ways(
    flat: NDArray[np.int64], first: NDArray[np.int64], shape: tuple[int, int]
) -> list[NDArray[np.int64]]:
    """Return for each line its pixels' numbers along the longest way; ``first`` starts each."""
    from scipy.sparse import csr_matrix  # heavy: only when first needed
    from scipy.sparse.csgraph import dijkstra

    number = np.full(shape[0] * shape[1], -1, dtype=np.int32)
    number[flat] = np.arange(len(flat), dtype=np.int32)
    beside = np.empty((len(flat), 8), dtype=np.int32)
    for k, (d_row, d_col) in enumerate(_STEPS_RC):
        beside[:, k] = number[flat + d_row * shape[1] + d_col]
    is_there = beside >= 0
    ends = np.concatenate([[0], np.cumsum(is_there.sum(axis=1))])
    lengths = np.broadcast_to(_LENGTHS, beside.shape)[is_there]
    graph = csr_matrix((lengths, beside[is_there], ends), shape=(len(flat), len(flat)))
    tip = _farthest(dijkstra(graph, indices=first, min_only=True), first)
    away, before, _ = dijkstra(graph, indices=tip, min_only=True, return_predecessors=True)
    return _traced(_farthest(away, first), before)


def _farthest(away: NDArray[np.float64], first: NDArray[np.int64]) -> NDArray[np.int64]:
    away = np.where(np.isfinite(away), away, -1.0)
    most = np.maximum.reduceat(away, first)
    line = np.zeros(len(away), dtype=np.int64)
    line[first[1:]] = 1
    hits = np.flatnonzero(away == most[np.cumsum(line)])
    return np.asarray(hits[np.searchsorted(hits, first)])


def _traced(at: NDArray[np.int64], before: NDArray[np.int32]) -> list[NDArray[np.int64]]:
    steps = []
    while (at >= 0).any():
        steps.append(at)
        # What has none before it has -9999.
        at = np.where(at >= 0, np.maximum(before[at], -1), -1)
    ways = np.stack(steps, axis=1)
    return [way[: int(n)] for way, n in zip(ways, (ways >= 0).sum(axis=1), strict=True)]
