"""Use cases: names that do not collide, CSV that reads back, files written whole or not at all."""

import csv
import io
from pathlib import Path

import pytest

from larvasight.desk.demo import compare
from larvasight.desk.files import make_folder
from larvasight.desk.measuring import output_names, sheet_to_csv
from larvasight.errors import OutputFolderError
from larvasight.render import random_scene, truth_sheet
from larvasight.sheet import write_whole


@pytest.fixture(scope="module")
def truth():
    from numpy.random import default_rng

    scene = random_scene(default_rng(6), size_px=(400, 300), pitch_px=100.0)
    return truth_sheet(scene, name="comb.png", sha256="")


def test_photos_of_one_name_get_files_of_their_own():
    photos = [Path("a/comb.jpg"), Path("b/comb.png"), Path("c/other.jpg"), Path("d/comb.jpg")]
    assert output_names(photos) == ["comb", "comb-2", "other", "comb-3"]


def test_csv_has_a_row_for_each_cell_and_blanks_for_the_unknown(truth):
    rows = list(csv.DictReader(io.StringIO(sheet_to_csv(truth))))
    assert len(rows) == len(truth.cells)
    for row, cell in zip(rows, truth.cells, strict=True):
        assert row["content"] == cell.content
        assert float(row["centre_x_px"]) == pytest.approx(cell.centre_xy_px[0], abs=1e-3)
        assert (row["length_mm"] == "") == (cell.length_mm is None)


def test_truth_compared_with_itself_agrees(truth):
    from larvasight.grading import grade_sheet

    result = compare(truth, grade_sheet(truth))
    assert result.n_cells == len(truth.cells)
    assert result.length_error_share == 0.0
    assert result.n_measured == result.n_larvae


def test_write_whole_leaves_nothing_half_done(tmp_path):
    write_whole(tmp_path / "sheet.json", b"whole")
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.json"]
    (tmp_path / "taken").mkdir()
    with pytest.raises(OutputFolderError, match="cannot be written"):
        write_whole(tmp_path / "taken", b"never")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["sheet.json", "taken"]


def test_make_folder_where_a_file_stands_is_refused(tmp_path):
    (tmp_path / "file").write_text("here", encoding="utf-8")
    with pytest.raises(OutputFolderError, match="cannot be made"):
        make_folder(tmp_path / "file")
