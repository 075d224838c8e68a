"""Use cases: names that do not collide, CSV that reads back, files written whole or not at all."""

import codecs
import csv
import io
from pathlib import Path

import measuring_that_ends
import numpy as np
import pytest

from larvasight.desk import measuring
from larvasight.desk.demo import compare
from larvasight.desk.files import make_folder
from larvasight.desk.measuring import (
    MeasureJob,
    SheetFormat,
    measure_all,
    output_names,
    sheet_to_csv,
)
from larvasight.errors import OutputFolderError
from larvasight.render import paint, random_scene, save_picture, truth_sheet
from larvasight.sheet import write_whole
from larvasight.vision.scale import ScaleGuess


@pytest.fixture(scope="module")
def truth():
    from numpy.random import default_rng

    scene = random_scene(default_rng(6), size_px=(400, 300), pitch_px=100.0)
    return truth_sheet(scene, name="comb.png", sha256="")


def test_photos_of_one_name_get_files_of_their_own():
    photos = [Path("a/comb.jpg"), Path("b/comb.png"), Path("c/other.jpg"), Path("d/comb.jpg")]
    assert output_names(photos) == ["comb", "comb-2", "other", "comb-3"]


def test_names_that_differ_in_capitals_alone_and_numbered_ones_are_told_apart_too():
    photos = [Path(name) for name in ("IMG.jpg", "img.png", "img-2.jpg", "x/img.jpg", "Img.webp")]
    names = output_names(photos)
    assert names[:2] == ["IMG", "img-2"]
    assert len({name.casefold() for name in names}) == len(photos)


def test_photos_called_alike_are_told_with_their_folders(tmp_path):
    paths = [tmp_path / side / "brood.png" for side in ("north", "south")]
    for path in paths:
        path.parent.mkdir()
        path.write_bytes(b"no picture")
    job = MeasureJob(guess=ScaleGuess())
    errors = [outcome.error for outcome in measure_all(paths, job)]
    assert [error.split()[0] for error in errors] == ["north/brood.png", "south/brood.png"]


def test_a_table_of_a_photo_tells_spreadsheets_how_it_is_written(tmp_path):
    scene = random_scene(np.random.default_rng(6), size_px=(400, 300), pitch_px=100.0)
    photo = tmp_path / "bröd.png"
    save_picture(photo, paint(scene), scene.camera.distance_mm)
    job = MeasureJob(guess=ScaleGuess(), out=tmp_path, sheet_format=SheetFormat.CSV)
    (outcome,) = measure_all([photo], job)
    assert outcome.written.read_bytes().startswith(codecs.BOM_UTF8)
    rows = list(csv.DictReader(outcome.written.read_text("utf-8-sig").splitlines()))
    assert {row["photo"] for row in rows} == {"bröd.png"}


def test_a_process_that_is_ended_from_outside_costs_its_photo_alone(tmp_path, monkeypatch):
    """One of five photos ends every process that opens it."""
    photos = [tmp_path / f"{k}.png" for k in range(5)]
    for photo in photos:
        photo.write_bytes(b"no picture")
    monkeypatch.setattr(measuring, "_measure_in_worker", measuring_that_ends.measure)
    job = MeasureJob(guess=ScaleGuess())
    outcomes = list(measure_all(photos, job, n_jobs=2))
    assert [outcome.photo for outcome in outcomes] == photos
    ended = [k for k, outcome in enumerate(outcomes) if "was ended" in outcome.error]
    assert ended == [int(measuring_that_ends.ENDS_AT)]


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


def test_a_link_where_a_file_is_written_first_is_not_followed(tmp_path):
    (tmp_path / "out").mkdir()
    precious = tmp_path / "precious"
    precious.write_text("kept", encoding="utf-8")
    (tmp_path / "out" / "sheet.json.part").symlink_to(precious)
    write_whole(tmp_path / "out" / "sheet.json", b"whole")
    assert precious.read_text(encoding="utf-8") == "kept"
    assert not (tmp_path / "out" / "sheet.json").is_symlink()
    assert (tmp_path / "out" / "sheet.json").read_bytes() == b"whole"


def test_make_folder_where_a_file_stands_is_refused(tmp_path):
    (tmp_path / "file").write_text("here", encoding="utf-8")
    with pytest.raises(OutputFolderError, match="cannot be made"):
        make_folder(tmp_path / "file")
