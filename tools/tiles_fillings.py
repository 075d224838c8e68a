"""What lies in cells beside bodies: food, pollen, nectar, cappings and crumbs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import CELL_DEPTH_MM
from tiles_cups import N_AROUND, Cup, angles_rad, opening_mm
from tiles_mesh import Mesh, grid_quads, linear
from tiles_noise import fractal, noise

if TYPE_CHECKING:
    from larvasight.render import Pool, Stores
    from tiles_bodies import Body
    from tiles_settings import Wax

Floats = NDArray[np.float64]

_N_RINGS = 64
_JELLY_CLEAR_RGB, _JELLY_MILKY_RGB = (229.0, 215.0, 178.0), (241.0, 229.0, 196.0)
# Food climbs bodies by a share of their radius, and shores: heights and widths, mm.
_BODY_CLIMB_SHARE, _BODY_CLIMB_SPAN_MM, _BODY_CLIMB_WIDTH_MM = 0.22, (0.03, 0.09), 0.11
_SHORE_CLIMB_MM, _SHORE_CLIMB_WIDTH_MM = 0.05, 0.13
_OTHER_POLLEN_RGB = ((232.0, 184.0, 84.0), (206.0, 138.0, 62.0), (226.0, 206.0, 130.0))


def _disc(cup: Cup, height_mm: float) -> Floats:
    """Return a grid of level points that just reaches into the walls, outermost ring first."""
    wall = cup.wall_mm
    radius = np.hypot(wall[..., 0], wall[..., 1])
    edge = np.array(
        [np.interp(-height_mm, -wall[3:, k, 2], radius[3:, k]) for k in range(wall.shape[1])]
    )
    share = (1.0 - np.arange(_N_RINGS) / (_N_RINGS - 1))[:, None]
    way = angles_rad()
    far = (edge + 0.04) * share
    return np.stack([far * np.cos(way), far * np.sin(way), np.full_like(far, height_mm)], axis=-1)


def _floor_at(cup: Cup, x: Floats, y: Floats) -> Floats:
    """Return the height of the modelled wax below points, by the cup's own grid."""
    grid = cup.grid_mm
    radius = np.hypot(grid[..., 0], grid[..., 1])
    column = np.round(np.arctan2(y, x) / (2.0 * np.pi) * N_AROUND).astype(int) % N_AROUND
    far = np.hypot(x, y)
    out = np.empty_like(far)
    first = cup.wall_mm.shape[0] - 1
    for k in range(N_AROUND):
        own = column == k
        r, h = radius[first:, k][::-1], grid[first:, k, 2][::-1]
        # Beyond the foot of the wall the wax climbs steeply.
        out[own] = np.interp(far[own], [*r, r[-1] + 0.2], [*h, h[-1] + 4.0])
    return out


def pool_mesh(wax: Wax, cup: Cup, pool: Pool, body: Body | None, seed: int) -> Mesh:
    """Return the surface of brood food about the cell's axis.

    Its values: ``clear``, the share of light it lets through, and ``gap``, its depth in mm.
    """
    level = pool.level_mm - CELL_DEPTH_MM
    grid = _disc(cup, level)
    x, y = grid[..., 0], grid[..., 1]
    world = grid + 10.0 * np.random.default_rng(seed).random(3)
    floor = _floor_at(cup, x, y)
    outside = np.full_like(x, 9.0)
    climb = 0.0
    if body is not None:
        line, radius = body.midline_mm[::4], body.radius_mm[::4]
        away = np.hypot(x[..., None] - line[:, 0], y[..., None] - line[:, 1]) - radius
        outside = np.maximum(away.min(axis=-1), 0.0)
        climb = float(np.clip(_BODY_CLIMB_SHARE * radius.max(), *_BODY_CLIMB_SPAN_MM))
    # Bodies float, so that the food's lumps begin beside them.
    loose = 1.0 - np.exp(-((outside / 0.7) ** 2))
    lumps = 0.045 * pool.ripple * np.clip(fractal(world, 1.3, seed, 2), -2.0, 2.0)
    drift = (0.12 + 0.12 * (1.0 - wax.cocoon)) * np.clip(noise(world, 2.6, seed + 5), -2.0, 2.0)
    surface = level + loose * (lumps + drift) - _sag(wax, pool, x, y)
    shore = np.maximum(surface - floor, 0.0)
    rise = _SHORE_CLIMB_MM * np.clip(0.7 + 0.6 * noise(world, 1.2, seed + 23), 0.0, 1.5)
    surface = surface + rise * np.exp(-shore / _SHORE_CLIMB_WIDTH_MM)
    gap = np.maximum(surface - floor, 0.0)
    surface = surface + climb * np.exp(-outside / _BODY_CLIMB_WIDTH_MM)
    milk = pool.opacity_per_mm * np.exp(0.55 * fractal(world, 1.1, seed + 11))
    clear = np.exp(-0.5 * milk * gap)
    milky = np.clip(pool.opacity_per_mm / (pool.opacity_per_mm + 3.0), 0.0, 1.0)
    base = linear(_JELLY_CLEAR_RGB)
    base = (base + milky * (linear(_JELLY_MILKY_RGB) - base)) * np.array(pool.tint_rgb)
    shade = 1.0 + 0.05 * fractal(world, 0.8, seed + 19)
    grid = grid.copy()
    grid[..., 2] = surface
    grid[-1] = grid[-1].mean(axis=0)
    return Mesh(
        points_mm=grid.reshape(-1, 3),
        quads=grid_quads(_N_RINGS, N_AROUND),
        colours=np.clip(base * shade[..., None], 0.0, 0.95).reshape(-1, 3),
        values={"clear": clear.ravel(), "gap": gap.ravel()},
    )


def food_area_mm2(food: Mesh) -> float:
    """Return how much of the cell's cross-section food covers, the body on it included."""
    points = food.points_mm[food.quads][..., :2]
    one, other = points[:, 2] - points[:, 0], points[:, 3] - points[:, 1]
    area = 0.5 * np.abs(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0])
    wet = (food.values["gap"][food.quads] > 0.0).mean(axis=1)
    return float((area * wet).sum())


def _sag(wax: Wax, pool: Pool, x: Floats, y: Floats) -> Floats:
    """Return how far thick food falls short of a level surface in the corners of a floor."""
    start_mm = 0.95 * pool.level_mm * 2.0**0.5
    over = np.maximum(np.hypot(x, y) - start_mm, 0.0)
    return np.asarray((1.0 - wax.cocoon) * 0.9 * over**2)


def pollen_mesh(cup: Cup, stores: Stores, centre: Floats, seed: int) -> Mesh:
    """Return packed pollen: loads of several colours, rammed flat and crumbly."""
    rng = np.random.default_rng(seed)
    grid = _disc(cup, -stores.depth_mm)
    world = grid + np.array([*centre, 0.0])
    grid = grid.copy()
    n_loads = 26
    spots = rng.uniform(-2.7, 2.7, (n_loads, 2))
    warp = 0.25 * noise(world, 0.7, seed + 3)
    away = np.hypot(grid[..., 0, None] - spots[:, 0], grid[..., 1, None] - spots[:, 1])
    weight = np.exp(-(((away + warp[..., None]) / 0.42) ** 2)) + 1e-9
    weight /= weight.sum(axis=-1, keepdims=True)
    loads = linear(stores.colour_rgb) * np.exp(rng.normal(0.0, 0.16, (n_loads, 1)))
    for k in np.flatnonzero(rng.random(n_loads) < 0.25):
        loads[k] = linear(_OTHER_POLLEN_RGB[int(rng.integers(len(_OTHER_POLLEN_RGB)))])
    lumps = np.clip(fractal(world, 0.55, seed), -2.0, 2.0)
    grid[..., 2] += 0.07 * lumps + weight @ rng.normal(0.0, 0.14, n_loads)
    grid[..., 2] -= 0.25 * noise(world, 4.0, seed + 1)
    colours = weight @ loads * (1.0 + 0.12 * lumps + 0.10 * noise(world, 0.16, seed + 2))[..., None]
    grid[-1] = grid[-1].mean(axis=0)
    return Mesh(
        points_mm=(grid + np.array([*centre, 0.0])).reshape(-1, 3),
        quads=grid_quads(_N_RINGS, N_AROUND),
        colours=np.clip(colours, 0.0, 0.95).reshape(-1, 3),
        values={"gloss": np.zeros(grid[..., 0].size)},
    )


def nectar_mesh(cup: Cup, stores: Stores, centre: Floats, seed: int) -> Mesh:
    """Return nectar: a smooth surface that climbs the walls a little."""
    grid = _disc(cup, -stores.depth_mm)
    far = np.hypot(grid[..., 0], grid[..., 1])
    edge = far[0]
    world = grid + np.array([*centre, 0.0])
    grid = grid.copy()
    grid[..., 2] += 0.35 * np.exp(-(edge - far) / 0.35) + 0.01 * noise(world, 1.5, seed)
    colours = np.broadcast_to(linear(stores.colour_rgb), grid.shape)
    clear = np.full(far.size, 0.55)
    grid[-1] = grid[-1].mean(axis=0)
    return Mesh(
        points_mm=(grid + np.array([*centre, 0.0])).reshape(-1, 3),
        quads=grid_quads(_N_RINGS, N_AROUND),
        colours=np.clip(colours, 0.0, 0.95).reshape(-1, 3).copy(),
        values={"clear": clear},
    )


def cap_mesh(wax: Wax, centre: Floats, seed: int, cell_seed: int) -> Mesh:
    """Return a capping: a low granular dome between the rims."""
    rng = np.random.default_rng(cell_seed)
    angles = angles_rad()
    edge = opening_mm(wax, angles, 0.35 * wax.rim_half_mm)
    share = (1.0 - np.arange(_N_RINGS) / (_N_RINGS - 1))[:, None]
    far = edge * share
    grid = np.stack([far * np.cos(angles), far * np.sin(angles), np.zeros_like(far)], axis=-1)
    world = grid + np.array([*centre, 0.0])
    dome = 0.55 + 0.12 * rng.normal()
    height = -0.16 + dome * (1.0 - share**2.4) + 0.10 * noise(world, 1.3, seed + 3)
    height = height + 0.07 * fractal(world, 0.5, seed + 5) * np.minimum(1.0, 4.0 * (1.0 - share))
    grid[..., 2] = height
    shade = 1.0 + 0.16 * fractal(world, 0.7, seed + 7) + 0.08 * rng.normal()
    # Worn darker where they meet the rims.
    shade = shade * (1.0 - 0.28 * share**7)
    grid[-1] = grid[-1].mean(axis=0)
    colours = linear(wax.cap_rgb) * np.clip(shade, 0.5, 1.3)[..., None] ** np.array([0.8, 1, 1.2])
    return Mesh(
        points_mm=(grid + np.array([*centre, 0.0])).reshape(-1, 3),
        quads=grid_quads(_N_RINGS, N_AROUND),
        colours=np.clip(colours, 0.0, 0.95).reshape(-1, 3),
        values={"gloss": np.full(far.size, 0.3)},
    )


def crumb_meshes(wax: Wax, cup: Cup, centre: Floats, cell_seed: int) -> list[Mesh]:
    """Return a few crumbs of wax and pollen that lie on the floor and stick to the wall."""
    rng = np.random.default_rng(cell_seed + 77)
    meshes = []
    n_around, n_up = 9, 6
    turn = 2.0 * np.pi * np.arange(n_around) / n_around
    up = np.linspace(0.0, np.pi, n_up)
    ball = np.stack(
        [
            np.sin(up)[:, None] * np.cos(turn),
            np.sin(up)[:, None] * np.sin(turn),
            np.broadcast_to(np.cos(up)[:, None], (n_up, n_around)),
        ],
        axis=-1,
    )
    for _ in range(rng.poisson(2.2 * wax.crumbs)):
        row = int(rng.integers(8, cup.grid_mm.shape[0] - 2))
        place = cup.grid_mm[row, int(rng.integers(N_AROUND))]
        size = float(np.exp(rng.normal(np.log(0.07), 0.4)))
        stretch = size * np.exp(rng.normal(0.0, 0.3, 3))
        lumpy = ball * stretch * (1.0 + 0.25 * rng.normal(size=(n_up, n_around, 1)))
        lumpy[0], lumpy[-1] = lumpy[0].mean(axis=0), lumpy[-1].mean(axis=0)
        toward = place * np.array([0.97, 0.97, 1.0]) + np.array([0.0, 0.0, 0.4 * size])
        wax_like = rng.random() < 0.75
        colour = linear(wax.rim_rgb if wax_like else (232.0, 170.0, 60.0)) * rng.uniform(0.5, 1.0)
        points = (lumpy + toward + np.array([*centre, 0.0])).reshape(-1, 3)
        meshes.append(
            Mesh(
                points_mm=points,
                quads=grid_quads(n_up, n_around),
                colours=np.broadcast_to(np.clip(colour, 0.0, 0.95), points.shape).copy(),
                values={"gloss": np.full(len(points), 0.3)},
            )
        )
    return meshes
