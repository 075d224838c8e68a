"""Combs of test tiles: none twice in a test, least seen first, gone on with alike."""

from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime
from uuid import uuid4

import numpy as np
import pytest

from larvasight.desk.fresh_combs import (
    N_CELLS_LEAST,
    SeenTiles,
    prepare_fresh,
    prepare_fresh_again,
    shipped_set_apart,
)
from larvasight.desk.practising import shipped_tiles
from larvasight.grading import Limits
from larvasight.practice import Shows
from larvasight.practice.drills import CHECK, SCREEN_TEST
from larvasight.practice.readiness import CHECK_PICKS, N_PICKS
from larvasight.records.types import UnfinishedRound
from larvasight.sheet import Content

SIZE_PX = (320, 240)
PICKING = replace(SCREEN_TEST, shows=Shows.PATCH)
NOTHING_SEEN = SeenTiles(times={})


@pytest.fixture(scope="module")
def tiles():
    found = shipped_set_apart()
    if found is None:
        pytest.skip("the tiles are not here")
    return found


def prepare(tiles, seed=1, seen=NOTHING_SEEN, drill=PICKING, marks=None):
    return prepare_fresh(drill, seed, size_px=SIZE_PX, tiles=tiles, seen=seen, marks=marks)


def ids(comb):
    return [cell.tile_id for cell in comb.asked]


@pytest.fixture(scope="module")
def all_combs(tiles):
    """Return every comb that one test can show."""
    combs, spent = [], frozenset()
    while (comb := prepare(tiles, len(combs), SeenTiles(spent=spent, times={}))) is not None:
        combs.append(comb)
        spent |= set(ids(comb))
    return combs


def test_no_tile_is_asked_twice_within_a_test(all_combs):
    shown = [tile_id for comb in all_combs for tile_id in ids(comb)]
    assert len(shown) == len(set(shown))


def test_only_tiles_that_are_never_practised_on_are_asked(all_combs, tiles):
    practised = shipped_tiles()
    for comb in all_combs:
        assert tiles.tests.has(ids(comb))
        assert not any(practised.has([tile_id]) for tile_id in ids(comb))


def test_there_is_fresh_comb_for_a_whole_try_of_who_takes_six_in_ten_right_ones(all_combs):
    limits = Limits()
    n_right = sum(
        cell.content is Content.LARVA and cell.age_h <= limits.old_h
        for comb in all_combs
        for cell in comb.asked
    )
    assert 0.6 * n_right >= N_PICKS + CHECK_PICKS


def test_every_cell_asked_is_plain_to_see(all_combs):
    assert all(cell.is_plain for comb in all_combs for cell in comb.asked)
    assert all(len(comb.asked) >= N_CELLS_LEAST for comb in all_combs)


def test_what_was_seen_least_in_other_tests_comes_first(tiles):
    first = prepare(tiles)
    second = prepare(tiles, 2, SeenTiles(times=Counter(ids(first))))
    assert not set(ids(first)) & set(ids(second))


def test_another_light_comes_before_one_is_shown_again(all_combs, tiles):
    lights = [tiles.tests.tile(ids(comb)[0]).setting for comb in all_combs]
    n = len(tiles.tests.settings)
    assert len(set(lights[:n])) == n


def test_none_is_left_once_all_are_spent(tiles):
    every = {tile.id for name in tiles.tests.settings for tile in tiles.tests.of(name)}
    assert prepare(tiles, 3, SeenTiles(spent=frozenset(every), times={})) is None


def test_single_cells_are_as_many_as_the_drill_asks(tiles):
    comb = prepare(tiles, drill=replace(CHECK, shows=Shows.ONE_CELL, n_asked=7))
    assert len(comb.asked) == 7
    for index, cell in enumerate(comb.asked):
        true = comb.cell_of(index)
        assert (true.row, true.col, true.age_h) == (cell.row, cell.col, cell.age_h)


def broken_off(comb, **changed):
    kept = {
        "id": uuid4(),
        "learner_id": uuid4(),
        "drill": SCREEN_TEST.key,
        "cells": comb.asked,
        "givens": (),
        "limits": Limits(),
        "recipe": comb.recipe,
        "kind": "drawn",
        "shown_at_utc": datetime(2027, 4, 3, tzinfo=UTC),
        "model_version": None,
    }
    return UnfinishedRound(**{**kept, **changed})


def test_a_comb_that_was_broken_off_is_laid_alike(tiles):
    comb = prepare(tiles, marks={"screen_try": "x"})
    again = prepare_fresh_again(PICKING, broken_off(comb), tiles)
    assert np.array_equal(again.pixels, comb.pixels)
    assert (again.asked, again.places) == (comb.asked, comb.places)
    assert again.recipe["screen_try"] == "x"


@pytest.mark.parametrize(
    "spoilt",
    [
        {"tiles": []},
        {"tiles": ["nobody-knows-this"]},
        {"n_cells": 10_000},
        {"n_cells": None},
        {"drawn_by": "0.0"},
        {"seed": -1},
    ],
)
def test_a_recipe_that_no_program_of_ours_wrote_lays_nothing(tiles, spoilt):
    comb = prepare(tiles)
    kept = broken_off(comb, recipe={**comb.recipe, **spoilt})
    assert prepare_fresh_again(PICKING, kept, tiles) is None


def test_a_comb_whose_cells_hold_something_else_is_not_gone_on_with(tiles):
    comb = prepare(tiles)
    first = replace(comb.asked[0], tile_id="another")
    kept = broken_off(comb, cells=(first, *comb.asked[1:]))
    assert prepare_fresh_again(PICKING, kept, tiles) is None
