"""Pictures: same scene same picture, and bodies where the truth says they are."""

import cv2
import numpy as np
import pytest

from larvasight.geometry import axial_to_offset
from larvasight.render import paint, paint_with_maps, random_scene, truth_sheet

IOU_LEAST = 0.95


def rasterised(outline_xy_px, size_px):
    """Return which pixel centres lie inside an outline, from eight samples a pixel."""
    finer = 8
    big = np.zeros((size_px[1] * finer, size_px[0] * finer), np.uint8)
    points = (np.array(outline_xy_px) + 0.5) * finer - 0.5
    cv2.fillPoly(big, [np.round(points * 16).astype(np.int32)], 1, shift=4)
    return big[finer // 2 :: finer, finer // 2 :: finer] > 0


def test_paint_same_scene_gives_the_same_picture():
    scenes = [random_scene(np.random.default_rng(5), size_px=(240, 180)) for _ in range(2)]
    assert scenes[0] == scenes[1]
    np.testing.assert_array_equal(paint(scenes[0]), paint(scenes[1]))


@pytest.mark.parametrize("size_px", [(320, 240), (75, 51)])
def test_paint_picture_has_the_size_asked_for(size_px):
    painted = paint_with_maps(random_scene(np.random.default_rng(1), size_px=size_px, n_cells=6))
    assert painted.image.shape == (size_px[1], size_px[0], 3)
    assert painted.image.dtype == np.uint8
    assert painted.seen.shape == (size_px[1], size_px[0])


@pytest.mark.parametrize("tilt_deg", [0.0, 7.0])
def test_paint_seen_bodies_agree_with_true_outlines(tilt_deg):
    n_compared = 0
    for seed in range(3):
        scene = random_scene(
            np.random.default_rng(seed), size_px=(640, 480), n_cells=6, tilt_deg=tilt_deg
        )
        seen = paint_with_maps(scene).seen
        number = {axial_to_offset(c.q, c.r): i + 1 for i, c in enumerate(scene.cells)}
        for cell in truth_sheet(scene, name="x.png", sha256="0").cells:
            if cell.outline_xy_px is None or cell.visible_share < 0.999:
                continue
            painted = seen == number[(cell.row, cell.col)]
            true = rasterised(cell.outline_xy_px, scene.camera.size_px)
            assert (painted & true).sum() / (painted | true).sum() > IOU_LEAST
            n_compared += 1
    assert n_compared >= 8
