"""What is true about each tile, measured on the bodies and walls that were modelled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import CELL_DEPTH_MM, midline_length, swept_angle_deg
from larvasight.growth import looks_age_h
from larvasight.render.truth import (
    CLOSED_FROM_DEG,
    GAP_LEAST_WIDTHS,
    N_OUTLINE,
    VISIBLE_LEAST,
)
from larvasight.sheet import Content, Flag
from tiles_cups import N_AROUND, Cup
from tiles_settings import PITCH_MM

if TYPE_CHECKING:
    from tiles_bodies import Body
    from tiles_frames import FrameCell
    from tiles_mesh import Mesh

Floats = NDArray[np.float64]

# Shadows of bodies are drawn this much finer than the tile, points given in 1/16 px.
_FINER = 4
_SHIFT = 4
_N_MIDLINE = 41
_N_HEIGHTS = 48
_RAYS_MOST = 4000


@dataclass(frozen=True, slots=True, kw_only=True)
class Eye:
    """Projection of one setting's tiles: rays' slope and scale."""

    slope_xy: tuple[float, float]
    pitch_px: float

    def to_px(self, points_mm: Floats) -> Floats:
        """Return px from the tile's centre of points (x, y, height) about the cell's axis."""
        slope = np.array(self.slope_xy)
        rim = points_mm[..., :2] + points_mm[..., 2:3] * slope
        return np.asarray(rim * (self.pitch_px / PITCH_MM))


def tile_truth(at: FrameCell, eye: Eye) -> dict[str, Any]:
    """Return what a truth sheet says about a cell, points in px from the tile's centre.

    Parameters
    ----------
    at : FrameCell
        The cell as it was modelled.
    eye : Eye
        How it is seen.
    """
    content = at.cell.content
    open_cell = content in (Content.EMPTY, Content.EGG, Content.LARVA)
    truth: dict[str, Any] = {
        "content": content.value,
        "px_per_mm": round(eye.pitch_px / PITCH_MM, 4),
        "visible_share": None,
        "jelly": at.cell.pool.amount.value if open_cell else None,
        "length_mm": None,
        "width_mm": None,
        "area_mm2": None,
        "curl_deg": None,
        "midline_xy": None,
        "outline_xy": None,
        "age_h": None,
        "looks_age_h": None,
        "flags": [],
    }
    if at.body is not None:
        truth.update(_body_truth(at, at.body, eye))
    return truth


def _body_truth(at: FrameCell, body: Body, eye: Eye) -> dict[str, Any]:
    mask, corner = shadow(body.skin, eye)
    outline = _outline(mask) / _FINER + corner
    straight = Eye(slope_xy=(0.0, 0.0), pitch_px=eye.pitch_px)
    flat, _ = shadow(body.skin, straight)
    area_px = float((flat > 0).sum()) / _FINER**2
    seen = visible_share(body, at.cup, eye)
    flags = [Flag.HIDDEN_BY_WALL.value] if seen < VISIBLE_LEAST else []
    found: dict[str, Any] = {
        "visible_share": round(seen, 4),
        "length_mm": round(body.length_mm, 4),
        "width_mm": round(body.width_mm, 4),
        "area_mm2": round(area_px * (PITCH_MM / eye.pitch_px) ** 2, 4),
        "midline_xy": _rounded(_thinned(eye.to_px(body.midline_mm), _N_MIDLINE)),
        "outline_xy": _rounded(outline),
    }
    if at.cell.larva is not None and body.plane_xy_mm is not None:
        length_mm = midline_length(body.plane_xy_mm)
        curl_deg = swept_angle_deg(body.plane_xy_mm)
        gap_mm = float(np.hypot(*(body.plane_xy_mm[-1] - body.plane_xy_mm[0])))
        near = gap_mm < GAP_LEAST_WIDTHS * body.width_mm or curl_deg >= 360.0
        if curl_deg >= CLOSED_FROM_DEG and near:
            flags.append(Flag.CLOSED.value)
        found["length_mm"] = round(length_mm, 4)
        found["curl_deg"] = round(curl_deg, 4)
        found["age_h"] = round(at.cell.larva.age_h, 4)
        found["looks_age_h"] = round(looks_age_h(length_mm, curl_deg), 4)
    elif at.cell.egg is not None:
        found["age_h"] = round(at.cell.egg.age_h, 4)
    found["flags"] = flags
    return found


def _thinned(points: Floats, n_points: int) -> Floats:
    take = np.round(np.linspace(0, len(points) - 1, n_points)).astype(int)
    return np.asarray(points[take])


def _rounded(points: Floats) -> list[list[float]]:
    return [[round(float(x), 2), round(float(y), 2)] for x, y in points]


def shadow(skin: Mesh, eye: Eye) -> tuple[NDArray[np.uint8], Floats]:
    """Return a body's silhouette, 255 inside, ``_FINER`` times the tile's resolution.

    Returns
    -------
    mask : ndarray of shape (H, W), uint8
        The silhouette with a margin.
    corner_xy : ndarray of shape (2,)
        Where the mask's first pixel lies, px from the tile's centre.
    """
    points = eye.to_px(skin.points_mm)
    corner = np.floor(points.min(axis=0)) - 2.0
    size = np.ceil((points.max(axis=0) + 2.0 - corner) * _FINER).astype(int) + 1
    mask = np.zeros((size[1], size[0]), dtype=np.uint8)
    at = np.round((points - corner) * _FINER * (1 << _SHIFT)).astype(np.int32)
    for quad in at[skin.quads]:
        cv2.fillConvexPoly(mask, quad, 255, cv2.LINE_8, _SHIFT)
    return mask, corner


def _outline(mask: NDArray[np.uint8]) -> Floats:
    """Return the outermost contour of a mask, smoothed, N_OUTLINE points, mask px."""
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    line = max(contours, key=len)[:, 0, :].astype(np.float64)
    padded = np.vstack([line[-4:], line, line[:4]])
    kernel = np.array([1.0, 3.0, 6.0, 8.0, 9.0, 8.0, 6.0, 3.0, 1.0]) / 45.0
    smooth = np.column_stack([np.convolve(padded[:, i], kernel, mode="valid") for i in (0, 1)])
    take = np.round(np.linspace(0, len(smooth), N_OUTLINE, endpoint=False)).astype(int)
    return np.asarray(smooth[take % len(smooth)])


def visible_share(body: Body, cup: Cup, eye: Eye) -> float:
    """Return the share of a body's silhouette that no wall hides.

    From each point of the silhouette a ray runs from the body to the eye; it is hidden
    where it leaves the cell through the modelled wall or lip.
    """
    mask, corner = shadow(body.skin, eye)
    rows, cols = np.nonzero(mask)
    step = max(1, len(rows) // _RAYS_MOST)
    px = np.column_stack([cols[::step], rows[::step]]) / _FINER + corner
    rim = px * (PITCH_MM / eye.pitch_px)
    # The plane of the midline is exact to half a body's thickness times the slope.
    nearest = _nearest_height(body, eye, px)
    share = np.linspace(0.0, 1.0, _N_HEIGHTS)
    heights = nearest[:, None] + (0.25 - nearest[:, None]) * share
    slope = np.array(eye.slope_xy)
    x = rim[:, :1] - heights * slope[0]
    y = rim[:, 1:] - heights * slope[1]
    return float((np.hypot(x, y) <= _wall_radius(cup, x, y, heights)).all(axis=1).mean())


def _nearest_height(body: Body, eye: Eye, px: Floats) -> Floats:
    line = eye.to_px(body.midline_mm)[::4]
    away = ((px[:, None, :] - line[None]) ** 2).sum(axis=-1)
    nearest = away.argmin(axis=1)
    return np.asarray(body.midline_mm[::4, 2][nearest] + 0.5 * body.radius_mm[::4][nearest])


def _wall_radius(cup: Cup, x: Floats, y: Floats, heights: Floats) -> Floats:
    """Return how far the wall is from the axis at each point's direction and height."""
    wall = cup.wall_mm
    radius = np.hypot(wall[..., 0], wall[..., 1])
    levels = np.linspace(-CELL_DEPTH_MM, 0.25, 160)
    table = np.empty((N_AROUND, len(levels)))
    for k in range(N_AROUND):
        order = np.argsort(wall[:, k, 2])
        table[k] = np.interp(levels, wall[order, k, 2], radius[order, k], right=np.inf)
    column = np.round(np.arctan2(y, x) / (2.0 * np.pi) * N_AROUND).astype(int) % N_AROUND
    place = (heights - levels[0]) / (levels[1] - levels[0])
    row = np.clip(np.round(place).astype(int), 0, len(levels) - 1)
    return np.asarray(table[column, row])
