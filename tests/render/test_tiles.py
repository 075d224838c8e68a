import importlib.util
from pathlib import Path

import numpy as np
import pytest

from larvasight.errors import AssetMissingError
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Content


def load_neighbour(name):
    place = Path(__file__).with_name(f"{name}.py")
    spec = importlib.util.spec_from_file_location(name, place)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


fake = load_neighbour("tile_library")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return fake.write_library(tmp_path_factory.mktemp("tiles"))


def test_tiles_for_tests_are_never_practised_on(folder):
    practised = TileLibrary.load(folder)
    kept_apart = TileLibrary.load(folder, for_tests=True)
    ids = [{t.id for s in lib.settings for t in lib.of(s)} for lib in (practised, kept_apart)]
    assert ids[0]
    assert ids[1]
    assert not ids[0] & ids[1]
    assert len(ids[0] | ids[1]) == 2 * len(fake.KINDS)


def test_a_tile_tells_what_its_record_says(folder):
    library = TileLibrary.load(folder)
    tile = library.of("lamp-a")[0]
    assert (tile.content, tile.age_h, tile.kind) == (Content.LARVA, 0.0, "larva")
    assert tile.midline_xy_px == fake.BAR_PX
    assert library.tile(tile.id) is tile
    assert {t.kind for t in library.of("lamp-b")} >= {"pollen", "nectar", "egg", "empty", "capped"}


def test_pixels_are_those_of_the_file_and_read_only(folder):
    library = TileLibrary.load(folder)
    tile = library.of("lamp-a")[0]
    pixels = library.pixels(tile)
    assert pixels.shape == (fake.SIDE_PX, fake.SIDE_PX, 3)
    np.testing.assert_array_equal(pixels, fake.picture((90, 60, 40), 0.0))
    with pytest.raises(ValueError, match="read-only"):
        pixels[0, 0, 0] = 1


def test_unknown_setting_and_tile_are_wrong_calls(folder):
    library = TileLibrary.load(folder)
    with pytest.raises(ValueError, match="setting must be one of"):
        library.of("moonlight")
    with pytest.raises(ValueError, match="tile_id must be"):
        library.tile("nothing")
    assert library.has([library.of("lamp-a")[0].id])
    assert not library.has(["nothing"])


def test_a_missing_list_or_picture_is_one_sentence(tmp_path):
    with pytest.raises(AssetMissingError, match="install it again"):
        TileLibrary.load(tmp_path / "nowhere")
    folder = fake.write_library(tmp_path / "tiles", settings=("lamp-a",))
    library = TileLibrary.load(folder)
    tile = library.of("lamp-a")[0]
    (folder / tile.file).unlink()
    with pytest.raises(AssetMissingError, match="missing or damaged"):
        library.pixels(tile)
