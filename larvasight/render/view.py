"""The pinhole view of a comb: pixels, plane of the rims and depth below it.

A ray is kept as the point ``(x, y)`` where it crosses the plane of the rims and its
slope, mm sideways for each mm of depth; at depth ``d`` it is at ``xy + d * slope``.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import lattice_vectors
from larvasight.render.scene import Camera, Comb, CombScene

Floats = NDArray[np.float64]
Plane = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class View:
    """Where the camera stands and how the plane of the rims maps to pixels.

    Attributes
    ----------
    eye_xy_mm : ndarray of shape (2,)
        Foot of the camera on the plane of the rims.
    height_mm : float
        Height of the camera above that plane.
    to_px, to_mm : ndarray of shape (3, 3)
        Homographies between rim-plane mm and pixels.
    size_px : tuple of int
        Width and height of the picture.
    """

    eye_xy_mm: Floats
    height_mm: float
    to_px: Floats
    to_mm: Floats
    size_px: tuple[int, int]

    def rim_points(self, xyz_mm: Floats) -> Floats:
        """Return where the rays of points ``(x, y, depth)`` cross the rims, shape (..., 2)."""
        share = self.height_mm / (self.height_mm + xyz_mm[..., 2:3])
        return self.eye_xy_mm + (xyz_mm[..., :2] - self.eye_xy_mm) * share

    def project(self, xyz_mm: Floats) -> Floats:
        """Return pixels ``(x, y)`` of points ``(x, y, depth)`` in mm, shape (..., 2)."""
        return apply_homography(self.to_px, self.rim_points(np.asarray(xyz_mm, dtype=np.float64)))

    def slope_at(self, xy_mm: Floats) -> Floats:
        """Return the slope of the rays through rim-plane points, shape (..., 2)."""
        return (np.asarray(xy_mm) - self.eye_xy_mm) / self.height_mm

    def px_per_mm_at(self, xy_mm: Floats) -> float:
        """Return the mean scale of the rim plane at a point, px per mm."""
        return math.sqrt(abs(float(np.linalg.det(self.jacobian_at(xy_mm)))))

    def jacobian_at(self, xy_mm: Floats) -> Floats:
        """Return the derivative of pixels by rim-plane mm at a point, shape (2, 2)."""
        step = 1e-3
        points = np.asarray(xy_mm) + step * np.array(
            [[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]]
        )
        px = apply_homography(self.to_px, points)
        return np.column_stack([px[0] - px[1], px[2] - px[3]]) / (2.0 * step)


def make_view(camera: Camera, pitch_mm: float) -> View:
    """Return the view of a camera on a comb of the given pitch."""
    tilt_rad, lean_rad = math.radians(camera.tilt_deg), math.radians(camera.tilt_direction_deg)
    side = np.array([math.cos(lean_rad), math.sin(lean_rad), 0.0])
    # The optical axis points into the comb; the eye leans towards ``side``.
    axis = np.array([0.0, 0.0, math.cos(tilt_rad)]) - side * math.sin(tilt_rad)
    across = np.array([-side[1], side[0], 0.0])
    along = np.cross(across, axis)
    right = along * side[0] + across * -side[1]
    down = along * side[1] + across * side[0]
    eye = -camera.distance_mm * axis
    focal_px = camera.pitch_px / pitch_mm * camera.distance_mm
    width_px, height_px = camera.size_px
    intrinsic = np.array(
        [
            [focal_px, 0.0, (width_px - 1) / 2.0],
            [0.0, focal_px, (height_px - 1) / 2.0],
            [0.0, 0.0, 1.0],
        ]
    )
    rotation = np.stack([right, down, axis])
    extrinsic = np.column_stack([rotation[:, 0], rotation[:, 1], -rotation @ eye])
    to_px = intrinsic @ extrinsic
    return View(
        eye_xy_mm=eye[:2],
        height_mm=float(-eye[2]),
        to_px=to_px,
        to_mm=np.linalg.inv(to_px),
        size_px=camera.size_px,
    )


def apply_homography(matrix: Floats, points_xy: Floats) -> Floats:
    """Return points mapped by a homography, shape (..., 2)."""
    mapped = points_xy @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(mapped[..., :2] / mapped[..., 2:3])


def rim_plane(view: View) -> tuple[Plane, Plane]:
    """Return x and y on the plane of the rims for every pixel, mm, each of shape (H, W)."""
    width_px, height_px = view.size_px
    x = np.arange(width_px, dtype=np.float64)[None, :]
    y = np.arange(height_px, dtype=np.float64)[:, None]
    top_x, top_y, bottom = (row[0] * x + (row[1] * y + row[2]) for row in view.to_mm)
    return (top_x / bottom).astype(np.float32), (top_y / bottom).astype(np.float32)


def lattice_basis(comb: Comb) -> Floats:
    """Return the two lattice steps in the comb's frame, mm, shape (2, 2)."""
    return lattice_vectors(comb.pitch_mm, comb.row_angle_deg)


def cell_centre(scene: CombScene, q: int, r: int) -> Floats:
    """Return the axis of cell ``(q, r)`` in the comb's frame, mm, shape (2,)."""
    return (
        np.array([q, r], dtype=np.float64) @ lattice_basis(scene.comb) - scene.camera.centre_xy_mm
    )


def cells_in_view(comb: Comb, camera: Camera) -> list[tuple[int, int]]:
    """Return the places ``(q, r)`` of all cells of which any part can be seen, row by row."""
    view = make_view(camera, comb.pitch_mm)
    width_px, height_px = camera.size_px
    border_px = np.array(
        [
            (x * (width_px - 1), y * (height_px - 1))
            for x in (0.0, 0.25, 0.5, 0.75, 1.0)
            for y in (0.0, 0.25, 0.5, 0.75, 1.0)
        ]
    )
    inverse = np.linalg.inv(lattice_basis(comb))
    places = (apply_homography(view.to_mm, border_px) + camera.centre_xy_mm) @ inverse
    low = np.floor(places.min(axis=0)).astype(int) - 2
    high = np.ceil(places.max(axis=0)).astype(int) + 2
    q, r = np.meshgrid(np.arange(low[0], high[0] + 1), np.arange(low[1], high[1] + 1))
    centres = np.stack([q.ravel(), r.ravel()], axis=1) @ lattice_basis(comb) - camera.centre_xy_mm
    px = apply_homography(view.to_px, centres)
    # A hexagon reaches 1/sqrt(3) of the pitch from its centre; perspective adds a little.
    reach_px = 0.62 * camera.pitch_px * (1.0 + 0.02 * camera.tilt_deg)
    limit = np.array([width_px - 1, height_px - 1]) + reach_px
    seen = ((px > -reach_px) & (px < limit)).all(axis=1)
    return [(int(a), int(b)) for a, b in zip(q.ravel()[seen], r.ravel()[seen], strict=True)]
