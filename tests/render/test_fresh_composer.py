"""Combs for tests: each fresh tile once, older brood by older brood, composed again alike."""

import numpy as np
import pytest

from larvasight.errors import AssetMissingError
from larvasight.render.fresh_composer import FreshTiles, compose_fresh, compose_laid, is_plain
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Flag

SIZE_PX = (640, 480)
N_CELLS = 16
SETTING = "sun-brown-both"


@pytest.fixture(scope="module")
def libraries():
    try:
        return TileLibrary.load(for_tests=True), TileLibrary.load()
    except AssetMissingError:
        pytest.skip("the tiles are not here")


@pytest.fixture(scope="module")
def fresh(libraries):
    tests, others = libraries
    asked = [tile for tile in tests.of(SETTING) if is_plain(tile)][:N_CELLS]
    return FreshTiles(asked=asked, others=others.of(SETTING))


@pytest.fixture(scope="module")
def comb(libraries, fresh):
    rng = np.random.default_rng(2)
    return compose_fresh(rng, libraries[0], fresh, size_px=SIZE_PX, n_cells=N_CELLS + 4)


def test_every_fresh_tile_lies_once_and_in_a_whole_cell(comb, fresh):
    asked = {tile.id for tile in fresh.asked}
    shown = [tile_id for tile_id in comb.tile_ids if tile_id in asked]
    assert sorted(shown) == sorted(asked)
    for cell, tile_id in zip(comb.sheet.cells, comb.tile_ids, strict=True):
        if tile_id in asked:
            assert Flag.CUT_BY_FRAME not in cell.flags


def test_what_is_not_asked_is_filled_from_tiles_that_are_practised_on(comb, libraries, fresh):
    tests, others = libraries
    asked = {tile.id for tile in fresh.asked}
    rest = set(comb.laid_ids) - asked
    assert rest
    assert others.has(rest)
    assert not any(tests.has([tile_id]) for tile_id in rest)


def test_brood_lies_in_the_order_of_a_queens_laying(comb, fresh):
    """Neighbours are nearer in age than cells taken at random are."""
    asked = {tile.id for tile in fresh.asked}
    brood = [
        (cell.centre_xy_px, cell.age_h)
        for cell, tile_id in zip(comb.sheet.cells, comb.tile_ids, strict=True)
        if tile_id in asked and cell.age_h is not None
    ]
    at = np.array([place for place, _ in brood])
    ages_h = np.array([age_h for _, age_h in brood])
    away_px = np.hypot(*(at[:, None] - at[None, :]).transpose(2, 0, 1))
    apart_h = np.abs(ages_h[:, None] - ages_h[None, :])
    near = (away_px > 0.0) & (away_px < 1.2 * comb.sheet.scale.pitch_px)
    assert apart_h[near].mean() < apart_h[away_px > 0.0].mean()


def test_the_same_comb_is_composed_again_from_its_tiles(comb, libraries, fresh):
    by_id = {tile.id: tile for tile in (*fresh.asked, *fresh.others)}
    again = compose_laid(
        np.random.default_rng(2),
        libraries[0],
        [by_id[tile_id] for tile_id in comb.laid_ids],
        size_px=SIZE_PX,
        n_cells=N_CELLS + 4,
    )
    assert np.array_equal(again.pixels, comb.pixels)
    assert again.tile_ids == comb.tile_ids


def test_a_comb_is_not_composed_again_with_a_tile_too_few(comb, libraries, fresh):
    with pytest.raises(ValueError, match="one for each"):
        compose_laid(
            np.random.default_rng(2),
            libraries[0],
            list(fresh.asked),
            size_px=SIZE_PX,
            n_cells=N_CELLS + 4,
        )
