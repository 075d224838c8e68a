"""Colours of wax by its age, in linear light."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from larvasight.render.scene import Comb, Light

Plane = NDArray[np.float32]
RGB = tuple[float, float, float]

# sRGB 0-255 of rim, wall and floor in good light at wax ages 0, 0.3, 0.6 and 1, read off
# photographs of comb and brightened to albedo.
_AGES = (0.0, 0.3, 0.6, 1.0)
_RIM = ((252, 234, 160), (238, 192, 92), (218, 172, 104), (172, 124, 76))
_WALL = ((248, 214, 120), (226, 156, 48), (160, 98, 50), (92, 56, 32))
_FLOOR = ((240, 206, 120), (206, 144, 46), (134, 80, 38), (66, 41, 24))
# How far light wanders in the wax: the share of light that still reaches the floor's depth.
_OPEN_LOSS = (0.03, 0.05, 0.11, 0.22)
# Share of the lamp's light that walls throw back onto what lies between them.
_BOUNCE = (0.17, 0.14, 0.06, 0.02)
_LEAK = (0.42, 0.36, 0.12, 0.02)
_DIRT_PULL = (0.8, 1.0, 1.2)


@dataclass(frozen=True, slots=True)
class WaxColours:
    """Albedo of rim, wall and floor (linear RGB) and how light spreads in the cell."""

    rim: RGB
    wall: RGB
    floor: RGB
    leak: float
    open_loss: float
    bounce: float = 0.0

    @property
    def glow(self) -> RGB:
        """Colour that light from all around takes on between the walls, brightest channel 1."""
        top = max(self.wall)
        r, g, b = (0.36 + 0.64 * channel / top for channel in self.wall)
        return (r, g, b)

    def ambient_at(self, depth_mm: Plane) -> Plane:
        """Return the share of light from all around that reaches a depth, shape of ``depth_mm``."""
        return np.asarray(
            1.0 / (1.0 + np.float32(self.open_loss) * depth_mm * depth_mm / np.float32(2.0))
        )

    def compose_hollow(
        self,
        light: Light,
        on_wall: NDArray[np.bool_],
        depth_share: Plane,
        key: Plane,
        ambient: Plane,
        patch: Plane,
        glitter: Plane,
    ) -> NDArray[np.float32]:
        """Return the colour of walls and floors, shape (3, H, W), linear."""
        picture = np.empty((3, *key.shape), dtype=np.float32)
        seep = (1.0 - np.float32(0.75) * depth_share) * np.float32(
            self.leak * (light.strength * 0.5 + light.ambient * 0.5)
        )
        for channel in range(3):
            albedo = np.where(
                on_wall, np.float32(self.wall[channel]), np.float32(self.floor[channel])
            )
            # Dirt and thick wax take more of the blue than of the red.
            albedo = albedo * (1.0 + (patch - 1.0) * np.float32(_DIRT_PULL[channel]))
            # Light that has wandered through wax takes on its colour once more.
            wandered = np.float32(0.25 + 0.75 * self.wall[channel] / max(self.wall))
            incoming = key * np.float32(light.colour_rgb[channel])
            incoming += ambient * (np.float32(light.ambient_rgb[channel]) * wandered)
            incoming += seep * np.float32(self.wall[channel] * self.wall[channel])
            picture[channel] = albedo * incoming + glitter * np.float32(light.colour_rgb[channel])
        return picture

    def compose_rim(
        self, light: Light, key: Plane, patch: Plane, shine: Plane, fall: Plane
    ) -> NDArray[np.float32]:
        """Return the colour of rims, shape (3, N), linear."""
        deep = fall * fall * np.float32(0.5)
        colours = []
        for channel in range(3):
            albedo = (
                np.float32(self.rim[channel]) * (1.0 - deep) + np.float32(self.wall[channel]) * deep
            )
            incoming = key * np.float32(light.colour_rgb[channel]) + np.float32(
                light.ambient * light.ambient_rgb[channel]
            )
            colours.append(
                albedo * patch * incoming + shine * np.float32(light.colour_rgb[channel])
            )
        return np.stack(colours)


def to_linear(srgb: float | NDArray[np.float64]) -> NDArray[np.float64]:
    """Return linear values of sRGB values 0-255."""
    value = np.asarray(srgb, dtype=np.float64) / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def linear_rgb(colour_rgb: RGB, tint_rgb: RGB = (1.0, 1.0, 1.0)) -> RGB:
    """Return a colour given in sRGB 0-255 as linear RGB times a tint."""
    r, g, b = to_linear(np.array(colour_rgb)) * np.array(tint_rgb)
    return (float(r), float(g), float(b))


def wax_colours(comb: Comb) -> WaxColours:
    """Return the colours of a comb's wax."""

    def blend(table: tuple[RGB, ...]) -> RGB:
        linear = to_linear(np.array(table, dtype=np.float64))
        r, g, b = (float(np.interp(comb.wax_age, _AGES, linear[:, c])) for c in range(3))
        tint = comb.wax_tint_rgb
        return (r * tint[0], g * tint[1], b * tint[2])

    return WaxColours(
        rim=blend(_RIM),
        wall=blend(_WALL),
        floor=blend(_FLOOR),
        leak=float(np.interp(comb.wax_age, _AGES, _LEAK)),
        open_loss=float(np.interp(comb.wax_age, _AGES, _OPEN_LOSS)),
        bounce=float(np.interp(comb.wax_age, _AGES, _BOUNCE)),
    )
