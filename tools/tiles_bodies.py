"""Larvae and eggs in space: the midline that truth is measured on and the skin about it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import fit_circle
from larvasight.render import FIRST_LOOK, Egg, Larva, Pool
from larvasight.render.bodies import BODY_SHAPES, egg_tube, first_radius_share, larva_midline
from tiles_cups import floor_mm
from tiles_mesh import Mesh, grid_quads, linear
from tiles_noise import noise

if TYPE_CHECKING:
    from tiles_settings import Wax

Floats = NDArray[np.float64]

N_ALONG = 241
_N_SKIN_LARVA, _N_SKIN_EGG = 56, 32
N_SEGMENTS = 13
# Between these curls the inner flanks of a ring grow together and its hole closes.
_CLOSE_FROM_DEG, _CLOSE_FULL_DEG = 225.0, 295.0
_DRY_LEAN_MOST = 0.30
# Larvae are clear when young and cream when grown.
_YOUNG_RGB, _GROWN_RGB = (226.0, 214.0, 178.0), (238.0, 226.0, 196.0)
_EGG_RGB = (244.0, 240.0, 226.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """One body about its cell's axis.

    ``plane_xy_mm`` of shape (N, 2) is a larva's midline in the plane it lies in, None for
    an egg; ``midline_mm`` of shape (N, 3) the same line in space, ``radius_mm`` of shape
    (N,) the half width along it; ``skin`` is its surface.
    """

    midline_mm: Floats
    plane_xy_mm: Floats | None
    radius_mm: Floats
    skin: Mesh

    @property
    def length_mm(self) -> float:
        """Arc length of the midline in space."""
        return float(np.sqrt((np.diff(self.midline_mm, axis=0) ** 2).sum(axis=1)).sum())

    @property
    def width_mm(self) -> float:
        """Largest width across the midline."""
        return 2.0 * float(self.radius_mm.max())


def larva_body(larva: Larva, pool: Pool, wax: Wax, seed: int) -> Body:
    """Return a larva lying on its food or, without any, on the floor."""
    flat, along = larva_midline(larva, BODY_SHAPES[FIRST_LOOK], N_ALONG)
    radius = 0.5 * larva.width_mm * first_radius_share(larva, along)
    lean, height = _rest(larva, pool, wax, flat, radius)
    # The plane it lies in: axes along x and y, leaning as the floor or the food does.
    across = np.array([1.0, 0.0, lean[0]]) / math.hypot(1.0, lean[0])
    normal = np.array([-lean[0], -lean[1], 1.0]) / math.sqrt(1.0 + lean @ lean)
    down = np.cross(normal, across)
    middle = np.array([*larva.offset_xy_mm, height])
    plane = flat - np.array(larva.offset_xy_mm)
    midline = middle + plane[:, :1] * across + plane[:, 1:] * down
    thin = slice(None, None, 2)
    skin = _larva_skin(
        larva,
        plane[thin],
        along[thin],
        radius[thin],
        (middle, across, down, normal),
        seed,
        afloat=float(pool.level_mm > 0.0),
    )
    return Body(midline_mm=midline, plane_xy_mm=flat, radius_mm=radius, skin=skin)


def _rest(larva: Larva, pool: Pool, wax: Wax, flat: Floats, radius: Floats) -> tuple[Floats, float]:
    """Return the lean (rise per mm in x and y) and height of the plane a larva lies in."""
    thickest = float(radius.max())
    if pool.level_mm > 0.0:
        rng = np.random.default_rng(int(1e6 * larva.heading_deg) % (1 << 31))
        lean = np.clip(rng.normal(0.0, 0.05, 2), -0.12, 0.12)
        level = floor_mm(wax, np.zeros(1), np.zeros(1))[0] + pool.level_mm
        height = level - min(larva.sink, 0.45) * thickest
        under = floor_mm(wax, flat[:, 0], flat[:, 1]) + 0.55 * radius
        high = under - ((flat - np.array(larva.offset_xy_mm)) @ lean)
        return lean, max(float(height), float(np.quantile(high, 0.8)))
    floor = floor_mm(wax, flat[:, 0], flat[:, 1])
    plane = np.column_stack([flat - np.array(larva.offset_xy_mm), np.ones(len(flat))])
    lean = np.linalg.lstsq(plane, floor, rcond=None)[0][:2]
    steep = float(np.hypot(*lean))
    lean = lean * min(1.0, _DRY_LEAN_MOST / max(steep, 1e-9))
    lift = floor + 0.85 * radius - plane[:, :2] @ lean
    return lean, float(np.quantile(lift, 0.85))


def _segments(along: Floats) -> Floats:
    """Return the relief of the segments: 1 on their crests, less in the folds between."""
    waves = np.abs(np.sin(np.pi * N_SEGMENTS * np.clip(along, 0.0, 1.0)))
    ends = np.clip(np.minimum(along, 1.0 - along) / 0.06, 0.0, 1.0)
    return np.asarray(1.0 - (1.0 - waves**0.55) * ends)


def _larva_skin(
    larva: Larva,
    plane: Floats,
    along: Floats,
    radius: Floats,
    axes: tuple[Floats, Floats, Floats, Floats],
    seed: int,
    *,
    afloat: float,
) -> Mesh:
    middle, across, down, normal = axes
    tangent = np.gradient(plane, axis=0)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    # Towards the hollow of the bend.
    hollow = larva.curl_side * np.column_stack([-tangent[:, 1], tangent[:, 0]])
    inner = _inner_reach(larva, plane, hollow, radius)
    turn = 2.0 * np.pi * np.arange(_N_SKIN_LARVA) / _N_SKIN_LARVA
    relief = _segments(along)
    grown = min(larva.age_h / 48.0, 1.0)
    groove = 0.035 + 0.07 * grown
    ridge = 1.0 - groove * (1.0 - relief)
    cos, sin = np.cos(turn)[None, :], np.sin(turn)[None, :]
    reach = np.where(cos > 0.0, inner[:, None], radius[:, None])
    closing = (inner / np.maximum(radius, 1e-9) - 1.0)[:, None]
    # Bodies settle on what they lie on: flatter below; rings dip towards their middle.
    up = np.where(sin > 0.0, 0.96, 0.75) * radius[:, None] * sin
    up = up * (1.0 - 0.10 * np.clip(closing, 0.0, 1.0) * np.clip(cos, 0.0, 1.0))
    # A row of lobes along the flanks.
    lobe = 1.0 + 0.035 * np.exp(-(((turn - 0.0) / 0.5) ** 2))[None, :] * relief[:, None]
    side = reach * cos * np.where(cos > 0.0, 1.0, ridge[:, None]) * lobe
    up = up * ridge[:, None]
    roll = 0.12 * larva.roll * radius[:, None] * np.clip(sin, 0.0, 1.0)
    side = side + roll * (np.clip(cos, -1.0, 1.0) < 2.0) * ridge[:, None]
    points = (
        middle
        + (plane[:, None, :1] + side[..., None] * hollow[:, None, :1]) * across
        + (plane[:, None, 1:] + side[..., None] * hollow[:, None, 1:]) * down
        + up[..., None] * normal
    )
    points += (0.012 * radius[:, None] * noise(points, 0.25, seed))[..., None] * normal
    base = linear(_YOUNG_RGB) + grown * (linear(_GROWN_RGB) - linear(_YOUNG_RGB))
    base = base * np.array(larva.tint_rgb)
    fold = np.where(sin > -0.2, 1.0, 0.0) * (1.0 - relief[:, None])
    shade = 1.0 + 0.10 * fold * (0.4 + grown) + 0.03 * noise(points, 0.3, seed + 3)
    flip = larva.curl_side > 0
    quads = grid_quads(len(along), _N_SKIN_LARVA)
    n = points.shape[0] * points.shape[1]
    return Mesh(
        points_mm=points.reshape(-1, 3),
        quads=quads if flip else quads[:, ::-1],
        colours=np.clip(base * shade[..., None], 0.0, 0.95).reshape(-1, 3),
        values={"grown": np.full(n, grown), "afloat": np.full(n, afloat)},
    )


def _inner_reach(larva: Larva, plane: Floats, hollow: Floats, radius: Floats) -> Floats:
    """Return how far the hollow flank lies from the midline; a ring's meets in its middle."""
    centre, ring = fit_circle(plane)
    if not math.isfinite(ring):
        return radius
    away = ((np.array(centre) - plane) * hollow).sum(axis=1)
    share = (larva.curl_deg - _CLOSE_FROM_DEG) / (_CLOSE_FULL_DEG - _CLOSE_FROM_DEG)
    share = min(max(share, 0.0), 1.0)
    blunt = np.clip(radius / max(float(radius.max()), 1e-9), 0.0, 1.0) ** 0.25
    wanted = radius + share * blunt * np.maximum(away - radius, 0.0)
    # Flanks never cross the middle of the bend, where they would come out on the other side.
    return np.asarray(np.minimum(wanted, np.maximum(0.985 * away, 0.35 * radius)))


def egg_body(egg: Egg, wax: Wax, seed: int) -> Body:
    """Return an egg glued to the floor by one end."""

    def depth_mm(points: Floats) -> Floats:
        return -floor_mm(wax, points[:, 0], points[:, 1])

    tube = egg_tube(egg, depth_mm)
    line = tube.midline_xyz_mm * np.array([1.0, 1.0, -1.0])
    table = np.linspace(0.0, 1.0, len(tube.radius_mm))
    fine = np.linspace(0.0, 1.0, N_ALONG)
    place = np.linspace(0.0, 1.0, len(line))
    midline = np.column_stack([np.interp(fine, place, line[:, axis]) for axis in range(3)])
    radius = np.interp(fine, table, tube.radius_mm.astype(np.float64))
    tangent = np.gradient(midline, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1)[:, None]
    helper = np.array([math.sin(math.radians(egg.azimuth_deg)),
                       -math.cos(math.radians(egg.azimuth_deg)), 0.0])  # fmt: skip
    other = np.cross(tangent, helper)
    turn = 2.0 * np.pi * np.arange(_N_SKIN_EGG) / _N_SKIN_EGG
    ring = np.cos(turn)[None, :, None] * helper + np.sin(turn)[None, :, None] * other[:, None, :]
    points = (midline[:, None, :] + radius[:, None, None] * ring)[::3]
    points = points.reshape(-1, 3)
    shade = 1.0 + 0.02 * noise(points, 0.3, seed)
    return Body(
        midline_mm=midline,
        plane_xy_mm=None,
        radius_mm=radius,
        skin=Mesh(
            points_mm=points,
            quads=grid_quads(len(midline[::3]), _N_SKIN_EGG),
            colours=np.clip(linear(_EGG_RGB) * shade[:, None], 0.0, 0.95),
            values={"grown": np.ones(len(points)), "afloat": np.zeros(len(points))},
        ),
    )
