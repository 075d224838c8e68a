"""A second set of drawing rules, made apart from the first: shapes, food and lamps.

What measures pictures is trained on the first look; pictures of the second one show
whether it reads comb or only the habits of one painter. Truth needs nothing special: it
is taken from the midline and the radius that are drawn.
"""

import math

import numpy as np
from numpy.typing import NDArray

from larvasight.render.palette import RGB, linear_rgb
from larvasight.render.scene import Larva, Light, LightKind, Pool

Floats = NDArray[np.float64]
Plane = NDArray[np.float32]

SECOND_LOOK = "second"

# Share of the bend that gathers in the middle of the body, for open and for closed bodies:
# rings are nearly round, young bows have a straight head.
_GATHER_OPEN, _GATHER_CLOSED = 0.75, 0.12
_GATHER_FROM_DEG, _GATHER_TO_DEG = 120.0, 320.0
# The thickest place lies behind the middle; the head ends in a slight neck.
_THICKEST_AT = 0.58
_NECK_AT, _NECK_WIDTH, _NECK_DEPTH = 0.13, 0.06, 0.07

_WATERY_RGB = np.array([207.0, 206.0, 198.0])
_CREAM_RGB = np.array([232.0, 222.0, 198.0])
_CUSTARD_RGB = np.array([236.0, 215.0, 156.0])

_N_RING_LEDS = 10
_GLINT_MIN_SLOPE = 0.045
# Bars of a window, as a share of half its width.
_BAR_SHARE = 0.14
# Brightness of a pane and of a ring against a small lamp's: large lamps are fainter.
_PANE, _LED = np.float32(0.4), np.float32(0.45)


def second_heading_rad(larva: Larva, along: Floats) -> Floats:
    """Return a midline bent mostly in its middle, the more so the more open the body lies."""
    closed = (larva.curl_deg - _GATHER_FROM_DEG) / (_GATHER_TO_DEG - _GATHER_FROM_DEG)
    gather = _GATHER_OPEN + (_GATHER_CLOSED - _GATHER_OPEN) * min(max(closed, 0.0), 1.0)
    late = np.clip(along, 0.0, 1.0) ** (1.18 + 0.8 * larva.unevenness)
    bend = (1.0 - gather) * along + gather * late * late * (3.0 - 2.0 * late)
    # Rings have no room to wind.
    loose = larva.wiggle * (1.0 - 0.6 * min(max(closed, 0.0), 1.0))
    tail = loose * along * np.sin(1.6 * np.pi * along)
    return np.asarray(math.radians(larva.curl_deg) * bend + tail)


def second_radius_share(larva: Larva, along: Floats) -> Floats:
    """Return a club: narrow head with a slight neck, thickest behind the middle, blunt tail."""
    place = np.clip(along, 0.0, 1.0)
    across = np.abs(2.0 * place ** (math.log(0.5) / math.log(_THICKEST_AT)) - 1.0)
    # Stout bodies are barrels, slender ones spindles.
    stout = min(max((larva.width_mm / larva.length_mm - 0.20) / 0.10, 0.0), 1.0)
    profile = np.maximum(1.0 - across ** (2.2 + 0.5 * stout), 0.0) ** 0.47
    neck = 1.0 - _NECK_DEPTH * np.exp(-(((place - _NECK_AT) / _NECK_WIDTH) ** 2))
    return np.asarray(profile * neck)


def second_cover(pool: Pool, thick_mm: Plane) -> Plane:
    """Return the share hidden by food: a film hides nothing, a drop soon nearly all."""
    dense = np.maximum(thick_mm, 0.0) * np.float32(pool.opacity_per_mm)
    dense = dense * np.sqrt(dense)
    return np.asarray(np.float32(0.97) * dense / (dense + np.float32(0.7)))


def second_albedo(pool: Pool) -> RGB:
    """Return the colour of food: watery grey when clear, else cream to custard with its tint."""
    milky = pool.opacity_per_mm / (pool.opacity_per_mm + 3.0)
    warmth = math.log(max(pool.tint_rgb[0], 1e-3) / max(pool.tint_rgb[2], 1e-3))
    custard = min(max(0.40 + 14.0 * warmth, 0.0), 1.0)
    thick = _CREAM_RGB + custard * (_CUSTARD_RGB - _CREAM_RGB)
    base = _WATERY_RGB + min(max(1.6 * milky - 0.25, 0.0), 1.0) * (thick - _WATERY_RGB)
    return linear_rgb((float(base[0]), float(base[1]), float(base[2])), pool.tint_rgb)


def second_glint(light: Light, mx: Plane, my: Plane, roughness: float) -> Plane:
    """Return the mirrored lamp: beads of a ring, a barred window, or a disc with a halo."""
    half = max(0.6 * light.size, _GLINT_MIN_SLOPE)
    edge = 0.18 * half + 0.7 * roughness
    sharp = max(1.0 - 2.5 * roughness / half, 0.0)
    far = np.sqrt(mx * mx + my * my)
    if light.kind is LightKind.RING:
        shine = _step((np.float32(0.28 * half) - np.abs(far - np.float32(half))), edge)
        beads = np.cos(np.arctan2(my, mx) * np.float32(_N_RING_LEDS))
        return np.asarray(shine * (_LED - np.float32(0.35 * sharp) * _LED * (1.0 - beads)))
    if light.kind is LightKind.WINDOW:
        nearest_bar = np.minimum(np.abs(mx), np.abs(my + np.float32(0.25 * half)))
        bar = _step(np.float32(_BAR_SHARE * half) - nearest_bar, 0.5 * edge)
        pane = np.float32(half) - np.maximum(np.abs(mx) * np.float32(1.25), np.abs(my))
        return np.asarray(_step(pane, edge) * (_PANE - np.float32(0.9 * sharp) * _PANE * bar))
    halo = np.exp(far * far * np.float32(-0.5 / (2.5 * half + roughness) ** 2))
    return np.asarray(
        np.float32(0.85) * _step(np.float32(half) - far, edge) + np.float32(0.15) * halo
    )


def second_blur_mm(light: Light, depth_mm: Plane) -> Plane:
    """Return the width of a shadow's edge: wax lets light through, so none is sharp."""
    return np.asarray(np.float32(1.5 * light.size + 0.02) * depth_mm + np.float32(0.22))


def _step(inside: Plane, edge: float) -> Plane:
    """Return a smooth step from 0 to 1 about 0, ``edge`` wide to either side."""
    share = np.clip(inside * np.float32(0.5 / edge) + np.float32(0.5), 0.0, 1.0)
    return np.asarray(share * share * (np.float32(3.0) - 2.0 * share))
