"""Smooth noise in space, the same for the same seed."""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates

Floats = NDArray[np.float64]

_SIDE = 96
_GRID_SEED = 5


@cache
def _grid() -> NDArray[np.float32]:
    raw = np.random.default_rng(_GRID_SEED).normal(size=(_SIDE, _SIDE, _SIDE))
    smooth = gaussian_filter(raw, 0.8, mode="wrap")
    return np.asarray(smooth / smooth.std(), dtype=np.float32)


@lru_cache(maxsize=4096)
def _turn(seed: int) -> tuple[Floats, Floats]:
    """Return a rotation and a shift that lead to a part of the grid of a seed's own."""
    rng = np.random.default_rng(seed)
    square, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    return square, _SIDE * rng.random(3)


def noise(points_mm: Floats, scale_mm: float, seed: int) -> Floats:
    """Return noise of mean 0 and standard deviation about 1 at points.

    Parameters
    ----------
    points_mm : ndarray of shape (..., 3)
        Where.
    scale_mm : float
        Size of its grains, > 0.
    seed : int
        Which noise.
    """
    places = np.asarray(points_mm, dtype=np.float64) / (0.5 * scale_mm)
    turn, shift = _turn(seed)
    flat = turn @ places.reshape(-1, 3).T + shift[:, None]
    values = map_coordinates(_grid(), flat, order=1, mode="grid-wrap")
    return np.asarray(values.reshape(places.shape[:-1]), dtype=np.float64)


def fractal(points_mm: Floats, scale_mm: float, seed: int, octaves: int = 3) -> Floats:
    """Return noise with finer grains added, each half as large and half as strong."""
    total = np.zeros(np.shape(points_mm)[:-1])
    power = 0.0
    for octave in range(octaves):
        weight = 0.5**octave
        total += weight * noise(points_mm, scale_mm * weight, seed + 101 * octave)
        power += weight * weight
    return np.asarray(total / np.sqrt(power))
