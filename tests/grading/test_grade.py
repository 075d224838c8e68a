"""Grades turn exactly where documented, and every reason is one plain sentence."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from larvasight.grading import Limits, grade, grade_cell, grade_sheet, shape_word, true_grade
from larvasight.growth import AgePosterior, age_posterior, mean_curl_deg, mean_length_mm
from larvasight.sheet import (
    FLAG_SENTENCES,
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

LIMITS = Limits()
STATISTICS = re.compile(r"posterior|lattice|midline|kappa|d'|prior|probab|deviation|chance", re.I)


def larva(length_mm=2.2, curl_deg=139.0, **values):
    return Cell(
        row=1,
        col=2,
        centre_xy_px=(10.0, 20.0),
        px_per_mm=20.0,
        content=values.pop("content", Content.LARVA),
        length_mm=length_mm,
        curl_deg=curl_deg,
        **values,
    )


def mean_larva(age_h, **values):
    return larva(mean_length_mm(age_h), mean_curl_deg(age_h), **values)


def assert_one_plain_sentence(reason):
    assert reason[0].isupper()
    assert reason.endswith(".")
    assert not re.search(r"[.!?]\s|\n", reason), f"not one sentence: {reason}"
    assert not STATISTICS.search(reason), reason


@pytest.fixture
def told_ages(monkeypatch):
    """Let a test say what length and curl tell about age."""

    def tell(ages_h, weights):
        ages = AgePosterior(ages_h=np.array(ages_h), weights=np.array(weights))
        monkeypatch.setattr(grade, "age_posterior", lambda *_, **__: ages)

    return tell


# Where grades turn


@pytest.mark.parametrize(
    ("too_old", "expected"),
    [
        (0.0, Grade.TAKE),
        (0.1 - 1e-9, Grade.TAKE),
        (0.1 + 1e-9, Grade.BORDERLINE),
        (0.3, Grade.BORDERLINE),
        (0.5 - 1e-9, Grade.BORDERLINE),
        (0.5, Grade.TOO_OLD),
        (0.5 + 1e-9, Grade.TOO_OLD),
        (1.0, Grade.TOO_OLD),
    ],
)
def test_grade_turns_at_a_tenth_and_a_half_past_the_old_limit(told_ages, too_old, expected):
    told_ages([15.0, 45.0], [1.0 - too_old, too_old])  # what is past 30 h, and what is not
    assert grade_cell(larva(), LIMITS).grade is expected


@pytest.mark.parametrize(
    ("too_young", "expected"),
    [(0.0, Grade.TAKE), (0.5 - 1e-9, Grade.TAKE), (0.5, Grade.VERY_YOUNG), (1.0, Grade.VERY_YOUNG)],
)
def test_grade_turns_at_a_half_below_the_young_limit(told_ages, too_young, expected):
    told_ages([3.0, 9.0], [too_young, 1.0 - too_young])  # what is below 6 h, and what is not
    assert grade_cell(larva(), LIMITS).grade is expected


def test_too_old_counts_before_very_young(told_ages):
    told_ages([3.0, 57.0], [0.5, 0.5])
    assert grade_cell(larva(), LIMITS).grade is Grade.TOO_OLD
    told_ages([3.0, 9.0, 51.0], [0.6, 0.2, 0.2])
    assert grade_cell(larva(), LIMITS).grade is Grade.BORDERLINE


@pytest.mark.parametrize(
    ("too_old", "expected"),
    [
        (0.0, Grade.UNSURE),
        (0.5, Grade.UNSURE),
        (0.9 - 1e-9, Grade.UNSURE),
        (0.9 + 1e-9, Grade.TOO_OLD),
        (1.0, Grade.TOO_OLD),
    ],
)
def test_an_uncertain_outline_carries_no_verdict_unless_surely_too_old(
    told_ages, too_old, expected
):
    told_ages([15.0, 45.0], [1.0 - too_old, too_old])
    assert grade_cell(larva(flags=(Flag.OUTLINE_UNCERTAIN,)), LIMITS).grade is expected


def test_a_verdict_on_an_uncertain_outline_names_the_doubt(told_ages):
    told_ages([15.0, 45.0], [0.01, 0.99])
    doubted = grade_cell(larva(flags=(Flag.OUTLINE_UNCERTAIN,)), LIMITS)
    assert doubted.grade is Grade.TOO_OLD
    assert doubted.reason.endswith("though its outline is not sure.")
    assert "not sure" not in grade_cell(larva(), LIMITS).reason


@pytest.mark.parametrize("seed", range(5))
def test_grades_of_random_larvae_follow_the_documented_rule(seed):
    rng = np.random.default_rng(seed)
    for _ in range(60):
        length_mm, curl_deg = float(rng.uniform(1.2, 5.0)), float(rng.uniform(0.0, 400.0))
        sd = {"length_mm_sd": float(rng.uniform(0, 0.3)), "curl_deg_sd": float(rng.uniform(0, 40))}
        ages = age_posterior(length_mm, curl_deg, **sd)
        too_old = ages.chance_between(30.0, 96.0)
        if too_old >= 0.5:
            expected = Grade.TOO_OLD
        elif too_old >= 0.1:
            expected = Grade.BORDERLINE
        elif ages.chance_between(0.0, 6.0) >= 0.5:
            expected = Grade.VERY_YOUNG
        else:
            expected = Grade.TAKE
        graded = grade_cell(larva(length_mm, curl_deg, **sd), LIMITS)
        assert graded.grade is expected
        assert (graded.age_h_lo, graded.age_h_hi) == pytest.approx(ages.band_h(), rel=0, abs=1e-9)
        assert graded.age_h_lo <= graded.age_h <= graded.age_h_hi
        # The middle of what the ages say and the verdict never contradict each other.
        assert (graded.age_h >= 30.0) == (graded.grade is Grade.TOO_OLD)


@pytest.mark.parametrize(
    ("age_h", "expected"),
    [
        (1.0, Grade.VERY_YOUNG),
        (12.0, Grade.TAKE),
        (18.0, Grade.TAKE),
        (22.0, Grade.TAKE),
        (27.0, Grade.BORDERLINE),
        (36.0, Grade.TOO_OLD),
        (60.0, Grade.TOO_OLD),
        (96.0, Grade.TOO_OLD),
    ],
)
def test_mean_larvae_get_the_grade_of_their_age(age_h, expected):
    assert grade_cell(mean_larva(age_h), LIMITS).grade is expected


@pytest.mark.reference("common practice")
@pytest.mark.parametrize("age_h", [12.0, 15.0, 18.0, 21.0, 24.0])
def test_larvae_of_the_best_age_are_taken(age_h):
    assert grade_cell(mean_larva(age_h), LIMITS).grade is Grade.TAKE


def test_teachers_limits_move_the_grades():
    strict, wide = Limits(old_h=24.0), Limits(old_h=48.0)
    assert grade_cell(mean_larva(27.0), strict).grade is Grade.TOO_OLD
    assert grade_cell(mean_larva(27.0), wide).grade is Grade.TAKE
    assert grade_cell(mean_larva(9.0), Limits(young_h=12.0)).grade is Grade.VERY_YOUNG


def test_a_less_sure_measure_turns_take_into_borderline():
    assert grade_cell(mean_larva(20.0), LIMITS).grade is Grade.TAKE
    unsure = mean_larva(20.0, length_mm_sd=0.6, curl_deg_sd=60.0)
    assert grade_cell(unsure, LIMITS).grade is Grade.BORDERLINE


# What cannot carry a verdict


@pytest.mark.parametrize(
    "cell",
    [
        larva(length_mm=None),
        larva(curl_deg=None),
        larva(length_mm=None, curl_deg=None, flags=(Flag.HIDDEN_BY_WALL,)),
        larva(length_mm=None, curl_deg=None, flags=(Flag.CLOSED,)),
        larva(length_mm=math.nan),
        larva(curl_deg=math.nan),
        larva(length_mm_sd=math.nan),
        larva(curl_deg_sd=math.nan),
    ],
    ids=["length", "curl", "hidden", "closed", "nan", "nan curl", "nan sd", "nan curl sd"],
)
def test_a_larva_that_was_not_measured_is_unsure_and_has_no_age(cell):
    graded = grade_cell(cell, LIMITS)
    assert graded.grade is Grade.UNSURE
    assert (graded.age_h, graded.age_h_lo, graded.age_h_hi) == (None, None, None)
    assert graded.reason.startswith("A larva whose age cannot be told: ")
    assert_one_plain_sentence(graded.reason)


@pytest.mark.parametrize("flag", list(Flag))
def test_the_reason_of_an_unmeasured_larva_says_what_is_wrong(flag):
    reason = grade_cell(larva(length_mm=None, curl_deg=None, flags=(flag,)), LIMITS).reason
    assert FLAG_SENTENCES[flag][1:] in reason
    assert_one_plain_sentence(reason)


@pytest.mark.parametrize("length_mm", [2.6, 3.5, 8.0])
def test_a_closed_ring_is_graded_by_its_length(length_mm):
    graded = grade_cell(larva(length_mm, None, flags=(Flag.CLOSED,)), LIMITS)
    assert graded.grade is Grade.TOO_OLD
    assert graded.reason.startswith("A closed ring, ")
    assert_one_plain_sentence(graded.reason)


@pytest.mark.parametrize("content", [c for c in Content if c is not Content.LARVA])
def test_everything_but_larvae_has_no_grade_but_a_reason(content):
    graded = grade_cell(larva(None, None, content=content), LIMITS)
    assert graded.grade is None
    assert (graded.age_h, graded.age_h_lo, graded.age_h_hi) == (None, None, None)
    assert_one_plain_sentence(graded.reason)


def test_reasons_of_contents_differ():
    cells = [larva(None, None, content=c) for c in Content if c is not Content.LARVA]
    assert len({grade_cell(cell, LIMITS).reason for cell in cells}) == len(cells)


@pytest.mark.parametrize("flag", list(Flag))
def test_an_unclear_cell_says_why(flag):
    unclear = larva(None, None, content=Content.UNCLEAR, flags=(flag,))
    reason = grade_cell(unclear, LIMITS).reason
    assert FLAG_SENTENCES[flag][1:] in reason
    assert_one_plain_sentence(reason)


@pytest.mark.parametrize(
    "later", [{"content": Content.EGG}, {"length_mm": None, "curl_deg": None}], ids=["egg", "lost"]
)
def test_grading_again_leaves_nothing_of_an_earlier_grading(later):
    graded = grade_cell(mean_larva(18.0), LIMITS)
    again = grade_cell(replace(graded, **later), LIMITS)
    assert again == grade_cell(replace(mean_larva(18.0), **later), LIMITS)
    assert again.age_h is None
    assert again.grade is (None if "content" in later else Grade.UNSURE)


# Sentences


@pytest.mark.parametrize("seed", range(5))
def test_the_reason_of_any_measured_larva_is_one_plain_sentence(seed):
    rng = np.random.default_rng(50 + seed)
    for _ in range(60):
        flags = tuple(Flag(f) for f in rng.permutation(list(Flag))[: rng.integers(0, 3)])
        cell = larva(float(rng.uniform(1, 14)), float(rng.uniform(0, 400)), flags=flags)
        reason = grade_cell(cell, LIMITS).reason
        assert_one_plain_sentence(reason)
        assert re.search(r"^A[ a-zA-Z]+, \d+\.\d mm long \(\d+\.\d times an egg\), ", reason)
        assert re.search(r", about \d+\u2013\d+ h old: [a-z]", reason)


@pytest.mark.parametrize(
    ("age_h", "words"),
    [
        (1.0, "hard to lift."),
        (18.0, "young enough to take."),
        (27.0, "leave it if you have a choice."),
        (48.0, "too old."),
    ],
)
def test_the_reason_ends_with_the_verdict(age_h, words):
    assert grade_cell(mean_larva(age_h), LIMITS).reason.endswith(words)


def test_the_reason_names_the_size_against_an_egg():
    assert "2.2 mm long (1.5 times an egg)" in grade_cell(larva(2.25, 139.0), LIMITS).reason


@pytest.mark.parametrize(
    ("curl_deg", "word"),
    [
        (0.0, "A slight bow"),
        (90.0, "A slight bow"),
        (90.1, "A comma"),
        (180.0, "A half ring"),
        (270.0, "A C"),
        (285.1, "A nearly closed ring"),
        (400.0, "A nearly closed ring"),
        (None, "A closed ring"),
    ],
)
def test_shape_word_names_each_curl(curl_deg, word):
    assert shape_word(curl_deg) == word


@pytest.mark.reference("common practice")
@pytest.mark.parametrize(
    ("age_h", "word"),
    [
        (3.0, "A slight bow"),
        (12.0, "A comma"),
        (18.0, "A comma"),
        (24.0, "A half ring"),
        (36.0, "A C"),
    ],
)
def test_shape_word_of_mean_larvae_is_what_the_trade_says(age_h, word):
    assert shape_word(mean_curl_deg(age_h)) == word


# Known ages and whole sheets


@pytest.mark.parametrize(
    ("age_h", "expected"),
    [
        (0.0, Grade.VERY_YOUNG),
        (5.999, Grade.VERY_YOUNG),
        (6.0, Grade.TAKE),
        (30.0, Grade.TAKE),
        (30.001, Grade.TOO_OLD),
        (96.0, Grade.TOO_OLD),
    ],
)
def test_true_grade_turns_at_the_limits(age_h, expected):
    assert true_grade(age_h, LIMITS) is expected


@pytest.mark.parametrize("age_h", [-0.1, -74.0, math.nan])
def test_true_grade_refuses_an_egg(age_h):
    with pytest.raises(ValueError, match=r"^age_h must lie between"):
        true_grade(age_h, LIMITS)


def test_grade_sheet_grades_every_cell_and_changes_nothing_else():
    cells = (mean_larva(18.0), larva(None, None, content=Content.EGG), mean_larva(50.0))
    sheet = Sheet(
        truth=False,
        photo=PhotoInfo(name="a.png", width_px=9, height_px=9, sha256="0" * 64),
        scale=Scale(
            pitch_px=100.0,
            pitch_mm=5.3,
            px_per_mm=18.9,
            distance_mm=None,
            source=ScaleSource.COMB,
        ),
        lattice=LatticeInfo(row_angle_deg=0.0, n_cells=3, residual_px=0.5),
        cells=cells,
    )
    graded = grade_sheet(sheet)
    assert replace(graded, cells=cells) == sheet
    assert graded.cells == tuple(grade_cell(cell, LIMITS) for cell in cells)
    assert grade_sheet(sheet, Limits(old_h=24.0)).cells[0] == grade_cell(
        cells[0], Limits(old_h=24.0)
    )
    bare = [
        replace(c, grade=None, reason=None, age_h=None, age_h_lo=None, age_h_hi=None)
        for c in graded.cells
    ]
    assert tuple(bare) == cells
