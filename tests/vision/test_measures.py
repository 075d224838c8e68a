"""Maps of odd kinds: parts within rings, maps full of body, lines of single points."""

import cv2
import numpy as np
import pytest

from larvasight.geometry import midline_length
from larvasight.vision.measures import enlarged, largest_part, measure_bodies, measure_body
from larvasight.vision.parsed import ParsedCell

SIZE_PX = 128
MIDDLE_PX = (64, 64)


def parsed(body, line):
    return ParsedCell(
        content=np.eye(7, dtype=np.float32)[2],
        jelly=np.eye(3, dtype=np.float32)[1],
        body=body,
        seen=body,
        line=line,
        egg=np.zeros_like(body),
    )


def nothing():
    return np.zeros((SIZE_PX, SIZE_PX), np.float32)


def ring(radius_px, width_px):
    return np.asarray(cv2.circle(nothing(), MIDDLE_PX, radius_px, 1.0, width_px), np.float32)


def good():
    """Return a body that can be measured."""
    body = cv2.ellipse(nothing(), MIDDLE_PX, (22, 22), 0.0, 20.0, 220.0, 1.0, 12)
    line = cv2.ellipse(nothing(), MIDDLE_PX, (22, 22), 0.0, 20.0, 220.0, 1.0, 3)
    return parsed(body, line)


def test_a_part_within_a_ring_is_no_part_of_it_but_a_sign_against_it():
    body = ring(30, 10)
    inner = cv2.circle(nothing(), MIDDLE_PX, 15, 1.0, -1)
    alone, both = (measure_body(parsed(one, ring(30, 3))) for one in (body, body + inner))
    np.testing.assert_array_equal(largest_part(body + inner), body)
    assert both.area_px2 == alone.area_px2
    assert alone.stray == 0.0
    assert both.stray == pytest.approx(inner.sum() / alone.area_px2, rel=0, abs=0.001)


def test_a_body_within_a_thin_ring_is_measured_alone():
    thin = ring(50, 1)
    c_shape = good()
    wanted = measure_body(c_shape)
    found = measure_body(parsed(c_shape.body + thin, c_shape.line))
    assert not found.is_closed
    assert found.length_px == pytest.approx(wanted.length_px, rel=0, abs=1e-9)


def test_an_enlarged_body_is_as_long_as_its_line_and_lies_where_it_lay():
    small = measure_body(good())
    large = enlarged(small, 1.25)
    for name, times in (("length_px", 1.25), ("width_px", 1.25), ("area_px2", 1.25**2)):
        assert getattr(large, name) == pytest.approx(times * getattr(small, name), rel=1e-9, abs=0)
    assert large.curl_deg == small.curl_deg
    assert midline_length(large.midline_xy_px) == pytest.approx(large.length_px, rel=1e-6, abs=0)
    areas_px2 = [cv2.contourArea(one.outline_xy_px.astype(np.float32)) for one in (small, large)]
    assert areas_px2[1] == pytest.approx(1.25**2 * areas_px2[0], rel=1e-4, abs=0)
    away_px = large.outline_xy_px.mean(axis=0) - small.outline_xy_px.mean(axis=0)
    np.testing.assert_allclose(away_px, 0.0, rtol=0, atol=1e-9)


@pytest.mark.parametrize("chance", [1.0, 0.9, 0.51])
def test_maps_full_of_body_and_line_have_no_line(chance):
    full = np.full((SIZE_PX, SIZE_PX), chance, np.float32)
    assert measure_body(parsed(full, full)) is None


def test_a_line_of_single_points_is_none_and_spoils_no_other_body():
    points = nothing()
    points[55:73:3, 64] = 0.5
    spoiled = parsed(np.asarray(cv2.circle(nothing(), MIDDLE_PX, 20, 1.0, -1)), points)
    before, none, after = measure_bodies([good(), spoiled, good()])
    assert none is None
    wanted = measure_body(good())
    for body in (before, after):
        assert body.length_px == pytest.approx(wanted.length_px, rel=0, abs=1e-9)


def test_there_may_be_no_body_at_all():
    assert measure_bodies([]) == []
    assert measure_body(parsed(nothing(), nothing())) is None
