"""Pictures: same scene same picture, and bodies where the truth says they are."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from larvasight.geometry import axial_to_offset
from larvasight.growth import sample_body
from larvasight.render import (
    Camera,
    Comb,
    CombScene,
    Light,
    LightKind,
    Pool,
    SceneCell,
    cells_in_view,
    paint,
    paint_with_maps,
    random_scene,
    sample_larva,
    truth_sheet,
)
from larvasight.sheet import Content, Jelly

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


LIGHTS = {
    "ring": Light(kind=LightKind.RING, slope_xy=(0.0, 0.0), size=0.25, height_mm=180.0),
    "headlamp": Light(kind=LightKind.HEADLAMP, slope_xy=(0.07, -0.13), size=0.06),
    "window": Light(kind=LightKind.WINDOW, slope_xy=(0.2, -0.2), size=0.25, height_mm=5000.0),
    "sun": Light(kind=LightKind.SUN, slope_xy=(-0.15, -0.1), size=0.02, height_mm=5000.0),
}


@pytest.mark.parametrize("kind", LIGHTS)
def test_paint_young_bodies_are_as_bright_as_the_food_around_them(kind):
    rng = np.random.default_rng(4)
    camera = Camera(size_px=(600, 460), pitch_px=150.0, noise=0.0, distance_mm=250.0)
    comb = Comb(wax_age=0.5, cocoon=0.7)
    pool = Pool(amount=Jelly.PLENTY, level_mm=0.8, opacity_per_mm=9.0)
    cells = []
    for i, (q, r) in enumerate(cells_in_view(comb, camera)):
        age_h = 3.0 + 21.0 * (i % 8) / 7.0
        larva = replace(sample_larva(age_h, sample_body(age_h, rng), rng), sink=0.06)
        cells.append(SceneCell(q=q, r=r, content=Content.LARVA, larva=larva, pool=pool, seed=i))
    scene = CombScene(comb=comb, cells=tuple(cells), light=LIGHTS[kind], camera=camera)
    painted = paint_with_maps(scene)
    luma = painted.image @ np.array([0.2126, 0.7152, 0.0722])
    ratios = []
    for number in range(1, len(cells) + 1):
        body = (painted.seen == number).astype(np.uint8)
        if body.sum() < 300:
            continue
        near = cv2.dilate(body, np.ones((3, 3)), iterations=8) > 0
        touching = cv2.dilate(body, np.ones((3, 3)), iterations=2) > 0
        ratios.append(np.median(luma[body > 0]) / np.median(luma[near & ~touching]))
    assert len(ratios) >= 10
    assert np.quantile(np.abs(np.array(ratios) - 1.0), 0.9) <= 0.15


def test_paint_walls_hide_floors_as_the_view_tilts():
    shown = []
    for tilt_deg in (0.0, 12.0, 25.0):
        scene = random_scene(
            np.random.default_rng(6),
            size_px=(320, 240),
            n_cells=8,
            tilt_deg=tilt_deg,
            contents={Content.LARVA: 1.0},
            age_weights=[0.0, 1.0, 0.0, 0.0],
        )
        shown.append((paint_with_maps(scene).seen > 0).mean())
    assert shown[0] > 1.3 * shown[1] > 1.3 * shown[2]


def test_paint_wide_scenes_of_any_size():
    for seed in range(6):
        scene = random_scene(
            np.random.default_rng(seed), size_px=(160, 120), pitch_px=30.0, variation="wide"
        )
        image = paint(scene)
        assert image.shape == (120, 160, 3)
        assert image.std() > 1.0
