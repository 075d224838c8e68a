import importlib.util
import math
from pathlib import Path

import cv2
import numpy as np
import pytest

from larvasight.render import composer, patch_scene
from larvasight.render.lens import Lens, develop, sample_lens
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Content, Flag

SIZE_PX = (640, 480)


def load_neighbour(name):
    place = Path(__file__).with_name(f"{name}.py")
    spec = importlib.util.spec_from_file_location(name, place)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


fake = load_neighbour("tile_library")


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    return TileLibrary.load(fake.write_library(tmp_path_factory.mktemp("tiles")))


def comb(library, seed=1, **how):
    rng = np.random.default_rng(seed)
    return composer.compose_patch(rng, library, size_px=SIZE_PX, n_cells=20, **how)


def ideal(library, seed):
    """Compose a comb without a lens, from one setting."""
    rng = np.random.default_rng(seed)
    scene = patch_scene(rng, size_px=SIZE_PX, n_cells=20, tilt_deg=0.0)
    tiles = composer.choose_tiles(scene.cells, library.of("lamp-a"), rng)
    return scene, composer.compose(library, scene, tiles)


def test_the_same_chance_composes_the_same_comb(library):
    one, other = comb(library, 3), comb(library, 3)
    np.testing.assert_array_equal(one.pixels, other.pixels)
    assert one.sheet == other.sheet
    assert not np.array_equal(one.pixels, comb(library, 4).pixels)


def test_a_comb_is_composed_again_from_the_tiles_it_had(library):
    first = comb(library, 5)
    again = comb(library, 5, avoid=frozenset(first.laid_ids), laid_ids=first.laid_ids)
    np.testing.assert_array_equal(first.pixels, again.pixels)
    assert again.sheet == first.sheet


def test_all_tiles_of_a_comb_are_of_one_setting(library):
    found = comb(library, 6)
    assert {library.tile(tile_id).setting for tile_id in found.laid_ids} == {found.setting}
    assert comb(library, 6, setting="lamp-b").setting == "lamp-b"


def test_no_tile_twice_while_others_of_its_kind_are_left(library):
    first = comb(library, 7, setting="lamp-a")
    larvae = [t for t in first.laid_ids if library.tile(t).content is Content.LARVA]
    n_larvae = sum(t.content is Content.LARVA for t in library.of("lamp-a"))
    assert len(set(larvae)) == min(len(larvae), n_larvae)
    seen = frozenset(larvae[: len(larvae) // 2])
    later = comb(library, 8, setting="lamp-a", avoid=seen)
    n_needed = sum(library.tile(t).content is Content.LARVA for t in later.laid_ids)
    if n_needed <= n_larvae - len(seen):
        assert not seen & set(later.laid_ids)


def test_tiles_are_near_the_age_the_queen_laid(library):
    rng = np.random.default_rng(9)
    scene = patch_scene(rng, size_px=SIZE_PX, n_cells=12, tilt_deg=0.0)
    tiles = composer.choose_tiles(scene.cells, library.of("lamp-a"), rng)
    away_h = [
        abs(tile.age_h - cell.larva.age_h)
        for cell, tile in zip(scene.cells, tiles, strict=True)
        if cell.larva is not None
    ]
    assert np.median(away_h) <= 6.0  # tiles stand 4 h apart, and none is used twice
    kinds = [(cell.content, tile.content) for cell, tile in zip(scene.cells, tiles, strict=True)]
    assert all(wanted is found for wanted, found in kinds)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_bodies_lie_where_the_truth_says(library, seed):
    _, found = ideal(library, seed)
    bodies = [cell for cell in found.sheet.cells if cell.midline_xy_px is not None]
    assert bodies
    for cell in bodies:
        if Flag.CUT_BY_FRAME in cell.flags:
            continue
        start, end = np.array(cell.midline_xy_px)
        points = start + np.linspace(0.1, 0.9, 9)[:, None] * (end - start)
        column, row = np.round(points).astype(int).T
        assert (found.pixels[row, column].min(axis=1) > 200).all()
        beside = points + 9.0 * np.array([-(end - start)[1], (end - start)[0]]) / math.dist(
            start, end
        )
        column, row = np.round(beside).astype(int).T
        assert (found.pixels[row, column].max(axis=1) < 150).all()


def test_lengths_in_the_picture_are_lengths_in_mm(library):
    _, found = ideal(library, 4)
    for cell in found.sheet.cells:
        if cell.length_mm is not None:
            length_px = math.dist(*cell.midline_xy_px)
            assert length_px / cell.px_per_mm == pytest.approx(cell.length_mm, rel=1e-6)


def test_centres_lie_on_the_scene_s_lattice_to_half_a_pixel(library):
    scene, found = ideal(library, 5)
    pitch_px = scene.camera.pitch_px
    centres = np.array([cell.centre_xy_px for cell in found.sheet.cells])
    away = np.hypot(*(centres[:, None] - centres[None]).transpose(2, 0, 1))
    nearest = np.sort(away, axis=1)[:, 1]
    np.testing.assert_allclose(nearest, pitch_px, rtol=0, atol=1.5)


def test_seams_lie_in_the_rims(library):
    """Between two floors of one colour nothing but the rim's own colour is blended."""
    _, found = ideal(library, 6)
    smooth = cv2.GaussianBlur(found.pixels, (0, 0), 1.0).astype(int)
    grey = smooth.max(axis=2)
    assert grey.min() >= 30  # no black gaps where tiles meet
    assert np.isfinite(found.pixels).all()


def test_cells_cut_by_the_edge_say_so(library):
    _, found = ideal(library, 7)
    flags = [Flag.CUT_BY_FRAME in cell.flags for cell in found.sheet.cells]
    assert any(flags)
    assert not all(flags)


def test_one_tile_for_each_cell_is_asked_for(library):
    rng = np.random.default_rng(1)
    scene = patch_scene(rng, size_px=SIZE_PX, n_cells=12, tilt_deg=0.0)
    with pytest.raises(ValueError, match="tiles must be one for each"):
        composer.compose(library, scene, library.of("lamp-a")[:2])


def test_lens_changes_what_it_says_and_nothing_else():
    grey = np.full((60, 80, 3), 100, dtype=np.uint8)
    np.testing.assert_array_equal(develop(grey, Lens()), grey)
    warm = develop(grey, Lens(gains_rgb=(1.2, 1.0, 0.8)))
    assert [int(v) for v in warm[0, 0]] == [120, 100, 80]
    dim = develop(grey, Lens(vignetting=0.4))
    assert dim[30, 40, 0] >= 99
    assert dim[0, 0, 0] < 85
    noisy = develop(grey, Lens(noise_sd=4.0, seed=3)).astype(float)
    assert noisy.std() == pytest.approx(4.0, abs=0.4)
    np.testing.assert_array_equal(noisy, develop(grey, Lens(noise_sd=4.0, seed=3)))


def test_lenses_stay_modest():
    rng = np.random.default_rng(2)
    for _ in range(200):
        lens = sample_lens(rng)
        assert all(0.6 < gain < 1.5 for gain in lens.gains_rgb)
        assert lens.blur_px < 1.5
        assert lens.noise_sd <= 2.0
