"""Bodies measured by an outline drawn by hand, against closed formulas and what was found."""

import math

import numpy as np
import pytest

from larvasight.vision.brushed import measure_outlined

CENTRE_XY_PX = np.array([62.4, 65.3])
# Radius of the arc, its sweep between the centres of the end caps, the body's width.
BODIES = [
    (24.0, 50.0, 8.0),
    (20.0, 90.0, 9.0),
    (18.0, 140.0, 10.0),
    (15.5, 180.0, 11.0),
    (15.0, 220.0, 13.0),
    (16.0, 250.0, 14.0),
    (24.0, 280.0, 18.0),
]


def outline(radius_px, sweep_deg, width_px, turn_deg=0.0):
    """Corners of an arc with round ends, shape (N, 2)."""
    half_rad, half_px = math.radians(sweep_deg) / 2.0, width_px / 2.0
    along = np.linspace(-half_rad, half_rad, 60)
    cap = np.linspace(0.0, math.pi, 24)

    def arc(radius, angles):
        return radius * np.column_stack([np.cos(angles), np.sin(angles)])

    def end(at_rad, sign):
        middle = radius_px * np.array([math.cos(at_rad), math.sin(at_rad)])
        return middle + half_px * np.column_stack(
            [np.cos(at_rad + sign * cap), np.sin(at_rad + sign * cap)]
        )

    points = np.concatenate(
        [
            arc(radius_px + half_px, along),
            end(half_rad, 1.0),
            arc(radius_px - half_px, along[::-1]),
            end(-half_rad, -1.0)[::-1],
        ]
    )
    turn = math.radians(turn_deg)
    turned = points @ np.array(
        [[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]]
    )
    return turned + CENTRE_XY_PX


@pytest.mark.reference("closed formulas of the arc with round ends")
@pytest.mark.parametrize(("radius_px", "sweep_deg", "width_px"), BODIES)
def test_an_arc_with_round_ends_is_measured_by_its_outline(radius_px, sweep_deg, width_px):
    cap_rad = 4.0 * math.asin(width_px / (4.0 * radius_px))
    whole_rad = math.radians(sweep_deg) + cap_rad
    area_px2 = width_px * radius_px * math.radians(sweep_deg) + math.pi * (width_px / 2.0) ** 2
    for turn_deg in range(0, 360, 30):
        found = measure_outlined(outline(radius_px, sweep_deg, width_px, turn_deg))
        assert not found.is_closed
        assert found.length_px == pytest.approx(radius_px * whole_rad, rel=0.02, abs=0)
        assert found.width_px == pytest.approx(width_px, rel=0, abs=0.4)
        assert found.area_px2 == pytest.approx(area_px2, rel=0, abs=8.0)
        away_deg = 11.0 if sweep_deg < 90.0 else 8.0 if sweep_deg < 150.0 else 4.0
        assert found.curl_deg == pytest.approx(math.degrees(whole_rad), rel=0, abs=away_deg)
        assert found.visible_share == pytest.approx(1.0, rel=0, abs=1e-6)


def test_a_disc_is_a_closed_ring():
    angles = np.linspace(0.0, 2.0 * math.pi, 50)
    disc = CENTRE_XY_PX + 20.0 * np.column_stack([np.cos(angles), np.sin(angles)])
    found = measure_outlined(disc)
    assert found.is_closed
    assert math.isnan(found.curl_deg)


@pytest.mark.parametrize(
    "corners",
    [
        [[10.0, 10.0], [12.0, 10.0], [11.0, 12.0]],
        [[10.0, 10.0], [60.0, 10.0], [110.0, 10.0]],
        [[-500.0, -500.0], [-400.0, -500.0], [-450.0, -400.0]],
        [[30.0, 40.0], [90.0, 44.0], [84.0, 80.0], [32.0, 84.0]],
    ],
    ids=["a speck", "a line", "outside", "a block without a gap"],
)
def test_what_is_no_body_is_not_measured(corners):
    assert measure_outlined(np.array(corners)) is None
