"""The truth of a drawing: measured on what was drawn, checked against closed formulas."""

import math
from dataclasses import replace

import numpy as np
import pytest

from larvasight.growth import BodySize, sample_body
from larvasight.render import (
    Camera,
    Comb,
    CombScene,
    Egg,
    Larva,
    Pool,
    SceneCell,
    paint_with_maps,
    random_scene,
    sample_larva,
    truth_sheet,
)
from larvasight.render.brood import tube_of
from larvasight.sheet import Content, Flag, Jelly, sheet_from_json, sheet_to_json

CAMERA = Camera(size_px=(400, 400), pitch_px=200.0, distance_mm=200.0)
FOOD = Pool(amount=Jelly.PLENTY, level_mm=0.6, opacity_per_mm=8.0)


def one_cell(larva=None, egg=None, camera=CAMERA, pool=FOOD, comb=Comb()):  # noqa: B008
    content = Content.LARVA if larva is not None else Content.EGG
    pool = pool if larva is not None else Pool()
    cell = SceneCell(q=0, r=0, content=content, larva=larva, egg=egg, pool=pool)
    return CombScene(comb=comb, cells=(cell,), camera=camera)


def true_cell(scene):
    (cell,) = truth_sheet(scene, name="x.png", sha256="0" * 64).cells
    return cell


def arc(length_mm, curl_deg, **changes):
    """Return a body of constant curvature."""
    shape = {"width_mm": 0.5, "wiggle": 0.0, "unevenness": 0.0, "sink": 0.0, "age_h": 20.0}
    return Larva(length_mm=length_mm, curl_deg=curl_deg, **(shape | changes))


@pytest.mark.parametrize("curl_deg", [30.0, 90.0, 180.0, 270.0, 330.0])
def test_truth_constant_curvature_gives_length_and_angle_of_the_arc(curl_deg):
    cell = true_cell(one_cell(arc(2.4, curl_deg)))
    assert cell.length_mm == pytest.approx(2.4, abs=0.005)
    assert cell.curl_deg == pytest.approx(curl_deg, abs=0.5)
    assert cell.width_mm == pytest.approx(0.5, abs=0.02)


def test_truth_midline_of_an_arc_has_the_chord_of_its_circle():
    # Half ring of length L: tips lie 2 L / pi apart, seen 10.4 mm deeper than the rims.
    cell = true_cell(one_cell(arc(2.4, 180.0)))
    midline = np.array(cell.midline_xy_px)
    depth_mm = 11.0 - FOOD.level_mm
    px_per_mm = cell.px_per_mm / (1.0 + depth_mm / CAMERA.distance_mm)
    chord_mm = np.hypot(*(midline[-1] - midline[0])) / px_per_mm
    assert chord_mm == pytest.approx(2.0 * 2.4 / math.pi, abs=0.01)


@pytest.mark.parametrize("age_h", [0.0, 12.0, 24.0, 36.0, 48.0])
def test_truth_follows_the_sampled_body(age_h):
    rng = np.random.default_rng(int(age_h))
    for _ in range(5):
        body = sample_body(age_h, rng)
        cell = true_cell(one_cell(sample_larva(age_h, body, rng)))
        assert cell.length_mm == pytest.approx(body.length_mm, rel=0.005)
        # Uneven and wavy bodies sweep a little more or less than they turn.
        assert cell.curl_deg == pytest.approx(body.curl_deg, abs=30.0)
        assert cell.age_h == age_h
        assert cell.looks_age_h == pytest.approx(age_h, abs=25.0)


def test_truth_area_is_that_of_the_tube():
    larva = arc(2.4, 60.0)
    radius_mm = tube_of(one_cell(larva), one_cell(larva).cells[0]).radius_mm
    along = 0.5 * (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, len(radius_mm))))
    area_mm2 = np.trapezoid(2.0 * radius_mm, along * 2.4)
    assert true_cell(one_cell(larva)).area_mm2 == pytest.approx(area_mm2, rel=0.01)


def test_truth_area_does_not_change_with_the_view():
    straight = true_cell(one_cell(arc(2.4, 120.0))).area_mm2
    tilted = one_cell(arc(2.4, 120.0), camera=replace(CAMERA, tilt_deg=15.0))
    assert true_cell(tilted).area_mm2 == pytest.approx(straight, rel=0.005)


def share_formula(length_mm, tilt_deg, comb, depth_mm, distance_mm):
    """Return the share of a thin straight body along the tilt that shows over the rim."""
    eye_mm = distance_mm * math.sin(math.radians(tilt_deg))
    height_mm = distance_mm * math.cos(math.radians(tilt_deg))
    edge_mm = comb.pitch_mm / 2.0 - comb.rim_half_mm
    # The ray over the far rim edge meets the body's plane here.
    last_mm = -edge_mm - (eye_mm + edge_mm) * depth_mm / height_mm
    shown_mm = length_mm / 2.0 - max(last_mm, -length_mm / 2.0)
    other_mm = edge_mm - (eye_mm - edge_mm) * depth_mm / height_mm
    shown_mm = min(shown_mm, other_mm + length_mm / 2.0)
    return max(shown_mm, 0.0) / length_mm


@pytest.mark.parametrize("tilt_deg", [0.0, 4.0, 8.0, 10.0, 12.0, 15.0])
def test_truth_visible_share_falls_with_tilt_as_walls_hide_it(tilt_deg):
    comb = Comb(rim_ragged=0.0, corner_round=0.0)
    camera = replace(CAMERA, tilt_deg=tilt_deg)
    cell = true_cell(one_cell(arc(2.2, 0.0, width_mm=0.2), camera=camera, comb=comb))
    expected = share_formula(2.2, tilt_deg, comb, 11.0 - FOOD.level_mm, 200.0)
    # The opening's edge carries a grain of .02 mm even where it is not ragged.
    assert cell.visible_share == pytest.approx(expected, abs=0.04)
    assert (Flag.HIDDEN_BY_WALL in cell.flags) == (cell.visible_share < 0.8)


@pytest.mark.parametrize(
    ("tilt_deg", "low", "high"), [(0.0, 1.0, 1.0), (12.0, 0.5, 0.8), (15.0, 0.15, 0.45)]
)
def test_truth_visible_share_of_half_rings_lies_where_geometry_puts_it(tilt_deg, low, high):
    # 10.4 mm down, 12 deg shift the floor by 2.2 mm and 15 deg by 2.8 mm, against 2.4 mm of
    # opening on either side: of bodies 1.5 mm across about 2/3 and 1/3 remain.
    camera = replace(CAMERA, tilt_deg=tilt_deg)
    shares = [
        true_cell(one_cell(arc(2.2, 140.0, heading_deg=h), camera=camera)).visible_share
        for h in range(0, 360, 30)
    ]
    assert low <= np.mean(shares) <= high


def test_truth_visible_share_matches_the_painted_pixels():
    full = one_cell(arc(2.4, 150.0))
    tilted = replace(full, camera=replace(CAMERA, tilt_deg=11.0))
    n_full = (paint_with_maps(full).seen > 0).sum()
    n_tilted = (paint_with_maps(tilted).seen > 0).sum()
    share = true_cell(tilted).visible_share
    # A slanted plane looks smaller by about the cosine of the tilt.
    expected = share * math.cos(math.radians(11.0))
    assert n_tilted / n_full == pytest.approx(expected, abs=0.03)


def test_truth_egg_has_its_length_whatever_its_lean():
    for lean_deg in (0.0, 30.0, 60.0, 88.0):
        egg = Egg(age_h=-30.0, length_mm=1.5, width_mm=0.38, lean_deg=lean_deg)
        cell = true_cell(one_cell(egg=egg))
        assert cell.length_mm == pytest.approx(1.5, abs=0.005)
        assert cell.age_h == -30.0
        assert cell.curl_deg is None
        assert cell.looks_age_h is None


def test_truth_standing_egg_looks_shorter_than_a_lying_one():
    def span_px(lean_deg):
        egg = Egg(age_h=-30.0, length_mm=1.5, width_mm=0.38, lean_deg=lean_deg, bend_deg=0.0)
        outline = np.array(true_cell(one_cell(egg=egg)).outline_xy_px)
        return max(np.ptp(outline, axis=0))

    assert span_px(0.0) < 0.5 * span_px(85.0)


def test_truth_closed_ring_is_flagged_and_keeps_its_curl():
    body = BodySize(length_mm=6.2, width_mm=1.55, curl_deg=358.0)
    larva = sample_larva(60.0, body, np.random.default_rng(0))
    cell = true_cell(one_cell(replace(larva, wiggle=0.0, unevenness=0.0)))
    assert Flag.CLOSED in cell.flags
    assert cell.curl_deg == pytest.approx(358.0, abs=3.0)
    assert Flag.CLOSED not in true_cell(one_cell(arc(2.8, 230.0))).flags


def test_truth_lists_cells_with_their_centre_in_the_picture():
    scene = random_scene(np.random.default_rng(8), size_px=(300, 220), n_cells=8)
    sheet = truth_sheet(scene, name="a.png", sha256="f" * 64)
    assert sheet.lattice.n_cells == len(sheet.cells) < len(scene.cells)
    for cell in sheet.cells:
        x, y = cell.centre_xy_px
        assert -0.5 <= x <= 299.5
        assert -0.5 <= y <= 219.5
        near_edge = min(x, y, 299 - x, 219 - y) < 0.3 * sheet.scale.pitch_px
        assert not near_edge or Flag.CUT_BY_FRAME in cell.flags
    places = [(cell.row, cell.col) for cell in sheet.cells]
    assert places == sorted(places)
    assert sheet.scale.distance_mm == scene.camera.distance_mm


def test_truth_sheet_survives_the_file_format():
    scene = random_scene(np.random.default_rng(2), size_px=(300, 220), n_cells=6)
    sheet = truth_sheet(scene, name="a.png", sha256="f" * 64)
    again = sheet_from_json(sheet_to_json(sheet))
    assert [c.content for c in again.cells] == [c.content for c in sheet.cells]
    lengths = [c.length_mm for c in sheet.cells if c.length_mm is not None]
    assert [c.length_mm for c in again.cells if c.length_mm is not None] == pytest.approx(
        lengths, abs=1e-4
    )


def test_truth_counts_points_as_promised():
    cell = true_cell(one_cell(arc(2.4, 150.0)))
    assert len(cell.midline_xy_px) == 48
    assert len(cell.outline_xy_px) == 100
