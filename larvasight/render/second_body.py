"""Paint larvae and eggs by the second look's rules: pleats, a soft sheen, the gut within."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import CELL_DEPTH_MM
from larvasight.render.bodies import Tube
from larvasight.render.comb import Ground
from larvasight.render.jelly import JELLY_LOOKS
from larvasight.render.palette import RGB, linear_rgb
from larvasight.render.scene import Larva, SceneCell
from larvasight.render.second_light import beams_at, bounce_at, lay
from larvasight.render.second_pool import SMOOTH_MM, smoothed
from larvasight.render.textures import look_up_one, shifts
from larvasight.render.tubefield import TubeField
from larvasight.sheet import Jelly

Plane = NDArray[np.float32]
Planes = NDArray[np.float32]
Where = tuple[slice, slice]

N_BANDS = 11
_BODY_RGB = (240.0, 226.0, 200.0)
_EGG_RGB = (241.0, 239.0, 226.0)
# Thin bodies let food and floor through: opacity per mm of larvae and eggs.
_LARVA_DENSE, _EGG_DENSE = 3.2, 6.0
# A body this wide shows its own colour, one of no width that of the food it lies in, mm.
_OWN_COLOUR_MM = 1.6
_EGG_SHEEN, _LARVA_SHEEN = 0.55, 0.42


@dataclass(frozen=True, slots=True)
class _Skin:
    """Tone of a skin, its colour for each channel, and its slope along the body."""

    tone: Plane
    tint: tuple[Plane | np.float32, ...]
    pleat: Plane


def paint_second_body(
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
    """Paint the larva or egg of one cell, in place.

    Parameters
    ----------
    ground : Ground
        Geometry and light of the picture.
    cell : SceneCell
        The cell.
    number : int
        Its index in the scene.
    tube, field : Tube, TubeField
        Its body and what rays see of it in the tile ``sub``.
    sub : tuple of slice
        Rows and columns of ``field``.
    picture, depth, seen : ndarray
        Linear RGB (3, H, W), depth in mm and map of bodies, each (H, W).
    """
    larva = cell.larva
    far = ground.view.height_mm / (ground.view.height_mm + tube.depth_mm)
    own = ground.index[sub] == number
    edge = np.clip(field.inside_mm * np.float32(ground.px_per_mm * far) + np.float32(0.5), 0.0, 1.0)
    edge = edge * own
    if not edge.any():
        return
    surface = np.float32(tube.depth_mm) - field.height_mm
    x, y = ground.x[sub] + ground.sx[sub] * surface, ground.y[sub] + ground.sy[sub] * surface
    skin = _egg_skin(field) if larva is None else _larva_skin(ground, cell, larva, field, x, y)
    key, sheen, nz = _light(ground, sub, field, skin, x, y, surface)
    shine = sheen * edge * np.float32(_EGG_SHEEN if larva is None else _LARVA_SHEEN * larva.gloss)
    dense = _EGG_DENSE if larva is None else _LARVA_DENSE
    clear = np.exp(np.float32(-2.0 * dense) * field.thick_mm - np.float32(0.35))
    cover = edge * (np.float32(1.0) - clear)
    if larva is not None and cell.pool.amount is not Jelly.NONE:
        # What lies under the food's surface is seen through food.
        look = JELLY_LOOKS[ground.scene.jelly_look or ground.scene.look]
        under = np.maximum(np.float32(cell.pool.level_mm - CELL_DEPTH_MM) + surface, 0.0)
        cover = cover * (np.float32(1.0) - look.cover(cell.pool, under))
        shine = shine * (np.float32(1.0) - np.minimum(under * np.float32(12.0), 1.0))
    albedo = _albedo(ground, cell)
    colour = tuple(np.float32(albedo[i]) * skin.tone * skin.tint[i] for i in range(3))
    ambient = ground.ambient(surface) * (np.float32(0.92) + np.float32(0.08) * nz)
    lay(ground, sub, picture, cover, colour, key, ambient, bounce_at(ground, x, y), shine)
    covered = (field.inside_mm > 0.0) & own
    depth[sub][covered] = surface[covered]
    seen[sub][covered & (ground.open_share[sub] > 0.5)] = number + 1


def _albedo(ground: Ground, cell: SceneCell) -> RGB:
    """Return the colour of a body; thin ones in food take on the colour of the food."""
    if cell.larva is None:
        return linear_rgb(_EGG_RGB)
    body = linear_rgb(_BODY_RGB, cell.larva.tint_rgb)
    if cell.pool.amount is Jelly.NONE:
        return body
    food = JELLY_LOOKS[ground.scene.jelly_look or ground.scene.look].albedo(cell.pool)
    part = min(cell.larva.width_mm / _OWN_COLOUR_MM, 1.0)
    r, g, b = (part * own + (1.0 - part) * other for own, other in zip(body, food, strict=True))
    return (r, g, b)


def _light(
    ground: Ground,
    sub: Where,
    field: TubeField,
    skin: _Skin,
    x: Plane,
    y: Plane,
    surface: Plane,
) -> tuple[Plane, Plane, Plane]:
    """Return the lamps' light on a body, the sheen of its skin, and how far it faces up."""
    one, half = np.float32(1.0), np.float32(0.5)
    nx, ny = field.nx, field.ny
    dull: Plane = np.ones_like(x)
    if field.in_fill.any():  # the flanks of a ring grow together without a crease
        round_px = 1.4 * SMOOTH_MM * ground.px_per_mm
        near = smoothed(field.in_fill.astype(np.float32), 2.0 * round_px)
        near = np.minimum(near * np.float32(2.0), one)
        nx = nx + near * (smoothed(nx, round_px) - nx)
        ny = ny + near * (smoothed(ny, round_px) - ny)
        dull = one - np.float32(0.9) * near
    nz = np.sqrt(np.maximum(one - nx * nx - ny * ny, np.float32(0.03)))
    sx, sy = nx + field.tx * skin.pleat * nz, ny + field.ty * skin.pleat * nz
    key, sheen = np.zeros_like(x), np.zeros_like(x)
    for beam in beams_at(ground, sub, x, y, surface):
        lx, ly = beam.slope
        facing = (nz + sx * lx + sy * ly) / np.sqrt(one + lx * lx + ly * ly)
        # Light wanders in the body, so its far side is not dark.
        key += beam.share * (half + half * np.clip(facing, 0.0, 1.1))
        mx = sx / nz - (lx - ground.sx[sub]) * half
        my = sy / nz - (ly - ground.sy[sub]) * half
        sheen += beam.share * _sheen(field, mx, my)
    return key, sheen * dull, nz


def _egg_skin(field: TubeField) -> _Skin:
    across = np.abs(field.across)
    one = np.float32(1.0)
    tone = np.float32(0.94) + np.float32(0.06) * across * across
    return _Skin(tone, (one, one, one), np.zeros_like(across))


def _larva_skin(
    ground: Ground, cell: SceneCell, larva: Larva, field: TubeField, x: Plane, y: Plane
) -> _Skin:
    """Return a skin of pleats, strongest on the hollow side, with the gut showing through."""
    rng = np.random.default_rng(cell.seed + 67)
    comb_rng = np.random.default_rng(ground.scene.comb.texture_seed + 29)
    rim_tone = float(comb_rng.uniform(-0.12, 0.07)) + float(rng.uniform(-0.03, 0.03))
    strong, gut = float(rng.uniform(0.3, 1.0)), float(rng.uniform(0.0, 1.0)) ** 0.7
    side = float(rng.uniform(-0.18, 0.18))
    grown = min(max((larva.width_mm - 0.2) / 0.9, 0.1), 1.0)
    hollow = field.across * np.float32(larva.curl_side)
    turn = field.along * np.float32(np.pi * N_BANDS)
    # Saddles with a narrow fold between them.
    saddle = np.abs(np.sin(turn))
    fold = np.exp(saddle * saddle * np.float32(-6.0))
    inner = np.clip(np.float32(0.65) + np.float32(0.40) * hollow, 0.15, 1.0)
    ends = np.clip(np.minimum(field.along, 1.0 - field.along) * np.float32(12.0), 0.0, 1.0)
    amount = np.float32(strong * grown) * inner * ends
    pleat = np.cos(turn) * np.sign(np.sin(turn)) * amount * np.float32(0.40)
    across = np.where(field.in_fill, np.float32(0.7), np.abs(field.across))
    cloud = look_up_one(x, y, channel=0, shift=shifts(cell.seed + 9, 1)[0], zoom=1.5)
    tone = 1.0 - np.float32(0.15) * amount * fold + np.float32(rim_tone) * across**4
    tone = tone + np.float32(0.02) * cloud
    off = (field.across - np.float32(side)) * np.float32(1.0 / 0.26)
    belly = np.clip(np.minimum(field.along - 0.10, 0.92 - field.along) * 8.0, 0.0, 1.0)
    yolk = np.exp(-off * off) * belly * np.float32(0.30 * gut * (0.4 + 0.6 * grown))
    tint = (1.0 - yolk * np.float32(0.12), 1.0 - yolk * np.float32(0.30), 1.0 - yolk)
    return _Skin(np.asarray(tone), tint, np.asarray(pleat))


def _sheen(field: TubeField, mx: Plane, my: Plane) -> Plane:
    """Return a soft sheen along the body, with a brighter streak in it."""
    along = mx * field.tx + my * field.ty
    across = my * field.tx - mx * field.ty
    wide = np.exp(-(along * along) * np.float32(5.0) - across * across * np.float32(3.5))
    streak = np.exp(-(along * along) * np.float32(22.0) - across * across * np.float32(45.0))
    return np.asarray(np.float32(0.28) * wide + np.float32(0.9) * streak)
