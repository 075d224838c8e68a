from itertools import pairwise

import numpy as np
import pytest

from larvasight.desk.look_for import STAGES, age_row
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Content, Flag, Jelly


@pytest.fixture(scope="module")
def library():
    return TileLibrary.load()


def test_every_setting_shows_the_whole_row(library):
    for setting in library.settings:
        row = age_row(library, setting, np.random.default_rng(1))
        assert [stage for stage, _ in row] == list(STAGES)


@pytest.mark.reference("common practice: ages in the order egg, just hatched, bow, comma, C, ring")
def test_stages_follow_each_other_in_age_and_curl():
    ages_h = [np.mean(stage.ages_h) for stage in STAGES]
    assert all(before < after for before, after in pairwise(ages_h))
    curls = [np.mean(stage.curls_deg) for stage in STAGES if stage.curls_deg is not None]
    assert all(before < after for before, after in pairwise(curls))


def test_cells_show_what_is_said_of_them(library):
    rng = np.random.default_rng(2)
    for setting in library.settings:
        for stage, tile in age_row(library, setting, rng):
            is_egg = stage.title == "Egg"
            assert tile.content is (Content.EGG if is_egg else Content.LARVA)
            assert stage.ages_h[0] <= tile.age_h <= stage.ages_h[1]
            assert Flag.HIDDEN_BY_WALL not in tile.flags
            if stage.is_fed:
                assert tile.jelly is not Jelly.NONE
            if stage.curls_deg is not None:
                assert stage.curls_deg[0] <= tile.curl_deg <= stage.curls_deg[1]


def test_other_chance_shows_other_cells(library):
    setting = library.settings[0]
    rows = [
        tuple(tile.id for _, tile in age_row(library, setting, np.random.default_rng(seed)))
        for seed in range(6)
    ]
    assert len(set(rows)) > 1


def test_an_unknown_setting_is_a_wrong_call(library):
    with pytest.raises(ValueError, match="setting must be one of"):
        age_row(library, "moonlight", np.random.default_rng(1))
