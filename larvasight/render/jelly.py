"""Brood food: the shape of its surface and how it lets light through."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from larvasight.render.palette import RGB, linear_rgb
from larvasight.render.scene import FIRST_LOOK, Pool
from larvasight.render.second_look import SECOND_LOOK, second_albedo, second_cover

Plane = NDArray[np.float32]

# Food climbs bodies and shores: height and width of the two menisci, mm.
BODY_CLIMB_MM, BODY_CLIMB_WIDTH_MM = 0.07, 0.16
SHORE_CLIMB_MM, SHORE_CLIMB_WIDTH_MM = 0.05, 0.13


@dataclass(frozen=True, slots=True)
class JellyLook:
    """One way to draw brood food.

    ``cover(pool, thick_mm)`` returns how much of what lies under it is hidden, 0 to 1;
    ``albedo(pool)`` its colour in linear RGB; ``dim(pool, thick_mm)`` how much darker
    thin food over wax looks.
    """

    cover: Callable[[Pool, Plane], Plane]
    albedo: Callable[[Pool], RGB]


def first_cover(pool: Pool, thick_mm: Plane) -> Plane:
    """Return the share hidden by a thickness of food."""
    return np.asarray(1.0 - np.exp(thick_mm * np.float32(-pool.opacity_per_mm)))


def first_albedo(pool: Pool) -> RGB:
    """Return the colour of food: milky white, a little grey and yellow when clear."""
    clear = 1.0 / (1.0 + 0.25 * pool.opacity_per_mm)
    base = np.array([234.0, 219.0, 188.0]) - clear * np.array([14.0, 20.0, 40.0])
    return linear_rgb((float(base[0]), float(base[1]), float(base[2])), pool.tint_rgb)


JELLY_LOOKS: Final[Mapping[str, JellyLook]] = {
    FIRST_LOOK: JellyLook(cover=first_cover, albedo=first_albedo),
    SECOND_LOOK: JellyLook(cover=second_cover, albedo=second_albedo),
}


def surface_slopes(
    pool: Pool,
    thick_mm: Plane,
    floor_slopes: tuple[Plane, Plane],
    body: tuple[Plane, Plane, Plane] | None,
    ripple: tuple[Plane, Plane, Plane],
) -> tuple[Plane, Plane]:
    """Return the rise of the food's surface per mm in x and y.

    Parameters
    ----------
    pool : Pool
        The food.
    thick_mm : ndarray, float32
        Its thickness; the shore is where it is 0.
    floor_slopes : tuple of ndarray
        Rise of the floor in x and y: thickness falls along it.
    body : tuple of ndarray, optional
        Distance to the body outside of it (mm) and the direction away from it.
    ripple : tuple of ndarray
        Slow slopes in x and y, and patches that break up the menisci; standard deviation 1.
    """
    gx, gy = floor_slopes
    steep = np.sqrt(gx * gx + gy * gy) + np.float32(0.05)
    gap = np.maximum(thick_mm, 0.0) / steep
    patch = np.clip(np.float32(0.65) + np.float32(0.75) * ripple[2], 0.0, 1.7)
    climb = np.float32(SHORE_CLIMB_MM / SHORE_CLIMB_WIDTH_MM) * np.exp(
        gap * np.float32(-1.0 / SHORE_CLIMB_WIDTH_MM)
    )
    climb = climb * patch
    rise_x, rise_y = gx / steep * climb, gy / steep * climb
    if body is not None:
        away, bx, by = body
        climb = np.float32(BODY_CLIMB_MM / BODY_CLIMB_WIDTH_MM) * np.exp(
            np.maximum(away, 0.0) * np.float32(-1.0 / BODY_CLIMB_WIDTH_MM)
        )
        climb = climb * patch
        rise_x, rise_y = rise_x - bx * climb, rise_y - by * climb
    amount = np.float32(0.04 * pool.ripple)
    return rise_x + amount * ripple[0], rise_y + amount * ripple[1]
