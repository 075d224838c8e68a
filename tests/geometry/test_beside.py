"""Beside a curve: half rings whose distances and sides can be told by hand."""

import math

import numpy as np
import pytest

from larvasight.geometry.beside import beside, inward_vectors, room_in_hexagon


def arch(radius=1.0, sweep_deg=180.0, centre=(0.0, 0.0), n=181):
    """Return an arch that is open below, its middle straight above the centre; y points down."""
    turns = np.radians(np.linspace(90.0 - sweep_deg / 2.0, 90.0 + sweep_deg / 2.0, n))
    return np.column_stack([np.cos(turns), -np.sin(turns)]) * radius + centre


def test_above_an_arch_is_behind_its_back():
    found = beside(arch(), (0.0, -1.5))
    assert found.is_behind
    assert found.off == pytest.approx(0.5, abs=1e-3)
    assert found.along_share == pytest.approx(0.5, abs=1e-3)
    assert found.inward_xy == pytest.approx((0.0, 1.0), abs=1e-3)


def test_the_centre_of_an_arch_is_on_its_open_side():
    found = beside(arch(), (0.0, -0.1))
    assert not found.is_behind
    assert found.off == pytest.approx(0.9, abs=1e-3)


def test_right_of_an_arch_lies_near_its_first_point():
    found = beside(arch(), (1.3, 0.0))
    assert found.along_share == pytest.approx(0.0, abs=1e-6)
    assert found.off == pytest.approx(0.3, abs=1e-6)


@pytest.mark.parametrize("sweep_deg", [40.0, 100.0, 180.0, 270.0, 330.0])
@pytest.mark.parametrize("turn_deg", [0.0, 75.0, 200.0])
def test_every_curve_has_its_back_away_from_its_centre(sweep_deg, turn_deg):
    turn = math.radians(turn_deg)
    spin = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    line = arch(0.8, sweep_deg) @ spin
    out = np.array([0.0, -1.0]) @ spin
    for line_way in (line, line[::-1]):
        assert beside(line_way, tuple(1.1 * out)).is_behind
        assert not beside(line_way, tuple(0.5 * out)).is_behind
    inward = inward_vectors(line)
    np.testing.assert_allclose(np.hypot(*inward.T), 1.0)
    np.testing.assert_allclose(inward[90], -out, atol=1e-6)


def test_a_straight_line_has_no_back():
    with pytest.raises(ValueError, match="must be a curve"):
        beside(np.array([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]]), (1.0, 1.0))


def test_room_in_a_hexagon_is_the_way_to_its_nearest_side():
    points = np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (3.0, 0.0)])
    # Sides lie right and left, and at 60 degrees to them: straight down it is a corner.
    room = room_in_hexagon(points, 2.0)
    assert room == pytest.approx([2.0, 1.0, 2.0 - math.sin(math.radians(60.0)), -1.0])


def test_a_turned_hexagon_has_a_side_where_a_corner_was():
    assert room_in_hexagon(np.array([(0.0, 1.0)]), 2.0, 30.0) == pytest.approx([1.0])
