"""Paint brood food by the second look's rules: a leaning dollop with an uneven shore."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import CELL_DEPTH_MM
from larvasight.render.cellshape import CellShape, make_cell_shape
from larvasight.render.comb import Ground
from larvasight.render.jelly import JELLY_LOOKS
from larvasight.render.palette import linear_rgb
from larvasight.render.scene import SceneCell
from larvasight.render.second_light import beams_at, bounce_at, lay
from larvasight.render.textures import look_up, shifts
from larvasight.render.tubefield import TubeField

Plane = NDArray[np.float32]
Planes = NDArray[np.float32]
Where = tuple[slice, slice]

# Surface tension rounds off every crease, mm.
SMOOTH_MM = 0.07
_POOL_ROUND = 0.75
_FOAM_RGB = (246.0, 242.0, 228.0)
_WET_SHINE = 0.75
# How far food climbs along a body, mm.
_CLASP_MM = 0.11


@dataclass(frozen=True, slots=True)
class _Manner:
    """How one comb's food is drawn: with a dark shore line and an arc, or with a halo."""

    line: bool
    foam: float


def _manner(ground: Ground) -> _Manner:
    rng = np.random.default_rng(ground.scene.comb.texture_seed + 23)
    return _Manner(line=bool(rng.random() < 0.55), foam=float(max(rng.uniform(-0.8, 1.0), 0.0)))


@dataclass(frozen=True, slots=True)
class _Relief:
    """Surface of food: its slopes, and the distances to its shore and to the body, mm."""

    slope_x: Plane
    slope_y: Plane
    gap_mm: Plane
    away_mm: Plane


def paint_second_pool(
    ground: Ground,
    cell: SceneCell,
    where: Where,
    own: NDArray[np.bool_],
    picture: Planes,
    depth: Plane,
    field: TubeField | None,
    sub: Where,
) -> None:
    """Paint the food of one cell into its tile, in place.

    Parameters
    ----------
    ground : Ground
        Geometry and light of the picture.
    cell : SceneCell
        The cell; its food is drawn as a leaning dollop with an uneven shore.
    where : tuple of slice
        Rows and columns of the cell's tile.
    own : ndarray of bool
        The tile's pixels that belong to the cell.
    picture, depth : ndarray
        Linear RGB (3, H, W) and depth in mm, (H, W).
    field : TubeField, optional
        What rays see of the cell's body, in the tile ``sub``.
    sub : tuple of slice
        Rows and columns of ``field``.
    """
    pool, scene, manner = cell.pool, ground.scene, _manner(ground)
    look = JELLY_LOOKS[scene.jelly_look or scene.look]
    shape = make_cell_shape(replace(scene.comb, cocoon=max(scene.comb.cocoon, _POOL_ROUND)))
    level = np.float32(CELL_DEPTH_MM - pool.level_mm)
    x, y = ground.x[where] + ground.sx[where] * level, ground.y[where] + ground.sy[where] * level
    rng = np.random.default_rng(cell.seed + 41)
    noise = look_up(x, y, shift=shifts(cell.seed + 5, 1)[0], zoom=0.3)
    smooth_px = SMOOTH_MM * ground.px_per_mm
    thick = _dollop(cell, shape, x, y, smoothed(noise[0], 2.0 * smooth_px), rng)
    inside = own & (thick > 0.0) & (shape.reach(x, y) < np.float32(shape.wall_mm))
    if not inside.any():
        return
    relief = _relief(cell, shape, manner, x, y, thick, noise, _around(field, sub, where, x), rng)
    surface = np.full_like(x, level)
    key, shine = _light(ground, where, x, y, surface, relief, smooth_px)
    wet = np.clip(thick * np.float32(25.0), 0.0, 1.0) * inside
    shine = shine * wet * np.float32(_WET_SHINE)
    cover = look.cover(pool, thick * (np.float32(1.0) + np.float32(0.25) * noise[0]))
    # A wet shore is seen even where the food is clear: it darkens the wax.
    damp = np.float32(0.25) * np.exp(-((relief.gap_mm / np.float32(0.05)) ** 2)) * inside
    for channel in range(3):
        picture[channel][where] *= np.float32(1.0) - damp
    tone = _tone(manner, relief, noise)
    albedo = tuple(np.float32(v) * tone for v in look.albedo(pool))
    ambient = ground.ambient(surface)
    lay(
        ground,
        where,
        picture,
        cover * inside,
        albedo,
        key,
        ambient,
        bounce_at(ground, x, y),
        shine,
    )
    foam = _foam(ground, cell, manner, x, y, inside, rng)
    if foam is not None:
        white = tuple(np.float32(v) for v in linear_rgb(_FOAM_RGB))
        lay(ground, where, picture, foam[0], white, key, ambient, None, foam[1] * key)
    depth[where][inside] = level


def smoothed(plane: Plane, sigma_px: float) -> Plane:
    """Return a plane with features below a size rounded off."""
    if sigma_px < 0.4:
        return plane
    smooth = cv2.GaussianBlur(plane, (0, 0), min(sigma_px, 8.0))
    return np.asarray(smooth, dtype=np.float32)


def _relief(
    cell: SceneCell,
    shape: CellShape,
    manner: _Manner,
    x: Plane,
    y: Plane,
    thick: Plane,
    noise: tuple[Plane, ...],
    around: tuple[Plane, Plane, Plane],
    rng: np.random.Generator,
) -> _Relief:
    """Return the surface: higher at shore and body, waved, and a mound where food is thick."""
    cloud, _, bump_x, bump_y = noise
    rise_x, rise_y, gap = _shore(shape, x, y, thick)
    away, bx, by = around
    shore_mm, steep = (0.12, 0.40) if manner.line else (0.30, 0.16)
    uneven = np.clip(np.float32(0.75) + np.float32(0.45) * cloud, 0.0, 1.5)
    climb = np.float32(steep) * uneven * np.exp(gap * np.float32(-1.0 / shore_mm))
    clasp = np.float32(0.6 * steep) * uneven * np.exp(away * np.float32(-1.0 / _CLASP_MM))
    wavy = np.float32(0.006 + 0.011 * cell.pool.ripple)
    mound = np.float32(rng.uniform(0.02, 0.11))
    return _Relief(
        slope_x=rise_x * climb - bx * clasp + wavy * bump_x - mound * x,
        slope_y=rise_y * climb - by * clasp + wavy * bump_y - mound * y,
        gap_mm=gap,
        away_mm=away,
    )


def _light(
    ground: Ground,
    where: Where,
    x: Plane,
    y: Plane,
    surface: Plane,
    relief: _Relief,
    smooth_px: float,
) -> tuple[Plane, Plane]:
    """Return the lamps' light on the surface and their reflections in it."""
    slope_x, slope_y = smoothed(relief.slope_x, smooth_px), smoothed(relief.slope_y, smooth_px)
    one, half = np.float32(1.0), np.float32(0.5)
    unit = one / np.sqrt(one + slope_x * slope_x + slope_y * slope_y)
    key, shine = np.zeros_like(x), np.zeros_like(x)
    for beam in beams_at(ground, where, x, y, surface):
        lx, ly = beam.slope
        facing = (one - slope_x * lx - slope_y * ly) * unit / np.sqrt(one + lx * lx + ly * ly)
        key += beam.share * (np.float32(0.4) + np.float32(0.6) * np.clip(facing, 0.0, 1.0))
        mx = -slope_x - (lx - ground.sx[where]) * half
        my = -slope_y - (ly - ground.sy[where]) * half
        shine += beam.share * ground.light_look.glint(ground.scene.light, mx, my, 0.03)
    return key, shine


def _tone(manner: _Manner, relief: _Relief, noise: tuple[Plane, ...]) -> Plane:
    """Return the tone of food: curdled, and darker or lighter along shore and body."""
    near = np.float32(0.06 if manner.line else 0.20)
    beside = np.float32(0.06 if manner.line else 0.09)
    line = np.exp(-((relief.gap_mm / near) ** 2)) + np.exp(-((relief.away_mm / beside) ** 2))
    tone = np.float32(0.96) + np.float32(0.04) * noise[0] + np.float32(0.015) * noise[1]
    return np.asarray(tone - np.float32(0.18 if manner.line else -0.05) * line)


def _dollop(
    cell: SceneCell,
    shape: CellShape,
    x: Plane,
    y: Plane,
    cloud: Plane,
    rng: np.random.Generator,
) -> Plane:
    """Return the thickness of food that leans to one side, its shore uneven."""
    pool = cell.pool
    angle_rad, lean = float(rng.uniform(0.0, 2.0 * np.pi)), float(rng.uniform(0.03, 0.20))
    lean_x, lean_y = lean * np.cos(angle_rad), lean * np.sin(angle_rad)
    if cell.larva is not None:  # nurses feed where the larva lies
        lean_x += 0.25 * cell.larva.offset_xy_mm[0]
        lean_y += 0.25 * cell.larva.offset_xy_mm[1]
    rough = 0.02 + 0.05 * float(rng.random())
    if rng.random() < 0.2:
        rough += 0.14 * min(pool.level_mm, 0.6)  # torn into a patch
    thick = np.float32(pool.level_mm) - shape.floor_height(x, y)
    thick += x * np.float32(lean_x) + y * np.float32(lean_y)
    return np.asarray(thick + np.float32(rough) * cloud)


def _shore(shape: CellShape, x: Plane, y: Plane, thick: Plane) -> tuple[Plane, Plane, Plane]:
    """Return the direction up the bank and the distance to the shore."""
    gx, gy = shape.floor_slopes(x, y)
    steep = np.sqrt(gx * gx + gy * gy) + np.float32(0.08)
    gap = np.maximum(thick, 0.0) / steep
    return gx / steep, gy / steep, gap.astype(np.float32)


def _around(
    field: TubeField | None, sub: Where, where: Where, like: Plane
) -> tuple[Plane, Plane, Plane]:
    """Return the distance to the body and the direction away from it over a tile."""
    away: Plane = np.full_like(like, np.float32(9.0))
    bx, by = np.zeros_like(like), np.zeros_like(like)
    if field is not None:
        rows = slice(sub[0].start - where[0].start, sub[0].stop - where[0].start)
        cols = slice(sub[1].start - where[1].start, sub[1].stop - where[1].start)
        away[rows, cols] = np.maximum(-field.inside_mm, 0.0)
        bx[rows, cols], by[rows, cols] = field.nx, field.ny
    return away, bx, by


def _foam(
    ground: Ground,
    cell: SceneCell,
    manner: _Manner,
    x: Plane,
    y: Plane,
    inside: NDArray[np.bool_],
    rng: np.random.Generator,
) -> tuple[Plane, Plane] | None:
    """Return cover and glint of bubbles and specks on food, None without any."""
    count = int(rng.poisson(3.0 * manner.foam))
    if count == 0:
        return None
    cover: Plane = np.zeros_like(x)
    glint: Plane = np.zeros_like(x)
    sun = np.array(ground.scene.light.slope_xy) + 1e-3
    sun = sun / np.hypot(*sun)
    reach_mm = 0.3 + 1.2 * cell.pool.level_mm
    for _ in range(count):
        radius = float(rng.uniform(0.025, 0.09))
        u, v = x - np.float32(rng.normal(0.0, reach_mm)), y - np.float32(rng.normal(0.0, reach_mm))
        square = (u * u + v * v) * np.float32(1.0 / radius**2)
        wall = np.exp((np.sqrt(square) - 1.0) ** 2 * np.float32(-12.0))
        cover = np.maximum(cover, np.float32(0.35) * wall, dtype=np.float32)
        du, dv = u - np.float32(0.5 * radius * sun[0]), v - np.float32(0.5 * radius * sun[1])
        glint += np.exp((du * du + dv * dv) * np.float32(-14.0 / radius**2))
    return cover * inside, glint * inside * np.float32(0.5)
