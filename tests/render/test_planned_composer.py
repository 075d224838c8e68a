"""Combs with wanted ages: each there as nearly as the tiles allow, and composed again alike."""

from dataclasses import replace

import numpy as np
import pytest

from larvasight.errors import AssetMissingError
from larvasight.render.composer import compose_patch
from larvasight.render.planned_composer import compose_planned, tiles_of_ages
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Content, Flag

SIZE_PX = (640, 480)
AGES_H = (4.0, 27.0, -1.0, 33.0, 15.0)


@pytest.fixture(scope="module")
def library():
    try:
        return TileLibrary.load()
    except AssetMissingError:
        pytest.skip("the tiles are not here")


@pytest.fixture(scope="module")
def tiles(library):
    return library.of("sun-brown-both")


def planned(library, seed=1, avoid=frozenset()):
    rng = np.random.default_rng(seed)
    return compose_planned(rng, library, ages_h=AGES_H, size_px=SIZE_PX, n_cells=20, avoid=avoid)


def test_every_age_wanted_lies_in_a_whole_cell(library):
    whole = [cell for cell in planned(library).sheet.cells if Flag.CUT_BY_FRAME not in cell.flags]
    looks_h = [cell.looks_age_h for cell in whole if cell.content is Content.LARVA]
    for age_h in AGES_H:
        if age_h >= 0.0:
            assert min(abs(looks - age_h) for looks in looks_h) <= 2.0
    assert any(cell.content is Content.EGG for cell in whole)


def test_a_planned_comb_is_composed_again_from_its_tiles(library):
    first = planned(library)
    again = compose_patch(
        np.random.default_rng(1), library, size_px=SIZE_PX, n_cells=20, laid_ids=first.laid_ids
    )
    np.testing.assert_array_equal(again.pixels, first.pixels)
    assert again.sheet == first.sheet


def test_tiles_seen_already_are_left_while_others_are_there(library):
    first = planned(library)
    again = planned(library, avoid=frozenset(first.laid_ids))
    wanted = [tiles_of_ages(library.of(first.setting), AGES_H)]
    assert {tile.id for tile in wanted[0]} <= set(first.laid_ids)
    assert not {tile.id for tile in wanted[0]} & set(again.laid_ids)


def test_no_tile_serves_two_ages_and_none_is_half_hidden(tiles):
    chosen = tiles_of_ages(tiles, [20.0] * 12)
    assert len({tile.id for tile in chosen}) == 12
    assert all(Flag.HIDDEN_BY_WALL not in tile.flags for tile in chosen)
    hidden = [replace(tile, flags=(Flag.HIDDEN_BY_WALL,)) for tile in tiles]
    assert tiles_of_ages(hidden, [20.0]) == []


def test_an_age_below_hatching_is_any_egg(tiles):
    assert [tile.content for tile in tiles_of_ages(tiles, [-1.0, -70.0])] == [Content.EGG] * 2


def test_where_all_were_seen_they_are_shown_again(tiles):
    everything = frozenset(tile.id for tile in tiles)
    (one,) = tiles_of_ages(tiles, [20.0], everything)
    assert one == tiles_of_ages(tiles, [20.0])[0]
