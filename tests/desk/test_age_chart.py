"""Which cells stand on the age chart."""

from datetime import date
from itertools import pairwise

import numpy as np
import pytest

from larvasight.desk.age_chart import age_chart, save_chart
from larvasight.desk.look_for import STAGES
from larvasight.errors import AssetMissingError, OutputFolderError
from larvasight.grading import Limits, true_grade
from larvasight.paper.age_chart_parts import Page
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Grade

DAY = date(2026, 5, 20)


@pytest.fixture(scope="module")
def library():
    return TileLibrary.load()


def test_the_whole_row_stands_there_in_the_order_of_age(library):
    chart = age_chart(library, Limits(), made_on=DAY)
    assert [cell.title for cell in chart.cells] == [stage.title for stage in STAGES]
    assert [cell.looks for cell in chart.cells] == [stage.looks for stage in STAGES]
    assert all(a.age_h < b.age_h for a, b in pairwise(chart.cells))


@pytest.mark.reference("common practice: usable 6-30 h, best 12-24 h")
def test_the_usual_chart_shows_what_to_take_and_two_of_the_best(library):
    chart = age_chart(library, Limits(), made_on=DAY)
    grades = [true_grade(cell.age_h, Limits()) for cell in chart.cells if cell.age_h >= 0.0]
    assert grades == [Grade.VERY_YOUNG, *[Grade.TAKE] * 3, *[Grade.TOO_OLD] * 3]
    assert sum(12.0 <= cell.age_h <= 24.0 for cell in chart.cells) == 2


def test_the_same_seed_gives_the_same_cells(library):
    ages = [
        [cell.age_h for cell in age_chart(library, Limits(), made_on=DAY, seed=seed).cells]
        for seed in (5, 5, 6)
    ]
    assert ages[0] == ages[1]
    assert ages[0] != ages[2]


def test_cells_bring_their_picture_and_its_scale(library):
    for cell in age_chart(library, Limits(), made_on=DAY).cells:
        assert cell.pixels.dtype == np.uint8
        assert cell.pixels.shape[0] == cell.pixels.shape[1] > cell.pitch_px


def test_an_unknown_setting_is_a_wrong_call(library):
    with pytest.raises(ValueError, match="setting must be one of"):
        age_chart(library, Limits(), made_on=DAY, setting="moonlight")


def test_it_is_saved_whole_or_told_why_not(library, tmp_path):
    path = tmp_path / "chart.pdf"
    save_chart(path, Limits(), page=Page.LETTER, made_on=DAY, library=library)
    assert path.read_bytes().startswith(b"%PDF-")
    with pytest.raises(OutputFolderError, match="cannot be written"):
        save_chart(tmp_path / "no" / "c.pdf", Limits(), page=Page.A4, made_on=DAY, library=library)


def test_missing_pictures_are_one_sentence(tmp_path, monkeypatch):
    monkeypatch.setattr("larvasight.render.tiles.assets_dir", lambda: tmp_path)
    with pytest.raises(AssetMissingError, match="install it again"):
        save_chart(tmp_path / "chart.pdf", Limits(), page=Page.A4, made_on=DAY)
    assert not (tmp_path / "chart.pdf").exists()
