"""A whole side of comb: laid as queens and bees do, no tile beside itself, with exact truth."""

import importlib.util
import math
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from larvasight.render import comb_side
from larvasight.render.far_apart import choose_far_apart
from larvasight.render.side_composer import compose_side
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Content, Flag

N_CELLS = 150


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


@pytest.fixture(scope="module")
def side(library):
    return compose_side(np.random.default_rng(3), library, n_cells=N_CELLS, setting="lamp-a")


def cells_of(seed, n_cells=600):
    return comb_side.side_cells(np.random.default_rng(seed), comb_side.side_size_mm(n_cells))


def test_a_side_holds_about_as_many_whole_cells_as_wanted(library):
    for seed in range(4):
        made = compose_side(np.random.default_rng(seed), library, n_cells=N_CELLS)
        whole = [cell for cell in made.sheet.cells if Flag.CUT_BY_FRAME not in cell.flags]
        assert len(whole) == pytest.approx(N_CELLS, rel=0.12)


def test_the_same_chance_composes_the_same_side_and_its_tiles_do_so_too(library, side):
    again = compose_side(np.random.default_rng(3), library, n_cells=N_CELLS, setting="lamp-a")
    np.testing.assert_array_equal(side.pixels, again.pixels)
    assert side.sheet == again.sheet
    laid = compose_side(np.random.default_rng(3), library, n_cells=N_CELLS, laid_ids=side.laid_ids)
    np.testing.assert_array_equal(side.pixels, laid.pixels)
    assert side.sheet == laid.sheet


def test_bodies_lie_where_the_truth_says(side):
    n_checked = 0
    for cell in side.sheet.cells:
        if cell.midline_xy_px is None or Flag.CUT_BY_FRAME in cell.flags:
            continue
        start, end = np.array(cell.midline_xy_px)
        points = start + np.linspace(0.15, 0.85, 5)[:, None] * (end - start)
        column, row = np.round(points).astype(int).T
        assert (side.pixels[row, column].min(axis=1) > 190).all()
        n_checked += 1
    assert n_checked > 50


def test_bands_leave_no_seam(side):
    """A row where one band meets the next differs from its neighbours no more than others do."""
    rows = side.pixels.astype(float).mean(axis=2)
    steps = np.abs(np.diff(rows, axis=0)).mean(axis=1)
    band_px = 512
    for top_px in range(band_px, rows.shape[0], band_px):
        around = steps[top_px - 12 : top_px + 12]
        assert steps[top_px - 1] <= 1.6 * np.median(around) + 1.0


@pytest.mark.parametrize("seed", range(4))
def test_no_tile_lies_beside_itself(library, seed):
    cells = cells_of(seed)
    tiles = choose_far_apart(cells, library.of("lamp-a"), np.random.default_rng(seed))
    centres = np.array([cell.centre_xy_mm for cell in cells])
    names = np.array([tile.id for tile in tiles])
    for name in set(names):
        own = centres[names == name]
        away = np.hypot(*(own[:, None] - own[None]).transpose(2, 0, 1))
        np.fill_diagonal(away, math.inf)
        assert away.min() > 1.3 * 5.3


def test_shipped_tiles_are_near_the_age_the_queen_laid_and_far_apart():
    shipped = TileLibrary.load()
    cells = cells_of(5)
    tiles = choose_far_apart(cells, shipped.of("headlamp-brown-both"), np.random.default_rng(1))
    larvae = [(c, t) for c, t in zip(cells, tiles, strict=True) if c.kind == "larva"]
    assert all(tile.content is Content.LARVA for _, tile in larvae)
    away_h = [abs(cell.age_h - tile.age_h) for cell, tile in larvae]
    assert np.median(away_h) <= 3.0
    places = {}
    for cell, tile in larvae:
        places.setdefault(tile.id, []).append(cell.centre_xy_mm)
    nearest = [
        min(math.dist(at, other) for other in found if other is not at)
        for found in places.values()
        for at in found
        if len(found) > 1
    ]
    assert min(nearest) > 1.5 * 5.3  # never neighbours
    assert np.median(nearest) > 5.0 * 5.3


@pytest.mark.reference("common practice: brood in the middle, pollen about it, nectar farthest")
def test_brood_lies_in_the_middle_and_stores_lie_around_it():
    away = {}
    for seed in range(12):
        for cell in cells_of(seed):
            across, down = cell.centre_xy_mm
            away.setdefault(cell.kind, []).append(math.hypot(across, down / 0.7))
    mean = {kind: np.mean(found) for kind, found in away.items()}
    assert mean["larva"] < mean["egg"] < mean["pollen"] < mean["nectar"]
    assert mean["capped"] < mean["egg"]


@pytest.mark.reference("common practice: she lays from the middle outward, the oldest inside")
@pytest.mark.parametrize("seed", range(6))
def test_larvae_are_younger_the_farther_out_they_lie(seed):
    larvae = [cell for cell in cells_of(seed) if cell.kind == "larva"]
    ages_h = np.array([cell.age_h for cell in larvae])
    away = np.array([math.hypot(c.centre_xy_mm[0], c.centre_xy_mm[1] / 0.8) for c in larvae])
    assert np.corrcoef(ages_h, away)[0, 1] < -0.25


def test_every_side_has_larvae_to_pick_and_others_to_leave():
    for seed in range(12):
        cells = cells_of(seed)
        counts = Counter(cell.kind for cell in cells)
        right = sum(cell.kind == "larva" and 6.0 <= cell.age_h <= 30.0 for cell in cells)
        assert 0.05 < right / len(cells) < 0.45
        assert counts["egg"] > 10
        assert counts["larva"] - right > 20
        assert counts["pollen"] > 10


def test_rows_are_level(side):
    assert side.sheet.lattice.row_angle_deg == 0.0
    rows = {}
    for cell in side.sheet.cells:
        rows.setdefault(cell.row, set()).add(cell.centre_xy_px[1])
    assert all(max(found) - min(found) <= 1.0 for found in rows.values())


@pytest.mark.parametrize("n_cells", [20, 5000])
def test_a_side_too_small_or_too_large_is_a_wrong_call(library, n_cells):
    with pytest.raises(ValueError, match="n_cells"):
        compose_side(np.random.default_rng(1), library, n_cells=n_cells)


def test_tiles_of_another_side_are_a_wrong_call(library, side):
    with pytest.raises(ValueError, match="laid_ids must be one for each"):
        compose_side(np.random.default_rng(3), library, n_cells=N_CELLS, laid_ids=side.laid_ids[:5])
