"""A body line moved by hand is measured as the geometry says, straight or aslant."""

import math
import time
from dataclasses import replace

import numpy as np
import pytest

from larvasight.desk.body_line import handles_of, measure_line, smooth_line
from larvasight.geometry import lattice_vectors, midline_length, offset_to_axial
from larvasight.grading import Limits, grade_cell
from larvasight.sheet import Cell, Content, LatticeInfo, PhotoInfo, Scale, ScaleSource, Sheet

PX_PER_MM = 20.0
PITCH_MM = 5.3
# Far enough away, lengths at the floor are those in the rim plane.
FAR_MM = 1e9


def sheet_of(squeeze=1.0, pitch_mm=PITCH_MM, distance_mm=FAR_MM):
    """Return a comb of 7 x 7 empty cells, its x squeezed as in a view from aside."""
    names = [(row, col) for row in range(7) for col in range(7)]
    spots = np.array([offset_to_axial(*name) for name in names]) @ lattice_vectors(1.0)
    spots = spots * PX_PER_MM * PITCH_MM * [squeeze, 1.0] + 50.0
    cells = tuple(
        Cell(
            row=row,
            col=col,
            centre_xy_px=(float(x), float(y)),
            px_per_mm=PX_PER_MM * math.sqrt(squeeze) * PITCH_MM / pitch_mm,
            content=Content.EMPTY,
        )
        for (row, col), (x, y) in zip(names, spots, strict=True)
    )
    return Sheet(
        truth=False,
        photo=PhotoInfo(name="a.png", width_px=1000, height_px=1000, sha256="0" * 64),
        scale=Scale(
            pitch_px=PX_PER_MM * PITCH_MM,
            pitch_mm=pitch_mm,
            px_per_mm=PX_PER_MM * PITCH_MM / pitch_mm,
            distance_mm=distance_mm,
            source=ScaleSource.COMB,
        ),
        lattice=LatticeInfo(row_angle_deg=0.0, n_cells=49, residual_px=0.0),
        cells=cells,
    )


def arc(cell, radius_mm, curl_deg, n=9, squeeze=1.0):
    angles = np.radians(np.linspace(0.0, curl_deg, n))
    x_px, y_px = cell.centre_xy_px
    radius_px = radius_mm * PX_PER_MM
    return tuple(
        (x_px + radius_px * squeeze * math.cos(a), y_px + radius_px * math.sin(a)) for a in angles
    )


@pytest.mark.reference("geometry: an arc's length is its radius times its angle in radians")
@pytest.mark.parametrize("curl_deg", [60.0, 180.0, 270.0])
@pytest.mark.parametrize("squeeze", [1.0, 0.9])
def test_an_arc_through_handles_has_the_length_and_the_angle_of_the_arc(curl_deg, squeeze):
    sheet = sheet_of(squeeze)
    cell = sheet.cells[24]
    told = measure_line(smooth_line(arc(cell, 0.8, curl_deg, squeeze=squeeze)), cell, sheet)
    assert told.length_mm == pytest.approx(0.8 * math.radians(curl_deg), rel=0.01)
    assert told.curl_deg == pytest.approx(curl_deg, abs=4.0)


def test_lengths_follow_the_cell_size_and_the_curl_does_not():
    usual, small = sheet_of(), sheet_of(pitch_mm=5.0)
    line = arc(usual.cells[24], 0.8, 150.0)
    one = measure_line(line, usual.cells[24], usual)
    other = measure_line(line, small.cells[24], small)
    assert other.length_mm / one.length_mm == pytest.approx(5.0 / 5.3)
    assert other.curl_deg == pytest.approx(one.curl_deg)


@pytest.mark.reference("intercept theorem: 10 mm behind a plane at 180 mm, lengths are 190/180")
def test_a_larva_lies_deeper_than_the_rims():
    far, near = sheet_of(), sheet_of(distance_mm=180.0)
    line = arc(far.cells[24], 0.8, 150.0)
    one = measure_line(line, far.cells[24], far)
    other = measure_line(line, near.cells[24], near)
    assert other.length_mm / one.length_mm == pytest.approx(190.0 / 180.0, rel=0.005)


@pytest.mark.parametrize(("curl_deg", "n_handles"), [(40.0, 5), (180.0, 7), (270.0, 9)])
def test_the_more_a_body_curls_the_more_handles_it_has(curl_deg, n_handles):
    sheet = sheet_of()
    line = arc(sheet.cells[24], 0.8, curl_deg, n=80)
    cell = replace(sheet.cells[24], content=Content.LARVA, midline_xy_px=line)
    handles = handles_of(cell, sheet)
    assert len(handles) == n_handles
    assert handles[0] == pytest.approx(line[0], abs=0.01)
    assert handles[-1] == pytest.approx(line[-1], abs=0.01)
    smooth = np.array(smooth_line(handles))
    assert midline_length(smooth) == pytest.approx(midline_length(np.array(line)), rel=0.01)


def test_a_cell_without_a_line_gets_a_straight_one_about_its_middle():
    sheet = sheet_of()
    handles = np.array(handles_of(sheet.cells[24], sheet))
    assert len(handles) == 5
    assert handles.mean(axis=0) == pytest.approx(sheet.cells[24].centre_xy_px, abs=0.1)
    assert (
        measure_line(smooth_line(tuple(map(tuple, handles))), sheet.cells[24], sheet).curl_deg < 1
    )


def test_handles_on_one_spot_are_no_trouble():
    sheet = sheet_of()
    spot = sheet.cells[24].centre_xy_px
    assert measure_line(smooth_line((spot,) * 5), sheet.cells[24], sheet) is None
    there = (spot, spot, (spot[0] + 20.0, spot[1]), (spot[0] + 20.0, spot[1] + 20.0))
    assert measure_line(smooth_line(there), sheet.cells[24], sheet).length_mm > 1.0


def test_measures_and_age_follow_a_drag_at_once():
    sheet = sheet_of()
    cell = replace(sheet.cells[24], content=Content.LARVA)

    def follow():
        line = smooth_line(arc(cell, 0.8, 150.0))
        told = measure_line(line, cell, sheet)
        return grade_cell(replace(cell, length_mm=told.length_mm, curl_deg=told.curl_deg), Limits())

    follow()
    took_s = []
    for _ in range(5):
        began = time.perf_counter()
        assert follow().age_h is not None
        took_s.append(time.perf_counter() - began)
    assert min(took_s) < 0.05
