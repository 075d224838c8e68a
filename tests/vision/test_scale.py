"""From px to mm: cell size, camera distance and how sure both are."""

import pytest

from larvasight.sheet import ScaleSource
from larvasight.vision.scale import ScaleGuess


@pytest.mark.reference("geometry of a pinhole: 10 mm deeper at 180 mm is 5.6 % smaller")
def test_length_factor_follows_the_distance():
    assert ScaleGuess(distance_mm=180.0).length_factor() == pytest.approx(190.0 / 180.0)


def test_an_unknown_distance_costs_certainty():
    known = ScaleGuess(distance_mm=200.0)
    unknown = ScaleGuess()
    assert unknown.length_factor() == pytest.approx(known.length_factor())
    assert unknown.length_sd_share() > known.length_sd_share() + 0.005


def test_a_measured_cell_size_is_surer_than_an_assumed_one():
    given = ScaleGuess(pitch_mm=5.1, distance_mm=200.0, source=ScaleSource.GIVEN)
    assert given.length_sd_share() < ScaleGuess(distance_mm=200.0).length_sd_share()


@pytest.mark.parametrize("pitch_mm", [0.0, 3.9, 7.6, float("nan")])
def test_impossible_cell_sizes_are_refused(pitch_mm):
    with pytest.raises(ValueError, match="pitch_mm"):
        ScaleGuess(pitch_mm=pitch_mm)


@pytest.mark.parametrize("distance_mm", [0.0, -5.0, float("inf")])
def test_impossible_distances_are_refused(distance_mm):
    with pytest.raises(ValueError, match="distance_mm"):
        ScaleGuess(distance_mm=distance_mm)
