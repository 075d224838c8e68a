"""The hollow of a cell: opening, walls and floor, for any point in its own frame."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import CELL_DEPTH_MM
from larvasight.render.scene import Comb

Plane = NDArray[np.float32]

# Thickness of a wall below its rim, half of it: new wax and with cocoons (mm).
WALL_HALF_NEW_MM = 0.05
WALL_HALF_OLD_MM = 0.14
# Floors start at 10.6 mm in the search for where a ray meets them; three steps leave under 0.01 mm.
_FLOOR_START_MM = 10.4
_FLOOR_STEPS = 3
# Bowl of an old floor, height at radius r: a r^2 + b r^6 with r in half pitches.
_BOWL_SQUARE_MM = 0.95
_BOWL_SIXTH_MM = 0.35


@dataclass(frozen=True, slots=True)
class CellShape:
    """Shape shared by all cells of one comb.

    ``normals`` are the three directions across opposite walls, ``ridges`` the three in
    which the floor's rhombi rise, both of shape (3, 2); ``opening_mm`` and ``wall_mm``
    are the distances of rim edge and wall from the axis.
    """

    normals: NDArray[np.float32]
    ridges: NDArray[np.float32]
    opening_mm: float
    wall_mm: float
    half_pitch_mm: float
    cocoon: float
    rounding: float

    def across(self, x: Plane, y: Plane) -> tuple[Plane, Plane, Plane]:
        """Return the distances from the axis along the three wall normals, signed."""
        (ax, ay), (bx, by), (cx, cy) = self.normals
        return x * ax + y * ay, x * bx + y * by, x * cx + y * cy

    def reach(self, x: Plane, y: Plane) -> Plane:
        """Return how far out a point lies, as the distance of the rounded hexagon through it."""
        a, b, c = self.across(x, y)
        hexagon = np.maximum(np.maximum(np.abs(a), np.abs(b)), np.abs(c))
        return np.asarray(np.maximum(hexagon, np.float32(self.rounding) * np.sqrt(x * x + y * y)))

    def floor_height(self, x: Plane, y: Plane) -> Plane:
        """Return the floor's height above its deepest point, mm."""
        rhombi: Plane | float = 0.0
        bowl: Plane | float = 0.0
        if self.cocoon < 1.0:
            (ax, ay), (bx, by), (cx, cy) = self.ridges * np.float32(
                (1.0 - self.cocoon) / np.sqrt(2.0)
            )
            rhombi = np.maximum(np.maximum(x * ax + y * ay, x * bx + y * by), x * cx + y * cy)
        if self.cocoon > 0.0:
            square = (x * x + y * y) * np.float32(1.0 / self.half_pitch_mm**2)
            square = np.minimum(square, np.float32(1.7))
            bowl = square * (
                np.float32(self.cocoon * _BOWL_SQUARE_MM)
                + np.float32(self.cocoon * _BOWL_SIXTH_MM) * square * square
            )
        return np.asarray(rhombi + bowl)

    def floor_slopes(self, x: Plane, y: Plane) -> tuple[Plane, Plane]:
        """Return the floor's rise per mm in x and y."""
        rise = self.ridges / np.float32(np.sqrt(2.0))
        a, b, c = (x * u + y * v for u, v in rise)
        weight = np.float32(1.0 - self.cocoon)
        first, second = (a >= b) & (a >= c), b >= c
        gx = np.where(first, rise[0, 0], np.where(second, rise[1, 0], rise[2, 0])) * weight
        gy = np.where(first, rise[0, 1], np.where(second, rise[1, 1], rise[2, 1])) * weight
        if self.cocoon > 0.0:
            inverse = np.float32(1.0 / self.half_pitch_mm**2)
            square = np.minimum((x * x + y * y) * inverse, np.float32(1.7))
            rate = (
                np.float32(_BOWL_SQUARE_MM) + np.float32(3.0 * _BOWL_SIXTH_MM) * square * square
            ) * (np.float32(2.0 * self.cocoon) * inverse)
            gx, gy = gx + rate * x, gy + rate * y
        return gx, gy

    def facets(self, x: Plane, y: Plane) -> tuple[NDArray[np.int32], Plane]:
        """Return which rhombus of the floor a point lies on, 0 to 2, and how near it is to a fold.

        The second plane is the height to the next rhombus's plane, mm: 0 on the fold.
        """
        a, b, c = (x * u + y * v for u, v in self.ridges)
        first, second = (a >= b) & (a >= c), b >= c
        facet = np.where(first, np.int32(0), np.where(second, np.int32(1), np.int32(2)))
        highest = np.maximum(np.maximum(a, b), c)
        middle = a + b + c - highest - np.minimum(np.minimum(a, b), c)
        return facet, highest - middle

    def floor_depth(self, x: Plane, y: Plane, sx: Plane, sy: Plane) -> Plane:
        """Return the depth at which rays meet the floor, mm below the rims."""
        depth = np.full_like(x, _FLOOR_START_MM)
        for _ in range(_FLOOR_STEPS):
            height = self.floor_height(x + sx * depth, y + sy * depth)
            depth = np.asarray(np.float32(CELL_DEPTH_MM) - height)
        return depth

    def wall_hit(self, x: Plane, y: Plane, sx: Plane, sy: Plane) -> tuple[Plane, Plane, Plane]:
        """Return the depth at which rays meet a wall and that wall's inward normal x, y."""
        depths, signs = [], []
        for nx, ny in self.normals:
            speed = sx * nx + sy * ny
            sign = np.where(speed < 0.0, np.float32(-1.0), np.float32(1.0))
            depths.append(
                (np.float32(self.wall_mm) - (x * nx + y * ny) * sign)
                / (speed * sign + np.float32(1e-6))
            )
            signs.append(sign)
        first = (depths[0] <= depths[1]) & (depths[0] <= depths[2])
        second = depths[1] <= depths[2]
        depth = np.minimum(np.minimum(depths[0], depths[1]), depths[2])
        sign = np.where(first, signs[0], np.where(second, signs[1], signs[2]))
        normal_x = np.where(
            first, self.normals[0, 0], np.where(second, self.normals[1, 0], self.normals[2, 0])
        )
        normal_y = np.where(
            first, self.normals[0, 1], np.where(second, self.normals[1, 1], self.normals[2, 1])
        )
        return depth, -sign * normal_x, -sign * normal_y


def make_cell_shape(comb: Comb) -> CellShape:
    """Return the cell shape of a comb."""
    wall_rad = np.radians(comb.row_angle_deg + np.array([0.0, 60.0, 120.0]))
    first_deg = 30.0 if comb.floor_turned else 90.0
    ridge_rad = np.radians(comb.row_angle_deg + first_deg + np.array([0.0, 120.0, 240.0]))
    half_wall_mm = WALL_HALF_NEW_MM + (WALL_HALF_OLD_MM - WALL_HALF_NEW_MM) * comb.cocoon
    half_pitch_mm = comb.pitch_mm / 2.0
    return CellShape(
        normals=_directions(wall_rad),
        ridges=_directions(ridge_rad),
        opening_mm=half_pitch_mm - comb.rim_half_mm,
        wall_mm=half_pitch_mm - min(half_wall_mm, comb.rim_half_mm),
        half_pitch_mm=half_pitch_mm,
        cocoon=comb.cocoon,
        # A circle through the hexagon's corners has 0.866 of its radius as wall distance.
        rounding=0.866 + (1.0 - 0.866) * (0.25 + 0.75 * comb.corner_round),
    )


def _directions(angles_rad: NDArray[np.float64]) -> NDArray[np.float32]:
    return np.column_stack([np.cos(angles_rad), np.sin(angles_rad)]).astype(np.float32)
