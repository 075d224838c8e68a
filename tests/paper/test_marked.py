"""Marked pictures: every verdict has its own colour, shape and word, and shows on the picture."""

from itertools import combinations

import numpy as np
import pytest

from larvasight.errors import OutputFolderError
from larvasight.paper.marked import draw_marked_picture, save_marked_picture
from larvasight.paper.marks import EGG_MARK, GRADE_MARKS, mark_of
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


def test_a_folder_that_is_not_there_is_one_sentence(tmp_path):
    with pytest.raises(OutputFolderError, match="cannot be written"):
        save_marked_picture(
            tmp_path / "missing" / "marked.png",
            np.zeros((240, 300, 3), np.uint8),
            sheet_with(larva(Grade.TAKE)),
        )
