"""A body's outline is brushed: what is added is in it, what is taken away is not."""

import cv2
import numpy as np
import pytest

from larvasight.desk import outline_brush
from larvasight.desk.outline_brush import OutlineBrush
from larvasight.sheet import Cell, Content

PITCH_PX = 106.0
CENTRE_XY_PX = (260.0, 160.0)
SQUARE = ((240.0, 140.0), (280.0, 140.0), (280.0, 180.0), (240.0, 180.0))


def cell(outline=None):
    return Cell(
        row=0,
        col=0,
        centre_xy_px=CENTRE_XY_PX,
        px_per_mm=PITCH_PX / 5.3,
        content=Content.LARVA,
        outline_xy_px=outline,
    )


def area_px2(outline):
    return cv2.contourArea(np.array(outline, dtype=np.float32))


def test_an_outline_comes_back_as_it_was():
    outline = OutlineBrush(cell(SQUARE), PITCH_PX).outline_xy_px
    assert area_px2(outline) == pytest.approx(1600.0, rel=0, abs=45.0)
    for corner in SQUARE:
        assert min(np.hypot(*np.subtract(corner, point)) for point in outline) < 1.0


def test_a_stroke_adds_a_band_as_wide_as_the_brush():
    brush = OutlineBrush(cell(), PITCH_PX)
    assert brush.outline_xy_px is None
    brush.stroke((240.0, 160.0), (280.0, 160.0), adds=True)
    wide_px = 2.0 * brush.radius_px
    band_px2 = 40.0 * wide_px + np.pi * brush.radius_px**2
    assert area_px2(brush.outline_xy_px) == pytest.approx(band_px2, rel=0.1, abs=0)


def test_what_is_taken_away_is_gone_and_what_is_added_again_is_back():
    brush = OutlineBrush(cell(SQUARE), PITCH_PX)
    before_px2 = area_px2(brush.outline_xy_px)
    corner = (280.0, 140.0)
    brush.stroke(corner, corner, adds=False)
    assert not brush.is_inside((278.0, 142.0))
    assert area_px2(brush.outline_xy_px) < before_px2 - 20.0
    brush.stroke((276.0, 144.0), (276.0, 144.0), adds=True)
    assert brush.is_inside((278.0, 142.0))


def test_only_the_largest_part_is_the_body():
    brush = OutlineBrush(cell(SQUARE), PITCH_PX)
    before = brush.outline_xy_px
    brush.stroke((220.0, 110.0), (220.0, 110.0), adds=True)
    assert brush.outline_xy_px == before


def test_beyond_the_cells_reach_there_is_nothing_to_brush():
    brush = OutlineBrush(cell(SQUARE), PITCH_PX)
    before = brush.outline_xy_px
    brush.stroke((900.0, 900.0), (950.0, 900.0), adds=True)
    assert brush.outline_xy_px == before
    assert not brush.is_inside((900.0, 900.0))


def test_all_taken_away_leaves_none():
    brush = OutlineBrush(cell(SQUARE), PITCH_PX)
    for y in np.arange(130.0, 190.0, 4.0):
        brush.stroke((230.0, float(y)), (290.0, float(y)), adds=False)
    assert brush.outline_xy_px is None


def test_however_ragged_an_outline_can_be_stored(monkeypatch):
    monkeypatch.setattr(outline_brush, "OUTLINE_MOST", 60)
    brush, rng = OutlineBrush(cell(SQUARE), PITCH_PX), np.random.default_rng(4)
    for x, y in rng.uniform((230, 130), (290, 190), (600, 2)).tolist():
        brush.radius_px = 0.4
        brush.stroke((x, y), (x, y), adds=bool(rng.random() < 0.5))
    assert 3 <= len(brush.outline_xy_px) <= 60
