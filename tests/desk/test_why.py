"""Why a cell was right or wrong: what is shown agrees with the sheet it is shown from."""

import math
from dataclasses import replace

import numpy as np
import pytest

from larvasight.desk.why import arc_of, why_measured, why_true
from larvasight.geometry import swept_angle_deg
from larvasight.grading import Limits, explain_truth, grade_cell
from larvasight.growth.egg import EGG_LENGTH_MM
from larvasight.render import random_scene, truth_sheet
from larvasight.sheet import (
    FLAG_SENTENCES,
    Cell,
    Content,
    Flag,
    Grade,
    Jelly,
    LatticeInfo,
    PhotoInfo,
    Scale,
    ScaleSource,
    Sheet,
)

PX_PER_MM = 20.0
PITCH_MM = 5.3


@pytest.fixture(scope="module")
def truth():
    scene = random_scene(np.random.default_rng(8), size_px=(640, 500), pitch_px=70.0)
    return truth_sheet(scene, name="comb.png", sha256="")


def arc_line(start_deg, sweep_deg, *, radius_px=30.0, centre=(120.0, 90.0), n_points=40):
    angles = np.radians(np.linspace(start_deg, start_deg + sweep_deg, n_points))
    return tuple(
        (centre[0] + radius_px * math.cos(angle), centre[1] + radius_px * math.sin(angle))
        for angle in angles
    )


def sheet_of(*cells):
    return Sheet(
        truth=False,
        photo=PhotoInfo(name="comb.png", width_px=300, height_px=240, sha256=""),
        scale=Scale(
            pitch_px=PX_PER_MM * PITCH_MM,
            pitch_mm=PITCH_MM,
            px_per_mm=PX_PER_MM,
            distance_mm=None,
            source=ScaleSource.COMB,
        ),
        lattice=LatticeInfo(row_angle_deg=0.0, n_cells=len(cells), residual_px=0.0),
        cells=cells,
    )


def larva(**changes):
    values = {
        "row": 0,
        "col": 0,
        "centre_xy_px": (120.0, 90.0),
        "px_per_mm": PX_PER_MM,
        "content": Content.LARVA,
        "length_mm": 2.0,
        "curl_deg": 160.0,
        "midline_xy_px": arc_line(20.0, 160.0),
        "jelly": Jelly.PLENTY,
    }
    return Cell(**(values | changes))


def true_larva(**changes):
    return larva(**({"age_h": 20.0, "looks_age_h": 20.5} | changes))


def why_of_true(cell, limits=None):
    return why_true(cell, sheet_of(cell), limits or Limits())


def why_of_measured(cell, limits=None):
    graded = grade_cell(cell, limits or Limits())
    return why_measured(graded, sheet_of(graded))


# The arc.


@pytest.mark.parametrize("sweep_deg", [40.0, 90.0, 178.0, 181.0, 270.0, 330.0, 359.0, 395.0])
@pytest.mark.parametrize("start_deg", [-170.0, 0.0, 95.0])
@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_the_arc_sweeps_what_the_body_sweeps(sweep_deg, start_deg, turn):
    line = arc_line(start_deg, turn * sweep_deg)
    arc = arc_of(larva(midline_xy_px=line))
    assert arc.sweep_deg == pytest.approx(turn * sweep_deg, abs=1.0)
    assert abs(arc.sweep_deg) == pytest.approx(swept_angle_deg(np.array(line)), abs=1.0)
    assert arc.radius_px == pytest.approx(30.0, abs=0.3)
    assert math.dist(arc.centre_xy_px, (120.0, 90.0)) < 0.3


def test_the_arc_of_drawn_larvae_sweeps_their_curl(truth):
    n_checked = 0
    for cell in truth.cells:
        why = why_true(cell, truth, Limits())
        if cell.content is not Content.LARVA or Flag.CLOSED in cell.flags:
            assert why.arc is None
            continue
        n_checked += 1
        expected_deg = swept_angle_deg(np.array(cell.midline_xy_px))
        assert abs(why.arc.sweep_deg) == pytest.approx(expected_deg, abs=1.0)
        assert why.curl_deg == cell.curl_deg
    assert n_checked >= 10


def test_the_arc_begins_and_ends_at_the_tips_of_the_body(truth):
    for cell in truth.cells:
        arc = why_true(cell, truth, Limits()).arc
        if arc is None:
            continue
        for tip, angle_deg in (
            (cell.midline_xy_px[0], arc.start_deg),
            (cell.midline_xy_px[-1], arc.start_deg + arc.sweep_deg),
        ):
            seen_deg = math.degrees(
                math.atan2(tip[1] - arc.centre_xy_px[1], tip[0] - arc.centre_xy_px[0])
            )
            assert (seen_deg - angle_deg + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=0.5)


def test_the_arc_is_drawn_outside_of_the_whole_body(truth):
    n_checked = 0
    for cell in truth.cells:
        arc = why_true(cell, truth, Limits()).arc
        if arc is not None and cell.outline_xy_px is not None:
            n_checked += 1
            away_px = [math.dist(point, arc.centre_xy_px) for point in cell.outline_xy_px]
            assert arc.body_reach_px == pytest.approx(max(away_px), abs=1e-6)
    assert n_checked >= 10


@pytest.mark.parametrize(
    "line", [None, ((1.0, 1.0), (2.0, 1.0)), tuple((float(x), 5.0) for x in range(9))]
)
def test_a_straight_body_or_none_has_no_arc(line):
    assert arc_of(larva(midline_xy_px=line)) is None


def test_a_closed_ring_has_neither_arc_nor_curl():
    ring = true_larva(
        flags=(Flag.CLOSED,), curl_deg=358.0, midline_xy_px=arc_line(0.0, 358.0), length_mm=9.0
    )
    for why in (why_of_true(ring), why_of_measured(replace(ring, curl_deg=None))):
        assert why.arc is None
        assert why.curl_deg is None
        assert why.shape == "A closed ring"
        assert why.length_mm == 9.0
        assert why.sentence.startswith("A closed ring, 9.0 mm long")


# Truth in words.


def test_every_drawn_cell_is_explained_as_its_truth_is(truth):
    limits = Limits()
    for cell in truth.cells:
        why, words = why_true(cell, truth, limits), explain_truth(cell, limits)
        assert why.verdict.lower() == words.verdict.lower()
        assert why.verdict[0].isupper()
        assert (why.sentence, why.grade) == (words.sentence, words.grade)
        assert why.notes == ((words.note,) if words.note else ())
        assert why.true_age_h == cell.age_h
        assert why.content is cell.content


def test_only_larvae_have_ages_lengths_and_shapes(truth):
    contents = set()
    for cell in truth.cells:
        why = why_true(cell, truth, Limits())
        contents.add(cell.content)
        if cell.content is Content.LARVA:
            low_h, high_h = why.band_h
            assert 0.0 <= low_h < high_h <= 96.0
            assert why.length_mm == cell.length_mm
            assert why.shape
        else:
            assert why.band_h is why.length_mm is why.shape is why.jelly is None
    assert {Content.LARVA, Content.EGG, Content.EMPTY} <= contents


def test_the_band_lies_about_the_age_that_size_and_curl_tell(truth):
    inside = [
        why.band_h[0] <= why.looks_age_h <= why.band_h[1]
        for why in (why_true(cell, truth, Limits()) for cell in truth.cells)
        if why.band_h is not None
    ]
    assert len(inside) >= 10
    assert sum(inside) >= 0.9 * len(inside)


@pytest.mark.parametrize(
    ("looks_h", "note"),
    [
        (20.0, None),
        (22.9, None),
        (17.1, None),
        (34.0, "Large for its age: it looks 34 h."),
        (9.0, "Small for its age: it looks 9 h."),
    ],
)
def test_a_body_that_looks_another_age_has_a_note(looks_h, note):
    why = why_of_true(true_larva(age_h=20.0, looks_age_h=looks_h))
    assert why.notes == (() if note is None else (note,))


def test_a_larva_behind_the_wall_has_a_note():
    why = why_of_true(true_larva(flags=(Flag.HIDDEN_BY_WALL,), looks_age_h=50.0))
    assert why.notes == ("The wall hides part of it, and such a larva is best left.",)


@pytest.mark.parametrize(
    ("age_h", "verdict", "grade"),
    [
        (3.0, "Very young", Grade.VERY_YOUNG),
        (18.0, "Take", Grade.TAKE),
        (31.0, "Just past the limit", Grade.TOO_OLD),
        (40.0, "Too old", Grade.TOO_OLD),
    ],
)
def test_verdicts_follow_the_true_age(age_h, verdict, grade):
    why = why_of_true(true_larva(age_h=age_h, looks_age_h=age_h))
    assert (why.verdict, why.grade) == (verdict, grade)


def test_an_egg_is_compared_with_no_larva():
    egg = Cell(
        row=0,
        col=0,
        centre_xy_px=(50.0, 60.0),
        px_per_mm=PX_PER_MM,
        content=Content.EGG,
        age_h=-10.0,
        length_mm=1.5,
        midline_xy_px=arc_line(0.0, 20.0),
    )
    why = why_of_true(egg)
    assert why.verdict == "Egg"
    assert why.arc is why.length_mm is why.band_h is None
    assert why.true_age_h == -10.0
    assert why.egg_length_mm == EGG_LENGTH_MM.value


@pytest.mark.parametrize(
    ("jelly", "part"),
    [(Jelly.NONE, "dry larva"), (Jelly.LITTLE, "a little"), (Jelly.PLENTY, "plenty"), (None, "")],
)
def test_the_jelly_is_told_in_words(jelly, part):
    why = why_of_true(true_larva(jelly=jelly))
    assert (why.jelly is None) if jelly is None else part in why.jelly


def test_the_enlarged_part_is_square_about_the_cell():
    left, top, width, height = why_of_true(true_larva()).crop_px
    assert width == height == pytest.approx(1.2 * PX_PER_MM * PITCH_MM, abs=1e-6)
    assert left + width / 2.0 == pytest.approx(120.0, abs=1e-6)
    assert top + height / 2.0 == pytest.approx(90.0, abs=1e-6)


def test_the_enlarged_part_may_reach_past_the_picture():
    left, top, _, _ = why_of_true(true_larva(centre_xy_px=(3.0, 2.0))).crop_px
    assert left < 0.0
    assert top < 0.0


# Measured cells in words.


def test_a_measured_larva_shows_its_band_and_its_reason():
    cell = grade_cell(larva(length_mm_sd=0.05, curl_deg_sd=5.0), Limits())
    why = why_measured(cell, sheet_of(cell))
    assert why.band_h == (cell.age_h_lo, cell.age_h_hi)
    assert why.sentence == cell.reason
    assert why.true_age_h is None
    assert why.grade is cell.grade
    assert why.notes == ()
    assert abs(why.arc.sweep_deg) == pytest.approx(160.0, abs=1.0)


@pytest.mark.parametrize(
    ("content", "verdict"),
    [
        (Content.EMPTY, "Empty cell"),
        (Content.EGG, "Egg"),
        (Content.CAPPED, "Capped cell"),
        (Content.STORES, "Pollen or nectar"),
        (Content.COVERED, "Covered cell"),
        (Content.UNCLEAR, "Cannot be told"),
    ],
)
def test_what_holds_no_larva_is_named(content, verdict):
    why = why_of_measured(
        Cell(row=0, col=0, centre_xy_px=(9.0, 9.0), px_per_mm=PX_PER_MM, content=content)
    )
    assert why.verdict == verdict
    assert why.sentence.endswith(".")
    assert why.arc is why.band_h is why.length_mm is None


@pytest.mark.parametrize(
    ("grade", "verdict"),
    [
        (Grade.TAKE, "Young enough to take"),
        (Grade.BORDERLINE, "Borderline"),
        (Grade.TOO_OLD, "Too old"),
        (Grade.VERY_YOUNG, "Very young"),
        (Grade.UNSURE, "Cannot be told"),
    ],
)
def test_each_grade_has_its_verdict(grade, verdict):
    cell = larva(grade=grade, reason="So it is.")
    assert why_measured(cell, sheet_of(cell)).verdict == verdict


def test_flags_are_told_as_notes_unless_the_reason_tells_them():
    cell = grade_cell(
        larva(length_mm=None, curl_deg=None, flags=(Flag.BLURRED, Flag.GLARE)), Limits()
    )
    why = why_measured(cell, sheet_of(cell))
    # The reason tells the first one only.
    assert "the picture is out of focus or shaken here" in why.sentence
    assert why.notes == (FLAG_SENTENCES[Flag.GLARE],)
    assert why.arc is None


def test_flags_of_a_larva_that_was_measured_are_all_told():
    why = why_of_measured(larva(flags=(Flag.LOW_CONTRAST,), length_mm_sd=0.05, curl_deg_sd=5.0))
    assert why.notes == (FLAG_SENTENCES[Flag.LOW_CONTRAST],)
