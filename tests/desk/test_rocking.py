import importlib.util
from pathlib import Path

import numpy as np
import pytest

from larvasight.desk.rocking import EGG, HATCHED, RIGHT, rocked_row
from larvasight.grading import Limits
from larvasight.render.rocking import RockingLibrary
from larvasight.sheet import Content

FILES = Path(__file__).parents[1] / "render" / "rocking_files.py"


@pytest.fixture
def library(tmp_path):
    spec = importlib.util.spec_from_file_location("rocking_files", FILES)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return RockingLibrary.load(module.write_rocking(tmp_path))


@pytest.mark.reference("common practice: an egg stands on its first day, then leans and lies")
def test_an_egg_that_stands_is_shown_beside_a_hatched_and_a_right_larva(library):
    row = rocked_row(library, "lamp-a", Limits(), np.random.default_rng(1))
    assert [kind for kind, _ in row] == [EGG, HATCHED, RIGHT]
    egg, hatched, right = (cell.straight for _, cell in row)
    assert egg.content is Content.EGG
    assert egg.age_h == -60.0
    assert hatched.age_h == 1.5
    assert right.age_h == 17.0


def test_where_none_is_of_the_best_ages_a_usable_one_is_shown(library):
    limits = Limits(young_h=6.0, best_young_h=20.0, best_old_h=24.0, old_h=36.0)
    row = rocked_row(library, "lamp-a", limits, np.random.default_rng(1))
    assert row[2][1].straight.age_h in (17.0, 35.0)


def test_what_no_cell_shows_is_left_out(library):
    limits = Limits(young_h=40.0, best_young_h=41.0, best_old_h=42.0, old_h=44.0)
    row = rocked_row(library, "lamp-a", limits, np.random.default_rng(1))
    assert [kind for kind, _ in row] == [EGG, HATCHED]
