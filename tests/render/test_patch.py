"""Patches of brood: ages lie as a queen lays them, and there is something to choose from."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from larvasight.geometry import NEIGHBOUR_STEPS_QR
from larvasight.render import AgeField, paint, patch_scene, sample_age_field, truth_sheet
from larvasight.render.patch import (
    NEST_HEIGHT,
    RING_MOST,
    Border,
    fit_ages,
    lay_cell,
    sample_plan,
    sample_waves,
)
from larvasight.render.sampling import sample_colony
from larvasight.sheet import Content, Flag, Jelly

SMALL_PX = (320, 240)  # contents and ages do not depend on the number of pixels
N_SEEDS = 40
STEPS = NEIGHBOUR_STEPS_QR[:3]


def patch(seed, **options):
    return patch_scene(np.random.default_rng(seed), **({"size_px": SMALL_PX} | options))


def age_h(cell):
    return (cell.larva or cell.egg).age_h if cell.larva or cell.egg else None


@dataclass
class Shown:
    """One scene, its cells by place, and its whole cells as the truth tells them."""

    scene: object
    cells: dict
    whole: list

    def share(self, low_h, high_h):
        ages_h = [c.age_h for c in self.whole if c.age_h is not None]
        return sum(low_h <= h < high_h for h in ages_h) / len(self.whole)

    def neighbours(self):
        for (q, r), cell in self.cells.items():
            for dq, dr in STEPS:
                other = self.cells.get((q + dq, r + dr))
                if other is not None:
                    yield cell, other

    def has_hatching_edge(self):
        pairs_h = [
            sorted((age_h(a), age_h(b)))
            for a, b in self.neighbours()
            if a.egg or a.larva
            if b.egg or b.larva
        ]
        return any(-30.0 < young < 0.0 <= old < 12.0 for young, old in pairs_h)


def shown(scene):
    sheet = truth_sheet(scene, name="a.png", sha256="")
    whole = [cell for cell in sheet.cells if Flag.CUT_BY_FRAME not in cell.flags]
    return Shown(scene=scene, cells={(c.q, c.r): c for c in scene.cells}, whole=whole)


@pytest.fixture(scope="module")
def patches():
    return [shown(patch(seed)) for seed in range(N_SEEDS)]


def test_patch_scene_neighbours_are_of_like_age(patches):
    near_h, apart_h, all_h = [], [], []
    for one in patches:
        ages_h = np.array([c.larva.age_h for c in one.scene.cells if c.larva])
        first, second = np.triu_indices(len(ages_h), 1)
        apart_h.extend(np.abs(ages_h[first] - ages_h[second]))
        all_h.extend(ages_h)
        near_h.extend(
            abs(a.larva.age_h - b.larva.age_h) for a, b in one.neighbours() if a.larva and b.larva
        )
    shuffled_h = np.random.default_rng(0).permutation(all_h)
    assert np.median(near_h) < 10.0
    assert np.median(near_h) < 0.7 * np.median(apart_h)
    assert np.median(near_h) < 0.5 * np.median(np.abs(np.array(all_h) - shuffled_h))


def test_patch_scene_hatching_edge_crosses_most_patches(patches):
    assert np.mean([one.has_hatching_edge() for one in patches]) > 0.75


def test_patch_scene_shows_a_changing_share_of_each_age(patches):
    usable = [one.share(6.0, 30.0) for one in patches]
    assert 0.25 <= np.mean(usable) <= 0.45
    assert min(usable) < 0.2
    assert max(usable) > 0.45
    assert np.mean([one.share(30.0, 60.0) > 0.0 for one in patches]) > 0.75
    assert np.mean([one.share(-74.0, 6.0) > 0.0 for one in patches]) > 0.75
    for one in patches:
        ages_h = [c.age_h for c in one.whole if c.age_h is not None]
        assert len(ages_h) > len(one.whole) / 2
        assert np.ptp(ages_h) > 20.0


def test_patch_scene_ages_are_those_of_eggs_and_open_larvae(patches):
    for one in patches:
        for cell in one.scene.cells:
            if cell.egg:
                assert -74.0 <= cell.egg.age_h < 0.0
            if cell.larva:
                assert 0.0 <= cell.larva.age_h <= 84.0


def test_patch_scene_holds_about_the_whole_cells_asked_for(patches):
    assert all(24 <= len(one.whole) <= 40 for one in patches)
    for n_cells in (8, 60):
        counts = [len(shown(patch(seed, n_cells=n_cells)).whole) for seed in range(6)]
        assert np.mean(counts) == pytest.approx(n_cells, rel=0.25)


def test_patch_scene_capped_cells_and_stores_lie_together_at_the_young_end(patches):
    kinds = set()
    for one in patches:
        contents = {cell.content for cell in one.scene.cells}
        assert not {Content.CAPPED, Content.STORES} <= contents
        for kind in {Content.CAPPED, Content.STORES} & contents:
            kinds.add(kind)
            beside = [
                b if a.content is kind else a
                for a, b in one.neighbours()
                if kind in (a.content, b.content)
            ]
            assert all(c.content in (kind, Content.EMPTY) or age_h(c) < 45.0 for c in beside)
    assert kinds == {Content.CAPPED, Content.STORES}


def test_patch_scene_queen_misses_few_cells(patches):
    inside = [
        cell
        for one in patches
        if not {Content.CAPPED, Content.STORES} & {c.content for c in one.scene.cells}
        for cell in one.scene.cells
    ]
    missed = np.mean([cell.content is Content.EMPTY for cell in inside])
    assert 0.01 < missed < 0.1


def test_patch_scene_food_does_not_tell_age(patches):
    fed = [
        (cell.larva.age_h, cell.pool.level_mm, cell.pool.opacity_per_mm)
        for one in patches
        for cell in one.scene.cells
        if cell.larva and cell.pool.amount is not Jelly.NONE
    ]
    assert len(fed) > 500
    correlations = np.corrcoef(np.array(fed), rowvar=False)[0, 1:]
    assert np.abs(correlations).max() <= 0.2


def test_patch_scene_is_sharp_lit_and_hardly_tilted(patches):
    for one in patches:
        camera, light = one.scene.camera, one.scene.light
        assert camera.tilt_deg <= 5.0
        assert camera.focus_mm >= 7.0
        assert camera.blur_px <= 0.7
        assert not one.scene.shadows
        assert light.ambient >= 0.4
    assert patch(0, tilt_deg=12.0).camera.tilt_deg == 12.0


def test_patch_scene_same_seed_same_scene():
    assert patch(3) == patch(3)
    assert patch(3) != patch(4)
    np.testing.assert_array_equal(
        paint(patch(3, size_px=(160, 120))), paint(patch(3, size_px=(160, 120)))
    )


def test_patch_scene_without_hatching_edge_shows_hardly_an_egg():
    cells = [c for seed in range(20) for c in patch(seed, hatching_edge=False).cells]
    eggs = [c for c in cells if c.egg]
    assert len(eggs) < 0.06 * len(cells)


def test_patch_scene_focus_moves_the_ages():
    early, late = (
        np.mean(
            [c.larva.age_h for s in range(12) for c in patch(s, focus_age_h=f).cells if c.larva]
        )
        for f in ((0.0, 12.0), (48.0, 72.0))
    )
    assert early + 8.0 < late


@pytest.mark.parametrize(
    ("options", "named"),
    [
        ({"size_px": (5, 400)}, "size_px"),
        ({"n_cells": 3}, "n_cells"),
        ({"n_cells": 2001}, "n_cells"),
        ({"focus_age_h": (30.0, 6.0)}, "focus_age_h"),
        ({"focus_age_h": (-5.0, 6.0)}, "focus_age_h"),
        ({"focus_age_h": (6.0, 90.0)}, "focus_age_h"),
        ({"tilt_deg": 80.0}, "tilt_deg"),
        ({"pitch_mm": 9.0}, "pitch_mm"),
        ({"look": "none"}, "look"),
    ],
)
def test_patch_scene_refuses_what_cannot_be_drawn(options, named):
    with pytest.raises(ValueError, match=named):
        patch(0, **options)


# The field of ages by itself


def still():
    """Return a plane that is 0 everywhere."""
    waves = sample_waves(np.random.default_rng(0), height=1.0, pitch_mm=5.3)
    return replace(waves, amplitudes=np.zeros_like(waves.amplitudes))


def test_age_field_of_rings_is_one_ring_younger_for_each_ring_outward():
    field = AgeField(
        centre_xy_mm=(10.0, -4.0), ring_mm=5.0, lag=still(), first_age_h=70.0, ring_h=9.0
    )
    away = np.array([[0.0, 0.0], [5.0, 0.0], [0.0, -10.0], [9.0, 12.0]])
    np.testing.assert_allclose(
        field.age_h(away + np.array([10.0, -4.0])), [70.0, 61.0, 52.0, 43.0], rtol=0, atol=1e-9
    )


def test_age_field_rings_are_as_high_as_told():
    field = AgeField(centre_xy_mm=(0.0, 0.0), ring_mm=5.0, lag=still(), height_share=0.5)
    assert field.rings(np.array([10.0, 0.0])) == pytest.approx(field.rings(np.array([0.0, 5.0])))


@pytest.mark.parametrize("turn", [-1, 1])
def test_age_field_spiral_ages_by_one_ring_in_one_turn_without_a_seam(turn):
    field = AgeField(centre_xy_mm=(0.0, 0.0), ring_mm=1.0, lag=still(), turn=turn)
    share = np.linspace(0.0, 3.0, 3001)
    radius = 4.0 + share  # along the middle of the spiral's arm
    angle_rad = turn * 2.0 * np.pi * share
    way = radius[:, None] * np.column_stack([np.cos(angle_rad), np.sin(angle_rad)])
    np.testing.assert_allclose(field.rings(way), radius, rtol=0, atol=1e-6)
    smooth = AgeField(centre_xy_mm=(0.0, 0.0), ring_mm=1.0, lag=still())
    anywhere = np.random.default_rng(1).uniform(-9.0, 9.0, (500, 2))
    assert np.abs(field.rings(anywhere) - smooth.rings(anywhere)).max() <= 0.5 + 1e-9


def test_sample_waves_have_the_height_asked_for():
    waves = sample_waves(np.random.default_rng(2), height=0.4, pitch_mm=5.3)
    points = np.random.default_rng(3).uniform(-3000.0, 3000.0, (20000, 2))
    assert np.sqrt(np.mean(waves.at(points) ** 2)) == pytest.approx(0.4, rel=0.05)


def test_sample_age_field_varies_hand_and_height():
    fields = [
        sample_age_field(np.random.default_rng(s), centre_xy_mm=(0.0, 0.0), pitch_mm=5.3)
        for s in range(40)
    ]
    assert {field.turn for field in fields} == {-1, 0, 1}
    assert np.mean([f.height_share for f in fields]) == pytest.approx(NEST_HEIGHT.value, abs=0.05)


def test_fit_ages_reaches_both_ends_unless_the_queen_would_be_too_slow():
    field = AgeField(centre_xy_mm=(0.0, 0.0), ring_mm=5.3, lag=still())
    rings = np.linspace(2.0, 12.0, 101)
    fitted = fit_ages(field, rings, (-20.0, 60.0), 18.0)
    np.testing.assert_allclose(
        fitted.first_age_h - fitted.ring_h * np.quantile(rings, [0.05, 0.95]), [60.0, -20.0]
    )
    steep = fit_ages(field, rings[:21], (-20.0, 60.0), 20.0)
    assert steep.ring_h == pytest.approx(RING_MOST.value)
    assert steep.first_age_h - steep.ring_h * 3.0 == pytest.approx(20.0)


def test_lay_cell_leaves_what_is_not_laid_yet_empty():
    rng = np.random.default_rng(5)
    centres = np.random.default_rng(6).uniform(-15.0, 15.0, (30, 2))
    plan = sample_plan(rng, centres, (-20.0, 50.0), 18.0, pitch_mm=5.3)
    plan = replace(
        plan,
        border=Border.NONE,
        border_rings=np.inf,
        missed_share=0.0,
        field=replace(plan.field, first_age_h=-100.0),
    )
    options = {"colony": sample_colony(rng, wide=False), "pitch_mm": 5.3, "look": "first"}
    cells = [lay_cell(rng, (n, 0), xy, plan, **options) for n, xy in enumerate(centres)]
    assert {cell.content for cell in cells} == {Content.EMPTY}
