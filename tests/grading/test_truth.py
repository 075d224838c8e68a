"""What is said of a practice cell: the true age, its verdict, and how it looks."""

import re

import numpy as np
import pytest

from larvasight.grading import (
    LOOKS_OTHER_H,
    NOT_COUNTED_H,
    Limits,
    TrueWords,
    age_words,
    explain_truth,
    is_just_past,
    shape_word,
    true_grade,
)
from larvasight.growth import looks_age_h, mean_curl_deg, mean_length_mm
from larvasight.render import patch_scene, truth_sheet
from larvasight.sheet import Cell, Content, Flag, Grade

LIMITS = Limits()


def cell(content=Content.LARVA, **values):
    return Cell(row=1, col=2, centre_xy_px=(10.0, 20.0), px_per_mm=20.0, content=content, **values)


def larva(age_h, **values):
    usual = {
        "length_mm": mean_length_mm(age_h),
        "curl_deg": mean_curl_deg(age_h),
        "looks_age_h": age_h,
    }
    return cell(age_h=age_h, **(usual | values))


def said(age_h, **values):
    return explain_truth(larva(age_h, **values), LIMITS)


def assert_plain_sentence(text):
    assert text[0].isupper()
    assert text.endswith(".")
    assert not re.search(r"[.!?]\s|\n", text), f"not one sentence: {text}"


def test_a_larva_to_take():
    assert said(18.0, length_mm=1.93, curl_deg=130.0) == TrueWords(
        grade=Grade.TAKE,
        verdict="take",
        sentence="A comma, 1.9 mm long (1.3 times an egg), 18 h old: young enough to take.",
        note="",
    )


def test_a_very_young_larva():
    words = said(3.0)
    assert (words.grade, words.verdict) == (Grade.VERY_YOUNG, "very young")
    assert words.sentence.endswith("3 h old: good but very young, hard to lift.")


def test_a_larva_that_is_too_old():
    words = said(48.0)
    assert (words.grade, words.verdict) == (Grade.TOO_OLD, "too old")
    assert words.sentence.endswith("48 h old: too old.")


@pytest.mark.parametrize("age_h", [30.6, 32.0, 33.0])
def test_a_larva_just_past_the_limit_is_not_counted(age_h):
    words = said(age_h)
    assert words.grade is Grade.TOO_OLD
    assert words.verdict == "just past the limit"
    assert words.sentence.endswith(
        f"{age_h:.0f} h old: just past the limit; not counted, since larvae of one age differ "
        "that much."
    )


@pytest.mark.parametrize(
    ("age_h", "expected"), [(30.0, False), (30.01, True), (33.0, True), (33.01, False)]
)
def test_is_just_past_spans_three_hours_past_the_limit(age_h, expected):
    assert NOT_COUNTED_H == 3.0
    assert is_just_past(age_h, LIMITS) is expected
    assert is_just_past(age_h - 6.0, Limits(old_h=24.0)) is expected


def test_limits_of_the_teacher_move_the_verdict():
    assert explain_truth(larva(28.0), Limits(old_h=24.0)).verdict == "too old"
    assert explain_truth(larva(40.0), Limits(old_h=48.0)).verdict == "take"


@pytest.mark.parametrize(("age_h", "told"), [(5.7, "5.7 h"), (30.3, "30.3 h"), (6.3, "6 h")])
def test_hours_never_round_into_another_verdict(age_h, told):
    assert f", {told} old: " in said(age_h).sentence


@pytest.mark.parametrize(
    ("looks_h", "note"),
    [
        (18.0, ""),
        (18.0 + LOOKS_OTHER_H, ""),
        (18.0 - LOOKS_OTHER_H, ""),
        (27.0, "Large for its age: it looks 27 h."),
        (12.0, "Small for its age: it looks 12 h."),
        (None, ""),
    ],
)
def test_a_larva_that_looks_another_age_is_noted(looks_h, note):
    assert said(18.0, looks_age_h=looks_h).note == note


def test_a_hidden_larva_is_best_left_whatever_it_looks():
    words = said(18.0, looks_age_h=27.0, flags=(Flag.HIDDEN_BY_WALL,))
    assert words.note == "The wall hides part of it, and such a larva is best left."
    assert words.grade is Grade.TAKE


def test_a_closed_ring_is_called_one():
    words = said(70.0, curl_deg=352.0, flags=(Flag.CLOSED,))
    assert words.sentence.startswith(f"{shape_word(None)}, ")


@pytest.mark.parametrize(
    ("age_h", "sentence"),
    [
        (-20.2, "An egg, about 20 h before hatching: no larva to lift."),
        (-73.6, "An egg, about 74 h before hatching: no larva to lift."),
        (-0.3, "An egg, about to hatch: no larva to lift."),
    ],
)
def test_an_egg_says_how_long_it_has(age_h, sentence):
    words = explain_truth(cell(Content.EGG, age_h=age_h, length_mm=1.4), LIMITS)
    assert words == TrueWords(grade=None, verdict="egg", sentence=sentence, note="")


@pytest.mark.parametrize(
    ("content", "verdict"),
    [
        (Content.EMPTY, "empty"),
        (Content.CAPPED, "capped"),
        (Content.STORES, "pollen or nectar"),
        (Content.COVERED, "covered"),
        (Content.UNCLEAR, "cannot be told"),
    ],
)
def test_other_cells_have_a_verdict_but_no_grade(content, verdict):
    words = explain_truth(cell(content), LIMITS)
    assert (words.grade, words.verdict, words.note) == (None, verdict, "")
    assert_plain_sentence(words.sentence)


@pytest.mark.parametrize("lost", [{"age_h": None}, {"length_mm": None}])
def test_a_larva_without_truth_is_refused(lost):
    (name,) = lost
    with pytest.raises(ValueError, match=name):
        explain_truth(cell(**({"age_h": 9.0, "length_mm": 2.0, "curl_deg": 90.0} | lost)), LIMITS)


def test_an_egg_without_an_age_is_refused():
    with pytest.raises(ValueError, match="age_h"):
        explain_truth(cell(Content.EGG), LIMITS)


@pytest.mark.parametrize("seed", range(3))
def test_every_cell_of_a_drawn_patch_is_explained_by_its_true_age(seed):
    scene = patch_scene(np.random.default_rng(seed), size_px=(320, 240))
    for drawn in truth_sheet(scene, name="a.png", sha256="").cells:
        words = explain_truth(drawn, LIMITS)
        assert_plain_sentence(words.sentence)
        if words.note:
            assert_plain_sentence(words.note)
        if drawn.content is Content.LARVA:
            assert words.grade is true_grade(drawn.age_h, LIMITS)
            looks_h = looks_age_h(drawn.length_mm, drawn.curl_deg)
            if Flag.HIDDEN_BY_WALL not in drawn.flags:
                assert ("for its age" in words.note) == (abs(looks_h - drawn.age_h) > 3.0)
        else:
            assert words.grade is None


@pytest.mark.parametrize(
    ("age_h", "words"),
    [
        (18.3, "18 h"),
        (30.0, "30 h"),
        (30.04, "30.04 h"),
        (30.4, "30.4 h"),
        (31.2, "31 h"),
        (33.0, "33 h"),
        (33.2, "33.2 h"),
        (5.96, "5.96 h"),
        (5.4, "5 h"),
    ],
)
def test_an_age_in_words_never_tells_another_verdict(age_h, words):
    assert age_words(age_h, Limits()) == words
