"""Crumbs of wax, pollen flecks and hairs: what lies about on comb and looks like brood."""

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import CELL_DEPTH_MM
from larvasight.render.comb import Ground
from larvasight.render.palette import RGB, linear_rgb
from larvasight.render.view import cell_centre

Plane = NDArray[np.float32]
Planes = NDArray[np.float32]

_FLECK_RGB = ((230.0, 190.0, 90.0), (240.0, 222.0, 170.0), (190.0, 120.0, 60.0))
_HAIR_RGB = (46.0, 34.0, 26.0)
# Bits in a cell, and hairs in a picture, at amount 1.
_CRUMBS_MOST, _FLECKS_MOST, _HAIRS_MOST = 14, 8, 6
_SHIFT = 4
_CORNERS = 7


def paint_floor_dirt(ground: Ground, picture: Planes) -> None:
    """Paint crumbs and flecks onto the floors of all cells, in place."""
    comb = ground.scene.comb
    rng = np.random.default_rng(comb.texture_seed + 11)
    wax = ground.colours.wall
    dark: RGB = (wax[0] * 0.30, wax[1] * 0.26, wax[2] * 0.22)
    if comb.crumbs > 0.0:
        _paint_bits(ground, picture, rng, _CRUMBS_MOST * comb.crumbs, (0.02, 0.10), dark, 0.3)
        _paint_bits(
            ground,
            picture,
            rng,
            0.5 * _CRUMBS_MOST * comb.crumbs,
            (0.02, 0.12),
            ground.colours.rim,
            0.3,
        )


def paint_loose_dirt(ground: Ground, picture: Planes) -> None:
    """Paint flecks of pollen and hairs over floors and brood, in place."""
    comb = ground.scene.comb
    rng = np.random.default_rng(comb.texture_seed + 12)
    if comb.pollen_flecks > 0.0:
        colour = linear_rgb(_FLECK_RGB[int(rng.integers(len(_FLECK_RGB)))])
        count = _FLECKS_MOST * comb.pollen_flecks
        _paint_bits(ground, picture, rng, count, (0.03, 0.16), colour, 0.9)
    if comb.hairs > 0.0:
        _paint_hairs(
            ground, picture, rng, int(rng.integers(0, 1 + round(_HAIRS_MOST * comb.hairs)))
        )


def _paint_bits(
    ground: Ground,
    picture: Planes,
    rng: np.random.Generator,
    per_cell: float,
    size_mm: tuple[float, float],
    colour: RGB,
    height_mm: float,
) -> None:
    mask = np.zeros(ground.x.shape, dtype=np.uint8)
    axes = np.array([cell_centre(ground.scene, cell.q, cell.r) for cell in ground.scene.cells])
    axes = np.repeat(axes, rng.poisson(per_cell, len(axes)), axis=0)
    count = len(axes)
    angle_rad = rng.uniform(0.0, 2.0 * np.pi, count)
    away_mm = 0.42 * ground.scene.comb.pitch_mm * np.sqrt(rng.random(count))
    place = away_mm[:, None] * np.column_stack([np.cos(angle_rad), np.sin(angle_rad)])
    ring_rad = np.sort(rng.uniform(0.0, 2.0 * np.pi, (count, _CORNERS)), axis=1)
    size = rng.uniform(*size_mm, (count, 1)) * rng.uniform(0.5, 1.0, (count, _CORNERS))
    corners = (axes + place)[:, None, :] + size[..., None] * np.stack(
        [np.cos(ring_rad), np.sin(ring_rad)], axis=2
    )
    near = place.astype(np.float32)
    floor = ground.shape.floor_height(near[:, 0], near[:, 1]).astype(np.float64)
    depth = CELL_DEPTH_MM - floor - height_mm * rng.random(count)
    depths = np.repeat(depth[:, None], _CORNERS, axis=1)[..., None]
    for polygon in ground.view.project(np.concatenate([corners, depths], axis=2)):
        _fill(mask, polygon)
    _lay(ground, picture, mask, colour)


def _paint_hairs(ground: Ground, picture: Planes, rng: np.random.Generator, count: int) -> None:
    mask = np.zeros(ground.x.shape, dtype=np.uint8)
    for _ in range(count):
        cell = ground.scene.cells[int(rng.integers(len(ground.scene.cells)))]
        centre = cell_centre(ground.scene, cell.q, cell.r)
        along = np.linspace(-0.5, 0.5, 16)
        heading = rng.uniform(0.0, 2.0 * np.pi) + rng.uniform(-1.5, 1.5) * along
        step = np.column_stack([np.cos(heading), np.sin(heading)]) * rng.uniform(0.06, 0.22)
        line = centre + rng.uniform(-1.5, 1.5, 2) + np.cumsum(step, axis=0) - step.sum(axis=0) / 2.0
        depth = rng.uniform(2.0, 10.0) + rng.uniform(-1.0, 1.0) * along
        half = rng.uniform(0.02, 0.06) * (1.0 - 0.7 * np.abs(along[:, None] + 0.2))
        side = np.column_stack([-np.sin(heading), np.cos(heading)]) * half
        edge = np.vstack([line + side, (line - side)[::-1]])
        depths = np.concatenate([depth, depth[::-1]])
        _fill(mask, ground.view.project(np.column_stack([edge, depths])))
    _lay(ground, picture, mask, linear_rgb(_HAIR_RGB))


def _fill(mask: NDArray[np.uint8], polygon_px: NDArray[np.float64]) -> None:
    points = np.round(polygon_px * (1 << _SHIFT)).astype(np.int32)
    cv2.fillPoly(mask, [points], 255, lineType=cv2.LINE_AA, shift=_SHIFT)


def _lay(ground: Ground, picture: Planes, mask: NDArray[np.uint8], colour: RGB) -> None:
    rows, cols = np.nonzero(mask)
    if len(rows) == 0:
        return
    light = ground.scene.light
    level = np.full(len(rows), 10.0, dtype=np.float32)
    x = ground.x[rows, cols] + ground.sx[rows, cols] * level
    y = ground.y[rows, cols] + ground.sy[rows, cols] * level
    where = (rows, cols)
    key = ground.lit(x, y, level, ground.lamp(x, y, where), where)
    around = ground.ambient(level)
    share = mask[rows, cols].astype(np.float32) / 255.0 * ground.open_share[rows, cols]
    for channel in range(3):
        lit = key * np.float32(light.colour_rgb[channel])
        lit = lit + around * np.float32(light.ambient_rgb[channel] * ground.colours.glow[channel])
        plane = picture[channel]
        plane[rows, cols] += share * (lit * np.float32(colour[channel]) - plane[rows, cols])
