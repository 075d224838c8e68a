"""Wax: rims, walls and floors of every cell in the picture, and the light that reaches them."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import CELL_DEPTH_MM
from larvasight.render.cellshape import CellShape, make_cell_shape
from larvasight.render.lights import LIGHT_LOOKS, LightLook, bee_shade, lamp_slopes
from larvasight.render.palette import WaxColours, wax_colours
from larvasight.render.scene import CombScene
from larvasight.render.textures import look_up, look_up_one, shifts
from larvasight.render.view import View, lattice_basis, make_view, rim_plane

Plane = NDArray[np.float32]
Planes = NDArray[np.float32]

# Part of a picture: rows and columns, as slices or as index arrays.
Where = tuple[slice, slice] | tuple[NDArray[np.intp], NDArray[np.intp]]

NO_CELL = -1
# Hollows are painted in bands of rows that stay in the processor's cache.
_BAND_ROWS = 48
# From this scale on the eye sees a finer grain than that of the comb at large.
_FINE_FROM_PX_PER_MM = 32.0


@dataclass(frozen=True)
class Ground:
    """What every pixel of the picture sees of the bare comb; all planes have shape (H, W).

    ``index`` numbers the scene's cells, -1 where there is none; ``x, y`` are the rim-plane
    point in the cell's own frame, ``sx, sy`` the ray's slope, ``axis_x, axis_y`` the cell's
    axis in the comb's frame; ``open_share`` is 1 inside the opening, 0 on the rim.
    """

    scene: CombScene
    view: View
    shape: CellShape
    colours: WaxColours
    light_look: LightLook
    index: NDArray[np.int32]
    x: Plane
    y: Plane
    sx: Plane
    sy: Plane
    axis_x: Plane
    axis_y: Plane
    open_share: Plane
    bees: Plane | None
    px_per_mm: float

    @cached_property
    def opening(self) -> NDArray[np.bool_]:
        """True where a ray passes through an opening."""
        return np.asarray(self.open_share > 0.5)

    def lamp(self, x: Plane, y: Plane, where: Where) -> tuple[Plane, Plane]:
        """Return the slopes to the lamp from points in the cells' own frames."""
        return lamp_slopes(self.scene.light, x + self.axis_x[where], y + self.axis_y[where])

    def lit(
        self,
        x: Plane,
        y: Plane,
        depth: Plane,
        lamp: tuple[Plane, Plane],
        where: Where,
    ) -> Plane:
        """Return the share of the lamp seen through the opening from points in a cell."""
        reach = self.shape.reach(x + lamp[0] * depth, y + lamp[1] * depth)
        blur = self.light_look.blur_mm(self.scene.light, depth)
        share = np.clip(
            (np.float32(self.shape.opening_mm) - reach) / blur + np.float32(0.5), 0.0, 1.0
        )
        share = share * share * (np.float32(3.0) - 2.0 * share)
        if self.bees is not None:
            share = share * self.bees[where]
        return np.asarray(share * np.float32(self.scene.light.strength))

    def escapes(self, x: Plane, y: Plane, depth: Plane, slope_x: Plane, slope_y: Plane) -> Plane:
        """Return 1 where rays of a slope leave the cell through its opening, 0 where not."""
        reach = self.shape.reach(x + slope_x * depth, y + slope_y * depth)
        out = (np.float32(self.shape.opening_mm) - reach) * np.float32(4.0) + np.float32(0.5)
        return np.asarray(np.clip(out, 0.0, 1.0) * np.float32(self.scene.light.strength))

    def ambient(self, depth: Plane) -> Plane:
        """Return how much light from all around reaches a depth, before colour."""
        light = self.scene.light
        around = light.ambient + self.colours.bounce * light.strength
        return self.colours.ambient_at(depth) * np.float32(around)


def make_ground(scene: CombScene) -> Ground:
    """Return the geometry of a scene: which cell and which part of it every pixel sees."""
    view = make_view(scene.camera, scene.comb.pitch_mm)
    shape = make_cell_shape(scene.comb)
    far_x, far_y = rim_plane(view)
    index, axis_x, axis_y = _assign_cells(scene, far_x, far_y)
    inverse = np.float32(1.0 / view.height_mm)
    x, y = far_x - axis_x, far_y - axis_y
    px_per_mm = view.px_per_mm_at(np.zeros(2))
    open_share = opening_share(scene, shape, x, y, far_x, far_y, px_per_mm)
    return Ground(
        scene=scene,
        view=view,
        shape=shape,
        colours=wax_colours(scene.comb),
        light_look=LIGHT_LOOKS[scene.light_look or scene.look],
        index=index,
        x=x,
        y=y,
        sx=(far_x - np.float32(view.eye_xy_mm[0])) * inverse,
        sy=(far_y - np.float32(view.eye_xy_mm[1])) * inverse,
        axis_x=axis_x,
        axis_y=axis_y,
        open_share=open_share,
        bees=bee_shade(scene.shadows, far_x, far_y),
        px_per_mm=px_per_mm,
    )


def opening_share(
    scene: CombScene,
    shape: CellShape,
    x: Plane,
    y: Plane,
    far_x: Plane,
    far_y: Plane,
    px_per_mm: float,
) -> Plane:
    """Return 1 inside an opening, 0 on the rim, with an edge one pixel wide.

    ``x, y`` are points on the plane of the rims in their cell's frame, ``far_x, far_y``
    the same in the comb's frame, mm.
    """
    comb = scene.comb
    ragged = look_up_one(far_x, far_y, channel=0, shift=shifts(comb.texture_seed, 1)[0], zoom=1.1)
    edge_mm = np.float32(0.15 * comb.rim_ragged + 0.02) * ragged
    edge_mm = np.minimum(edge_mm, np.float32(0.5 * comb.rim_half_mm))
    share = (np.float32(shape.opening_mm) + edge_mm - shape.reach(x, y)) * np.float32(px_per_mm)
    return np.asarray(np.clip(share + np.float32(0.5), 0.0, 1.0))


def _assign_cells(
    scene: CombScene, far_x: Plane, far_y: Plane
) -> tuple[NDArray[np.int32], Plane, Plane]:
    basis = lattice_basis(scene.comb)
    inverse = np.linalg.inv(basis).astype(np.float32)
    offset_x, offset_y = (np.float32(v) for v in scene.camera.centre_xy_mm)
    u, v = far_x + offset_x, far_y + offset_y
    q = u * inverse[0, 0] + v * inverse[1, 0]
    r = u * inverse[0, 1] + v * inverse[1, 1]
    # Cube rounding to the nearest hexagon.
    whole_q, whole_r, whole_s = np.rint(q), np.rint(r), np.rint(-q - r)
    miss_q, miss_r, miss_s = np.abs(whole_q - q), np.abs(whole_r - r), np.abs(whole_s + q + r)
    fix_q = (miss_q > miss_r) & (miss_q > miss_s)
    fix_r = ~fix_q & (miss_r > miss_s)
    whole_q, whole_r = (
        np.where(fix_q, -whole_r - whole_s, whole_q),
        np.where(fix_r, -whole_q - whole_s, whole_r),
    )
    axis_x = whole_q * np.float32(basis[0, 0]) + whole_r * np.float32(basis[1, 0]) - offset_x
    axis_y = whole_q * np.float32(basis[0, 1]) + whole_r * np.float32(basis[1, 1]) - offset_y
    low_q, low_r = int(whole_q.min()), int(whole_r.min())
    table = np.full(
        (int(whole_r.max()) - low_r + 1, int(whole_q.max()) - low_q + 1), NO_CELL, dtype=np.int32
    )
    for i, cell in enumerate(scene.cells):
        row, col = cell.r - low_r, cell.q - low_q
        if 0 <= row < table.shape[0] and 0 <= col < table.shape[1]:
            table[row, col] = i
    index = table[(whole_r - low_r).astype(np.int32), (whole_q - low_q).astype(np.int32)]
    return index, axis_x, axis_y


def paint_hollows(ground: Ground) -> tuple[Planes, Plane]:
    """Paint walls and floors of all cells as if nothing lay in them.

    Returns
    -------
    picture : ndarray of shape (3, H, W), float32
        Linear RGB.
    depth_mm : ndarray of shape (H, W), float32
        Depth below the rims of what is seen.
    """
    picture = np.empty((3, *ground.x.shape), dtype=np.float32)
    depth = np.empty(ground.x.shape, dtype=np.float32)
    for top in range(0, len(depth), _BAND_ROWS):
        rows = slice(top, top + _BAND_ROWS)
        picture[:, rows], depth[rows] = _hollow_band(ground, (rows, slice(None)))
    return picture, depth


def _hollow_band(ground: Ground, band: tuple[slice, slice]) -> tuple[Planes, Plane]:
    shape, comb = ground.shape, ground.scene.comb
    x, y, sx, sy = ground.x[band], ground.y[band], ground.sx[band], ground.sy[band]
    floor_depth = shape.floor_depth(x, y, sx, sy)
    wall_depth, wall_nx, wall_ny = shape.wall_hit(x, y, sx, sy)
    seam_mm = wall_depth - floor_depth
    on_wall = seam_mm < 0.0
    depth = np.maximum(np.minimum(wall_depth, floor_depth), 0.0)
    px, py = x + sx * depth, y + sy * depth
    lamp = ground.lamp(px, py, band)
    key = ground.lit(px, py, depth, lamp, band)

    turn_x, turn_y = shape.normals[0]
    down = np.where(on_wall, depth, np.float32(CELL_DEPTH_MM))  # unrolls walls; floors stay flat
    cloud, grain, bump_x, bump_y = _wax_grain(
        ground,
        px + ground.axis_x[band] + down * turn_x,
        py + ground.axis_y[band] + down * turn_y,
        seed=1,
        zoom=1.0,
    )
    rise_x, rise_y = shape.floor_slopes(px, py)
    length = np.sqrt(1.0 + lamp[0] * lamp[0] + lamp[1] * lamp[1])
    rough = np.float32(0.07 + 0.03 * comb.cocoon)
    nx, ny = rough * bump_x - rise_x, rough * bump_y - rise_y
    floor_facing = (1.0 + nx * lamp[0] + ny * lamp[1]) / (length * np.sqrt(1.0 + nx * nx + ny * ny))
    if comb.cocoon > 0.0:  # cocoons round the corners between walls
        inverse = np.float32(comb.cocoon) / (np.sqrt(px * px + py * py) + np.float32(0.1))
        keep = np.float32(1.0 - comb.cocoon)
        wall_nx, wall_ny = keep * wall_nx - px * inverse, keep * wall_ny - py * inverse
    wall_facing = (
        wall_nx * lamp[0] + wall_ny * lamp[1] + np.float32(0.08) + rough * bump_x * 0.6
    ) / length
    key_facing = key * np.clip(np.where(on_wall, wall_facing + 0.05, floor_facing), 0.0, 1.0)

    seam = 1.0 - np.float32(0.38) * np.exp(np.abs(seam_mm) * np.float32(-1.6))
    patch = 1.0 + np.float32(0.10 + 0.10 * comb.stain) * cloud + np.float32(0.10) * grain
    dirt = np.clip(
        cloud * np.float32(0.8) + grain * np.float32(0.35) - np.float32(1.6 - 1.3 * comb.stain),
        0.0,
        1.0,
    )
    # Walls are seen at a slant, which would draw their grain out into a likeness of wood.
    patch = np.where(on_wall, np.float32(0.6) + np.float32(0.4) * patch, patch)
    patch = np.clip(patch, 0.3, 1.8) * (1.0 - np.float32(0.55 * comb.stain) * dirt)
    # Lit walls throw light back: what faces away from the lamp is a little brighter at depth.
    sun_x, sun_y = ground.scene.light.slope_xy
    turned = np.float32(-0.55 / (np.hypot(sun_x, sun_y) + 0.05))
    side = np.where(
        on_wall, wall_nx * sun_x + wall_ny * sun_y, (nx * sun_x + ny * sun_y) * np.float32(1.2)
    )
    if comb.cocoon < 1.0:
        patch = patch * np.where(on_wall, np.float32(1.0), _rhombi_tone(ground, band, px, py))
    ambient = ground.ambient(depth) * seam * (1.0 + np.clip(side * turned, -0.5, 0.5))

    glitter = _floor_glitter(ground, band, nx, ny, lamp, key, grain)
    glitter = np.where(on_wall, np.float32(0.0), glitter)
    picture = ground.colours.compose_hollow(
        ground.scene.light,
        on_wall,
        depth * np.float32(1.0 / CELL_DEPTH_MM),
        key_facing,
        ambient,
        patch,
        glitter,
    )
    return picture, depth


def _wax_grain(ground: Ground, u_mm: Plane, v_mm: Plane, *, seed: int, zoom: float) -> list[Plane]:
    """Return cloud, grain and its slopes in x and y; seen from near, with a finer grain on top."""
    texture_seed = ground.scene.comb.texture_seed
    planes = list(look_up(u_mm, v_mm, shift=shifts(texture_seed + seed, 1)[0], zoom=zoom))
    if ground.px_per_mm > _FINE_FROM_PX_PER_MM:
        shift = shifts(texture_seed + seed + 3, 1)[0]
        finer = look_up(u_mm, v_mm, shift=shift, zoom=3.7 * zoom)
        share = np.float32(0.6)
        planes = [planes[0], *(a + share * b for a, b in zip(planes[1:], finer[1:], strict=True))]
    return planes


def _rhombi_tone(ground: Ground, band: tuple[slice, slice], px: Plane, py: Plane) -> Plane:
    """Return the tone of a floor's three rhombi: each backs another cell, folds are thick wax."""
    comb = ground.scene.comb
    facet, fold_mm = ground.shape.facets(px, py)
    rng = np.random.default_rng(comb.texture_seed + 3)
    # Cells alike but for chance: the last row stands for places without a cell.
    tones = 1.0 + 0.16 * rng.uniform(-1.0, 1.0, (len(ground.scene.cells) + 1, 3))
    tones += 0.10 * rng.uniform(-1.0, 1.0, 3)
    tone = tones.astype(np.float32)[ground.index[band], facet]
    tone += np.float32(0.22) * np.exp(fold_mm * fold_mm * np.float32(-120.0))
    return np.asarray(1.0 + (tone - 1.0) * np.float32(1.0 - comb.cocoon))


def _floor_glitter(
    ground: Ground,
    band: tuple[slice, slice],
    nx: Plane,
    ny: Plane,
    lamp: tuple[Plane, Plane],
    key: Plane,
    grain: Plane,
) -> Plane:
    comb = ground.scene.comb
    half_x = (lamp[0] - ground.sx[band]) * np.float32(0.5)
    half_y = (lamp[1] - ground.sy[band]) * np.float32(0.5)
    mx, my = nx - half_x, ny - half_y
    miss = mx * mx + my * my
    wide = np.exp(miss * np.float32(-3.5))
    tight = np.exp(miss * np.float32(-22.0))
    sparkle = np.clip(grain - np.float32(0.5), 0.0, 3.0)
    sparkle *= sparkle
    amount = np.float32(comb.shine) * (
        np.float32(0.10) * wide * (np.float32(0.3) + sparkle)
        + np.float32(0.22 * comb.cocoon + 0.06) * tight
    )
    return np.asarray(amount * key)


def paint_rims(ground: Ground, picture: Planes) -> None:
    """Paint the rims over the picture of the hollows, in place."""
    shape, comb, light = ground.shape, ground.scene.comb, ground.scene.light
    closed = 1.0 - ground.open_share
    rows, cols = np.nonzero(closed > 0.0)
    x, y = ground.x[rows, cols], ground.y[rows, cols]
    a, b, c = shape.across(x, y)
    sizes = np.stack([np.abs(a), np.abs(b), np.abs(c)])
    nearest = sizes.argmax(axis=0)
    signed = np.choose(nearest, [a, b, c])
    edge_mm = np.float32(shape.half_pitch_mm) - np.abs(signed)
    reach = shape.reach(x, y)
    width = np.maximum(
        edge_mm + np.maximum(np.float32(shape.opening_mm) - reach, 0.0),
        np.float32(comb.rim_half_mm),
    )
    # Rounded top: level on the wall's middle, falling into the cell at the opening.
    fall = np.clip(edge_mm / width, 0.0, 1.0)
    corner = np.clip(
        (reach - np.float32(shape.opening_mm)) / np.float32(comb.rim_half_mm), 0.0, 1.0
    )
    fall = np.minimum(fall, 1.0 - corner * np.float32(0.85))
    inward = -np.sign(signed)
    towards = shape.normals[nearest]
    far_x, far_y = x + ground.axis_x[rows, cols], y + ground.axis_y[rows, cols]
    cloud, grain, bump_x, bump_y = _wax_grain(ground, far_x, far_y, seed=2, zoom=0.8)
    rough = np.float32(0.14 + 0.20 * comb.rim_ragged)
    steep = fall * fall * np.float32(1.1)
    nx = inward * towards[:, 0] * steep + rough * bump_x
    ny = inward * towards[:, 1] * steep + rough * bump_y
    lamp_x, lamp_y = lamp_slopes(light, far_x, far_y)
    unit = np.sqrt((1.0 + nx * nx + ny * ny) * (1.0 + lamp_x * lamp_x + lamp_y * lamp_y))
    facing = np.clip((1.0 + nx * lamp_x + ny * lamp_y) / unit, 0.0, 1.0)
    key = facing * np.float32(light.strength)
    if ground.bees is not None:
        key = key * ground.bees[rows, cols]
    half_x = (lamp_x - ground.sx[rows, cols]) * np.float32(0.5)
    half_y = (lamp_y - ground.sy[rows, cols]) * np.float32(0.5)
    shine = ground.light_look.glint(light, nx - half_x, ny - half_y, 0.3) * key
    shine *= np.float32(0.05 + 0.10 * comb.shine)
    patch = np.clip(
        1.0
        + np.float32(0.06 + 0.10 * comb.stain) * cloud
        + np.float32(0.08) * grain
        - np.float32(0.36) * fall * fall,
        0.25,
        1.6,
    )
    colour = ground.colours.compose_rim(light, key, patch, shine, fall)
    share = closed[rows, cols]
    for channel in range(3):
        plane = picture[channel]
        under = plane[rows, cols]
        plane[rows, cols] = under + (colour[channel] - under) * share
