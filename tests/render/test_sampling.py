"""Scenes by chance: nothing but the body itself tells its age."""

import numpy as np
import pytest

from larvasight.render import (
    Camera,
    Comb,
    CombScene,
    Larva,
    LightKind,
    Pool,
    SceneCell,
    Stores,
    StoresKind,
    random_scene,
)
from larvasight.render.bodies import BODY_SHAPES, body_reach_mm
from larvasight.sheet import Content, Jelly

SMALL = {"size_px": (200, 150), "n_cells": 12}


def larvae_of(variation, n_scenes, **options):
    for seed in range(n_scenes):
        scene = random_scene(np.random.default_rng(seed), variation=variation, **(SMALL | options))
        for cell in scene.cells:
            if cell.larva is not None:
                yield scene, cell


@pytest.mark.parametrize("variation", ["practice", "wide"])
def test_random_scene_age_cannot_be_told_from_food_wax_or_light(variation):
    rows = [
        (
            cell.larva.age_h,
            cell.pool.level_mm,
            cell.pool.opacity_per_mm,
            scene.comb.wax_age,
            scene.comb.cocoon,
            scene.light.ambient,
            scene.light.size,
            scene.camera.exposure,
            cell.larva.gloss,
        )
        for scene, cell in larvae_of(variation, 110)
    ]
    assert len(rows) > 1000
    correlations = np.corrcoef(np.array(rows), rowvar=False)[0, 1:]
    assert np.abs(correlations).max() <= 0.2


def test_random_scene_ages_are_spread_flat():
    ages_h = [cell.larva.age_h for _, cell in larvae_of("practice", 110)]
    counts, _ = np.histogram(ages_h, bins=7, range=(0.0, 84.0))
    expected = len(ages_h) / 7
    assert np.abs(counts - expected).max() < 5.0 * np.sqrt(expected)


def test_random_scene_age_weights_choose_parts_of_the_span():
    ages_h = [c.larva.age_h for _, c in larvae_of("practice", 4, age_weights=[0.0, 1.0, 0.0, 0.0])]
    assert len(ages_h) > 20
    assert 21.0 <= min(ages_h) <= max(ages_h) <= 42.0


def test_random_scene_newly_hatched_larvae_have_no_food():
    fresh = [c for _, c in larvae_of("practice", 40) if c.larva.age_h < 2.0]
    assert fresh
    assert all(cell.pool.amount is Jelly.NONE for cell in fresh)


def test_random_scene_bodies_stay_clear_of_the_walls():
    for scene, cell in larvae_of("wide", 30):
        reach_mm = body_reach_mm(cell.larva, BODY_SHAPES["first"])
        room_mm = scene.comb.pitch_mm / 2.0 - 0.2
        assert np.hypot(*cell.larva.offset_xy_mm) + reach_mm <= room_mm + 1e-6


def test_random_scene_shows_every_content_and_every_light():
    scenes = [random_scene(np.random.default_rng(seed), **SMALL) for seed in range(40)]
    assert {cell.content for scene in scenes for cell in scene.cells} == {
        Content.LARVA,
        Content.EGG,
        Content.EMPTY,
        Content.CAPPED,
        Content.STORES,
    }
    assert {scene.light.kind for scene in scenes} == set(LightKind)


def test_random_scene_holds_about_the_cells_asked_for():
    scene = random_scene(np.random.default_rng(3), size_px=(1000, 750), n_cells=24)
    hexagon_px2 = np.sqrt(3.0) / 2.0 * scene.camera.pitch_px**2
    assert 1000 * 750 / hexagon_px2 == pytest.approx(24.0)


@pytest.mark.parametrize(
    ("options", "named"),
    [
        ({"variation": "odd"}, "variation"),
        ({"look": "none"}, "look"),
        ({"n_cells": 0}, "n_cells"),
        ({"n_cells": 4, "pitch_px": 50.0}, "n_cells and pitch_px"),
        ({"size_px": (5, 5)}, "size_px"),
        ({"pitch_mm": 9.0}, "pitch_mm"),
        ({"tilt_deg": 80.0}, "tilt_deg"),
        ({"distance_mm": 3.0}, "distance_mm"),
        ({"age_weights": [0.0, 0.0]}, "age_weights"),
    ],
)
def test_random_scene_refuses_what_cannot_be_drawn(options, named):
    with pytest.raises(ValueError, match=named):
        random_scene(np.random.default_rng(0), **({"contents": {Content.LARVA: 1.0}} | options))


def test_scene_refuses_parts_that_do_not_fit():
    larva = Larva(age_h=20.0, length_mm=2.0, width_mm=0.5, curl_deg=90.0)
    stores = Stores(kind=StoresKind.POLLEN, depth_mm=5.0, colour_rgb=(200.0, 150.0, 60.0))
    cell = SceneCell(q=0, r=0)
    with pytest.raises(ValueError, match="content"):
        SceneCell(q=0, r=0, larva=larva)
    with pytest.raises(ValueError, match="content"):
        SceneCell(q=0, r=0, content=Content.EGG, stores=stores)
    with pytest.raises(ValueError, match="content"):
        SceneCell(q=0, r=0, content=Content.COVERED)
    with pytest.raises(ValueError, match="curl_side"):
        Larva(age_h=20.0, length_mm=2.0, width_mm=0.5, curl_deg=90.0, curl_side=0)
    with pytest.raises(ValueError, match="wax_age"):
        Comb(wax_age=1.5)
    with pytest.raises(ValueError, match="level_mm"):
        Pool(level_mm=-1.0)
    with pytest.raises(ValueError, match="places"):
        CombScene(comb=Comb(), cells=(cell, cell), camera=Camera())
