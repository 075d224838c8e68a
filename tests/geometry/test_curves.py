"""Many lines at once come out as each line alone."""

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from larvasight.geometry import fit_circle, midline_length, resample, swept_angle_deg
from larvasight.geometry.curves import (
    fit_circles,
    line_lengths,
    resample_lines,
    swept_angles_deg,
    unwrapped_rad,
)


def lines(n=12, n_points=40):
    rng = np.random.default_rng(6)
    out = []
    for _ in range(n):
        sweep, radius = rng.uniform(0.2, 6.0), rng.uniform(5.0, 40.0)
        angles = rng.uniform(0.0, 6.0) + np.sort(rng.uniform(0.0, sweep, n_points))
        radii = radius + rng.normal(0.0, 0.2, n_points)
        out.append(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))
    return np.stack(out)


def test_lengths_angles_circles_and_points_of_many_lines_are_those_of_each():
    together = lines()
    centres, radii = fit_circles(together)
    points = resample_lines(together, 17)
    for k, line in enumerate(together):
        (x, y), radius = fit_circle(line)
        assert line_lengths(together)[k] == pytest.approx(midline_length(line))
        assert swept_angles_deg(together)[k] == pytest.approx(swept_angle_deg(line), abs=1e-6)
        assert (*centres[k], radii[k]) == pytest.approx((x, y, radius))
        np.testing.assert_allclose(points[k], resample(line, 17), rtol=0, atol=1e-9)


@pytest.mark.reference("NumPy interp along the line")
def test_points_stand_evenly_along_lines_padded_with_their_last_point():
    together = lines(n=5)
    padded = np.concatenate([together, np.repeat(together[:, -1:], 7, axis=1)], axis=1)
    for line, points in zip(together, resample_lines(padded, 9), strict=True):
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
        wanted = np.linspace(0.0, along[-1], 9)
        for axis in (0, 1):
            expected = np.interp(wanted, along, line[:, axis])
            np.testing.assert_allclose(points[:, axis], expected, rtol=0, atol=1e-9)


@pytest.mark.reference("SciPy least_squares on the distances from the circle")
def test_circles_have_the_least_squares():
    together = lines()
    centres, radii = fit_circles(together)
    for line, centre, radius in zip(together, centres, radii, strict=True):

        def apart(circle, line=line):
            return np.hypot(*(line - circle[:2]).T) - circle[2]

        best = least_squares(apart, [*centre, radius], xtol=1e-12, ftol=1e-12)
        assert np.sum(apart([*centre, radius]) ** 2) == pytest.approx(2.0 * best.cost, rel=1e-6)


def test_straight_lines_and_points_among_others_have_no_circle():
    arc = np.linspace(0.0, 2.0, 9)
    together = np.stack(
        [
            np.column_stack([np.arange(9.0), 2.0 * np.arange(9.0)]),
            np.column_stack([np.cos(arc), np.sin(arc)]),
            np.full((9, 2), 3.5),
        ]
    )
    centres, radii = fit_circles(together)
    assert np.isinf(radii[0])
    assert np.isinf(centres[0]).all()
    assert radii[1] == pytest.approx(1.0)
    assert radii[2] == 0.0
    assert swept_angles_deg(together) == pytest.approx([0.0, math.degrees(2.0), 0.0], abs=0.2)


@pytest.mark.reference("NumPy unwrap")
def test_angles_are_unwrapped_as_by_numpy():
    angles = np.random.default_rng(8).uniform(-np.pi, np.pi, (9, 60))
    np.testing.assert_allclose(unwrapped_rad(angles), np.unwrap(angles, axis=1), atol=1e-11)
