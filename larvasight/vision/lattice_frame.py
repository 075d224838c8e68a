"""The picture seen square-on to the comb: maps between picture and lattice.

A frame is a projective map from lattice positions to the picture. Through it the
picture is drawn anew with regular cells of a fixed small pitch, in which one
template fits every cell.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

# Lattice position (q, r) to the plane, rows one pitch apart along x.
AXIAL_TO_PLANE = np.array([[1.0, 0.0], [0.5, math.sqrt(3.0) / 2.0]])

# The picture is first reduced to this many times the pitch wanted, then resampled: reducing by
# area averages out fine grain that resampling alone would alias.
REDUCE_MARGIN = 1.15

# A redrawn picture never has a longer side, canvas pixels, and stops where the comb would be five
# times further away than in the middle: a wrong guess at the tilt would put the horizon into it.
CANVAS_MAX_SIDE_PX = 3000
# It goes on a little beyond the picture, so that cells at its very edge can be measured.
CANVAS_MARGIN_PX = 3.0
HORIZON_SHARE = 0.2


class Picture:
    """A grey picture with reduced copies made on demand.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        Grey levels at full resolution.
    """

    def __init__(self, gray: NDArray[np.uint8]) -> None:
        self.gray = gray
        self.height_px, self.width_px = gray.shape
        self._reduced: dict[float, tuple[NDArray[np.uint8], float, float]] = {}

    def reduced(self, scale: float) -> tuple[NDArray[np.uint8], float, float]:
        """Return a copy reduced by about ``scale`` and its exact scales along x and y."""
        scale = min(1.0, 2.0 ** (math.ceil(4.0 * math.log2(scale)) / 4.0))
        if scale not in self._reduced:
            # From a copy twice as large, if there is one: the full picture is slow to read.
            larger = [k for k in self._reduced if k >= 2.0 * scale]
            source = self._reduced[min(larger)][0] if larger else self.gray
            width = max(1, round(self.width_px * scale))
            height = max(1, round(self.height_px * scale))
            small = source
            if scale < 1.0:
                small = np.asarray(
                    cv2.resize(source, (width, height), interpolation=cv2.INTER_AREA), np.uint8
                )
            self._reduced[scale] = (small, width / self.width_px, height / self.height_px)
        return self._reduced[scale]


@dataclass(frozen=True, slots=True, kw_only=True)
class Canvas:
    """The picture redrawn in a frame.

    Attributes
    ----------
    gray : ndarray of shape (h, w), float32
        Grey levels.
    inside : ndarray of shape (h, w), bool
        Where the picture really was.
    origin_xy : ndarray of shape (2,)
        Canvas position of lattice position (0, 0), canvas pixels.
    pitch : float
        Pitch on the canvas, canvas pixels.
    matrix : ndarray of shape (3, 3)
        Projective map from the lattice plane (unit: one pitch) to the picture, px.
    """

    gray: NDArray[np.float32]
    inside: NDArray[np.bool_]
    origin_xy: Points
    pitch: float
    matrix: Points

    def to_canvas(self, axial: Points) -> Points:
        """Return canvas positions (N, 2) of lattice positions (N, 2)."""
        return np.asarray(self.pitch * (axial @ AXIAL_TO_PLANE) + self.origin_xy)

    def to_picture(self, canvas_xy: Points) -> Points:
        """Return picture positions (N, 2), px, of canvas positions (N, 2)."""
        return project(self.matrix, (canvas_xy - self.origin_xy) / self.pitch)


def project(matrix: Points, points: Points) -> Points:
    """Return points (N, 2) moved by a projective map (3, 3)."""
    moved = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(moved[:, :2] / moved[:, 2:])


def affine_matrix(centre_xy_px: Points, basis_px: Points) -> Points:
    """Return the map from the lattice plane to the picture with one basis everywhere.

    Parameters
    ----------
    centre_xy_px : ndarray of shape (2,)
        Picture position of the cell (0, 0), px.
    basis_px : ndarray of shape (2, 2)
        Axial steps, one a row, px.
    """
    linear = np.linalg.solve(AXIAL_TO_PLANE, basis_px).T
    matrix = np.eye(3)
    matrix[:2, :2] = linear
    matrix[:2, 2] = centre_xy_px
    return matrix


def mean_pitch_px(basis_px: Points) -> float:
    """Return the pitch of the regular lattice whose cells have the same area."""
    return math.sqrt(abs(float(np.linalg.det(basis_px))) * 2.0 / math.sqrt(3.0))


def draw_canvas(
    picture: Picture, matrix: Points, pitch: float, part: tuple[Points, Points] | None = None
) -> Canvas:
    """Redraw the picture in a frame.

    Parameters
    ----------
    picture : Picture
        The picture.
    matrix : ndarray of shape (3, 3)
        Map from the lattice plane (unit: one pitch) to the picture, px.
    pitch : float
        Pitch wanted on the canvas, canvas pixels.
    part : tuple of ndarray of shape (2,), optional
        Lowest and highest place of the lattice plane to draw; all of the picture otherwise.
    """
    low, high = _bounds(picture, matrix, pitch, part)
    origin = -low * pitch
    width, height = (int(n) for n in np.ceil((high - low) * pitch).astype(int) + 1)
    to_plane = np.array([[1.0 / pitch, 0.0, low[0]], [0.0, 1.0 / pitch, low[1]], [0.0, 0.0, 1.0]])
    local_pitch_px = _local_pitch_px(matrix, 0.5 * (low + high))
    small, scale_x, scale_y = picture.reduced(REDUCE_MARGIN * pitch / local_pitch_px)
    shrink = np.array(
        [
            [scale_x, 0.0, 0.5 * (scale_x - 1.0)],
            [0.0, scale_y, 0.5 * (scale_y - 1.0)],
            [0.0, 0.0, 1.0],
        ]
    )
    to_small = shrink @ matrix @ to_plane
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    gray = cv2.warpPerspective(
        small, to_small, (width, height), flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    ones = np.ones(small.shape, np.uint8)
    flags = cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP
    inside = cv2.warpPerspective(ones, to_small, (width, height), flags=flags)
    return Canvas(
        gray=gray.astype(np.float32),
        inside=inside.astype(bool),
        origin_xy=origin,
        pitch=pitch,
        matrix=matrix,
    )


def _local_pitch_px(matrix: Points, plane_xy: Points) -> float:
    around = project(matrix, plane_xy + np.array([[0.0, 0.0], [0.5, 0.0], [0.0, 0.5]]))
    steps = 2.0 * (around[1:] - around[0])
    return max(math.sqrt(abs(float(np.linalg.det(steps)))), 1.0)


def _bounds(
    picture: Picture, matrix: Points, pitch: float, part: tuple[Points, Points] | None
) -> tuple[Points, Points]:
    right, bottom = picture.width_px - 0.5, picture.height_px - 0.5
    corners = np.array([[-0.5, -0.5], [right, -0.5], [right, bottom], [-0.5, bottom]])
    inverse = np.asarray(np.linalg.inv(matrix), np.float64)
    along = np.linspace(0.0, 1.0, 9)[:, None]
    border = np.concatenate(
        [a + along * (b - a) for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)]
    )
    depth = border @ inverse[2, :2] + inverse[2, 2]
    centre = np.array([0.5 * right, 0.5 * bottom])
    centre_depth = float(centre @ inverse[2, :2] + inverse[2, 2])
    plane = project(inverse, np.vstack([centre, border[depth / centre_depth > HORIZON_SHARE]]))
    margin = CANVAS_MARGIN_PX / pitch
    low, high = plane.min(axis=0) - margin, plane.max(axis=0) + margin
    if part is not None:
        low, high = np.maximum(low, part[0]), np.minimum(high, part[1])
    middle, limit = 0.5 * (low + high), 0.5 * CANVAS_MAX_SIDE_PX / pitch
    low, high = np.maximum(low, middle - limit), np.minimum(high, middle + limit)
    return low, np.maximum(high, low + 1.0)
