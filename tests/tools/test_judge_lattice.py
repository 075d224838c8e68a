"""Changed pictures keep their marks on the cells; the judge tells good from bad."""

import numpy as np
import pytest

from comb_changes import CHANGES, Marked, cropped, resized
from comb_marks import marks_of_sheet, place_figures
from judge_lattice import judge
from larvasight.errors import NoCombError
from larvasight.render import paint, random_scene, truth_sheet
from larvasight.vision.lattice import enlarged
from larvasight.vision.photo_cells import find_comb
from larvasight.vision.rectify import Pyramid
from no_comb import NO_COMB


@pytest.fixture(scope="module")
def comb():
    scene = random_scene(
        np.random.default_rng(4), size_px=(640, 480), pitch_px=62.0, tilt_deg=3.0, clean=True
    )
    return Marked(pixels=paint(scene), marks=marks_of_sheet(truth_sheet(scene, name="", sha256="")))


@pytest.mark.parametrize("change", ["as it is", "aslant", "bent", "20 px", "shaded", "faded"])
def test_cells_of_a_changed_comb_are_found_where_its_marks_went(comb, change):
    changed = CHANGES[change](comb, np.random.default_rng(3))
    verdict = judge(changed)
    assert verdict.is_good, verdict


def test_cells_of_a_few_cells_shown_large_are_found(comb):
    near = resized(cropped(comb, np.random.default_rng(2), 9.0), 300.0)
    assert judge(near).is_good


def test_marks_that_are_no_cells_are_told(comb):
    lattice = find_comb(Pyramid(comb.pixels))
    beside = comb.marks.centres_xy_px + 0.45 * comb.marks.pitch_px
    off = place_figures(lattice, type(comb.marks)(centres_xy_px=beside, pairs=comb.marks.pairs))
    assert off.near_share < 0.2


def test_a_lattice_enlarged_lies_on_the_larger_picture(comb):
    half = resized(comb, comb.marks.pitch_px / 2.0)
    found = place_figures(enlarged(find_comb(Pyramid(half.pixels)), 2.0), comb.marks)
    assert found.near_share >= 0.9
    assert abs(found.pitch_error) < 0.02


@pytest.mark.parametrize("name", sorted(NO_COMB))
def test_other_regular_things_are_refused(name):
    with pytest.raises(NoCombError):
        find_comb(Pyramid(NO_COMB[name](np.random.default_rng(8))))
