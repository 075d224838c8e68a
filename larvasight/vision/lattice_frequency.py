"""Guesses at the lattice from the spectrum of small windows at several scales.

A hexagon lattice shows in the spectrum as three pairs of peaks whose waves add up
to nothing. No equal lengths are asked for: a comb seen aslant is squeezed.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import fold_row_angle_deg
from larvasight.vision.lattice_frame import Picture, Points, mean_pitch_px

# Window in which a spectrum is taken, and the step between windows, level pixels.
WINDOW_PX = 96
WINDOW_STEP_PX = 72

# Waves looked for, periods per window: at the low end four cells across, at the high end pitch 9.
PERIODS_MIN = 3.6
PERIODS_MAX = 12.5

# The finest level has at most this many pixels: at the finest pitch there some 8,000 cells.
LEVEL_MAX_PX = 800_000
# Levels are halved until the shorter side is below this many pixels.
LEVEL_MIN_SIDE_PX = 64

# Blur before bright lines are looked for, level pixels: rims are one to three pixels wide there.
LINE_SIGMA_PX = 1.0

# Peaks kept per window. Six belong to a lattice (three pairs); the rest to texture.
PEAKS_PER_WINDOW = 10

# Angle between two neighbouring waves, degrees, and ratio of their lengths: 60 and 1 for a comb
# seen squarely, changed by squeezing of up to a third.
WAVE_ANGLE_MIN_DEG = 42.0
WAVE_ANGLE_MAX_DEG = 80.0
WAVE_RATIO_MAX = 1.5

# Farthest that two waves which fit may lie apart, and one place beyond, periods per window.
_REACH = math.ceil(WAVE_RATIO_MAX * PERIODS_MAX) + 1

# Guesses that differ by less than this are the same lattice: pitch (a ratio), direction (degrees).
SAME_PITCH_RATIO = 1.08
SAME_ANGLE_DEG = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """A lattice that may be in a picture.

    Attributes
    ----------
    centre_xy_px : ndarray of shape (2,)
        Middle of the window it was seen in, picture px.
    basis_px : ndarray of shape (2, 2)
        Axial steps, one a row, picture px.
    reach_px : float
        Half the side of the window, picture px.
    weight : float
        How clearly it stands out; any positive number.
    """

    centre_xy_px: Points
    basis_px: Points
    reach_px: float
    weight: float

    @property
    def pitch_px(self) -> float:
        """Pitch of the regular lattice with cells of the same area, px."""
        return mean_pitch_px(self.basis_px)

    @property
    def row_angle_deg(self) -> float:
        """Direction of the rows in (-30, 30]."""
        return row_angle_of_deg(self.basis_px)


def row_angle_of_deg(basis_px: Points) -> float:
    """Return the mean direction of the three rows of a lattice, folded to (-30, 30]."""
    steps = np.array([basis_px[0], basis_px[1], basis_px[1] - basis_px[0]])
    angles_rad = np.arctan2(steps[:, 1], steps[:, 0])
    mean = np.exp(6j * angles_rad).sum()
    return fold_row_angle_deg(math.degrees(float(np.angle(mean))) / 6.0)


def guess_lattices(
    picture: Picture, pitch_range_px: tuple[float, float], limit: int = 7
) -> list[Guess]:
    """Return the lattices most clearly seen in windows of a picture, the clearest first.

    Parameters
    ----------
    picture : Picture
        The picture.
    pitch_range_px : tuple of float
        Smallest and largest pitch wanted, px.
    limit : int
        At most so many guesses.
    """
    guesses: list[Guess] = []
    finest = 1.1 * WINDOW_PX / PERIODS_MAX / pitch_range_px[0]
    scale = min(1.0, finest, math.sqrt(LEVEL_MAX_PX / picture.gray.size))
    side_px = min(picture.gray.shape)
    while True:
        pitch_low, pitch_high = (
            WINDOW_PX / PERIODS_MAX / scale,
            1.2 * WINDOW_PX / PERIODS_MIN / scale,
        )
        if pitch_low < pitch_range_px[1] and pitch_high > pitch_range_px[0]:
            guesses += _guess_level(picture, scale)
        scale *= 0.5
        if side_px * scale < LEVEL_MIN_SIDE_PX:
            break
    low, high = pitch_range_px
    return _consensus([g for g in guesses if low <= g.pitch_px <= high], limit)


def even_out(values: NDArray[np.float32], reach_px: float, floor: float) -> NDArray[np.float32]:
    """Return values free of slow changes of level and spread, in -2..2.

    Parameters
    ----------
    values : ndarray of shape (H, W), float32
        Any picture.
    reach_px : float
        Slow is what changes little over this distance, px.
    floor : float
        Spread below which nothing is made of it, unit of the values.
    """
    apart = values - cv2.GaussianBlur(values, (0, 0), reach_px)
    spread = cv2.GaussianBlur(apart * apart, (0, 0), reach_px)
    return np.asarray(np.clip(apart / np.sqrt(spread + floor**2), -2.0, 2.0), np.float32)


def bright_lines(gray: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return how sharply brightness falls off across a bright line, at least 0, grey levels."""
    smooth = cv2.GaussianBlur(gray, (0, 0), LINE_SIGMA_PX)
    xx = cv2.Sobel(smooth, cv2.CV_32F, 2, 0, scale=0.25)
    yy = cv2.Sobel(smooth, cv2.CV_32F, 0, 2, scale=0.25)
    xy = cv2.Sobel(smooth, cv2.CV_32F, 1, 1, scale=0.25)
    apart = cv2.magnitude(cv2.subtract(xx, yy), 2.0 * xy)
    return np.asarray(np.maximum(0.5 * (apart - cv2.add(xx, yy)), 0.0), np.float32)


def _guess_level(picture: Picture, scale: float) -> list[Guess]:
    small, scale_x, scale_y = picture.reduced(scale)
    gray = small.astype(np.float32)
    reach_px = WINDOW_PX / 10.0
    starts = [(y, x) for y in _starts(small.shape[0]) for x in _starts(small.shape[1])]
    window_px = np.array([min(WINDOW_PX, small.shape[1]), min(WINDOW_PX, small.shape[0])])
    channels = (even_out(gray, reach_px, 2.0), even_out(bright_lines(gray), reach_px, 0.5))
    guesses = []
    for channel in channels:
        found = _wave_triples(_windows(channel, starts))
        for (y, x), weight, waves in zip(starts, *found, strict=True):
            if weight <= 0.0:
                continue
            # Steps dual to two waves 60 degrees apart lie 120 degrees apart, their sum between.
            dual = np.linalg.inv(waves / WINDOW_PX).T / np.array([scale_x, scale_y])
            guesses.append(
                Guess(
                    centre_xy_px=(np.array([x, y]) + 0.5 * window_px) / [scale_x, scale_y] - 0.5,
                    basis_px=np.array([dual[0], dual[0] + dual[1]]),
                    reach_px=0.5 * WINDOW_PX / scale,
                    weight=float(weight),
                )
            )
    return guesses


def _windows(values: NDArray[np.float32], starts: list[tuple[int, int]]) -> NDArray[np.float32]:
    """Tapered windows (n, WINDOW_PX, WINDOW_PX) of a picture, filled up with 0."""
    high, wide = min(WINDOW_PX, values.shape[0]), min(WINDOW_PX, values.shape[1])
    taper = np.outer(np.hanning(high + 2)[1:-1], np.hanning(wide + 2)[1:-1]).astype(np.float32)
    windows = np.zeros((len(starts), WINDOW_PX, WINDOW_PX), np.float32)
    for window, (y, x) in zip(windows, starts, strict=True):
        window[:high, :wide] = values[y : y + high, x : x + wide] * taper
    return windows


def _starts(length_px: int) -> list[int]:
    if length_px <= WINDOW_PX:
        return [0]
    n = math.ceil((length_px - WINDOW_PX) / WINDOW_STEP_PX) + 1
    return [round(s) for s in np.linspace(0, length_px - WINDOW_PX, n)]


def _wave_triples(windows: NDArray[np.float32]) -> tuple[Points, Points]:
    """Return how clear the best triple of waves of each window is (n,), and two waves (n, 2, 2)."""
    power = _powers(windows)
    n, _, wide = power.shape
    ky, kx = np.mgrid[-_REACH : _REACH + 1, 0 : _REACH + 1]
    radius = np.hypot(kx, ky)
    ring = (radius >= PERIODS_MIN) & (radius <= PERIODS_MAX) & ((kx > 0) | (ky > 0))
    total = np.maximum(power[:, ring].sum(axis=1), np.float32(1e-30))
    highest = np.stack([cv2.dilate(spectrum, np.ones((3, 3), np.uint8)) for spectrum in power])
    around = np.stack([cv2.blur(spectrum, (3, 3)) for spectrum in power])
    near = np.asarray(around * (np.float32(9.0) / total[:, None, None]), np.float32)
    tops = np.where((power >= highest) & ring & (power > 0.0), power, 0.0).reshape(n, -1)
    best = np.argpartition(-tops, PEAKS_PER_WINDOW, axis=1)[:, :PEAKS_PER_WINDOW]
    is_peak = np.take_along_axis(tops, best, axis=1) > 0.0
    peaks = _refined_peaks(power, *np.divmod(best, wide))
    return _best_triples(peaks, is_peak, near)


def _powers(windows: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the low end of the windows' spectra, ``[ky + _REACH, kx]``, without the rest of it."""
    turn = np.outer(np.arange(-_REACH, _REACH + 1), np.arange(WINDOW_PX)) / WINDOW_PX
    wave = np.exp(-2j * math.pi * turn).astype(np.complex64)
    along_x = windows @ np.ascontiguousarray(wave[_REACH:].T.real) + 1j * (
        windows @ np.ascontiguousarray(wave[_REACH:].T.imag)
    )
    spectra = wave @ along_x
    return np.asarray(spectra.real**2 + spectra.imag**2, np.float32)


def _refined_peaks(
    power: NDArray[np.float32], rows: NDArray[np.int64], cols: NDArray[np.int64]
) -> Points:
    """Return highest points of spectra to a fraction, as waves (n, PEAKS_PER_WINDOW, 2)."""
    n = np.arange(len(power))[:, None]

    def level(dy: int, dx: int) -> Points:
        y, x = np.clip(rows + dy, 0, 2 * _REACH), np.clip(cols + dx, 0, _REACH)
        return np.log(power[n, y, x].astype(np.float64) + 1e-9)

    middle = level(0, 0)
    dy, dx = _vertex(level(-1, 0), middle, level(1, 0)), _vertex(level(0, -1), middle, level(0, 1))
    return np.stack([cols + np.where(cols > 0, dx, 0.0), rows - _REACH + dy], axis=-1)


def _vertex(low: Points, mid: Points, high: Points) -> Points:
    bend = np.minimum(low - 2.0 * mid + high, -1e-9)
    return np.asarray(np.clip(0.5 * (low - high) / bend, -0.5, 0.5))


def _best_triples(
    peaks: Points, is_peak: NDArray[np.bool_], near: NDArray[np.float32]
) -> tuple[Points, Points]:
    waves = np.concatenate([peaks, -peaks], axis=1)
    is_wave = np.concatenate([is_peak, is_peak], axis=1)
    length = np.where(is_wave, np.hypot(waves[..., 0], waves[..., 1]), 1.0)
    angle_deg = np.degrees(np.arctan2(waves[..., 1], waves[..., 0]))
    between = (angle_deg[:, None, :] - angle_deg[:, :, None]) % 360.0
    fits = is_wave[:, None, :] & is_wave[:, :, None]
    fits &= (between > WAVE_ANGLE_MIN_DEG) & (between < WAVE_ANGLE_MAX_DEG)
    ratio = length[:, None, :] / length[:, :, None]
    fits &= (ratio < WAVE_RATIO_MAX) & (ratio > 1.0 / WAVE_RATIO_MAX)
    window, first, second = np.nonzero(fits)
    one, two = waves[window, first], waves[window, second]
    third = two - one
    ratio = np.hypot(*third.T) / np.sqrt(length[window, first] * length[window, second])
    keep = (ratio < WAVE_RATIO_MAX) & (ratio > 1.0 / WAVE_RATIO_MAX)
    weight = np.zeros(fits.shape)
    window, first, second = window[keep], first[keep], second[keep]
    powers = [_near_power(near, window, wave[keep]) for wave in (one, two, third)]
    weight[window, first, second] = np.cbrt(np.prod(powers, axis=0))
    flat = weight.reshape(len(peaks), -1)
    best = flat.argmax(axis=1)
    n = np.arange(len(peaks))
    pair = np.stack(np.divmod(best, waves.shape[1]), axis=1)
    return flat[n, best], waves[n[:, None], pair]


def _near_power(near: NDArray[np.float32], window: NDArray[np.int64], wave: Points) -> Points:
    """Return the part of each window's power that lies at a wave."""
    wave = np.where(wave[:, :1] < 0.0, -wave, wave)
    cols, rows = np.rint(wave).astype(int).T
    return np.asarray(near[window, rows + _REACH, cols], np.float64)


def _consensus(guesses: list[Guess], limit: int) -> list[Guess]:
    if not guesses:
        return []
    log_pitch = np.log([g.pitch_px for g in guesses])
    angle_deg = np.array([g.row_angle_deg for g in guesses])
    weight = np.array([g.weight for g in guesses])
    turn = np.abs((angle_deg[:, None] - angle_deg[None, :] + 30.0) % 60.0 - 30.0)
    same = (np.abs(log_pitch[:, None] - log_pitch[None, :]) < math.log(SAME_PITCH_RATIO)) & (
        turn < SAME_ANGLE_DEG
    )
    chosen: list[Guess] = []
    free = np.ones(len(guesses), bool)
    for _ in range(limit):
        support = (same & free[None, :]) @ weight**2
        support[~free] = 0.0
        if support.max() <= 0.0:
            break
        group = same[int(support.argmax())] & free
        # The clearest of those that many others bear out: a pattern beside the comb may be clearer.
        chosen.append(guesses[int(np.where(group, weight * support, 0.0).argmax())])
        free &= ~group
    return chosen
