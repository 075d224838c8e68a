"""Marked pictures: every verdict has its own colour, shape and word, and shows on the picture."""

from dataclasses import replace
from itertools import combinations

import cv2
import numpy as np
import pytest
from PySide6.QtCore import QRectF

from larvasight.errors import OutputFolderError
from larvasight.paper.marked import draw_marked_picture, save_marked_picture
from larvasight.paper.marks import EGG_MARK, GRADE_MARKS, hours_on, mark_of
from larvasight.paper.signs import way_into
from larvasight.sheet import (
    Cell,
    Content,
    Flag,
    Grade,
    LatticeInfo,
    PhotoInfo,
    Scale,
    ScaleSource,
    Sheet,
)

OUTLINE = tuple((150.0 + 20.0 * np.cos(t), 120.0 + 12.0 * np.sin(t)) for t in np.linspace(0, 6, 40))


def sheet_with(cell):
    return Sheet(
        truth=False,
        photo=PhotoInfo(name="comb.png", width_px=300, height_px=240, sha256=""),
        scale=Scale(
            pitch_px=160.0,
            pitch_mm=5.3,
            px_per_mm=30.2,
            distance_mm=None,
            source=ScaleSource.COMB,
        ),
        lattice=LatticeInfo(row_angle_deg=0.0, n_cells=1, residual_px=0.0),
        cells=(cell,),
    )


def larva(grade):
    return Cell(
        row=0,
        col=0,
        centre_xy_px=(150.0, 120.0),
        px_per_mm=30.2,
        content=Content.LARVA,
        outline_xy_px=OUTLINE,
        age_h=18.0,
        age_h_lo=14.0,
        age_h_hi=23.0,
        grade=grade,
    )


def pixels_of(image):
    data = np.frombuffer(image.constBits(), np.uint8)
    return data.reshape(image.height(), image.width(), 4)[..., 2::-1].astype(int)


@pytest.mark.parametrize("grade", list(Grade))
def test_a_verdict_shows_in_its_colour(grade):
    image = draw_marked_picture(np.full((240, 300, 3), 90, np.uint8), sheet_with(larva(grade)))
    colour = GRADE_MARKS[grade].colour
    rgb = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)])
    near = np.abs(pixels_of(image)[:240] - rgb).max(axis=2) < 12
    assert near.sum() > 200


@pytest.mark.parametrize("centre", [(150.0, 120.0), (150.0, 6.0), (150.0, 236.0), (30.0, 120.0)])
def test_hours_and_sign_of_a_cell_that_the_edge_of_the_picture_cuts_are_whole(centre):
    grey = np.full((240, 300, 3), 90, np.uint8)
    found = []
    for at in ((150.0, 120.0), centre):
        cell = replace(larva(Grade.TAKE), centre_xy_px=at, outline_xy_px=None)
        shown = pixels_of(draw_marked_picture(grey, sheet_with(cell)))[:240]
        green = np.abs(shown - (0, 158, 115)).max(axis=2) < 12
        # The rim is green, too: of it and the sign, only what is the sign's own.
        sign = cv2.morphologyEx(green.astype(np.uint8), cv2.MORPH_OPEN, np.ones((7, 7), np.uint8))
        found.append((np.count_nonzero(shown.min(axis=2) > 200), np.count_nonzero(sign)))
    assert min(found[0]) > 40
    assert found[1] == pytest.approx(found[0], rel=0.1)


def test_words_never_leave_the_cell_that_they_are_of():
    away = way_into(QRectF(-500.0, -900.0, 60.0, 20.0), QRectF(0.0, 0.0, 300.0, 240.0), 100.0)
    assert (away.x(), away.y()) == (50.0, 80.0)
    inside = way_into(QRectF(10.0, 10.0, 60.0, 20.0), QRectF(0.0, 0.0, 300.0, 240.0), 100.0)
    assert (inside.x(), inside.y()) == (0.0, 0.0)


@pytest.mark.parametrize("grade", [*Grade, None])
def test_hours_stand_on_a_larva_unless_it_cannot_be_told(grade):
    words = hours_on(larva(grade))
    assert words == ("" if grade is Grade.UNSURE else "14\N{EN DASH}23 h")
    assert hours_on(replace(larva(grade), age_h_lo=None, age_h_hi=None)) == ""


def test_marks_differ_in_colour_shape_and_word():
    marks = [*GRADE_MARKS.values(), EGG_MARK]
    for one, other in combinations(marks, 2):
        assert one.colour != other.colour
        assert one.shape != other.shape
        assert one.word != other.word


def test_empty_cells_have_no_mark():
    cell = Cell(row=0, col=0, centre_xy_px=(9.0, 9.0), px_per_mm=30.0, content=Content.EMPTY)
    assert mark_of(cell) is None


def test_a_picture_without_marks_says_why():
    cell = Cell(
        row=0,
        col=0,
        centre_xy_px=(150.0, 120.0),
        px_per_mm=4.0,
        content=Content.UNCLEAR,
        flags=(Flag.TOO_SMALL,),
    )
    image = draw_marked_picture(np.full((240, 300, 3), 90, np.uint8), sheet_with(cell))
    strip = pixels_of(image)[-20:]
    assert strip.min() < 120
    assert strip.max() > 240


def test_a_verdict_that_is_not_sure_has_a_dashed_rim():
    grey = np.full((240, 300, 3), 90, np.uint8)
    sure = replace(larva(Grade.TAKE), outline_xy_px=None)
    greens = []
    for cell in (sure, replace(sure, flags=(Flag.OUTLINE_UNCERTAIN,))):
        shown = pixels_of(draw_marked_picture(grey, sheet_with(cell)))[:240]
        greens.append(np.count_nonzero(np.abs(shown - (0, 158, 115)).max(axis=2) < 12))
    assert greens[1] < 0.85 * greens[0]


def test_cells_put_right_by_hand_have_a_sign_of_their_own():
    grey, sheet = np.full((240, 300, 3), 90, np.uint8), sheet_with(larva(Grade.TAKE))
    bare, marked = (pixels_of(draw_marked_picture(grey, sheet, which)) for which in ((), {0}))
    differs = np.abs(bare - marked).max(axis=2) > 30
    assert 20 < np.count_nonzero(differs[:240]) < 2000
    # Its word stands below the picture.
    assert np.count_nonzero(differs[240:]) > 20
    other = pixels_of(draw_marked_picture(grey, sheet, {7}))
    np.testing.assert_array_equal(bare, other)


def test_a_folder_that_is_not_there_is_one_sentence(tmp_path):
    with pytest.raises(OutputFolderError, match="cannot be written"):
        save_marked_picture(
            tmp_path / "missing" / "marked.png",
            np.zeros((240, 300, 3), np.uint8),
            sheet_with(larva(Grade.TAKE)),
        )
