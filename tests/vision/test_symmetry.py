"""What a lattice can be laid over without being comb is told from comb."""

import cv2
import numpy as np
import pytest

from larvasight.geometry import axial_to_offset, hexagon_corners, lattice_vectors
from larvasight.vision.lattice import FoundCell
from larvasight.vision.rectify import Pyramid
from larvasight.vision.symmetry import finer_pitch_share, six_sidedness

SIZE_PX = (640, 480)
PITCH_PX = 60.0


def cells(steps):
    found = []
    for q in range(-12, 13):
        for r in range(-12, 13):
            x, y = np.array(SIZE_PX) / 2.0 + np.array([q, r]) @ steps
            if 0 < x < SIZE_PX[0] and 0 < y < SIZE_PX[1]:
                row, col = axial_to_offset(q, r)
                found.append(
                    FoundCell(
                        row=row,
                        col=col,
                        centre_xy_px=(float(x), float(y)),
                        steps_xy_px=tuple(map(tuple, steps.tolist())),
                        residual_px=0.0,
                        confidence=1.0,
                    )
                )
    return found


def noisy(image):
    rng = np.random.default_rng(2)
    return np.clip(image + rng.normal(0.0, 12.0, image.shape), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("angle_deg", [0.0, 21.0])
def test_comb_looks_six_sided(angle_deg):
    steps = lattice_vectors(PITCH_PX, angle_deg)
    image = np.full((SIZE_PX[1], SIZE_PX[0], 3), 60.0)
    for cell in cells(steps):
        corners = np.array(cell.centre_xy_px) + hexagon_corners(PITCH_PX, angle_deg)
        cv2.polylines(image, [np.round(corners).astype(np.int32)], True, (220, 190, 120), 4)
    assert six_sidedness(Pyramid(noisy(image)), cells(steps)) > 0.5


def test_stripes_do_not():
    steps = lattice_vectors(PITCH_PX, 0.0)
    image = np.full((SIZE_PX[1], SIZE_PX[0], 3), 60.0)
    image[:, ::30] = 240.0
    assert six_sidedness(Pyramid(noisy(image)), cells(steps)) < 0.2


def test_bricks_do_not():
    steps = np.array([[60.0, 0.0], [30.0, 45.0]])
    image = np.full((SIZE_PX[1], SIZE_PX[0], 3), 190.0)
    for cell in cells(steps):
        x, y = (round(v) for v in cell.centre_xy_px)
        cv2.rectangle(image, (x - 27, y - 19), (x + 27, y + 19), (130, 60, 40), -1)
    assert six_sidedness(Pyramid(noisy(image)), cells(steps)) < 0.2


def test_a_lattice_over_every_second_cell_is_given_away():
    steps = lattice_vectors(PITCH_PX, 8.0)
    image = np.full((SIZE_PX[1], SIZE_PX[0], 3), 60.0)
    for cell in cells(steps):
        corners = np.array(cell.centre_xy_px) + hexagon_corners(PITCH_PX, 8.0)
        cv2.polylines(image, [np.round(corners).astype(np.int32)], True, (220, 190, 120), 4)
    pyramid = Pyramid(noisy(image))
    assert finer_pitch_share(pyramid, cells(steps)) is None
    assert finer_pitch_share(pyramid, cells(2.0 * steps)) == pytest.approx(0.5)
    third = np.array([[1.0, 1.0], [-1.0, 2.0]]) @ steps
    assert finer_pitch_share(pyramid, cells(third)) == pytest.approx(3.0**-0.5)
