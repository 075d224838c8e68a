"""How a picture was taken: shaken ones are told from side light, wide ones by their angle."""

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from judge import scene_of
from larvasight.render import paint
from larvasight.sheet import Content, Flag, ScaleSource
from larvasight.vision.network import NetworkParser
from larvasight.vision.photo import Photo
from larvasight.vision.photo_cells import find_comb, measure_photo
from larvasight.vision.rectify import Pyramid
from larvasight.vision.scale import ScaleGuess
from larvasight.vision.sight import OFF_AXIS_MOST_DEG, Sight, is_shaken, sight_of

PITCH_PX = 120.0


@pytest.fixture(scope="module")
def pictures():
    scenes = [
        scene_of(look, [8600, number], pitch_px=PITCH_PX, tilt_most_deg=6.0)
        for look in ("first", "second")
        for number in range(4)
    ]
    return [paint(scene) for scene in scenes]


def smeared(pixels, length_px, turn_deg):
    kernel = np.zeros((length_px, length_px), np.float32)
    kernel[length_px // 2] = 1.0
    turn = cv2.getRotationMatrix2D((length_px // 2, length_px // 2), turn_deg, 1.0)
    kernel = cv2.warpAffine(kernel, turn, (length_px, length_px))
    return cv2.filter2D(pixels, -1, kernel / kernel.sum())


def share_shaken(pictures, change):
    lattices = [find_comb(Pyramid(pixels)) for pixels in pictures]
    told = [
        is_shaken(Pyramid(np.ascontiguousarray(change(pixels))), lattice)
        for pixels, lattice in zip(pictures, lattices, strict=True)
    ]
    return float(np.mean(told))


def test_pictures_as_drawn_out_of_focus_or_noisy_are_not_called_shaken(pictures):
    rng = np.random.default_rng(3)

    def noisy(pixels):
        return np.clip(pixels + rng.normal(0.0, 4.0, pixels.shape), 0, 255).astype(np.uint8)

    for change in (lambda p: p, lambda p: cv2.GaussianBlur(p, (0, 0), 2.0), noisy):
        assert share_shaken(pictures, change) == 0.0


@pytest.mark.parametrize("turn_deg", [0.0, 45.0, 90.0])
def test_most_shaken_pictures_are_told(pictures, turn_deg):
    assert share_shaken(pictures, lambda p: smeared(p, 13, turn_deg)) >= 0.7


def test_light_from_one_side_is_no_shaking(pictures):
    # Slow stripes of shade: of the edges across them there are twice as many, and those are coarse.
    x = np.arange(pictures[0].shape[1])
    shade = 0.6 * (1.0 + 0.5 * np.sin(2.0 * math.pi * x / (0.4 * PITCH_PX)))

    def lit(pixels):
        return np.clip(pixels * shade[None, :, None], 0, 255).astype(np.uint8)

    grey = cv2.cvtColor(lit(pictures[0]), cv2.COLOR_RGB2GRAY)
    across, along = (float(cv2.Sobel(grey, cv2.CV_32F, *way).std()) for way in ((1, 0), (0, 1)))
    assert across**2 > 1.6 * along**2

    assert share_shaken(pictures, lit) == 0.0


def test_larvae_of_a_shaken_picture_are_doubted(pictures):
    photo = photo_of(smeared(pictures[0], 15, 0.0))
    sheet = measure_photo(photo, NetworkParser(), ScaleGuess(pitch_mm=5.3))
    larvae = [cell for cell in sheet.cells if cell.length_mm is not None]
    for cell in larvae:
        assert {Flag.OUTLINE_UNCERTAIN, Flag.BLURRED} <= set(cell.flags)
        assert cell.length_mm_sd >= 0.15 * cell.length_mm


def photo_of(pixels, distance_mm=200.0, focal_px=None):
    pixels = np.ascontiguousarray(pixels)
    height_px, width_px = pixels.shape[:2]
    return Photo(
        pixels=pixels,
        name="x.png",
        sha256="",
        width_px=width_px,
        height_px=height_px,
        distance_mm=distance_mm,
        focal_px=focal_px,
    )


@pytest.mark.reference("geometry: the angle off the axis is the arctangent of r over f")
def test_the_angle_off_the_axis_follows_from_the_focal_length():
    away_px = 1000.0 * math.tan(math.radians(OFF_AXIS_MOST_DEG))
    sight = Sight(middle_xy_px=(500.0, 300.0), focal_px=1000.0)
    assert not sight.is_far_off_axis((500.0 + away_px - 1.0, 300.0))
    assert sight.is_far_off_axis((500.0, 300.0 - away_px - 1.0))
    assert not replace(sight, focal_px=None).is_far_off_axis((5000.0, 300.0))


@pytest.mark.reference("geometry: a pinhole shows 1 mm at the distance d as f / d px")
def test_a_known_distance_tells_the_focal_length_and_a_noted_one_counts_first(pictures):
    pyramid = Pyramid(pictures[0])
    lattice = find_comb(pyramid)
    known = ScaleGuess(pitch_mm=5.3, distance_mm=200.0, source=ScaleSource.GIVEN)
    expected_px = lattice.pitch_px / 5.3 * 200.0
    found_px = sight_of(pyramid, lattice, known, None).focal_px
    assert found_px == pytest.approx(expected_px, rel=1e-9, abs=0)
    assert sight_of(pyramid, lattice, known, 900.0).focal_px == 900.0
    assert sight_of(pyramid, lattice, ScaleGuess(), None).focal_px is None


def test_floors_seen_far_from_the_side_are_not_told(pictures):
    near = measure_photo(photo_of(pictures[0]), NetworkParser(), ScaleGuess(pitch_mm=5.3))
    # The same picture as a phone's main camera would have taken it.
    wide = measure_photo(
        photo_of(pictures[0], focal_px=700.0), NetworkParser(), ScaleGuess(pitch_mm=5.3)
    )
    floors = {Content.EMPTY, Content.EGG, Content.STORES}
    middle = np.array([pictures[0].shape[1] - 1, pictures[0].shape[0] - 1]) / 2.0
    n_hidden = 0
    for one, other in zip(near.cells, wide.cells, strict=True):
        away_deg = math.degrees(math.atan2(math.dist(one.centre_xy_px, middle), 700.0))
        if one.content in floors and away_deg > OFF_AXIS_MOST_DEG:
            n_hidden += 1
            assert other.content is Content.UNCLEAR
            assert Flag.HIDDEN_BY_WALL in other.flags
        else:
            assert other.content is one.content
    assert n_hidden >= 3
