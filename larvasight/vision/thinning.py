"""Thinning broad lines to the path through their middle, many lines at once."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]

# The eight neighbours of a pixel, (row, col), and how far they are.
_STEPS_RC = ((-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1))
_LENGTHS = np.hypot(*np.array(_STEPS_RC, dtype=np.float64).T)
_TOGETHER = 8


def thin_paths(masks: Sequence[Mask]) -> list[NDArray[np.int64]]:
    """Return the longest of the shortest ways along each mask thinned.

    Nearly all of the time is spent in a few calls that do not hold the interpreter's lock, so
    that another thread can work meanwhile.

    Parameters
    ----------
    masks : sequence of ndarray of shape (H, W), bool
        Each one connected part, with at least one point.

    Returns
    -------
    list of ndarray of shape (N, 2), int64
        Pixels from end to end as ``(row, col)``.
    """
    return _longest_paths(thin_masks(masks)) if masks else []


def thin_masks(masks: Sequence[Mask]) -> list[Mask]:
    """Return masks thinned by the algorithm of Zhang and Suen, in its form of scikit-image.

    Parameters
    ----------
    masks : sequence of ndarray of shape (H, W), bool
        Of any sizes.

    Returns
    -------
    list of ndarray of shape (H, W), bool
        Each of the size of its mask.

    References
    ----------
    .. [1] T. Y. Zhang and C. Y. Suen, "A fast parallel algorithm for thinning digital
       patterns", Comm. ACM 27 (1984) 236-239.
    """
    from skimage.morphology import skeletonize  # heavy: only when first needed

    # Those of about one size stand together, so that little is gone through for nothing.
    order = sorted(range(len(masks)), key=lambda k: masks[k].shape[1])
    thin = dict[int, Mask]()
    for first in range(0, len(masks), _TOGETHER):
        group = order[first : first + _TOGETHER]
        tall, tops = _tall([masks[k] for k in group])
        thinned = skeletonize(tall)
        for k, top in zip(group, tops.tolist(), strict=True):
            height, width = masks[k].shape
            thin[k] = thinned[top : top + height, 1 : 1 + width]
    return [thin[k] for k in range(len(masks))]


def _longest_paths(thinned: Sequence[Mask]) -> list[NDArray[np.int64]]:
    # One search walks along all of them.
    tall, tops = _tall(thinned)
    flat = np.flatnonzero(tall)
    first = np.searchsorted(flat, tops * tall.shape[1])
    rows, cols = np.divmod(flat, tall.shape[1])
    ways = _longest_ways(flat, first, tall.shape)
    return [
        np.column_stack([rows[way] - top, cols[way] - 1])
        for way, top in zip(ways, tops, strict=True)
    ]


def _tall(masks: Sequence[Mask]) -> tuple[Mask, NDArray[np.int64]]:
    """Return masks below each other in one, apart and with nothing at its rim, and their rows."""
    heights = np.array([mask.shape[0] + 1 for mask in masks])
    tops = np.concatenate([[1], 1 + np.cumsum(heights)[:-1]])
    tall = np.zeros((1 + int(heights.sum()), max(mask.shape[1] for mask in masks) + 2), bool)
    for top, mask in zip(tops.tolist(), masks, strict=True):
        tall[top : top + mask.shape[0], 1 : mask.shape[1] + 1] = mask
    return tall, tops


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
    end = _farthest(away, first)
    return _traced(end, before, int(away[end].max()) + 1)


def _farthest(away: NDArray[np.float64], first: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return for each line the first of its pixels that are farthest away."""
    most = np.maximum.reduceat(away, first)
    hits = np.flatnonzero(away == np.repeat(most, np.diff(first, append=len(away))))
    return np.asarray(hits[np.searchsorted(hits, first)])


def _traced(
    at: NDArray[np.int64], before: NDArray[np.int32], most_steps: int
) -> list[NDArray[np.int64]]:
    """Return the ways back from ``at`` to where no pixel is before; no step is shorter than 1."""
    # What has none before it leads to one more pixel, that leads to itself.
    back = np.append(np.where(before < 0, len(before), before), len(before))
    ways = np.empty((most_steps + 1, len(at)), dtype=np.int64)
    for step in ways:
        step[:] = at
        at = back[at]
    lengths = (ways < len(before)).sum(axis=0)
    return [way[:n] for way, n in zip(ways.T, lengths.tolist(), strict=True)]
