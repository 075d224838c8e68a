"""Lamps: where they stand, what their shadows and reflections look like."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from larvasight.render.scene import FIRST_LOOK, BeeShadow, Light, LightKind
from larvasight.render.second_look import SECOND_LOOK, second_blur_mm, second_glint

Plane = NDArray[np.float32]

# Narrowest highlight, as a slope: wet surfaces are never perfectly flat.
GLINT_MIN_SLOPE = 0.025


@dataclass(frozen=True, slots=True)
class LightLook:
    """One way to draw lamps.

    ``glint(light, mx, my, roughness)`` returns the brightness of a mirrored lamp, 0 to 1,
    where ``mx, my`` say how far a surface's slope is from the one that mirrors the
    lamp's middle; ``blur_mm(light, depth_mm)`` how wide a shadow's edge is.
    """

    glint: Callable[[Light, Plane, Plane, float], Plane]
    blur_mm: Callable[[Light, Plane], Plane]


def first_glint(light: Light, mx: Plane, my: Plane, roughness: float) -> Plane:
    """Return the mirrored lamp: ring, disc or pane, its edge softened by the roughness."""
    half = max(0.5 * light.size, GLINT_MIN_SLOPE)
    edge = 0.3 * half + roughness
    # The same light from a larger lamp makes a larger and fainter reflection.
    gain = (GLINT_MIN_SLOPE / half) ** 1.5
    if light.kind is LightKind.RING:
        gain = 0.10
        miss = np.abs(np.sqrt(mx * mx + my * my) - half) - np.float32(0.10 * half)
    elif light.kind is LightKind.WINDOW:
        square = mx * mx + np.float32(0.5) * my * my
        miss = np.sqrt(square) - np.float32(0.6 * half)
        edge, gain = half + roughness, 0.3 * gain
    else:
        miss = np.sqrt(mx * mx + my * my) - np.float32(half)
    shine = np.clip(1.0 - miss / np.float32(edge), 0.0, 1.0)
    return np.asarray(np.float32(gain) * shine * shine)


def first_blur_mm(light: Light, depth_mm: Plane) -> Plane:
    """Return the width of a shadow's edge thrown by the rims to a depth, mm."""
    return np.asarray(np.float32(2.0 * light.size) * depth_mm + np.float32(0.12))


LIGHT_LOOKS: Final[Mapping[str, LightLook]] = {
    FIRST_LOOK: LightLook(glint=first_glint, blur_mm=first_blur_mm),
    SECOND_LOOK: LightLook(glint=second_glint, blur_mm=second_blur_mm),
}


def lamp_slopes(light: Light, x_mm: Plane, y_mm: Plane) -> tuple[Plane, Plane]:
    """Return the slope to the lamp from points of the comb; for near lamps each has its own."""
    inverse = np.float32(1.0 / light.height_mm)
    return (
        np.float32(light.slope_xy[0]) - x_mm * inverse,
        np.float32(light.slope_xy[1]) - y_mm * inverse,
    )


def bee_shade(shadows: tuple[BeeShadow, ...], x_mm: Plane, y_mm: Plane) -> Plane | None:
    """Return the share of lamp light that bees leave, 1 without any, or None without bees."""
    if not shadows:
        return None
    left = np.ones_like(x_mm)
    for bee in shadows:
        angle_rad = np.radians(bee.angle_deg)
        dx, dy = x_mm - np.float32(bee.centre_xy_mm[0]), y_mm - np.float32(bee.centre_xy_mm[1])
        along = (
            dx * np.float32(np.cos(angle_rad)) + dy * np.float32(np.sin(angle_rad))
        ) / np.float32(bee.length_mm / 2.0)
        across = (
            dy * np.float32(np.cos(angle_rad)) - dx * np.float32(np.sin(angle_rad))
        ) / np.float32(bee.width_mm / 2.0)
        soft = np.float32(bee.width_mm / 2.0 / max(bee.softness_mm, 0.05))
        inside = np.clip((1.0 - np.sqrt(along * along + across * across)) * soft + 0.5, 0.0, 1.0)
        left *= 1.0 - np.float32(bee.depth) * inside
    return left
