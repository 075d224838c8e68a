"""A lattice is guessed from the waves that its picture is made of."""

import math

import numpy as np
import pytest

from larvasight.geometry import lattice_vectors
from larvasight.vision.lattice_frame import Picture
from larvasight.vision.lattice_frequency import guess_lattices

RANGE_PX = (18.0, 5000.0)
# Guesses are rough: a few waves in a window have wide peaks. Fitting follows.
ROUGH_SHARE, ROUGH_DEG = 0.12, 8.0


def waves(steps_px, size_px=(480, 360)):
    """Three waves along the reciprocal lattice, dark at the places of the lattice."""
    x, y = np.meshgrid(np.arange(size_px[0]), np.arange(size_px[1]))
    first, second = np.linalg.inv(steps_px).T
    phases = [2.0 * math.pi * (k[0] * x + k[1] * y) for k in (first, second, first + second)]
    level = 120.0 - 25.0 * sum(np.cos(phase) for phase in phases)
    noise = np.random.default_rng(4).normal(0.0, 6.0, level.shape)
    return Picture(np.clip(level + noise, 0, 255).astype(np.uint8))


@pytest.mark.reference("reciprocal lattice of a hexagonal lattice, textbook of crystallography")
@pytest.mark.parametrize("angle_deg", [0.0, 13.0, -24.0])
@pytest.mark.parametrize("pitch_px", [22.0, 41.0, 90.0])
def test_three_waves_give_their_lattice(pitch_px, angle_deg):
    best = guess_lattices(waves(lattice_vectors(pitch_px, angle_deg)), RANGE_PX)[0]
    assert best.pitch_px == pytest.approx(pitch_px, rel=ROUGH_SHARE)
    assert best.row_angle_deg == pytest.approx(angle_deg, abs=ROUGH_DEG)


def test_squeezed_lattice_keeps_the_area_of_its_cells():
    steps = lattice_vectors(50.0, 10.0) * [1.0, 0.8]
    best = guess_lattices(waves(steps), RANGE_PX)[0]
    assert abs(np.linalg.det(best.basis_px)) == pytest.approx(
        abs(np.linalg.det(steps)), rel=ROUGH_SHARE
    )


def test_picture_of_one_grey_gives_no_guess():
    assert guess_lattices(Picture(np.full((200, 300), 90, np.uint8)), RANGE_PX) == []


def test_no_guess_comes_twice_and_no_more_than_asked_for():
    noise = np.random.default_rng(5).uniform(0.0, 255.0, (400, 500)).astype(np.uint8)
    many = guess_lattices(Picture(noise), RANGE_PX)
    few = guess_lattices(Picture(noise), RANGE_PX, limit=3)
    assert len(few) == 3
    assert len(many) > 3
    assert [guess.pitch_px for guess in few] == [guess.pitch_px for guess in many[:3]]
    assert len({(guess.pitch_px, guess.row_angle_deg) for guess in many}) == len(many)
