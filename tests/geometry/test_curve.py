"""Length and swept angle of lines against closed formulas, and the circle through points."""

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from larvasight.geometry import fit_circle, midline_length, resample, swept_angle_deg

N_POINTS = 4001
CLOSED_FORM = "closed formulas of plane curves"


def polar(radii, angles_rad):
    return np.column_stack([radii * np.cos(angles_rad), radii * np.sin(angles_rad)])


def arc(radius, sweep_deg, n_points=N_POINTS, start_deg=0.0):
    return polar(radius, np.radians(start_deg + np.linspace(0.0, sweep_deg, n_points)))


def spiral(kind, growth, sweep_deg, n_points=N_POINTS):
    """A spiral about its pole; over its sweep the radius grows by ``growth`` of the middle one."""
    share = np.linspace(-0.5, 0.5, n_points)
    radii = 1.0 + growth * share if kind == "archimedean" else np.exp(growth * share)
    return polar(30.0 * radii, np.radians(sweep_deg) * share)


def moved(points, *, turn_deg=0.0, scale=1.0, shift=(0.0, 0.0), mirror=False):
    turn = math.radians(turn_deg)
    matrix = scale * np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    return (points * ([1, -1] if mirror else [1, 1])) @ matrix + shift


@pytest.mark.reference(CLOSED_FORM)
@pytest.mark.parametrize("sweep_deg", [1.0, 62.0, 103.0, 184.0, 274.0, 360.0, 385.0])
def test_midline_length_of_an_arc_is_radius_times_angle(sweep_deg):
    expected_px = 25.0 * math.radians(sweep_deg)
    assert midline_length(arc(25.0, sweep_deg)) == pytest.approx(expected_px, rel=0, abs=1e-4)


@pytest.mark.reference(CLOSED_FORM)
@pytest.mark.parametrize("n_points", [3, 9, 33])
def test_midline_length_of_few_points_is_the_sum_of_chords(n_points):
    steps = n_points - 1
    expected_px = steps * 2 * 25.0 * math.sin(math.radians(184.0) / steps / 2)
    measured_px = midline_length(arc(25.0, 184.0, n_points))
    assert measured_px == pytest.approx(expected_px, rel=0, abs=1e-9)


@pytest.mark.reference(CLOSED_FORM)
@pytest.mark.parametrize("inner_px", [0.0, 2.0, 20.0])
def test_midline_length_of_an_archimedean_spiral(inner_px):
    b = 4.0  # px of radius per radian
    angles_rad = np.linspace(0.0, 2.2 * math.pi, N_POINTS)

    def primitive(r):
        return (r * math.hypot(r, b) + b**2 * math.asinh(r / b)) / (2 * b)

    expected_px = primitive(inner_px + b * angles_rad[-1]) - primitive(inner_px)
    measured_px = midline_length(polar(inner_px + b * angles_rad, angles_rad))
    assert measured_px == pytest.approx(expected_px, rel=0, abs=1e-3)


@pytest.mark.reference(CLOSED_FORM)
@pytest.mark.parametrize("pitch", [0.02, 0.1, 0.3])
def test_midline_length_of_a_logarithmic_spiral(pitch):
    angles_rad = np.linspace(0.0, 2 * math.pi, N_POINTS)
    radii_px = 10.0 * np.exp(pitch * angles_rad)
    expected_px = math.hypot(1.0, pitch) / pitch * (radii_px[-1] - radii_px[0])
    assert midline_length(polar(radii_px, angles_rad)) == pytest.approx(
        expected_px, rel=0, abs=1e-3
    )


@pytest.mark.reference(CLOSED_FORM)
def test_midline_length_of_a_line_and_of_a_corner():
    assert midline_length(np.array([[1.0, 2.0], [4.0, 6.0]])) == pytest.approx(
        5.0, rel=0, abs=1e-12
    )
    corner = np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]])
    assert midline_length(corner) == pytest.approx(7.0, rel=0, abs=1e-12)


@pytest.mark.reference(CLOSED_FORM)
@pytest.mark.parametrize("sweep_deg", [5.0, 62.0, 103.0, 184.0, 274.0, 330.0, 360.0, 385.0, 400.0])
@pytest.mark.parametrize("n_points", [33, N_POINTS])
def test_swept_angle_deg_of_an_arc_is_its_angle(sweep_deg, n_points):
    # 33 points are what a measured midline has; chords between them lie inside the circle.
    measured_deg = swept_angle_deg(arc(25.0, sweep_deg, n_points, start_deg=37.0))
    assert measured_deg == pytest.approx(sweep_deg, rel=0, abs=0.15 if n_points == 33 else 0.01)


@pytest.mark.reference(CLOSED_FORM)
@pytest.mark.parametrize("growth", [0.02, 0.05, 0.1, 0.2])
@pytest.mark.parametrize("sweep_deg", [90.0, 180.0, 270.0, 360.0, 390.0])
@pytest.mark.parametrize("kind", ["archimedean", "logarithmic"])
def test_swept_angle_deg_of_a_spiral_is_its_angle_to_first_order(kind, sweep_deg, growth):
    # The fitted centre moves across the line from pole to middle, which turns both ends by
    # the same angle: the sweep differs from that about the pole in growth^2 only.
    measured_deg = swept_angle_deg(spiral(kind, growth, sweep_deg))
    assert measured_deg == pytest.approx(sweep_deg, rel=0, abs=32.0 * growth**2 + 0.01)


@pytest.mark.reference(CLOSED_FORM)
@pytest.mark.parametrize("turn_deg", [0.0, 33.0, 90.0])
def test_swept_angle_deg_of_a_straight_line_is_0(turn_deg):
    line = moved(np.column_stack([np.linspace(0, 50, 33), np.zeros(33)]), turn_deg=turn_deg)
    assert swept_angle_deg(line) == pytest.approx(0.0, rel=0, abs=1e-3)


@pytest.mark.reference(CLOSED_FORM)
@pytest.mark.parametrize("sag_px", [0.01, 0.1, 1.0])
def test_swept_angle_deg_of_a_flat_arc_follows_its_sag(sag_px):
    chord_px = 50.0
    sweep_deg = math.degrees(4 * math.atan(2 * sag_px / chord_px))
    radius_px = chord_px / 2 / math.sin(math.radians(sweep_deg / 2))
    assert swept_angle_deg(arc(radius_px, sweep_deg)) == pytest.approx(sweep_deg, rel=0, abs=0.01)


def test_swept_angle_deg_stops_at_400():
    assert swept_angle_deg(arc(25.0, 470.0)) == 400.0


@pytest.mark.parametrize("sweep_deg", [80.0, 184.0, 350.0])
def test_length_and_angle_do_not_depend_on_place_size_and_side(sweep_deg):
    rng = np.random.default_rng(8)
    body = spiral("logarithmic", 0.15, sweep_deg, n_points=33)
    for mirror in (False, True):
        scale = float(rng.uniform(0.01, 50))
        other = moved(
            body,
            turn_deg=float(rng.uniform(0, 360)),
            scale=scale,
            shift=rng.uniform(-4000, 4000, 2),
            mirror=mirror,
        )
        assert swept_angle_deg(other) == pytest.approx(swept_angle_deg(body), rel=0, abs=1e-4)
        assert midline_length(other) / scale == pytest.approx(midline_length(body), rel=1e-9, abs=0)
        assert swept_angle_deg(other[::-1]) == pytest.approx(
            swept_angle_deg(other), rel=0, abs=1e-6
        )


def test_swept_angle_deg_does_not_depend_on_how_points_are_spaced():
    even = arc(25.0, 250.0)
    crowded = even[np.unique((np.linspace(0, 1, 900) ** 2 * (len(even) - 1)).astype(int))]
    assert swept_angle_deg(crowded) == pytest.approx(swept_angle_deg(even), rel=0, abs=0.02)


def test_swept_angle_deg_bears_small_noise():
    rng = np.random.default_rng(9)
    for sweep_deg in (60.0, 150.0, 300.0):
        noisy = arc(25.0, sweep_deg, 33) + rng.normal(0.0, 0.1, (33, 2))
        assert swept_angle_deg(noisy) == pytest.approx(sweep_deg, rel=0, abs=3.0)


def test_fit_circle_finds_the_circle_its_points_lie_on():
    centre_xy, radius = fit_circle(moved(arc(7.0, 75.0, 20), shift=(100.0, -40.0)))
    assert centre_xy == pytest.approx((100.0, -40.0), rel=0, abs=1e-6)
    assert radius == pytest.approx(7.0, rel=0, abs=1e-6)


@pytest.mark.reference("SciPy least_squares on the distances from the circle")
@pytest.mark.parametrize("sweep_deg", [70.0, 140.0, 230.0, 350.0])
def test_fit_circle_agrees_with_a_general_least_squares_program(sweep_deg):
    rng = np.random.default_rng(int(sweep_deg))
    points = arc(25.0, sweep_deg, 40) + rng.normal((60.0, 50.0), 0.8, (40, 2))

    def misses(circle):
        return np.hypot(points[:, 0] - circle[0], points[:, 1] - circle[1]) - circle[2]

    fitted = least_squares(misses, [60.0, 50.0, 25.0], xtol=1e-14, ftol=1e-14, gtol=1e-14)
    (x, y), radius = fit_circle(points)
    np.testing.assert_allclose([x, y, radius], fitted.x, rtol=0, atol=1e-4)


def test_fit_circle_of_a_straight_line_has_no_end():
    centre_xy, radius = fit_circle(np.column_stack([np.arange(9.0), 2 * np.arange(9.0)]))
    assert math.isinf(radius)
    assert all(math.isinf(x) for x in centre_xy)


def test_fit_circle_of_one_point_repeated_is_that_point():
    centre_xy, radius = fit_circle(np.full((5, 2), 3.5))
    assert centre_xy == (3.5, 3.5)
    assert radius == 0.0
    assert swept_angle_deg(np.full((5, 2), 3.5)) == 0.0


def test_resample_keeps_the_ends_and_spaces_evenly():
    line = arc(25.0, 200.0)[np.sort(np.random.default_rng(2).choice(N_POINTS, 500, replace=False))]
    points = resample(line, 33)
    assert points.shape == (33, 2)
    np.testing.assert_allclose(points[[0, -1]], line[[0, -1]], rtol=0, atol=1e-12)
    gaps_px = np.hypot(*np.diff(points, axis=0).T)
    np.testing.assert_allclose(gaps_px, gaps_px.mean(), rtol=0, atol=1e-2)


def test_resample_bears_points_that_repeat():
    line = np.array([[0.0, 0.0], [0.0, 0.0], [4.0, 0.0], [4.0, 0.0]])
    expected = [[0, 0], [1, 0], [2, 0], [3, 0], [4, 0]]
    np.testing.assert_allclose(resample(line, 5), expected, rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    ("function", "n_least"), [(midline_length, 2), (fit_circle, 3), (swept_angle_deg, 3)]
)
def test_too_few_or_misshapen_points_are_refused(function, n_least):
    for points in (np.zeros((n_least - 1, 2)), np.zeros((9, 3)), np.zeros(9)):
        with pytest.raises(ValueError, match=rf"shape \(N >= {n_least}, 2\)"):
            function(points)
