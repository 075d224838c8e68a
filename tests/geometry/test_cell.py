"""Depth of a cell, its floor of three rhombi, and scale at depth."""

import math

import numpy as np
import pytest

from larvasight.geometry import (
    CELL_DEPTH_MM,
    FACTS,
    LARVA_DEPTH_MM,
    PITCH_DEFAULT_MM,
    PITCH_MAX_MM,
    PITCH_MIN_MM,
    cells_per_dm2,
    depth_scale,
    hexagon_corners,
    rhombus_floor_z,
)

TEXTBOOK = "textbook geometry of the comb: rhombi of 109 deg 28' 16\", planes at 120 deg"


def floor_normal(direction_deg):
    """Unit normal of the floor plane that lies in one direction, from heights on the floor."""
    at = np.array([math.cos(math.radians(direction_deg)), math.sin(math.radians(direction_deg))])
    step = 1e-3
    here, x, y = rhombus_floor_z(at + step * np.array([[0, 0], [1, 0], [0, 1]]))
    normal = np.array([-(x - here) / step, -(y - here) / step, 1.0])
    return normal / np.linalg.norm(normal)


def angle_deg(a, b):
    return math.degrees(math.acos(float(a @ b / np.linalg.norm(a) / np.linalg.norm(b))))


def corner_points(pitch=1.0):
    """The six corners of the floor with their heights, shape (6, 3)."""
    corners = hexagon_corners(pitch)
    return np.column_stack([corners, rhombus_floor_z(corners)])


@pytest.mark.reference(TEXTBOOK)
def test_rhombi_meet_at_the_apex_with_109_deg_28_min_16_s():
    low = [c for c in corner_points() if c[2] < 0.3]
    assert len(low) == 3
    expected_deg = 109 + 28 / 60 + 16 / 3600
    for a, b in ((0, 1), (1, 2), (2, 0)):
        # Within a second of arc: the source rounds to seconds.
        assert angle_deg(low[a], low[b]) == pytest.approx(expected_deg, rel=0, abs=1 / 3600)


@pytest.mark.reference(TEXTBOOK)
def test_sides_of_a_rhombus_are_equal():
    points = corner_points()
    low, high = points[points[:, 2] < 0.3], points[points[:, 2] > 0.3]
    side = np.linalg.norm(low[0])
    for corner in high:
        gaps = np.sort(np.linalg.norm(low - corner, axis=1))
        np.testing.assert_allclose(gaps[:2], side, rtol=0, atol=1e-12)


@pytest.mark.reference(TEXTBOOK)
def test_planes_of_the_floor_meet_at_120_deg():
    for first, second in ((90, 210), (210, 330), (330, 90)):
        between_deg = 180.0 - angle_deg(floor_normal(first), floor_normal(second))
        assert between_deg == pytest.approx(120.0, rel=0, abs=1e-6)


@pytest.mark.reference(TEXTBOOK)
@pytest.mark.parametrize("wall_deg", [60, 120])
def test_floor_and_wall_meet_at_120_deg(wall_deg):
    inward = -np.array([math.cos(math.radians(wall_deg)), math.sin(math.radians(wall_deg)), 0.0])
    between_deg = 180.0 - angle_deg(floor_normal(90), inward)
    assert between_deg == pytest.approx(120.0, rel=0, abs=1e-6)


@pytest.mark.reference("textbook geometry of the comb: apex w / (2 sqrt 6) below a flat floor")
def test_corners_lie_one_and_two_sixth_roots_above_the_apex():
    heights = np.sort(corner_points(5.2)[:, 2])
    expected = np.repeat([5.2 / (2 * math.sqrt(6)), 5.2 / math.sqrt(6)], 3)
    np.testing.assert_allclose(heights, expected, rtol=0, atol=1e-12)
    assert heights[0] == pytest.approx(1.06, rel=0, abs=0.005)


def test_floor_is_deepest_on_the_axis_and_threefold():
    rng = np.random.default_rng(6)
    points = rng.uniform(-3, 3, (500, 2))
    turn = math.radians(120)
    turned = points @ np.array(
        [[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]]
    )
    heights = rhombus_floor_z(points)
    assert rhombus_floor_z(np.zeros(2)) == 0.0
    assert (heights > 0.0).all()
    np.testing.assert_allclose(rhombus_floor_z(turned), heights, rtol=0, atol=1e-12)
    np.testing.assert_allclose(rhombus_floor_z(2 * points), 2 * heights, rtol=0, atol=1e-12)


def test_floor_rises_steepest_where_asked_and_keeps_the_shape():
    at = np.array([[math.cos(a), math.sin(a)] for a in np.radians(np.arange(360.0))])
    heights = rhombus_floor_z(at, first_ridge_deg=30.0)
    assert heights.shape == (360,)
    assert int(np.argmax(heights)) in {30, 150, 270}
    assert rhombus_floor_z(at.reshape(60, 6, 2)).shape == (60, 6)


@pytest.mark.parametrize(
    ("distance_mm", "depth_mm", "factor"), [(180, 10, 1.0556), (200, 10, 1.05), (250, 0, 1.0)]
)
def test_depth_scale_is_one_plus_depth_over_distance(distance_mm, depth_mm, factor):
    assert depth_scale(distance_mm, depth_mm) == pytest.approx(factor, rel=0, abs=5e-5)


def test_depth_scale_takes_the_depth_of_larvae_by_default():
    assert depth_scale(200.0) == depth_scale(200.0, LARVA_DEPTH_MM)


@pytest.mark.parametrize("distance_mm", [0.0, -5.0, math.nan, math.inf])
def test_depth_scale_refuses_a_distance_no_camera_has(distance_mm):
    with pytest.raises(ValueError, match="distance_mm must be"):
        depth_scale(distance_mm)


def test_sizes_are_those_of_the_listed_facts():
    values = {fact.name: (fact.value, fact.unit) for fact in FACTS}
    assert values["cell pitch without a ruler"] == (PITCH_DEFAULT_MM, "mm")
    assert values["depth of a worker cell"] == (CELL_DEPTH_MM, "mm")
    assert LARVA_DEPTH_MM < CELL_DEPTH_MM


@pytest.mark.reference(
    "Seeley & Morse 1976, as quoted: 5.2 mm; Spivak, as quoted: mean 5.3, 4.6-5.4"
)
def test_default_pitch_lies_among_measured_worker_comb():
    assert 5.2 <= PITCH_DEFAULT_MM <= 5.4
    assert PITCH_MIN_MM <= 4.6
    assert PITCH_MAX_MM >= 5.4


@pytest.mark.reference("Denwood 2003: natural comb 750-950 cells per dm2, both sides")
def test_default_pitch_gives_a_usual_number_of_cells():
    assert 750 <= 2 * cells_per_dm2(PITCH_DEFAULT_MM) <= 950


@pytest.mark.reference("Seeley & Morse 1976, as quoted: worker brood comb 21-24 mm thick")
def test_two_cells_are_as_deep_as_comb_is_thick():
    assert 21.0 <= 2 * CELL_DEPTH_MM <= 24.0
