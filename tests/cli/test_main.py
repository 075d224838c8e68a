"""The commands as a person or a script calls them: files, exit status, one line per trouble."""

import csv
import io
import json
import os
import shutil
import struct
import sys
import zlib

import cv2
import numpy as np
import pytest

from larvasight import __version__
from larvasight.cli.main import run
from larvasight.sheet import Flag, sheet_from_json

# Keys of the documented sheet that scripts rely on.
CELL_KEYS = {
    "row",
    "col",
    "centre_xy_px",
    "px_per_mm",
    "residual_px",
    "confidence",
    "content",
    "visible_share",
    "jelly",
    "length_mm",
    "length_mm_sd",
    "width_mm",
    "area_mm2",
    "curl_deg",
    "curl_deg_sd",
    "midline_xy_px",
    "outline_xy_px",
    "age_h",
    "age_h_lo",
    "age_h_hi",
    "grade",
    "reason",
    "flags",
}


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    folder = tmp_path_factory.mktemp("drawn")
    assert run(["draw", "--out", str(folder), "--seed", "4", "--cells", "12", "--count", "2"]) == 0
    return folder


def png_header(width_px, height_px):
    def chunk(kind, data):
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    header = struct.pack(">IIBBBBB", width_px, height_px, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")


def bad_inputs(folder, good):
    jpeg = cv2.imencode(".jpg", cv2.imread(str(good)))[1].tobytes()
    stripes = np.zeros((300, 400, 3), np.uint8)
    stripes[:, ::40] = 255
    files = {
        "empty.jpg": b"",
        "text.jpg": b"these are not the pixels of a comb\n" * 20,
        "truncated.jpg": jpeg[: len(jpeg) // 2],
        "dot.png": cv2.imencode(".png", np.zeros((1, 1, 3), np.uint8))[1].tobytes(),
        "huge.png": png_header(60000, 60000),
        "no-comb.png": cv2.imencode(".png", stripes)[1].tobytes(),
    }
    for name, data in files.items():
        (folder / name).write_bytes(data)
    return [folder / name for name in files]


def test_draw_writes_pictures_with_their_truth(drawn):
    names = sorted(path.name for path in drawn.iterdir())
    assert names == ["comb-0001.json", "comb-0001.png", "comb-0002.json", "comb-0002.png"]
    sheet = sheet_from_json((drawn / "comb-0001.json").read_text(encoding="utf-8"))
    assert sheet.truth
    whole = [cell for cell in sheet.cells if Flag.CUT_BY_FRAME not in cell.flags]
    assert 8 <= len(whole) <= 18


@pytest.mark.parametrize("style", ["photoreal", "painted"])
def test_draw_keeps_to_the_pitch_that_is_asked_for(style, tmp_path):
    asked = ["--seed", "4", "--cells", "12", "--pitch-px", "110", "--style", style]
    assert run(["draw", "--out", str(tmp_path), *asked]) == 0
    sheet = sheet_from_json((tmp_path / "comb-0001.json").read_text(encoding="utf-8"))
    assert sheet.scale.pitch_px == pytest.approx(110.0, abs=1.0)


def test_draw_with_one_seed_draws_the_same(drawn, tmp_path):
    assert run(["draw", "--out", str(tmp_path), "--seed", "4", "--cells", "12"]) == 0
    assert (tmp_path / "comb-0001.png").read_bytes() == (drawn / "comb-0001.png").read_bytes()


def test_measure_one_photo_prints_the_sheet(drawn, capsys):
    assert run(["measure", str(drawn / "comb-0001.png")]) == 0
    sheet = json.loads(capsys.readouterr().out)
    assert sheet["format"] == "larvasight.sheet"
    assert sheet["version"] == 1
    assert sheet["truth"] is False
    assert set(sheet["scale"]) >= {"pitch_px", "pitch_mm", "px_per_mm", "distance_mm", "source"}
    assert all(set(cell) >= CELL_KEYS for cell in sheet["cells"])


def test_measure_csv_has_a_row_for_each_cell(drawn, capsys):
    assert run(["measure", str(drawn / "comb-0001.png"), "--format", "csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert len(rows) >= 8
    assert {"photo", "content", "length_mm", "age_h_lo", "age_h_hi", "grade"} <= set(rows[0])


def test_measure_a_folder_with_two_processes_keeps_every_photo(drawn, tmp_path, capsys):
    out = tmp_path / "out"
    assert run(["measure", str(drawn), "--out", str(out), "--marked", "--jobs", "2"]) == 0
    assert {path.name for path in out.iterdir()} == {
        "comb-0001.json",
        "comb-0001-marked.png",
        "comb-0002.json",
        "comb-0002-marked.png",
    }
    lines = capsys.readouterr().out.splitlines()
    assert lines == [str(out / "comb-0001.json"), str(out / "comb-0002.json")]


def test_a_photos_name_is_no_formula_in_a_spreadsheet(drawn, tmp_path, capsys):
    photo = tmp_path / "=1+1.png"
    shutil.copyfile(drawn / "comb-0001.png", photo)
    assert run(["measure", str(photo), "--format", "csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert {row["photo"] for row in rows} == {"'=1+1.png"}


@pytest.mark.skipif(sys.platform != "linux", reason="only there names may be any bytes")
def test_a_photos_name_may_be_no_text(drawn, tmp_path, capsys):
    photo = tmp_path / os.fsdecode(b"comb-\xff.png")
    shutil.copyfile(drawn / "comb-0001.png", photo)
    assert run(["measure", str(photo), "--out", str(tmp_path / "out")]) == 0
    assert "comb-" in capsys.readouterr().out
    (written,) = (tmp_path / "out").iterdir()
    assert json.loads(written.read_text(encoding="utf-8"))["photo"]["name"] == photo.name


def test_bad_inputs_are_one_line_each_and_stop_nothing(drawn, tmp_path, capsys):
    bad = bad_inputs(tmp_path, drawn / "comb-0001.png")
    good = drawn / "comb-0001.png"
    out = tmp_path / "out"
    status = run(["measure", *map(str, bad), str(good), "--out", str(out)])
    lines = capsys.readouterr().err.strip().splitlines()
    assert status == 1
    assert [path.name for path in out.iterdir()] == ["comb-0001.json"]
    assert len(lines) == len(bad)
    for path, line in zip(bad, lines, strict=True):
        assert path.name in line
        assert "Traceback" not in line


def test_an_output_folder_that_cannot_be_made_is_one_line(drawn, tmp_path, capsys):
    blocked = tmp_path / "file"
    blocked.write_text("in the way", encoding="utf-8")
    status = run(["measure", str(drawn / "comb-0001.png"), "--out", str(blocked / "out")])
    assert status == 1
    assert len(capsys.readouterr().err.strip().splitlines()) == 1


@pytest.mark.parametrize(
    "arguments",
    [
        ["measure"],
        ["measure", "photo.png", "--pitch-mm", "0"],
        ["measure", "a.png", "b.png"],
        ["draw"],
        ["draw", "--out", "x", "--cells", "many"],
        ["draw", "--out", "x", "--style", "woodcut"],
        ["no-such-command"],
        [],
    ],
    ids=[
        "no photo",
        "pitch 0",
        "two photos without --out",
        "no --out",
        "text as number",
        "a look that is not there",
        "unknown",
        "nothing",
    ],
)
def test_a_wrong_call_ends_with_status_2(arguments, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a.png").write_bytes(b"")
    (tmp_path / "b.png").write_bytes(b"")
    assert run(arguments) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_demo_does_the_whole_job(tmp_path, capsys):
    assert run(["demo", "--out", str(tmp_path / "demo"), "--seed", "2"]) == 0
    names = {path.name for path in (tmp_path / "demo").iterdir()}
    pictures = {"comb.png", "comb.json", "marked.png", "measured.json"}
    assert names == {*pictures, "records.db", "report.pdf"}
    text = capsys.readouterr().out
    assert "larvae could be measured" in text
    assert "verdicts agree" in text
    assert "(invented), simulated, judged" in text
    assert f"report in {tmp_path / 'demo' / 'report.pdf'}." in text


def test_demo_over_records_of_others_is_one_line(data, capsys):
    before = (data / "records.db").read_bytes()
    assert run(["demo", "--out", str(data)]) == 1
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert (data / "records.db").read_bytes() == before


def test_the_version_is_told(capsys):
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"larvasight {__version__}\n"


def test_without_a_command_the_help_is_named(capsys):
    assert run([]) == 2
    assert "larvasight --help" in capsys.readouterr().err


def test_measuring_into_the_photos_own_folder_is_refused(drawn, capsys):
    before = (drawn / "comb-0001.json").read_bytes()
    assert run(["measure", str(drawn), "--out", str(drawn)]) == 2
    assert (drawn / "comb-0001.json").read_bytes() == before
    assert "choose another folder" in capsys.readouterr().err
