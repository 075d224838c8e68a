"""The tile library's cells before they are rendered: ages, bodies, truth and names."""

import json

import numpy as np
import pytest

from compare_look import difference, regions
from larvasight.geometry import midline_length, swept_angle_deg
from larvasight.sheet import Content
from tiles_cut import cut_tile, is_test, tile_side_px
from tiles_frames import FRAMES_PER_SETTING, make_frame
from tiles_settings import PITCH_MM, SETTINGS
from tiles_truth import Eye, tile_truth

PITCH_PX = 176.0


@pytest.fixture(scope="module")
def frame():
    return make_frame(SETTINGS["sun-new-floor"], 1, seed=3, n_cols=3, n_rows=3)


@pytest.fixture(scope="module")
def truths(frame):
    eye = Eye(slope_xy=frame.setting.slope_xy, pitch_px=PITCH_PX)
    return [(at, tile_truth(at, eye)) for at in frame.cells if at.shown]


def test_every_light_comb_and_focus_stands_in_two_settings():
    assert len(SETTINGS) >= 8
    for key in ("light", "comb", "focus"):
        kinds = [getattr(setting, key) for setting in SETTINGS.values()]
        assert min(kinds.count(kind) for kind in set(kinds)) >= 2


def test_same_arguments_give_the_same_frame(frame):
    again = make_frame(SETTINGS["sun-new-floor"], 1, seed=3, n_cols=3, n_rows=3)
    for name, mesh in frame.meshes.items():
        np.testing.assert_array_equal(mesh.points_mm, again.meshes[name].points_mm)


def test_frames_of_a_setting_hold_larvae_at_every_hour():
    ages = []
    for number in range(FRAMES_PER_SETTING):
        frame = make_frame(SETTINGS["ring-old-floor"], number, seed=3, n_cols=9, n_rows=3)
        ages += [at.cell.larva.age_h for at in frame.cells if at.cell.larva is not None]
    picked = np.sort([age_h for age_h in ages if 4.0 <= age_h <= 36.0])
    assert np.diff(picked).max() <= 1.0


def test_truth_is_measured_on_the_midline_that_was_modelled(truths):
    larvae = [(at, truth) for at, truth in truths if truth["content"] == "larva"]
    assert larvae
    for at, truth in larvae:
        flat = at.body.plane_xy_mm
        assert truth["length_mm"] == pytest.approx(midline_length(flat), abs=1e-3)
        assert truth["length_mm"] == pytest.approx(at.body.length_mm, abs=2e-3)
        assert truth["curl_deg"] == pytest.approx(swept_angle_deg(flat), abs=1e-2)
        assert 0.0 <= truth["visible_share"] <= 1.0


def test_truth_can_be_written_as_json(truths):
    for _, truth in truths:
        assert json.loads(json.dumps(truth)) == truth


def test_nothing_is_hidden_when_looking_straight_down_a_cell(frame):
    eye = Eye(slope_xy=(0.0, 0.0), pitch_px=PITCH_PX)
    young = [
        at
        for at in frame.cells
        if at.shown and at.cell.larva is not None and at.cell.larva.age_h < 36.0
    ]
    for at in young:
        assert tile_truth(at, eye)["visible_share"] > 0.98


def test_wall_hides_more_of_a_body_seen_from_the_side(frame):
    def mean_share(slope):
        eye = Eye(slope_xy=(slope, 0.0), pitch_px=PITCH_PX)
        shares = [tile_truth(at, eye)["visible_share"] for at in frame.cells if at.body]
        return np.mean(shares)

    assert mean_share(0.0) > mean_share(0.2) > mean_share(0.4)


def test_deeper_points_move_with_the_view():
    eye = Eye(slope_xy=(0.1, 0.0), pitch_px=PITCH_PX)
    x, y = eye.to_px(np.array([0.0, 0.0, -10.0]))
    assert x == pytest.approx(-1.0 * PITCH_PX / PITCH_MM)
    assert y == 0.0


def test_a_quarter_of_tiles_is_for_tests():
    share = np.mean([is_test(f"tile-{k}") for k in range(4000)])
    assert share == pytest.approx(0.25, abs=0.03)


def test_neighbours_share_the_middle_of_their_rim(frame):
    by_place = {(at.row, at.col): at for at in frame.cells}
    left, right = by_place[0, 0], by_place[0, 1]
    rim = left.cup.grid_mm[0, 0] + np.array([*left.centre_xy_mm, 0.0])
    other = right.cup.grid_mm[0, 72] + np.array([*right.centre_xy_mm, 0.0])
    np.testing.assert_allclose(rim, other, rtol=0.0, atol=2e-3)


def test_cut_tile_has_the_cell_axis_in_its_middle(frame):
    class Shot:
        matrix = np.array([[40.0, 0.0, 100.0], [0.0, 40.0, 120.0]])

    at = next(at for at in frame.cells if at.shown)
    x, y = 40.0 * at.centre_xy_mm + [100.0, 120.0]
    yy, xx = np.mgrid[:600, :600]
    spot = 255.0 * np.exp(-((xx - x) ** 2 + (yy - y) ** 2) / 200.0)
    picture = np.repeat(spot.astype(np.uint8)[..., None], 3, axis=2)
    tile = cut_tile(picture, Shot, at, PITCH_PX)[..., 0].astype(float)
    side = tile_side_px(PITCH_PX)
    assert tile.shape == (side, side)
    ty, tx = np.mgrid[:side, :side]
    assert (tile * tx).sum() / tile.sum() == pytest.approx((side - 1) / 2.0, abs=0.1)
    assert (tile * ty).sum() / tile.sum() == pytest.approx((side - 1) / 2.0, abs=0.1)


def test_regions_lie_within_the_tile(truths):
    at, truth = next(pair for pair in truths if pair[1]["content"] == Content.LARVA.value)
    side = tile_side_px(PITCH_PX)
    record = {**truth, "side_px": side, "pitch_px": PITCH_PX, "pitch_mm": PITCH_MM,
              "slope_xy": [0.0, 0.0], "jelly_area_mm2": 5.0}  # fmt: skip
    found = regions(record)
    assert found["body"].shape == (side, side)
    assert not (found["body"] & found["beside"]).any()
    assert at.body is not None


def test_difference_of_equal_colours_is_zero():
    assert difference((10.0, 20.0, 30.0), (10.0, 20.0, 30.0)) == 0.0
    assert difference((10.0, 20.0, 36.0), (10.0, 20.0, 30.0)) == pytest.approx(0.1)
