import importlib.util
from pathlib import Path

import pytest

from larvasight.errors import AssetMissingError
from larvasight.render.rocking import Lamp, RockingLibrary, View


def load_neighbour(name):
    place = Path(__file__).with_name(f"{name}.py")
    spec = importlib.util.spec_from_file_location(name, place)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


files = load_neighbour("rocking_files")


def test_every_cell_has_each_view_under_each_lamp(tmp_path):
    library = RockingLibrary.load(files.write_rocking(tmp_path))
    cells = library.of("lamp-a")
    assert [cell.straight.age_h for cell in cells] == [-60.0, -10.0, 1.5, 17.0, 35.0]
    seen = {
        library.pixels(cell, view, lamp).tobytes()
        for cell in cells[:1]
        for view in View
        for lamp in Lamp
    }
    assert len(seen) == 10


def test_a_view_shows_what_its_file_shows(tmp_path):
    library = RockingLibrary.load(files.write_rocking(tmp_path))
    pixels = library.pixels(library.of("lamp-a")[0], View.LEFT, Lamp.B)
    assert (pixels == files.picture((-6, 0), files.LAMPS["b"])).all()
    assert not pixels.flags.writeable


def test_cells_set_apart_for_tests_are_never_shown(tmp_path):
    files.write_rocking(tmp_path)
    shown = {cell.id for cell in RockingLibrary.load(tmp_path).of("lamp-a")}
    tested = {cell.id for cell in RockingLibrary.load(tmp_path, for_tests=True).of("lamp-a")}
    assert len(tested) == 1
    assert not shown & tested


def test_a_cell_with_a_view_missing_is_left_out(tmp_path):
    files.write_rocking(tmp_path, leave_out=("rock-lamp-a-00-0002-up-b",))
    cells = RockingLibrary.load(tmp_path).of("lamp-a")
    assert [cell.straight.age_h for cell in cells] == [-60.0, -10.0, 17.0, 35.0]


def test_a_folder_without_views_says_so(tmp_path):
    with pytest.raises(AssetMissingError, match="pictures to rock a comb are missing"):
        RockingLibrary.load(tmp_path)
    (tmp_path / "rocking.jsonl").write_text("", encoding="utf-8")
    with pytest.raises(AssetMissingError, match="pictures to rock a comb are missing"):
        RockingLibrary.load(tmp_path)


def test_a_picture_gone_says_which(tmp_path):
    library = RockingLibrary.load(files.write_rocking(tmp_path))
    (tmp_path / "rocking" / "rock-lamp-a-00-0000-up-a.png").unlink()
    with pytest.raises(AssetMissingError, match="0000-up-a"):
        library.pixels(library.of("lamp-a")[0], View.UP, Lamp.A)


def test_an_unknown_setting_is_a_wrong_call(tmp_path):
    library = RockingLibrary.load(files.write_rocking(tmp_path, settings=("a", "b")))
    assert library.settings == ("a", "b")
    with pytest.raises(ValueError, match="setting must be one of"):
        library.of("moonlight")
