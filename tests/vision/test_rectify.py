"""A rectified cell shows the cell upright, at one size, wherever and however it lies."""

import cv2
import numpy as np
import pytest

from larvasight.geometry import hexagon_corners, lattice_vectors
from larvasight.vision.rectify import CROP_MIDDLE_PX, CROP_PITCH_PX, CROP_PX, Pyramid, crop_frame


def hexagon_picture(centre, pitch_px, angle_deg):
    image = np.full((400, 500, 3), 40, np.uint8)
    corners = np.array(centre) + hexagon_corners(pitch_px, angle_deg)
    cv2.fillPoly(image, [np.round(corners * 16).astype(np.int32)], (200, 200, 200), cv2.LINE_AA, 4)
    return image


@pytest.mark.parametrize("angle_deg", [0.0, 17.0, -29.0])
@pytest.mark.parametrize("pitch_px", [90.0, 220.0])
def test_hexagon_comes_out_upright_and_at_its_size(angle_deg, pitch_px):
    centre = (251.3, 198.6)
    frame = crop_frame(centre, lattice_vectors(pitch_px, angle_deg))
    crop = Pyramid(hexagon_picture(centre, pitch_px, angle_deg)).crop(frame)
    inside = crop[..., 0] > 120
    wanted = np.zeros((CROP_PX, CROP_PX), np.uint8)
    corners = hexagon_corners(CROP_PITCH_PX) + CROP_MIDDLE_PX
    cv2.fillPoly(wanted, [np.round(corners).astype(np.int32)], 1)
    overlap = (inside & (wanted > 0)).sum() / (inside | (wanted > 0)).sum()
    assert overlap > 0.97


def test_frame_maps_crop_middle_to_cell_centre():
    frame = crop_frame((120.5, 80.25), lattice_vectors(60.0, 11.0))
    middle = frame.to_picture(np.full((1, 2), CROP_MIDDLE_PX))
    np.testing.assert_allclose(middle, [[120.5, 80.25]], rtol=0, atol=1e-9)


def test_frame_maps_one_pitch_to_the_neighbour():
    steps = np.array([[61.0, 4.0], [25.0, 50.0]])
    frame = crop_frame((100.0, 100.0), steps)
    neighbour = CROP_MIDDLE_PX + lattice_vectors(CROP_PITCH_PX)
    np.testing.assert_allclose(
        frame.to_picture(neighbour), np.array([100.0, 100.0]) + steps, rtol=0, atol=1e-9
    )


def test_strong_shrinking_keeps_place_and_mean():
    # Stripes of 2 px would alias into wide bands without the halvings.
    image = np.zeros((1200, 1200, 3), np.uint8)
    image[:, ::2] = 200
    frame = crop_frame((600.0, 600.0), lattice_vectors(900.0, 0.0))
    crop = Pyramid(image).crop(frame).astype(float)
    assert crop.mean() == pytest.approx(100.0, abs=2.0)
    assert crop.std() < 6.0


def test_grey_crops_show_the_greys_of_colour_crops():
    image = np.random.default_rng(3).uniform(0.0, 255.0, (300, 400, 3)).astype(np.uint8)
    pyramid = Pyramid(cv2.GaussianBlur(image, (0, 0), 6.0))
    places = [((200.0, 150.0), 80.0), ((90.5, 201.25), 400.0), ((5.0, 290.0), 700.0)]
    frames = [crop_frame(centre, lattice_vectors(pitch, 8.0)) for centre, pitch in places]
    grey = pyramid.grey_crops(np.stack([frame.matrix for frame in frames]), CROP_PX)
    wanted = [cv2.cvtColor(pyramid.crop(frame), cv2.COLOR_RGB2GRAY) for frame in frames]
    np.testing.assert_allclose(grey.astype(float), wanted, rtol=0, atol=2.0)


@pytest.mark.parametrize("pitch_px", [80.0, 260.0, 700.0])
def test_grey_crops_show_a_place_where_it_lies_however_far_the_picture_is_halved(pitch_px):
    # A bright spot whose middle is known, seen through halvings by 1, 2 and 8.
    y, x = np.mgrid[0:900, 0:900]
    spot = 200.0 * np.exp(-(np.hypot(x - 471.0, y - 433.0) ** 2) / (2.0 * (0.12 * pitch_px) ** 2))
    pyramid = Pyramid(np.repeat(spot.astype(np.uint8)[..., None], 3, axis=2))
    frame = crop_frame((450.0, 450.0), lattice_vectors(pitch_px, 0.0))
    (crop,) = pyramid.grey_crops(frame.matrix[None], CROP_PX)
    rows, cols = np.indices(crop.shape)
    weight = crop.astype(float) ** 2
    seen = np.array([[(cols * weight).sum(), (rows * weight).sum()]]) / weight.sum()
    np.testing.assert_allclose(frame.to_picture(seen), [[471.0, 433.0]], rtol=0, atol=0.4)
