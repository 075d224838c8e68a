"""The tiles that come with the program: enough of them, of every age, and telling nothing else."""

import json
from itertools import pairwise

import numpy as np
import pytest

from larvasight.geometry import midline_length
from larvasight.render.assets import assets_dir
from larvasight.render.rocking import RockingLibrary
from larvasight.render.tiles import TILES_FILE, TileLibrary
from larvasight.sheet import Content, Flag

# A quarter by chance of a hash; what comes out lies near.
TEST_SHARE = (0.2, 0.3)
MB_MOST = 40.0


@pytest.fixture(scope="module")
def records():
    text = (assets_dir() / TILES_FILE).read_text(encoding="utf-8")
    return [json.loads(line) for line in text.splitlines()]


@pytest.fixture(scope="module")
def larvae(records):
    return [record for record in records if record["content"] == "larva"]


def test_there_are_enough_tiles_in_enough_settings(records):
    assert len(records) >= 1600
    assert len({record["id"] for record in records}) == len(records)
    settings = {record["setting"] for record in records}
    assert len(settings) >= 8
    for kind in ("light", "comb", "focus"):
        assert len({record[kind] for record in records}) >= 3


def test_every_tile_has_its_picture(records):
    missing = [r["file"] for r in records if not (assets_dir() / r["file"]).is_file()]
    assert missing == []
    sizes = sum((assets_dir() / record["file"]).stat().st_size for record in records)
    assert (sizes + (assets_dir() / TILES_FILE).stat().st_size) / 1e6 <= MB_MOST


def test_tiles_are_fine_enough(records):
    assert min(record["pitch_px"] for record in records) >= 160.0


def test_a_quarter_is_set_apart_for_tests(records):
    share = np.mean([record["is_test"] for record in records])
    assert TEST_SHARE[0] <= share <= TEST_SHARE[1]
    n_settings = len({record["setting"] for record in records})
    assert len({r["setting"] for r in records if r["is_test"]}) == n_settings


def test_larvae_of_every_hour_are_there_in_every_setting(larvae):
    for setting in {record["setting"] for record in larvae}:
        ages_h = sorted(r["age_h"] for r in larvae if r["setting"] == setting)
        picked = [age for age in ages_h if 3.5 <= age <= 36.5]
        assert max(after - before for before, after in pairwise(picked)) <= 1.5
    ages_h = sorted(record["age_h"] for record in larvae if 4.0 <= record["age_h"] <= 36.0)
    assert max(after - before for before, after in pairwise(ages_h)) <= 1.0


def test_every_content_is_there_in_every_setting(records):
    wanted = {"larva", "egg", "empty", "stores", "capped"}
    for setting in {record["setting"] for record in records}:
        assert {r["content"] for r in records if r["setting"] == setting} == wanted


@pytest.mark.parametrize("cue", ["jelly_area_mm2", "jelly_level_mm", "jelly_opacity_per_mm"])
def test_food_does_not_tell_the_age(larvae, cue):
    # Just hatched larvae are dry; from there on an eye must find no short cut.
    fed = [record for record in larvae if record["age_h"] >= 2.0 and record["jelly"] != "none"]
    told = np.corrcoef([r["age_h"] for r in fed], [r[cue] for r in fed])[0, 1]
    assert abs(told) <= 0.2


def test_light_and_wax_do_not_tell_the_age(larvae):
    ages_h = np.array([record["age_h"] for record in larvae])
    for key in ("light", "comb", "focus"):
        for value in {record[key] for record in larvae}:
            is_so = np.array([record[key] == value for record in larvae], dtype=float)
            assert abs(np.corrcoef(ages_h, is_so)[0, 1]) <= 0.2


def test_just_hatched_larvae_lie_dry(larvae):
    assert {record["jelly"] for record in larvae if record["age_h"] < 2.0} == {"none"}


def test_lengths_agree_with_the_lines_in_the_pictures(larvae):
    """Seen at a slant a body looks shorter, never longer than it is."""
    for record in larvae:
        seen_mm = midline_length(np.array(record["midline_xy"])) / record["px_per_mm"]
        assert 0.9 * record["length_mm"] <= seen_mm <= 1.03 * record["length_mm"]


def test_hidden_bodies_say_so(records):
    for record in records:
        share = record["visible_share"]
        is_hidden = Flag.HIDDEN_BY_WALL.value in record["flags"]
        assert is_hidden == (share is not None and share < 0.8)


def test_pictures_can_be_read():
    library = TileLibrary.load()
    for setting in library.settings:
        tile = library.of(setting)[0]
        pixels = library.pixels(tile)
        assert pixels.shape == (tile.side_px, tile.side_px, 3)
        assert pixels.std() > 10.0


def test_test_tiles_and_practice_tiles_share_nothing():
    practised, apart = TileLibrary.load(), TileLibrary.load(for_tests=True)
    ids = [{t.id for s in lib.settings for t in lib.of(s)} for lib in (practised, apart)]
    assert not ids[0] & ids[1]
    larvae = [t for s in apart.settings for t in apart.of(s) if t.content is Content.LARVA]
    assert len(larvae) >= 200


def test_sixty_cells_from_egg_to_forty_hours_can_be_rocked():
    library = RockingLibrary.load()
    cells = [cell.straight for setting in library.settings for cell in library.of(setting)]
    assert len(cells) >= 60
    assert sum(cell.content is Content.EGG for cell in cells) >= 10
    ages_h = [cell.age_h for cell in cells if cell.content is Content.LARVA]
    assert min(ages_h) < 2.0
    assert 36.0 < max(ages_h) <= 40.0
