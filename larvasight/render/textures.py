"""Tileable noise that wax, food and dirt take their grain from."""

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

Plane = NDArray[np.float32]

TEXTURE_SIDE = 512
# One texel of the bank on the comb; a period is then 26 mm, five cells.
TEXEL_MM = 0.05
_BANK_SEED = 20_190_417
_NOISE_VALUES = 1 << 21
_FOLD_COLUMNS = 1024


@cache
def noise_bank() -> Plane:
    """Return the bank, shape (S + 1, S + 1, 4): cloud, grain and the grain's slopes in x and y.

    Cloud and grain have mean 0 and standard deviation 1; the last row and column
    repeat the first, so that bilinear look-up wraps.
    """
    rng = np.random.default_rng(_BANK_SEED)
    white = np.fft.rfft2(rng.standard_normal((TEXTURE_SIDE, TEXTURE_SIDE)))
    other = np.fft.rfft2(rng.standard_normal((TEXTURE_SIDE, TEXTURE_SIDE)))
    waves = (
        np.hypot(np.fft.fftfreq(TEXTURE_SIDE)[:, None], np.fft.rfftfreq(TEXTURE_SIDE)[None, :])
        * TEXTURE_SIDE
        + 1e-6
    )
    cloud = _normed(np.fft.irfft2(white * np.exp(-((waves / 90.0) ** 2)) / (waves + 3.0) ** 1.35))
    grain = _normed(
        np.fft.irfft2(other * waves**0.5 * np.exp(-((waves / 80.0) ** 2)) / (waves + 8.0) ** 0.9)
    )
    slope_x = _normed(np.roll(grain, -1, 1) - np.roll(grain, 1, 1))
    slope_y = _normed(np.roll(grain, -1, 0) - np.roll(grain, 1, 0))
    bank = np.stack([cloud, grain, slope_x, slope_y], axis=2).astype(np.float32)
    return np.ascontiguousarray(np.pad(bank, ((0, 1), (0, 1), (0, 0)), mode="wrap"))


@cache
def _bank_channel(channel: int) -> Plane:
    return np.ascontiguousarray(noise_bank()[:, :, channel])


@cache
def sensor_noise() -> Plane:
    """Return a pool of standard normal values, shape (2**21,)."""
    rng = np.random.default_rng(_BANK_SEED + 1)
    return rng.standard_normal(_NOISE_VALUES, dtype=np.float32)


def look_up(
    u_mm: Plane, v_mm: Plane, *, shift: tuple[float, float], zoom: float = 1.0
) -> tuple[Plane, ...]:
    """Return cloud, grain and grain slopes at points, each of the shape of ``u_mm``.

    Parameters
    ----------
    u_mm, v_mm : ndarray of shape (H, W) or (N,), float32
        Texture coordinates, mm.
    shift : tuple of float
        Offset into the bank, texels.
    zoom : float
        Above 1 for a finer grain.
    """
    flat = u_mm.ndim == 1
    if flat:  # remap takes pictures only, of at most 32,766 columns
        u_mm, v_mm, n_points = _folded(u_mm), _folded(v_mm), u_mm.size
    sampled = cv2.remap(
        noise_bank(),
        _wrapped(u_mm, shift[0], zoom),
        _wrapped(v_mm, shift[1], zoom),
        cv2.INTER_LINEAR,
    )
    planes = [np.asarray(plane, dtype=np.float32) for plane in cv2.split(sampled)]
    return tuple(plane.ravel()[:n_points] for plane in planes) if flat else tuple(planes)


def look_up_one(
    u_mm: Plane, v_mm: Plane, *, channel: int, shift: tuple[float, float], zoom: float = 1.0
) -> Plane:
    """Return one channel of the bank at points; see `look_up`."""
    sampled = cv2.remap(
        _bank_channel(channel),
        _wrapped(u_mm, shift[0], zoom),
        _wrapped(v_mm, shift[1], zoom),
        cv2.INTER_LINEAR,
    )
    return np.asarray(sampled, dtype=np.float32)


def _folded(values: Plane) -> Plane:
    rows = -(-values.size // _FOLD_COLUMNS)
    folded = np.zeros((rows, _FOLD_COLUMNS), dtype=np.float32)
    folded.ravel()[: values.size] = values
    return folded


def shifts(seed: int, count: int) -> list[tuple[float, float]]:
    """Return ``count`` offsets into the bank that belong to a seed."""
    values = np.random.default_rng(seed).uniform(0.0, TEXTURE_SIDE, (count, 2))
    return [(float(a), float(b)) for a, b in values]


def _wrapped(coordinate_mm: Plane, shift: float, zoom: float) -> Plane:
    texel = coordinate_mm * np.float32(zoom / TEXEL_MM) + np.float32(shift)
    texel -= np.floor(texel * np.float32(1.0 / TEXTURE_SIDE)) * np.float32(TEXTURE_SIDE)
    return texel


def _normed(values: NDArray[np.float64]) -> NDArray[np.float64]:
    centred = values - values.mean()
    return np.asarray(centred / centred.std())
