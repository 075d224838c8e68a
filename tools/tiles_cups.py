"""The wax of one cell: rim, tapered walls and floor, as a grid of points about its axis."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import CELL_DEPTH_MM
from larvasight.render import Comb
from larvasight.render.cellshape import CellShape, make_cell_shape
from tiles_mesh import Mesh, grid_quads, linear
from tiles_noise import fractal, noise
from tiles_settings import PITCH_MM, Wax

Floats = NDArray[np.float64]

N_AROUND = 144
_N_LIP, _N_WALL, _N_FLOOR = 12, 30, 26
N_ROWS = _N_LIP + _N_WALL + _N_FLOOR
HALF_MM = 0.5 * PITCH_MM
_LIP_HEIGHT_SHARE = 1.1
_BRIGHTEST = 0.95
# Cells narrow towards their floors, cocoon upon cocoon.
_TAPER_NEW_MM, _TAPER_OLD_MM = 0.06, 0.22


@dataclass(frozen=True, slots=True, kw_only=True)
class Cup:
    """One cell's wax: ``grid_mm`` of shape (N_ROWS, N_AROUND, 3) about the cell's axis.

    Rows run from the middle of the rim over its lip, down the wall and in to the axis.
    """

    grid_mm: Floats

    @property
    def wall_mm(self) -> Floats:
        """Rows of lip and wall."""
        return self.grid_mm[: _N_LIP + _N_WALL]


@lru_cache(maxsize=8)
def floor_shape(cocoon: float, turned: bool) -> CellShape:
    """Return the shape of the floor."""
    return make_cell_shape(Comb(cocoon=cocoon, floor_turned=turned, pitch_mm=PITCH_MM))


def floor_mm(wax: Wax, x: Floats, y: Floats) -> Floats:
    """Return the smooth floor's height at points about the cell's axis, mm above the rims."""
    shape = floor_shape(wax.cocoon, wax.floor_turned)
    height = shape.floor_height(x.astype(np.float32), y.astype(np.float32))
    return np.asarray(height, dtype=np.float64) - CELL_DEPTH_MM


def angles_rad(n_around: int = N_AROUND) -> Floats:
    """Return the directions of a grid about a cell's axis."""
    return 2.0 * np.pi * np.arange(n_around) / n_around


def _hexagon_mm(angles: Floats) -> Floats:
    """Return how far the middle of the rims is from the axis in each direction."""
    turns = np.radians(60.0 * np.arange(6))
    return np.asarray(HALF_MM / np.cos(angles[:, None] - turns).max(axis=1))


def opening_mm(wax: Wax, angles: Floats, half_mm: float | Floats) -> Floats:
    """Return how far the inside of a wall of half thickness ``half_mm`` is from the axis."""
    turns = np.radians(60.0 * np.arange(6))
    power = wax.corner_power
    cosines = np.maximum(np.cos(angles[:, None] - turns), 0.0)
    share = (cosines**power).sum(axis=1) ** (-1.0 / power)
    # The middles of the walls keep their thickness, whatever the corners do.
    share = share * (1.0 + 2.0 * 0.5**power) ** (1.0 / power)
    return np.asarray((HALF_MM - half_mm) * share)


def _half_at(wax: Wax, down_mm: Floats) -> Floats:
    """Return the half thickness of the wall at depths under the lip."""
    bead = (wax.rim_half_mm - wax.wall_half_mm) * np.exp(-((down_mm / 0.55) ** 2))
    taper = _TAPER_NEW_MM + (_TAPER_OLD_MM - _TAPER_NEW_MM) * wax.cocoon
    return np.asarray(wax.wall_half_mm + bead + taper * (down_mm / CELL_DEPTH_MM) ** 1.5)


def make_cup(wax: Wax, centre_xy_mm: Floats, seed: int) -> Cup:
    """Return the wax of the cell about a centre.

    Parameters
    ----------
    wax : Wax
        Kind of comb.
    centre_xy_mm : ndarray of shape (2,)
        The cell's axis in the frame; noise depends on it, so that neighbours share rims.
    seed : int
        Which noise; the same for all cells of a frame.
    """
    angles = angles_rad()
    way = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    lip_mm = _LIP_HEIGHT_SHARE * wax.rim_half_mm
    radius = np.zeros((N_ROWS, N_AROUND))
    height = np.zeros((N_ROWS, N_AROUND))
    u = np.linspace(0.0, 1.0, _N_LIP)[:, None] * np.pi / 2.0
    outer, inner = _hexagon_mm(angles), opening_mm(wax, angles, wax.rim_half_mm)
    radius[:_N_LIP] = outer + (inner - outer) * np.sin(u) ** 0.9
    height[:_N_LIP] = -lip_mm * (1.0 - np.cos(u))
    bottom = opening_mm(wax, angles, float(_half_at(wax, np.array(9.5))))
    foot = floor_mm(wax, bottom * way[:, 0], bottom * way[:, 1])
    share = (np.arange(1, _N_WALL + 1) / _N_WALL)[:, None] ** 1.25
    height[_N_LIP : _N_LIP + _N_WALL] = -lip_mm + (foot + lip_mm) * share
    for row in range(_N_LIP, _N_LIP + _N_WALL):
        radius[row] = opening_mm(wax, angles, _half_at(wax, -height[row] - lip_mm))
    inward = (1.0 - np.arange(1, _N_FLOOR + 1) / _N_FLOOR)[:, None]
    floor_r = radius[_N_LIP + _N_WALL - 1] * inward
    radius[_N_LIP + _N_WALL :] = floor_r
    height[_N_LIP + _N_WALL :] = floor_mm(wax, floor_r * way[:, 0], floor_r * way[:, 1])
    grid = np.stack([radius * way[:, 0], radius * way[:, 1], height], axis=-1)
    return Cup(grid_mm=_roughen(wax, grid, np.asarray(centre_xy_mm), seed))


def _roughen(wax: Wax, grid: Floats, centre: Floats, seed: int) -> Floats:
    """Return the grid with bumps; on the middle of the rims only up and down, and little."""
    world = grid + np.array([*centre, 0.0])
    out = grid.copy()
    lip = slice(0, _N_LIP)
    u = np.linspace(0.0, 1.0, _N_LIP)[:, None]
    top = np.clip(fractal(world[lip], 0.5, seed), -2.5, 2.5)
    swell = np.clip(noise(world[lip], 2.2, seed + 7), -2.0, 2.0)
    flat = np.where(u < 0.01, 0.4, 1.0)
    out[lip, :, 2] += flat * (wax.granular_mm * top + 0.02 * swell)
    # Frayed inner edges: teeth towards the opening, strongest at the lip's end.
    teeth = np.maximum(noise(world[lip], 0.3, seed + 13) - 0.6, 0.0)
    way = grid[..., :2] / np.maximum(np.hypot(grid[..., 0], grid[..., 1]), 1e-6)[..., None]
    out[lip, :, :2] -= (wax.torn_mm * teeth * u**1.5)[..., None] * way[lip]
    rough = fractal(world[lip], 0.35, seed + 17) * wax.granular_mm * 0.8
    out[lip, :, :2] -= (rough * u)[..., None] * way[lip]
    wall = slice(_N_LIP, _N_LIP + _N_WALL)
    fade = np.exp(0.9 * grid[wall, :, 2])
    bump = 0.022 * fractal(world[wall], 1.4, seed + 23) + (
        fade * 0.8 * wax.granular_mm * fractal(world[wall], 0.35, seed + 17)
    )
    out[wall, :, :2] -= bump[..., None] * way[wall]
    floor = slice(_N_LIP + _N_WALL, N_ROWS)
    out[floor, :, 2] += (0.018 + 0.02 * wax.cocoon) * fractal(world[floor], 1.1, seed + 29)
    out[-1] = out[-1].mean(axis=0)
    return out


def cup_mesh(wax: Wax, cup: Cup, centre_xy_mm: Floats, seed: int, cell_seed: int) -> Mesh:
    """Return a cell's wax as a mesh in the frame, coloured."""
    world = cup.grid_mm + np.array([*centre_xy_mm, 0.0])
    colours, gloss = _paint(wax, cup.grid_mm, world, seed, cell_seed)
    return Mesh(
        points_mm=world.reshape(-1, 3),
        quads=grid_quads(N_ROWS, N_AROUND),
        colours=colours.reshape(-1, 3),
        values={"gloss": gloss.ravel()},
    )


def _facets(wax: Wax, grid: Floats, lower: Floats, seed: int) -> Floats:
    """Return the brightness of the floor's rhombi, unlike each other, with lighter folds."""
    shape = floor_shape(wax.cocoon, wax.floor_turned)
    facet, fold = shape.facets(grid[..., 0].astype(np.float32), grid[..., 1].astype(np.float32))
    rng = np.random.default_rng(seed)
    own = np.array([0.10, -0.07, 0.0])[rng.permutation(3)]
    sharp = (1.0 - wax.cocoon) * np.clip(2.0 * lower - 1.0, 0.0, 1.0)
    ridge = 0.22 * np.exp(-((fold.astype(np.float64) / 0.10) ** 2))
    return np.asarray(1.0 + sharp * (own[facet] + ridge))


def _paint(
    wax: Wax, grid: Floats, world: Floats, seed: int, cell_seed: int
) -> tuple[Floats, Floats]:
    rng = np.random.default_rng(cell_seed)
    depth = np.clip(-grid[..., 2], 0.0, CELL_DEPTH_MM)[..., None]
    rim, wall, floor = linear(wax.rim_rgb), linear(wax.wall_rgb), linear(wax.floor_rgb)
    upper = np.exp(-((depth / (0.5 + 0.5 * wax.cocoon)) ** 1.5))
    lower = np.clip((depth - 7.5) / 2.0, 0.0, 1.0)
    own = 1.0 + (0.05 + 0.12 * wax.stain) * rng.normal() * (1.0 - upper)
    colour = (wall + (rim - wall) * upper + (floor - wall) * lower) * own
    colour = colour * _facets(wax, grid, lower[..., 0], seed)[..., None]
    cloud = fractal(world, 1.6, seed + 31)
    blotch = np.clip(fractal(world, 2.6, seed + 37, 2) - 0.5, 0.0, 2.0)
    dark = 1.0 - wax.stain * (0.11 * cloud + 0.25 * blotch)
    fine = 1.0 + 0.09 * noise(world, 0.24, seed + 41)
    shade = np.clip(dark * fine, 0.3, 1.4)[..., None]
    # Darker wax is redder: blue goes first.
    colour = colour * shade ** np.array([0.8, 1.0, 1.25])
    # Rims are worn through here and mended there.
    worn = 1.0 + 0.16 * np.clip(fractal(world, 1.1, seed + 59), -2.0, 2.0)[..., None] * upper
    colour = colour * worn ** np.array([0.8, 1.0, 1.3])
    speck = np.clip((noise(world, 0.22, seed + 43) - 2.7) * 2.0, 0.0, 1.0)[..., None]
    colour = colour * (1.0 - 0.8 * wax.stain * speck)
    pollen = np.clip((noise(world, 0.20, seed + 47) - 2.9 + 0.5 * wax.dust) * 2.0, 0.0, 1.0)
    pollen = pollen[..., None] * np.clip(0.3 + upper, 0.0, 1.0)
    colour = colour + pollen * (linear((238.0, 190.0, 60.0)) - colour)
    gloss = np.clip(0.5 + 0.3 * fractal(world, 0.9, seed + 53), 0.0, 1.0)
    # Too bright colours keep their hue.
    colour = colour * np.minimum(1.0, _BRIGHTEST / colour.max(axis=-1, keepdims=True))
    return np.clip(colour, 0.002, _BRIGHTEST), gloss
