"""Bodies: the line they lie along, how thick they are, and which pixels they cover."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import fit_circle
from larvasight.render.scene import FIRST_LOOK, Egg, Larva
from larvasight.render.second_look import SECOND_LOOK, second_heading_rad, second_radius_share

Floats = NDArray[np.float64]
Plane = NDArray[np.float32]

N_MIDLINE = 48
_FINE = 481
_TABLE = 512
# Between these curls the inner flanks of a ring grow together and its hole closes.
_CLOSE_FROM_DEG, _CLOSE_FULL_DEG = 235.0, 315.0
# Above this curl head and tail can lie side by side: each half is looked at on its own.
_SPLIT_FROM_DEG = 170.0


@dataclass(frozen=True, slots=True)
class BodyShape:
    """One way to shape larvae.

    ``heading_rad(larva, along)`` is the direction of the midline, without the larva's
    own heading, and ``radius_share(larva, along)`` the radius over half the width, both
    at places ``along`` in [0, 1] from head to tail.
    """

    heading_rad: Callable[[Larva, Floats], Floats]
    radius_share: Callable[[Larva, Floats], Floats]


def first_heading_rad(larva: Larva, along: Floats) -> Floats:
    """Return an arc that bends ``unevenness`` more towards the tail, with a slight S."""
    bend = along + larva.unevenness * (along * along - along)
    return np.asarray(
        math.radians(larva.curl_deg) * bend + larva.wiggle * np.sin(2.0 * np.pi * along)
    )


def first_radius_share(larva: Larva, along: Floats) -> Floats:
    """Return a blunt sausage, thickest a little behind the middle, head slimmer than tail."""
    power = 5.0 + 1.0 * min(larva.age_h / 60.0, 1.0)
    place = np.clip(along, 0.0, 1.0)
    ends = np.sqrt(np.maximum(1.0 - np.abs(2.0 * place - 1.0) ** power, 0.0))
    slim = 1.0 - 0.55 * (place - 0.56) ** 2 - 0.18 * np.maximum(0.4 - place, 0.0)
    return np.asarray(ends * slim)


BODY_SHAPES: Final[Mapping[str, BodyShape]] = {
    FIRST_LOOK: BodyShape(heading_rad=first_heading_rad, radius_share=first_radius_share),
    SECOND_LOOK: BodyShape(heading_rad=second_heading_rad, radius_share=second_radius_share),
}


@dataclass(frozen=True, slots=True)
class Tube:
    """A bent tube in the comb's depth: what is drawn of a larva or an egg.

    ``midline_xyz_mm`` of shape (N, 3) in the cell's frame, depth below the rims last;
    ``along`` of shape (N,) are the places of its points from 0 to 1; ``radius_mm`` of
    shape (T,) is tabled over ``arccos(1 - 2 along) / pi``; on the hollow side, where
    ``hollow`` (1 or -1) is the sign of the turn, the flank reaches up to ``inner_mm``
    further. ``fill_mm`` is the radius of the disc about ``fill_xy_mm`` that joins the
    flanks of a closed ring, 0 without one.
    """

    midline_xyz_mm: Floats
    along: Floats
    radius_mm: Plane
    hollow: int = 1
    inner_mm: float = 0.0
    fill_xy_mm: tuple[float, float] = (0.0, 0.0)
    fill_mm: float = 0.0
    split: bool = False

    @property
    def depth_mm(self) -> float:
        """Depth of the plane that pixels are compared in."""
        return float(self.midline_xyz_mm[:, 2].mean())


def larva_midline(
    larva: Larva, shape: BodyShape, n_points: int = N_MIDLINE
) -> tuple[Floats, Floats]:
    """Return the midline about the cell's axis, mm, and the places of its points.

    Returns
    -------
    midline_xy_mm : ndarray of shape (n_points, 2)
        From head to tail, denser towards the tips; the middle of its extent lies at
        the larva's offset.
    along : ndarray of shape (n_points,)
        Share of the length at each point.
    """
    fine = np.linspace(0.0, 1.0, _FINE)
    heading = larva.curl_side * shape.heading_rad(larva, fine) + math.radians(larva.heading_deg)
    step = np.column_stack([np.cos(heading), np.sin(heading)])
    middle = 0.5 * (step[1:] + step[:-1]) / np.hypot(*(0.5 * (step[1:] + step[:-1])).T)[:, None]
    line = np.vstack([[0.0, 0.0], np.cumsum(middle, axis=0)]) * (larva.length_mm / (_FINE - 1))
    along = 0.5 * (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, n_points)))
    points = np.column_stack([np.interp(along, fine, line[:, axis]) for axis in (0, 1)])
    centre = 0.5 * (line.min(axis=0) + line.max(axis=0))
    return points - centre + np.array(larva.offset_xy_mm), along


def body_reach_mm(larva: Larva, shape: BodyShape) -> float:
    """Return how far the body reaches from the middle of its extent, mm."""
    midline, along = larva_midline(larva, shape)
    radius = 0.5 * larva.width_mm * shape.radius_share(larva, along)
    return float((np.hypot(*(midline - np.array(larva.offset_xy_mm)).T) + radius).max())


def larva_tube(larva: Larva, shape: BodyShape, depth_mm: float) -> Tube:
    """Return the tube of a larva whose axis lies at a depth below the rims."""
    midline, along = larva_midline(larva, shape)
    table_along = 0.5 * (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, _TABLE)))
    radius = 0.5 * larva.width_mm * shape.radius_share(larva, table_along)
    centre, ring_mm = fit_circle(midline)
    inner_mm, fill_mm, fill_xy = 0.0, 0.0, (0.0, 0.0)
    if larva.curl_deg > _CLOSE_FROM_DEG and math.isfinite(ring_mm):
        share = (larva.curl_deg - _CLOSE_FROM_DEG) / (_CLOSE_FULL_DEG - _CLOSE_FROM_DEG)
        inner_mm = min(share, 1.0) * max(ring_mm - 0.5 * larva.width_mm, 0.0)
        if share >= 1.0:
            fill_mm, fill_xy = 0.6 * ring_mm, centre
    return Tube(
        midline_xyz_mm=np.column_stack([midline, np.full(len(midline), depth_mm)]),
        along=along,
        radius_mm=radius.astype(np.float32),
        hollow=larva.curl_side,
        inner_mm=inner_mm,
        fill_xy_mm=fill_xy,
        fill_mm=fill_mm,
        split=larva.curl_deg > _SPLIT_FROM_DEG,
    )


def egg_tube(egg: Egg, floor_depth_mm: Callable[[Floats], Floats]) -> Tube:
    """Return the tube of an egg standing on or leaning over the floor.

    Parameters
    ----------
    egg : Egg
        Size, pose and place of its foot.
    floor_depth_mm : callable
        Depth of the floor under points of shape (N, 2), mm.
    """
    along = 0.5 * (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, N_MIDLINE)))
    way = np.array(
        [math.cos(math.radians(egg.azimuth_deg)), math.sin(math.radians(egg.azimuth_deg))]
    )
    table = 0.5 * (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, _TABLE)))
    radius = 0.5 * egg.width_mm * (1.0 - np.abs(2.0 * table - 1.0) ** 4.5) ** 0.5
    radius = radius * (0.90 + 0.10 * np.sin(np.pi * (table - 0.15)))
    foot = np.array(egg.offset_xy_mm)
    # It cannot lean into a floor that rises before it.
    rise = float(np.diff(floor_depth_mm(np.stack([foot + 0.2 * way, foot + 1.0 * way])))[0]) / -0.8
    lean_rad = min(math.radians(egg.lean_deg), math.pi / 2.0 - math.atan(max(rise, 0.0)))
    bend_rad = math.radians(egg.bend_deg)
    fine = np.linspace(0.0, 1.0, _FINE)
    lean = np.clip(
        lean_rad + bend_rad * (fine - 0.5), 0.0 if lean_rad > bend_rad else -1.0, math.pi
    )
    step_mm = egg.length_mm / (_FINE - 1)
    out = np.concatenate([[0.0], np.cumsum(0.5 * (np.sin(lean[1:]) + np.sin(lean[:-1])) * step_mm)])
    up = np.concatenate([[0.0], np.cumsum(0.5 * (np.cos(lean[1:]) + np.cos(lean[:-1])) * step_mm)])
    out, up = np.interp(along, fine, out), np.interp(along, fine, up)
    points = foot + out[:, None] * way
    radii = np.interp(np.linspace(0.0, 1.0, N_MIDLINE), np.linspace(0.0, 1.0, _TABLE), radius)
    lift = float((-floor_depth_mm(points) + 0.8 * radii * math.sin(lean_rad) - up).max())
    return Tube(
        midline_xyz_mm=np.column_stack([points, -(up + lift)]),
        along=along,
        radius_mm=radius.astype(np.float32),
    )


def tube_length_mm(tube: Tube) -> float:
    """Return the arc length of a tube's midline in space, mm."""
    return float(np.sqrt((np.diff(tube.midline_xyz_mm, axis=0) ** 2).sum(axis=1)).sum())
