"""Pictures of regular things that are no comb."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import lattice_vectors

if TYPE_CHECKING:
    from collections.abc import Callable

Pixels = NDArray[np.uint8]
Floats = NDArray[np.float64]

_SIZE_PX = (760, 560)


def drilled_plate(rng: np.random.Generator) -> Pixels:
    """Draw a sink's strainer: round dark holes in brushed metal, packed as bees pack cells."""
    pitch_px = float(rng.uniform(28.0, 80.0))
    grey = 175.0 + 8.0 * cv2.GaussianBlur(
        rng.normal(0.0, 1.0, _SIZE_PX[::-1]), (0, 0), 12.0, sigmaY=0.6
    )
    grey += np.linspace(-25.0, 25.0, _SIZE_PX[0])
    holes = np.zeros(_SIZE_PX[::-1], np.float32)
    radius_px = pitch_px * float(rng.uniform(0.2, 0.34))
    for x, y in _places(pitch_px, float(rng.uniform(-30.0, 30.0))):
        _disc(holes, x, y, radius_px)
    lit = cv2.GaussianBlur(np.roll(holes, 2, axis=0) - holes, (0, 0), 1.2)
    return _picture(grey * (1.0 - 0.85 * holes) + 60.0 * np.maximum(lit, 0.0), rng)


def bubbles(rng: np.random.Generator) -> Pixels:
    """Draw packing film: round blisters, each with a glint."""
    pitch_px = float(rng.uniform(40.0, 90.0))
    grey = np.full(_SIZE_PX[::-1], 120.0)
    rims, tops = np.zeros_like(grey, np.float32), np.zeros_like(grey, np.float32)
    for x, y in _places(pitch_px, float(rng.uniform(-30.0, 30.0))):
        _disc(rims, x, y, 0.42 * pitch_px)
        _disc(tops, x - 0.12 * pitch_px, y - 0.14 * pitch_px, 0.09 * pitch_px)
    edge = np.abs(rims - cv2.GaussianBlur(rims, (0, 0), 2.5))
    return _picture(grey + 25.0 * rims - 60.0 * edge + 110.0 * tops, rng)


def square_grid(rng: np.random.Generator) -> Pixels:
    """Draw a wire grid or squared tiles."""
    u, v = _turned(float(rng.uniform(-40.0, 40.0)))
    pitch_px = float(rng.uniform(30.0, 90.0))
    lines = np.maximum(_line(u, pitch_px), _line(v, pitch_px))
    return _picture(60.0 + 150.0 * lines, rng)


def bricks(rng: np.random.Generator) -> Pixels:
    """Draw brickwork with bright joints, each row shifted by half a brick."""
    u, v = _turned(float(rng.uniform(-20.0, 20.0)))
    high_px = float(rng.uniform(24.0, 60.0))
    shift = np.floor(v / high_px) % 2.0 * high_px
    joints = np.maximum(_line(v, high_px), _line(u + shift, 2.0 * high_px))
    return _picture(80.0 + 110.0 * joints, rng)


def knit(rng: np.random.Generator) -> Pixels:
    """Draw knitted wool: slanted stitches in columns."""
    u, v = _turned(float(rng.uniform(-20.0, 20.0)))
    pitch_px = float(rng.uniform(26.0, 60.0))
    across = np.abs(u / pitch_px % 1.0 - 0.5) * 2.0
    stitch = np.sin(2.0 * math.pi * (v / pitch_px / 0.7 - 0.6 * across))
    return _picture(130.0 + 50.0 * stitch + 40.0 * across, rng)


def pebbles(rng: np.random.Generator) -> Pixels:
    """Draw pebbles: bright joints around cells of all shapes."""
    pitch_px = float(rng.uniform(30.0, 80.0))
    width, height = _SIZE_PX
    n = int(width * height / pitch_px**2)
    seeds = rng.uniform([0, 0], _SIZE_PX, (n, 2))
    y, x = np.mgrid[0:height:2, 0:width:2].astype(np.float64)
    first = np.full(x.shape, np.inf)
    second = np.full(x.shape, np.inf)
    for sx, sy in seeds:
        away = np.hypot(x - sx, y - sy)
        second = np.minimum(second, np.maximum(first, away))
        first = np.minimum(first, away)
    joints = np.exp(-(((second - first) / (0.12 * pitch_px)) ** 2))
    return _picture(np.asarray(cv2.resize(70.0 + 120.0 * joints, _SIZE_PX), np.float64), rng)


def grass(rng: np.random.Generator) -> Pixels:
    """Draw fine texture without any order."""
    noise = rng.normal(0.0, 1.0, _SIZE_PX[::-1])
    image = sum(
        cv2.GaussianBlur(noise, (0, 0), sigma) * sigma * 40.0 for sigma in (1.0, 3.0, 8.0, 20.0)
    )
    return _picture(120.0 + np.asarray(image), rng)


def _places(pitch_px: float, angle_deg: float) -> Floats:
    reach = math.ceil(max(_SIZE_PX) / pitch_px) + 1
    r, q = (n.ravel() for n in np.mgrid[-reach : reach + 1, -reach : reach + 1])
    places = np.column_stack([q, r]) @ lattice_vectors(pitch_px, angle_deg)
    return np.asarray(places + np.array(_SIZE_PX) / 2.0)


def _disc(image: NDArray[np.float32], x: float, y: float, radius_px: float) -> None:
    at = (round(16.0 * x), round(16.0 * y))
    cv2.circle(image, at, round(16.0 * radius_px), 1.0, -1, cv2.LINE_AA, 4)


def _turned(angle_deg: float) -> tuple[Floats, Floats]:
    y, x = np.mgrid[0 : _SIZE_PX[1], 0 : _SIZE_PX[0]].astype(np.float64)
    turn = math.radians(angle_deg)
    return x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)


def _line(u: Floats, pitch_px: float) -> Floats:
    return np.asarray(np.exp(-((((u / pitch_px) % 1.0 - 0.5) / 0.06) ** 2)))


def _picture(grey: Floats, rng: np.random.Generator) -> Pixels:
    noisy = cv2.GaussianBlur(grey, (0, 0), 0.7)
    noisy = noisy + rng.normal(0.0, 2.5, noisy.shape)
    colour = noisy[..., None] * np.array([1.04, 1.0, 0.94])
    return np.asarray(np.clip(colour, 0, 255), dtype=np.uint8)


NO_COMB: dict[str, Callable[[np.random.Generator], Pixels]] = {
    "drilled plate": drilled_plate,
    "bubbles": bubbles,
    "square grid": square_grid,
    "bricks": bricks,
    "knit": knit,
    "pebbles": pebbles,
    "grass": grass,
}
