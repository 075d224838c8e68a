"""Paint what lies in a brood cell: food, larva or egg."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import CELL_DEPTH_MM
from larvasight.render.bodies import BODY_SHAPES, Tube, egg_tube, larva_midline, larva_tube
from larvasight.render.cellshape import CellShape, make_cell_shape
from larvasight.render.comb import Ground
from larvasight.render.jelly import JELLY_LOOKS, surface_slopes
from larvasight.render.palette import linear_rgb
from larvasight.render.scene import CombScene, Larva, LightKind, Pool, SceneCell
from larvasight.render.second_body import paint_second_body
from larvasight.render.second_look import SECOND_LOOK
from larvasight.render.second_pool import paint_second_pool
from larvasight.render.textures import look_up, shifts
from larvasight.render.tubefield import TubeField, tube_field
from larvasight.render.view import cell_centre
from larvasight.sheet import Jelly

Plane = NDArray[np.float32]
Planes = NDArray[np.float32]
Where = tuple[slice, slice]

N_SEGMENTS = 13
# Surface tension rounds a pool's corners: its outline is that of a floor at least this round.
_POOL_ROUND = 0.72
_POOL_HOLLOW_PER_MM = 0.14
# Food darkens and climbs this far from a body, mm.
_NEAR_BODY_MM = 0.5
_BODY_RGB = (243.0, 226.0, 188.0)
_EGG_RGB = (246.0, 243.0, 232.0)
# Wet skin and food mirror a lamp this many times as bright as white paper under it.
_WET_SHINE = 1.7


@dataclass(frozen=True, slots=True)
class Lit:
    """Light on one surface of a tile: lamp share, slopes to the lamp, mirror slopes, ambient."""

    key: Plane
    lamp: tuple[Plane, Plane]
    half: tuple[Plane, Plane]
    ambient: Plane


def tube_of(scene: CombScene, cell: SceneCell) -> Tube:
    """Return the tube of the larva or egg in a cell.

    Raises
    ------
    ValueError
        If the cell holds neither.
    """
    shape = make_cell_shape(scene.comb)
    if cell.larva is not None:
        body = BODY_SHAPES[scene.body_look or scene.look]
        axis_mm = axis_height_mm(cell.larva, cell.pool, shape, scene)
        return larva_tube(cell.larva, body, CELL_DEPTH_MM - axis_mm)
    if cell.egg is not None:
        return egg_tube(cell.egg, lambda points: CELL_DEPTH_MM - _floor_height_at(shape, points))
    msg = f"cell must hold a larva or an egg, got {cell.content}"
    raise ValueError(msg)


def axis_height_mm(larva: Larva, pool: Pool, shape: CellShape, scene: CombScene) -> float:
    """Return the height of a larva's axis over the floor's deepest point, mm.

    It floats with its axis ``sink`` radii under the food's surface, or rests on the floor.
    """
    midline, _ = larva_midline(larva, BODY_SHAPES[scene.body_look or scene.look])
    resting = float(_floor_height_at(shape, midline).mean()) + 0.3 * larva.width_mm
    if pool.amount is Jelly.NONE:
        return resting
    return max(pool.level_mm - 0.5 * larva.sink * larva.width_mm, resting)


def _floor_height_at(shape: CellShape, points: NDArray[np.float64]) -> NDArray[np.float64]:
    height = shape.floor_height(points[:, 0].astype(np.float32), points[:, 1].astype(np.float32))
    return height.astype(np.float64)


def paint_brood(
    ground: Ground,
    number: int,
    where: Where,
    picture: Planes,
    depth: Plane,
    seen: NDArray[np.int32],
) -> None:
    """Paint food and body of one cell into its tile, in place.

    Parameters
    ----------
    ground : Ground
        Geometry of the picture.
    number : int
        Index of the cell in the scene.
    where : tuple of slice
        Rows and columns of the cell's tile.
    picture, depth, seen : ndarray
        Linear RGB (3, H, W), depth in mm and map of bodies, each (H, W).
    """
    scene = ground.scene
    cell = scene.cells[number]
    own = ground.index[where] == number
    tube = tube_of(scene, cell) if cell.larva is not None or cell.egg is not None else None
    field, sub = None, where
    if tube is not None:
        sub = _body_tile(ground, cell, tube, where)
        if sub[0].start < sub[0].stop and sub[1].start < sub[1].stop:
            slope = ground.view.slope_at(cell_centre(scene, cell.q, cell.r))
            d = np.float32(tube.depth_mm)
            field = tube_field(
                tube,
                ground.x[sub] + ground.sx[sub] * d,
                ground.y[sub] + ground.sy[sub] * d,
                slope,
            )
    if cell.pool.amount is not Jelly.NONE:
        second = (scene.jelly_look or scene.look) == SECOND_LOOK
        paint_pool = paint_second_pool if second else _paint_pool
        paint_pool(ground, cell, where, own, picture, depth, field, sub)
    elif field is not None:
        _shade_contact(field, sub, picture, ground.index[sub] == number)
    if field is not None and tube is not None:
        second = (scene.body_look or scene.look) == SECOND_LOOK
        paint_body = paint_second_body if second else _paint_body
        paint_body(ground, cell, number, tube, field, sub, picture, depth, seen)


def _body_tile(ground: Ground, cell: SceneCell, tube: Tube, where: Where) -> Where:
    """Return the part of a tile that the body and the food it touches can cover."""
    reach = float(tube.radius_mm.max()) + _NEAR_BODY_MM
    centre = cell_centre(ground.scene, cell.q, cell.r)
    points = tube.midline_xyz_mm + np.array([*centre, 0.0])
    steps = np.array([(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)]) * reach
    corners = np.concatenate([points + np.array([*step, 0.0]) for step in steps])
    px = ground.view.project(corners)
    low, high = np.floor(px.min(axis=0)).astype(int), np.ceil(px.max(axis=0)).astype(int) + 1
    rows = slice(max(where[0].start, int(low[1])), max(min(where[0].stop, int(high[1])), 0))
    cols = slice(max(where[1].start, int(low[0])), max(min(where[1].stop, int(high[0])), 0))
    return rows, cols


def _light_at(ground: Ground, where: Where, x: Plane, y: Plane, depth: Plane) -> Lit:
    lamp = ground.lamp(x, y, where)
    return Lit(
        key=ground.lit(x, y, depth, lamp, where),
        lamp=lamp,
        half=(
            (lamp[0] - ground.sx[where]) * np.float32(0.5),
            (lamp[1] - ground.sy[where]) * np.float32(0.5),
        ),
        ambient=ground.ambient(depth),
    )


def _facing(lit: Lit, nx: Plane, ny: Plane, nz: Plane | np.float32) -> Plane:
    lx, ly = lit.lamp
    length = np.sqrt(np.float32(1.0) + lx * lx + ly * ly)
    return np.asarray((nz + nx * lx + ny * ly) / length)


def _blend(
    ground: Ground,
    where: Where,
    picture: Planes,
    cover: Plane,
    albedo: tuple[float, ...],
    key: Plane,
    ambient: Plane,
    shine: Plane,
) -> None:
    """Lay a lit surface over the picture where ``cover`` is above 0."""
    light, glow = ground.scene.light, ground.colours.glow
    for channel in range(3):
        plane = picture[channel][where]
        # White surfaces deep in a cell are lit by wax around them.
        around = light.ambient_rgb[channel] * glow[channel]
        colour = (
            key * np.float32(light.colour_rgb[channel]) + ambient * np.float32(around)
        ) * np.float32(albedo[channel])
        plane += cover * (colour - plane)
        plane += shine * np.float32(light.colour_rgb[channel])


def _paint_pool(
    ground: Ground,
    cell: SceneCell,
    where: Where,
    own: NDArray[np.bool_],
    picture: Planes,
    depth: Plane,
    field: TubeField | None,
    sub: Where,
) -> None:
    pool, scene = cell.pool, ground.scene
    look = JELLY_LOOKS[scene.jelly_look or scene.look]
    shape = make_cell_shape(replace(scene.comb, cocoon=max(scene.comb.cocoon, _POOL_ROUND)))
    level = np.float32(CELL_DEPTH_MM - pool.level_mm)
    x, y = ground.x[where] + ground.sx[where] * level, ground.y[where] + ground.sy[where] * level
    cloud, _, _, _ = look_up(x, y, shift=shifts(cell.seed, 1)[0], zoom=0.45)
    slow_x, slow_y = _slow_slopes(x, y, cell.seed)
    thick = (
        np.float32(pool.level_mm)
        - shape.floor_height(x, y)
        + np.float32(0.03 + 0.06 * pool.ripple) * cloud
    )
    inside = own & (thick > 0.0) & (shape.reach(x, y) < np.float32(shape.wall_mm))
    if not inside.any():
        return
    body = None
    near: Plane = np.zeros_like(x)
    if field is not None:
        away = np.full_like(x, np.float32(9.0))
        bx, by = np.zeros_like(x), np.zeros_like(x)
        inner = _shifted(sub, where)
        away[inner], bx[inner], by[inner] = -field.inside_mm, field.nx, field.ny
        body = (away, bx, by)
        near = np.exp(np.maximum(away, 0.0) * np.float32(-8.0))
    rise_x, rise_y = surface_slopes(
        pool, thick, shape.floor_slopes(x, y), body, (slow_x, slow_y, cloud)
    )
    # A pool in a hollow is a little hollow itself, which keeps reflections small.
    rise_x += np.float32(_POOL_HOLLOW_PER_MM) * x
    rise_y += np.float32(_POOL_HOLLOW_PER_MM) * y
    surface = np.full_like(x, level)
    lit = _light_at(ground, where, x, y, surface)
    one = np.float32(1.0)
    unit = one / np.sqrt(one + rise_x * rise_x + rise_y * rise_y)
    facing = np.clip(_facing(lit, -rise_x, -rise_y, one) * unit, 0.0, 1.0)
    cover = np.where(inside, look.cover(pool, np.maximum(thick, 0.0)), np.float32(0.0))
    tone: Plane = (one + np.float32(0.03) * cloud - np.float32(0.10) * near).astype(np.float32)
    wet = np.clip(thick * np.float32(40.0), 0.0, 1.0) * inside
    shine = ground.light_look.glint(
        scene.light, -rise_x - lit.half[0], -rise_y - lit.half[1], 0.008
    )
    two = np.float32(2.0)
    mirrored = ground.sx[where] - two * rise_x, ground.sy[where] - two * rise_y
    shine *= ground.escapes(x, y, surface, *mirrored) * wet * np.float32(_WET_SHINE)
    shine += wet * lit.ambient * np.float32(0.02)
    key: Plane = (lit.key * (0.25 + 0.75 * facing) * tone).astype(np.float32)
    _blend(ground, where, picture, cover, look.albedo(pool), key, lit.ambient * tone, shine)
    depth[where][inside] = level


def _slow_slopes(x: Plane, y: Plane, seed: int) -> tuple[Plane, Plane]:
    rng = np.random.default_rng(seed + 7)
    total_x, total_y = np.zeros_like(x), np.zeros_like(y)
    for _ in range(3):
        angle, phase, waves = (
            rng.uniform(0, 2 * np.pi),
            rng.uniform(0, 2 * np.pi),
            rng.uniform(1.2, 3.6),
        )
        ax, ay = np.float32(np.cos(angle)), np.float32(np.sin(angle))
        wave = np.cos((x * ax + y * ay) * np.float32(waves) + np.float32(phase))
        total_x, total_y = total_x + wave * ax, total_y + wave * ay
    return total_x, total_y


def _shifted(sub: Where, where: Where) -> Where:
    rows, cols = sub
    return (
        slice(rows.start - where[0].start, rows.stop - where[0].start),
        slice(cols.start - where[1].start, cols.stop - where[1].start),
    )


def _shade_contact(field: TubeField, sub: Where, picture: Planes, own: NDArray[np.bool_]) -> None:
    """Darken bare floor beside a body."""
    dark = np.exp(np.minimum(field.inside_mm, 0.0) * np.float32(9.0)) * np.float32(0.35) * own
    for channel in range(3):
        picture[channel][sub] *= 1.0 - dark


def _paint_body(
    ground: Ground,
    cell: SceneCell,
    number: int,
    tube: Tube,
    field: TubeField,
    sub: Where,
    picture: Planes,
    depth: Plane,
    seen: NDArray[np.int32],
) -> None:
    scene, larva = ground.scene, cell.larva
    scale = np.float32(
        ground.px_per_mm * ground.view.height_mm / (ground.view.height_mm + tube.depth_mm)
    )
    own = ground.index[sub] == number
    edge = np.clip(field.inside_mm * scale + np.float32(0.5), 0.0, 1.0) * own
    body = edge > 0.0
    if not body.any():
        return
    surface = np.float32(tube.depth_mm) - field.height_mm
    x, y = ground.x[sub] + ground.sx[sub] * surface, ground.y[sub] + ground.sy[sub] * surface
    lit = _light_at(ground, sub, x, y, surface)
    nx, ny = field.nx, field.ny
    tone, bulge = _skin(cell, field, x, y)
    nz = np.sqrt(np.maximum(1.0 - nx * nx - ny * ny, np.float32(0.02)))
    ball = np.float32(0.0 if larva is None else min(0.9 * larva.width_mm, 1.8))
    roll = np.float32(0.0 if larva is None else 0.25 * larva.roll)
    sx, sy = nx + field.tx * bulge * nz, ny + field.ty * bulge * nz
    facing = np.clip(_facing(lit, sx, sy, nz), 0.0, 1.3)
    # Segments bulge across the body too, so that beads are round on large bodies.
    px, py = sx + ball * nx, sy + ball * ny
    px, py = px / nz - field.ty * roll, py / nz + field.tx * roll
    # Each segment is a small ball: it mirrors a lamp of any size as a bead.
    bead = replace(scene.light, kind=LightKind.HEADLAMP, size=min(scene.light.size, 0.08))
    shine = ground.light_look.glint(bead, px - lit.half[0], py - lit.half[1], 0.10)
    gloss = 0.5 if larva is None else larva.gloss
    shine *= lit.key * edge * np.float32(_WET_SHINE * gloss)
    dense = 7.0 if larva is None else 4.5
    cover = edge * (1.0 - np.exp(np.float32(-2.0 * dense) * field.thick_mm - np.float32(0.25)))
    key = lit.key * (np.float32(0.34) + np.float32(0.66) * facing) * tone
    ambient = lit.ambient * (np.float32(0.72) + np.float32(0.28) * nz) * tone
    if larva is not None and cell.pool.amount is not Jelly.NONE:
        # What lies under the food's surface is seen through food.
        under = np.maximum(np.float32(cell.pool.level_mm - CELL_DEPTH_MM) + surface, 0.0)
        veil = JELLY_LOOKS[scene.jelly_look or scene.look].cover(cell.pool, under)
        cover, shine = cover * (1.0 - veil), shine * (1.0 - np.minimum(under * 20.0, 1.0))
    albedo = linear_rgb(_EGG_RGB) if larva is None else linear_rgb(_BODY_RGB, larva.tint_rgb)
    _blend(ground, sub, picture, cover, albedo, key, ambient, shine)
    covered = (field.inside_mm > 0.0) & own
    depth[sub][covered] = surface[covered]
    seen[sub][covered & (ground.open_share[sub] > 0.5)] = number + 1


def _skin(cell: SceneCell, field: TubeField, x: Plane, y: Plane) -> tuple[Plane, Plane]:
    """Return the tone of a skin and the slope of its segments along the body."""
    larva = cell.larva
    edge = np.abs(field.across)
    if larva is None:
        return 1.0 - np.float32(0.12) * edge**4, np.zeros_like(x)
    strong = np.float32(min(max((larva.width_mm - 0.3) / 0.7, 0.15), 1.0))
    turn = field.along * np.float32(2.0 * np.pi * N_SEGMENTS)
    bulge = np.sin(turn) * np.float32(0.45) * strong
    groove = (np.float32(0.5) + np.float32(0.5) * np.cos(turn)) ** 8
    _, grain, _, _ = look_up(x, y, shift=shifts(cell.seed + 3, 1)[0], zoom=1.2)
    tone = 1.0 - np.float32(0.075) * strong * groove * (1.0 - edge**4) - np.float32(0.09) * edge**6
    tone = tone + np.float32(0.015) * grain - np.float32(0.07) * field.in_fill
    return np.asarray(tone), np.asarray(bulge)
