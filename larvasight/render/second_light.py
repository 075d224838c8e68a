"""The second look's light: two lamps, softer shadows, and wax that colours what it throws back."""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from larvasight.render.comb import Ground, Where
from larvasight.render.palette import RGB, WaxColours
from larvasight.render.scene import Light
from larvasight.render.second_look import SECOND_LOOK

Plane = NDArray[np.float32]
Planes = NDArray[np.float32]

# Light that reaches places no lamp sees, as a share of the lamp: wax is no black wall.
_SHADOW_LEAK = 0.05
# How much of the lamp comes back from lit walls on to what lies in a cell.
_BOUNCE = 0.13


@dataclass(frozen=True, slots=True)
class Beam:
    """One lamp at the points of a surface: its share of light and the slopes to it."""

    share: Plane
    slope: tuple[Plane, Plane]


@dataclass(frozen=True, slots=True)
class SecondWax(WaxColours):
    """Wax that glows at its rims and is more saturated in its depth."""

    @property
    def glow(self) -> RGB:
        """Colour that light from all around takes on between the walls."""
        top = max(self.wall)
        r, g, b = (0.42 + 0.50 * channel / top for channel in self.wall)
        return (r, g, b)

    def ambient_at(self, depth_mm: Plane) -> Plane:
        """Return the share of light from all around that reaches a depth."""
        return np.asarray(np.exp(depth_mm * np.float32(-0.50 * np.sqrt(self.open_loss))))

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
        shallow = 1.0 - depth_share
        glow = shallow * shallow * np.float32(1.3 * self.leak * light.strength)
        glow += np.float32(0.10 * self.leak * light.ambient)
        shade = np.where(on_wall, np.float32(0.92), np.float32(1.06)) * patch
        for channel in range(3):
            wall, floor = self.wall[channel], self.floor[channel]
            # Every cell is a little of both: floors pick up the colour of their walls.
            albedo = np.where(
                on_wall, np.float32(wall), np.float32(0.75 * floor + 0.25 * wall * floor**0.5)
            )
            incoming = key * np.float32(light.colour_rgb[channel])
            incoming += ambient * np.float32(light.ambient_rgb[channel] * (0.25 + 0.75 * wall))
            incoming += glow * np.float32(wall)
            picture[channel] = albedo * shade * incoming
            picture[channel] += glitter * np.float32(0.7 * light.colour_rgb[channel])
        return picture

    def compose_rim(
        self, light: Light, key: Plane, patch: Plane, shine: Plane, fall: Plane
    ) -> NDArray[np.float32]:
        """Return the colour of rims, shape (3, N), linear."""
        deep = np.clip(fall * np.float32(1.4) - np.float32(0.5), 0.0, 0.7)
        colours = []
        for channel in range(3):
            rim, wall = self.rim[channel], self.wall[channel]
            albedo = np.float32(rim) + np.float32(wall - rim) * deep
            incoming = key * np.float32(0.92 * light.colour_rgb[channel])
            incoming += np.float32(
                light.ambient * light.ambient_rgb[channel] * (0.7 + 0.3 * rim)
                + 0.35 * self.leak * light.strength * wall
            )
            colours.append(
                albedo * patch * incoming + shine * np.float32(light.colour_rgb[channel])
            )
        return np.stack(colours)


@dataclass(frozen=True)
class SecondGround(Ground):
    """Bare comb under two lamps: slope to the second one and its share of the light."""

    side_xy: tuple[float, float] = (0.0, 0.0)
    side_part: float = 0.0

    def lit(
        self, x: Plane, y: Plane, depth: Plane, lamp: tuple[Plane, Plane], where: Where
    ) -> Plane:
        """Return the share of both lamps seen through the opening from points in a cell."""
        main, side = self.beams(x, y, depth, lamp, where)
        return np.asarray(main.share + side.share)

    def ambient(self, depth: Plane) -> Plane:
        """Return how much light from all around reaches a depth, before colour."""
        return self.colours.ambient_at(depth) * np.float32(self.scene.light.ambient)

    def beams(
        self, x: Plane, y: Plane, depth: Plane, lamp: tuple[Plane, Plane], where: Where
    ) -> tuple[Beam, Beam]:
        """Return both lamps at points in a cell."""
        shares = []
        side = np.float32(self.side_xy[0]), np.float32(self.side_xy[1])
        blur = self.light_look.blur_mm(self.scene.light, depth)
        slopes = (lamp, side)
        parts = (1.0 - self.side_part, self.side_part)
        for i, part in enumerate(parts):
            reach = self.shape.reach(x + slopes[i][0] * depth, y + slopes[i][1] * depth)
            share = np.clip((np.float32(self.shape.opening_mm) - reach) / blur + 0.5, 0.0, 1.0)
            share = np.float32(_SHADOW_LEAK) + np.float32(1.0 - _SHADOW_LEAK) * share
            if self.bees is not None:
                share = share * self.bees[where]
            shares.append(np.asarray(share * np.float32(part * self.scene.light.strength)))
        flat = np.full_like(x, side[0]), np.full_like(x, side[1])
        return Beam(shares[0], lamp), Beam(shares[1], flat)


def relit(ground: Ground) -> Ground:
    """Return the ground under the lamps its scene asks for."""
    scene = ground.scene
    if (scene.light_look or scene.look) != SECOND_LOOK:
        return ground
    rng = np.random.default_rng(scene.comb.texture_seed + 11)
    main_rad = float(np.arctan2(scene.light.slope_xy[1], scene.light.slope_xy[0]))
    side_rad = main_rad + float(rng.uniform(1.7, 4.6))
    steep = float(rng.uniform(0.06, 0.20))
    values = {field.name: getattr(ground, field.name) for field in fields(ground)}
    wax = ground.colours
    values["colours"] = SecondWax(**{part.name: getattr(wax, part.name) for part in fields(wax)})
    return SecondGround(
        **values,
        side_xy=(steep * float(np.cos(side_rad)), steep * float(np.sin(side_rad))),
        side_part=float(rng.uniform(0.15, 0.42)),
    )


def beams_at(ground: Ground, where: Where, x: Plane, y: Plane, depth: Plane) -> tuple[Beam, ...]:
    """Return the lamps at points in a cell."""
    lamp = ground.lamp(x, y, where)
    if isinstance(ground, SecondGround):
        return ground.beams(x, y, depth, lamp, where)
    return (Beam(ground.lit(x, y, depth, lamp, where), lamp),)


def bounce_at(ground: Ground, x: Plane, y: Plane) -> Plane | None:
    """Return the light that lit walls throw on to points in a cell, None without any."""
    if not isinstance(ground, SecondGround):
        return None
    light = ground.scene.light
    sun_x, sun_y = light.slope_xy
    # The wall away from the lamp is the lit one.
    scale = -1.0 / (np.hypot(sun_x, sun_y) + 0.08) / ground.shape.half_pitch_mm
    near = x * np.float32(sun_x * scale) + y * np.float32(sun_y * scale)
    return np.asarray(np.float32(_BOUNCE * light.strength) * (np.float32(0.7) + 0.5 * near))


def lay(
    ground: Ground,
    where: Where,
    picture: Planes,
    cover: Plane,
    albedo: tuple[Plane | np.float32, ...],
    key: Plane,
    ambient: Plane,
    bounce: Plane | None,
    shine: Plane,
) -> None:
    """Lay a lit surface over the picture where ``cover`` is above 0, in place."""
    light, wall, glow = ground.scene.light, ground.colours.wall, ground.colours.glow
    for channel in range(3):
        incoming = key * np.float32(light.colour_rgb[channel])
        incoming += ambient * np.float32(light.ambient_rgb[channel] * glow[channel])
        if bounce is not None:
            incoming += bounce * np.float32(wall[channel])
        plane = picture[channel][where]
        plane += cover * (incoming * albedo[channel] - plane)
        plane += shine * np.float32(light.colour_rgb[channel])
