"""Marks by hand beside what is measured: a drawn comb marked from its truth comes out right."""

import json
from dataclasses import replace

import numpy as np
import pytest

from check_marks import check, describe, main
from hand_marks import MarksInvalidError, content_of, read_marks
from larvasight.geometry import depth_scale
from larvasight.render import paint, random_scene, save_picture, truth_sheet
from larvasight.sheet import Content, ScaleSource
from larvasight.vision.network import NetworkParser
from larvasight.vision.photo import load_photo
from larvasight.vision.scale import ScaleGuess

DISTANCE_MM = 200.0


def mark_of(cell):
    """What a person would note of a true cell, its length as it is seen so far below the rims."""
    mark = {"cell_centre_px": cell.centre_xy_px, "stage": cell.content.value}
    if cell.content is Content.LARVA:
        mark |= {
            "arc_deg": cell.curl_deg,
            "body_length_pitch": cell.length_mm / depth_scale(DISTANCE_MM) / 5.3,
        }
    return mark


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A drawn comb with marks made from its truth."""
    folder = tmp_path_factory.mktemp("marked")
    scene = random_scene(
        np.random.default_rng(21), size_px=(640, 480), pitch_px=104.0, tilt_deg=2.0, clean=True
    )
    save_picture(folder / "comb.png", paint(scene), DISTANCE_MM)
    truth = truth_sheet(scene, name="comb.png", sha256="")
    inner = [c for c in truth.cells if "cut-by-frame" not in c.flags]
    record = {
        "photo": "comb.png",
        "lattice": {
            "pitch_px_mean": 104.0,
            "row_angle_deg": truth.lattice.row_angle_deg,
            "centres_xy_px": [c.centre_xy_px for c in inner],
        },
        "cells": [mark_of(c) for c in inner],
    }
    (folder / "marks.json").write_text(json.dumps({"photos": [record]}), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def checked(folder):
    (marks,) = read_marks(folder / "marks.json")
    guess = ScaleGuess(pitch_mm=5.3, distance_mm=200.0, source=ScaleSource.GIVEN)
    return check(load_photo(folder / "comb.png"), marks, NetworkParser(), guess)


def test_places_pitch_and_row_angle_of_a_drawn_comb_come_out_right(checked):
    assert checked.places.near_share >= 0.95
    assert abs(checked.places.pitch_error) < 0.02
    assert abs(checked.pitch_given_error) < 0.02
    assert abs(checked.row_given_deg) < 1.5


def test_contents_and_bodies_stand_beside_their_marks(checked):
    assert checked.right_share >= 0.7
    larvae = [c for c in checked.cells if c.mark.stage == "larva" and c.cell is not None]
    assert larvae
    assert any(f"/ {c.cell.curl_deg:.0f} deg" in describe(c) for c in larvae if c.cell.curl_deg)


def test_lengths_are_told_as_they_are_seen_like_their_marks(checked):
    shares = [
        cell.length_pitch / cell.mark.length_pitch
        for cell in checked.cells
        if cell.length_pitch is not None and cell.mark.length_pitch is not None
    ]
    assert len(shares) >= 5
    # A length at the larva's depth would be 5 % more.
    assert np.median(shares) == pytest.approx(1.0, rel=0, abs=0.03)


@pytest.mark.parametrize(
    "lattice",
    [[], {"centres_xy_px": []}, {"centres_xy_px": [[1, 2]]}, {"centres_xy_px": [[1], [2], [3]]}],
)
def test_a_lattice_that_is_none_is_one_sentence(tmp_path, lattice):
    record = {"photo": "comb.png", "lattice": lattice}
    (tmp_path / "marks.json").write_text(json.dumps({"photos": [record]}), encoding="utf-8")
    with pytest.raises(MarksInvalidError, match="is no file of marks"):
        read_marks(tmp_path / "marks.json")


def test_a_file_that_tells_its_coding_first_is_read(folder, tmp_path):
    text = (folder / "marks.json").read_text(encoding="utf-8")
    (tmp_path / "marks.json").write_text(text, encoding="utf-8-sig")
    assert len(read_marks(tmp_path / "marks.json")) == 1


def test_marks_a_pitch_off_are_told(checked, folder):
    (marks,) = read_marks(folder / "marks.json")
    shift_px = np.array([0.4 * 104.0, 0.0])
    off = replace(marks, centres_xy_px=marks.centres_xy_px + shift_px)
    guess = ScaleGuess(distance_mm=200.0)
    moved = check(load_photo(folder / "comb.png"), off, NetworkParser(), guess)
    assert moved.places.near_share < 0.2


def test_the_command_prints_a_photo_and_its_cells(folder, capsys, monkeypatch):
    given = ["--photos", str(folder), "--marks", str(folder / "marks.json")]
    monkeypatch.setattr("sys.argv", ["check_marks.py", *given])
    assert main() == 0
    told = capsys.readouterr().out
    assert "comb.png" in told
    assert "contents right" in told


@pytest.mark.parametrize(
    ("stage", "content"),
    [
        ("closed ring / C", Content.LARVA),
        ("C, nearly closed", Content.LARVA),
        ("young larva", Content.LARVA),
        ("egg", Content.EGG),
        ("capped brood", Content.CAPPED),
        ("pollen", Content.STORES),
        ("?", None),
    ],
)
def test_words_of_a_stage_tell_the_content(stage, content):
    assert content_of(stage) is content


@pytest.mark.parametrize("text", ["", "[]", '{"photos": [{"photo": "a.jpg"}]}', "\x00"])
def test_a_file_of_another_form_is_refused_in_one_sentence(tmp_path, text):
    path = tmp_path / "marks.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(MarksInvalidError, match=r"marks\.json"):
        read_marks(path)
