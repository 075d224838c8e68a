"""Paint what is no open brood: cappings, pollen and nectar."""

import numpy as np
from numpy.typing import NDArray

from larvasight.render.comb import Ground
from larvasight.render.lights import lamp_slopes
from larvasight.render.palette import linear_rgb
from larvasight.render.scene import StoresKind
from larvasight.render.textures import look_up, shifts

Plane = NDArray[np.float32]
Planes = NDArray[np.float32]
Where = tuple[slice, slice]

# Read off photographs of capped worker brood; light comb is capped lighter.
_CAP_NEW_RGB, _CAP_OLD_RGB = (238.0, 206.0, 136.0), (214.0, 162.0, 96.0)
_NECTAR_CLIMB_MM, _NECTAR_CLIMB_WIDTH_MM = 0.25, 0.45


def paint_stores(ground: Ground, number: int, where: Where, picture: Planes, depth: Plane) -> None:
    """Paint the pollen or nectar of one cell into its tile, in place."""
    scene, shape = ground.scene, ground.shape
    cell = scene.cells[number]
    stores = cell.stores
    if stores is None:
        return
    pollen = stores.kind is StoresKind.POLLEN
    level = np.float32(stores.depth_mm)
    x, y = ground.x[where] + ground.sx[where] * level, ground.y[where] + ground.sy[where] * level
    reach = shape.reach(x, y)
    gap = np.float32(shape.wall_mm) - reach
    inside = (gap > 0.0) & (ground.index[where] == number)
    cloud, grain, bump_x, bump_y = look_up(
        x, y, shift=shifts(cell.seed, 1)[0], zoom=1.9 if pollen else 0.4
    )
    radius = np.sqrt(x * x + y * y) + np.float32(0.05)
    climb = np.float32(_NECTAR_CLIMB_MM / _NECTAR_CLIMB_WIDTH_MM) * np.exp(
        gap / np.float32(-_NECTAR_CLIMB_WIDTH_MM)
    )
    rough = np.float32(0.30 if pollen else 0.015)
    nx, ny = rough * bump_x - x / radius * climb, rough * bump_y - y / radius * climb
    surface = np.full_like(x, level)
    lamp = ground.lamp(x, y, where)
    key = ground.lit(x, y, surface, lamp, where)
    unit = np.sqrt((1.0 + nx * nx + ny * ny) * (1.0 + lamp[0] ** 2 + lamp[1] ** 2))
    facing = np.clip((1.0 + nx * lamp[0] + ny * lamp[1]) / unit, 0.0, 1.0)
    half_x, half_y = (lamp[0] - ground.sx[where]) * 0.5, (lamp[1] - ground.sy[where]) * 0.5
    shine = (
        ground.light_look.glint(scene.light, nx - half_x, ny - half_y, 0.25 if pollen else 0.02)
        * key
    )
    shine *= np.float32(0.06 if pollen else 1.6)
    seam = 1.0 - np.float32(0.35) * np.exp(gap * np.float32(-5.0))
    ambient = ground.ambient(surface) * seam
    tone = 1.0 + (
        np.float32(0.12) * grain + np.float32(0.14) * cloud if pollen else np.float32(0.03) * cloud
    )
    tone = np.clip(tone, 0.3, 1.6)
    colour = linear_rgb(stores.colour_rgb)
    cover = inside * np.float32(1.0 if pollen else 0.82)
    for channel in range(3):
        plane = picture[channel][where]
        lit = key * facing * np.float32(scene.light.colour_rgb[channel]) + ambient * np.float32(
            scene.light.ambient_rgb[channel]
        )
        plane += cover * (lit * tone * np.float32(colour[channel]) - plane)
        plane += inside * shine * np.float32(scene.light.colour_rgb[channel])
    depth[where][inside] = level


def paint_capping(ground: Ground, number: int, where: Where, picture: Planes, depth: Plane) -> None:
    """Paint the capping of one cell over rims and hollow, in place."""
    scene, shape, light = ground.scene, ground.shape, ground.scene.light
    cell = scene.cells[number]
    rng = np.random.default_rng(cell.seed)
    x, y = ground.x[where], ground.y[where]
    far_x, far_y = x + ground.axis_x[where], y + ground.axis_y[where]
    a, b, c = shape.across(x, y)
    edge_mm = np.float32(shape.half_pitch_mm) - np.maximum(
        np.maximum(np.abs(a), np.abs(b)), np.abs(c)
    )
    own = ground.index[where] == number
    cloud, grain, bump_x, bump_y = look_up(x, y, shift=shifts(cell.seed, 1)[0], zoom=1.3)
    share = np.clip((edge_mm + np.float32(0.05) * grain) * np.float32(5.0), 0.0, 1.0) * own
    radius = np.sqrt(x * x + y * y) / np.float32(shape.half_pitch_mm)
    # Domed in the middle, with a shallow groove where it meets the rims.
    dome = np.float32(rng.uniform(0.2, 0.55)) * radius
    groove = np.exp(edge_mm * edge_mm * np.float32(-18.0)) * np.float32(0.35)
    slope = (dome - groove) / (radius * np.float32(shape.half_pitch_mm) + np.float32(0.05))
    nx, ny = x * slope + np.float32(0.14) * bump_x, y * slope + np.float32(0.14) * bump_y
    lamp = lamp_slopes(light, far_x, far_y)
    unit = np.sqrt((1.0 + nx * nx + ny * ny) * (1.0 + lamp[0] ** 2 + lamp[1] ** 2))
    key = np.clip((1.0 + nx * lamp[0] + ny * lamp[1]) / unit, 0.0, 1.0) * np.float32(light.strength)
    if ground.bees is not None:
        key = key * ground.bees[where]
    tone = (
        1.0
        + np.float32(0.10) * cloud
        + np.float32(0.10) * grain
        - np.float32(0.22) * groove / np.float32(0.35)
    )
    tone = np.clip(tone, 0.3, 1.5)
    new, old = np.array(linear_rgb(_CAP_NEW_RGB)), np.array(linear_rgb(_CAP_OLD_RGB))
    colour = (
        (new + (old - new) * scene.comb.wax_age)
        * np.array(scene.comb.wax_tint_rgb)
        * rng.uniform(0.85, 1.1)
    )
    for channel in range(3):
        plane = picture[channel][where]
        lit = key * np.float32(light.colour_rgb[channel]) + np.float32(
            light.ambient * light.ambient_rgb[channel]
        )
        plane += share * (lit * tone * np.float32(colour[channel]) - plane)
    depth[where] *= 1.0 - share
