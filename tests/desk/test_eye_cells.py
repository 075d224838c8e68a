"""Cells for drills of the eye: of a stage, of a gap in age, in a row of ages."""

from dataclasses import replace

import numpy as np
import pytest

from larvasight.desk.eye_cells import EyeCells
from larvasight.errors import AssetMissingError
from larvasight.grading import Limits
from larvasight.practice.ordering import STEPS_H
from larvasight.practice.stages import Stage, stage_of
from larvasight.practice.staircase import GAPS_H
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Content, Flag

LIMITS = Limits()


@pytest.fixture
def cells(tmp_path, eye_tiles):
    return EyeCells.of(TileLibrary(tmp_path, eye_tiles))


@pytest.mark.parametrize("stage", list(Stage))
def test_a_cell_is_of_the_stage_asked(cells, stage):
    rng = np.random.default_rng(1)
    ages_h = [cells.one(stage, LIMITS, rng).age_h for _ in range(40)]
    assert {stage_of(age_h, LIMITS) for age_h in ages_h} == {stage}
    assert len(set(ages_h)) > 1


def test_a_larva_that_looks_of_another_stage_is_not_asked_for_by_name(
    tmp_path, eye_tile, eye_tiles
):
    odd = eye_tile(29.0, looks_h=6.0)
    young = [tile for tile in eye_tiles if tile.age_h < 6.0]
    plain = [eye_tile(12.0 + k) for k in range(3)]
    cells = EyeCells.of(TileLibrary(tmp_path, [*young, *plain, odd]))
    rng = np.random.default_rng(1)
    found = {cells.one(Stage.RIGHT_AGE, LIMITS, rng).id for _ in range(60)}
    assert odd.id not in found
    assert {tile.id for tile in plain} <= found


@pytest.mark.parametrize("gap_h", GAPS_H)
def test_a_pair_is_of_one_comb_and_looks_the_gap_apart(cells, gap_h):
    rng = np.random.default_rng(2)
    for _ in range(20):
        younger, older = cells.pair(gap_h, LIMITS, rng)
        assert younger.setting == older.setting
        assert older.looks_age_h - younger.looks_age_h == pytest.approx(gap_h, abs=1.5)
        assert younger.age_h < older.age_h
        assert younger.content is older.content is Content.LARVA


@pytest.mark.reference("common practice: too old is the costly mistake, so that limit comes more")
def test_pairs_lie_about_the_limits_and_more_about_the_old_one(cells):
    rng = np.random.default_rng(3)
    pairs = [cells.pair(4.0, LIMITS, rng) for _ in range(200)]
    middles_h = np.array([(a.age_h + b.age_h) / 2.0 for a, b in pairs])
    near_old = np.abs(middles_h - LIMITS.old_h) < 9.0
    near_young = np.abs(middles_h - LIMITS.young_h) < 9.0
    assert (near_old | near_young).all()
    assert 0.5 < near_old.mean() < 0.8


@pytest.mark.parametrize("step_h", STEPS_H)
def test_a_row_rises_in_age_and_look_by_about_the_step(cells, step_h):
    rng = np.random.default_rng(4)
    for _ in range(20):
        row = cells.row(step_h, LIMITS, rng)
        assert len({tile.id for tile in row}) == 5
        assert len({tile.setting for tile in row}) == 1
        assert np.diff([tile.looks_age_h for tile in row]) == pytest.approx(step_h, abs=2.0)
        assert (np.diff([tile.age_h for tile in row]) > 0.0).all()


def test_no_cell_comes_twice_while_others_are_left(cells, eye_tiles):
    rng = np.random.default_rng(5)
    seen = set()
    for gap_h in GAPS_H * 3:
        pair = cells.pair(gap_h, LIMITS, rng, seen)
        assert not {tile.id for tile in pair} & seen
        seen |= {tile.id for tile in pair}
    for _ in range(5):
        row = cells.row(4.0, LIMITS, rng, seen)
        assert not {tile.id for tile in row} & seen
        seen |= {tile.id for tile in row}
    eggs = {tile.id for tile in eye_tiles if tile.age_h < 0.0}
    for _ in range(len(eggs)):
        egg = cells.one(Stage.EGG, LIMITS, rng, seen)
        assert egg.id not in seen
        seen.add(egg.id)
    assert cells.one(Stage.EGG, LIMITS, rng, seen).id in eggs


def test_hidden_cells_test_tiles_and_odd_larvae_are_left_out(tmp_path, eye_tile, eye_tiles):
    hidden = replace(eye_tile(20.2), flags=(Flag.HIDDEN_BY_WALL,))
    test = eye_tile(20.3, is_test=True)
    odd = eye_tile(20.4, looks_h=5.0)
    cells = EyeCells.of(TileLibrary(tmp_path, [*eye_tiles, hidden, test, odd]))
    found = {tile.id for tiles in cells.settings for tile in tiles}
    assert not {hidden.id, test.id} & found
    rng = np.random.default_rng(6)
    assert odd.id not in {t.id for _ in range(60) for t in cells.pair(4.0, LIMITS, rng)}


def test_too_few_pictures_are_said_plainly(tmp_path, eye_tiles):
    with pytest.raises(AssetMissingError, match="install larvasight again"):
        EyeCells.of(TileLibrary(tmp_path, eye_tiles[:5]))
    larvae = [tile for tile in eye_tiles if 0.0 <= tile.age_h < 40.0]
    cells = EyeCells.of(TileLibrary(tmp_path, larvae))
    with pytest.raises(AssetMissingError, match="install larvasight again"):
        cells.one(Stage.EGG, LIMITS, np.random.default_rng(1))
