"""Finding the comb of a whole photo: large pictures, and what only looks regular."""

import cv2
import numpy as np
import pytest

from judge import scene_of
from judge_composed import composed
from larvasight.errors import NoCombError
from larvasight.geometry import hexagon_corners, lattice_vectors
from larvasight.render import paint
from larvasight.render.tiles import TileLibrary
from larvasight.vision import reader
from larvasight.vision.network import NetworkParser
from larvasight.vision.photo import Photo
from larvasight.vision.photo_cells import find_comb, measure_photo
from larvasight.vision.rectify import Pyramid


def places(pitch_px, angle_deg, size_px):
    reach = int(max(size_px) / pitch_px) + 2
    r, q = (n.ravel() for n in np.mgrid[-reach : reach + 1, -reach : reach + 1])
    at = np.column_stack([q, r]) @ lattice_vectors(pitch_px, angle_deg)
    at = at + np.array(size_px) / 2.0
    return at[((at > 0) & (at < np.array(size_px) - 1)).all(axis=1)]


def noisy(grey, seed=2):
    rng = np.random.default_rng(seed)
    image = cv2.GaussianBlur(grey, (0, 0), 0.8) + rng.normal(0.0, 4.0, grey.shape)
    return np.repeat(np.clip(image, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def comb(pitch_px, size_px, angle_deg=7.0):
    """Dark cells of uneven darkness between bright rims."""
    rng = np.random.default_rng(1)
    grey = np.full(size_px[::-1], 190.0)
    for centre in places(pitch_px, angle_deg, np.array(size_px)):
        corners = centre + hexagon_corners(0.87 * pitch_px, angle_deg)
        cv2.fillPoly(grey, [np.round(corners).astype(np.int32)], float(rng.uniform(40, 110)))
    return noisy(grey)


def plate(pitch_px, size_px, radius_pitch):
    """Round holes in bright metal."""
    grey = np.full(size_px[::-1], 190.0)
    for x, y in places(pitch_px, 7.0, np.array(size_px)):
        at = (round(16 * x), round(16 * y))
        cv2.circle(grey, at, round(16 * radius_pitch * pitch_px), 30.0, -1, cv2.LINE_AA, 4)
    return noisy(grey)


@pytest.mark.parametrize("pitch_px", [60.0, 260.0])
def test_cells_of_a_large_picture_lie_where_its_own_pixels_have_them(pitch_px):
    size_px = (2600, 1900)
    found = find_comb(Pyramid(comb(pitch_px, size_px)))
    true = places(pitch_px, 7.0, size_px)
    away = np.minimum(true, np.array(size_px) - true).min(axis=1) > pitch_px / 2
    centres = np.array([cell.centre_xy_px for cell in found.cells])
    apart = np.hypot(*np.moveaxis(centres[None] - true[away][:, None], -1, 0)).min(axis=1)
    assert (apart < 0.05 * pitch_px).mean() > 0.98
    assert found.pitch_px == pytest.approx(pitch_px, rel=0.01)
    steps = np.array([cell.steps_xy_px for cell in found.cells])
    assert np.hypot(*steps[:, 0].T).mean() == pytest.approx(pitch_px, rel=0.01)


@pytest.mark.parametrize(
    "change",
    [
        lambda x: np.clip(x * np.array([0.9, 0.4, 1.2]), 0, 255).astype(np.uint8),
        lambda x: (255.0 * (x / 255.0) ** 0.4).astype(np.uint8),
    ],
    ids=["violet lamp", "lifted shadows"],
)
def test_no_lattice_of_twice_the_cell_size_is_taken(change):
    library = TileLibrary.load(for_tests=True)
    number = list(library.settings).index("ring-new-both")
    comb = composed(library, "ring-new-both", [9090, number, 0])
    found = find_comb(Pyramid(change(comb.pixels)))
    assert found.pitch_px == pytest.approx(comb.sheet.scale.pitch_px, rel=0.02)


def test_cells_read_in_small_blocks_are_what_they_are_read_at_once(monkeypatch):
    scene = scene_of("first", [8700, 1], pitch_px=100.0, tilt_most_deg=4.0)
    pixels = paint(scene)
    height_px, width_px = pixels.shape[:2]
    photo = Photo(
        pixels=pixels, name="", sha256="", width_px=width_px, height_px=height_px, distance_mm=None
    )
    parser = NetworkParser()
    at_once = measure_photo(photo, parser).cells
    monkeypatch.setattr(reader, "_BLOCK", 5)
    in_blocks = measure_photo(photo, parser).cells
    assert len(at_once) > 15
    for one, other in zip(at_once, in_blocks, strict=True):
        assert (one.row, one.col, one.content) == (other.row, other.col, other.content)
        assert (one.length_mm is None) == (other.length_mm is None)
        if one.length_mm is not None:
            assert other.length_mm == pytest.approx(one.length_mm, rel=0.01, abs=0)


@pytest.mark.parametrize("radius_pitch", [0.2, 0.24, 0.28, 0.33])
@pytest.mark.parametrize("pitch_px", [34.0, 70.0])
def test_holes_in_a_plate_are_no_comb(pitch_px, radius_pitch):
    with pytest.raises(NoCombError):
        find_comb(Pyramid(plate(pitch_px, (640, 480), radius_pitch)))


def test_a_large_blank_picture_is_refused_in_one_sentence():
    blank = np.full((3000, 4000, 3), 128, np.uint8)
    with pytest.raises(NoCombError, match=r"contrast.*\.$"):
        find_comb(Pyramid(blank))
