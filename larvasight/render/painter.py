"""Paint a comb scene: hollows, brood, stores, rims, cappings, then the camera."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from larvasight.render.brood import paint_brood
from larvasight.render.camera import photograph
from larvasight.render.comb import Ground, make_ground, paint_hollows, paint_rims
from larvasight.render.dirt import paint_floor_dirt, paint_loose_dirt
from larvasight.render.fillings import paint_capping, paint_stores
from larvasight.render.scene import CombScene
from larvasight.render.second_light import relit
from larvasight.render.view import cell_centre
from larvasight.sheet import Content, Jelly

Where = tuple[slice, slice]


@dataclass(frozen=True, slots=True)
class Painted:
    """A picture of comb and where its bodies are.

    Attributes
    ----------
    image : ndarray of shape (H, W, 3), uint8
        RGB.
    seen : ndarray of shape (H, W), int32
        0, or 1 + index of the scene's cell whose larva or egg is visible at the pixel.
    """

    image: NDArray[np.uint8]
    seen: NDArray[np.int32]


def paint(scene: CombScene) -> NDArray[np.uint8]:
    """Return the picture of a scene, RGB, shape (H, W, 3); equal scenes give equal pictures."""
    return paint_with_maps(scene).image


def paint_with_maps(scene: CombScene) -> Painted:
    """Return the picture of a scene and the map of visible bodies."""
    ground = relit(make_ground(scene))
    picture, depth = paint_hollows(ground)
    paint_floor_dirt(ground, picture)
    seen = np.zeros(depth.shape, dtype=np.int32)
    tiles = [cell_tile(ground, number) for number in range(len(scene.cells))]
    for number, cell in enumerate(scene.cells):
        where = tiles[number]
        if where is None:
            continue
        if cell.stores is not None:
            paint_stores(ground, number, where, picture, depth)
        elif cell.content is not Content.CAPPED and (
            cell.larva is not None or cell.egg is not None or cell.pool.amount is not Jelly.NONE
        ):
            paint_brood(ground, number, where, picture, depth, seen)
    paint_loose_dirt(ground, picture)
    paint_rims(ground, picture)
    depth *= ground.open_share
    for number, cell in enumerate(scene.cells):
        where = tiles[number]
        if where is not None and cell.content is Content.CAPPED:
            paint_capping(ground, number, where, picture, depth)
    return Painted(image=photograph(picture, depth, scene.camera), seen=seen)


def cell_tile(ground: Ground, number: int) -> Where | None:
    """Return the rows and columns that hold a cell's hexagon, None outside the picture."""
    scene = ground.scene
    cell = scene.cells[number]
    centre = cell_centre(scene, cell.q, cell.r)
    angles_rad = np.radians(np.arange(0.0, 360.0, 30.0))
    reach_mm = scene.comb.pitch_mm / np.sqrt(3.0) * 1.03
    ring = centre + reach_mm * np.column_stack([np.cos(angles_rad), np.sin(angles_rad)])
    px = ground.view.project(np.column_stack([ring, np.zeros(len(ring))]))
    width_px, height_px = ground.view.size_px
    left, top = (int(v) for v in np.floor(px.min(axis=0)))
    right, bottom = (int(v) + 2 for v in np.ceil(px.max(axis=0)))
    rows, cols = (
        slice(max(top, 0), min(bottom, height_px)),
        slice(max(left, 0), min(right, width_px)),
    )
    if rows.start >= rows.stop or cols.start >= cols.stop:
        return None
    return rows, cols
