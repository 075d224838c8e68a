"""Widths of bodies across their midlines."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from larvasight.vision.midline import N_MIDLINE, count_inside
from larvasight.vision.parsed import INSIDE

_STEP_PX = 0.25
# So many steps from its midline reach the edge of nearly every body; the others are given more.
_STEPS_FEW = 48
_STEPS_MOST = 119


def body_widths(
    midlines_xy: NDArray[np.float64], bodies: Sequence[NDArray[np.float32]]
) -> NDArray[np.float64]:
    """Return the largest widths across midlines, from the half-chance edges on both sides."""
    steps = np.gradient(midlines_xy, axis=1)
    across = np.stack([-steps[..., 1], steps[..., 0]], axis=2)
    across /= np.maximum(np.hypot(across[..., 0], across[..., 1]), 1e-12)[..., None]
    halves = _half_widths(midlines_xy, across, bodies, _STEPS_FEW)
    broad = np.flatnonzero((halves == _STEPS_FEW).any(axis=(1, 2))).tolist()
    if broad:
        halves[broad] = _half_widths(
            midlines_xy[broad], across[broad], [bodies[i] for i in broad], _STEPS_MOST
        )
    halves *= _STEP_PX
    # The outer half is never merged with another part of the ring, the inner one may be.
    middle = np.median(halves, axis=2)
    is_first = (middle[:, 0] <= middle[:, 1])[:, None]
    outer = np.where(is_first, halves[:, 0], halves[:, 1])
    inner = np.where(is_first, halves[:, 1], halves[:, 0])
    widths = outer + np.minimum(inner, outer * 1.25)
    return np.asarray(
        np.percentile(widths[:, N_MIDLINE // 5 : -N_MIDLINE // 5], 90.0, axis=1), np.float64
    )


def _half_widths(
    midlines_xy: NDArray[np.float64],
    across: NDArray[np.float64],
    bodies: Sequence[NDArray[np.float32]],
    n_steps: int,
) -> NDArray[np.float64]:
    """Return by how many steps bodies reach on both sides, shape (B, 2, N_MIDLINE)."""
    reach = _STEP_PX * np.arange(1, n_steps + 1, dtype=np.float32)
    both = np.stack([-reach, reach])[:, None]
    lines = midlines_xy.astype(np.float32)[..., None]
    ways = across.astype(np.float32)[..., None]
    halves = np.empty((len(bodies), 2, N_MIDLINE))
    for half, body, line, way in zip(halves, bodies, lines, ways, strict=True):
        x, y = line[:, 0] + both * way[:, 0], line[:, 1] + both * way[:, 1]
        half[:] = count_inside(body, x, y, INSIDE)
    return halves
