"""A simulated learner answers what it sees: length and curl, never the true age."""

from dataclasses import replace
from statistics import median
from uuid import uuid4

import numpy as np
import pytest

from larvasight.desk.simulated import SimulatedEye, improving_eyes, responses_ms
from larvasight.growth import looks_age_h
from larvasight.practice import Answer, shown_cell
from larvasight.render import patch_scene, truth_sheet
from larvasight.sheet import Cell, Content

SURE = SimulatedEye(
    young_edge_h=6.0,
    old_edge_h=30.0,
    length_sd_share=0.0,
    curl_sd_deg=0.0,
    slip_share=0.0,
    egg_confusion_share=0.0,
)
SHAKY = improving_eyes()[0]


@pytest.fixture(scope="module")
def cells():
    scenes = [patch_scene(np.random.default_rng(seed), n_cells=60) for seed in (3, 4)]
    return [cell for scene in scenes for cell in truth_sheet(scene, name="", sha256="").cells]


def make_cell(content, length_mm=None, curl_deg=None, **more):
    where = {"row": 0, "col": 0, "centre_xy_px": (0.0, 0.0), "px_per_mm": 20.0}
    return Cell(content=content, length_mm=length_mm, curl_deg=curl_deg, **where, **more)


def answers_of(eye, cells, seed=11):
    return eye.answers(cells, np.random.default_rng(seed))


def taken_share(eye, cell, n=2000):
    return np.mean([answer is Answer.TAKE for answer in answers_of(eye, [cell] * n)])


@pytest.mark.parametrize("eye", [SURE, SHAKY], ids=["sure", "shaky"])
def test_true_ages_do_not_matter(cells, eye):
    ages_h = np.random.default_rng(1).permutation([cell.age_h for cell in cells]).tolist()
    shuffled = [replace(cell, age_h=age_h) for cell, age_h in zip(cells, ages_h, strict=True)]
    unknown = [replace(cell, age_h=None, looks_age_h=None) for cell in cells]
    known = answers_of(eye, cells)
    assert set(known) == {Answer.TAKE, Answer.LEAVE}
    assert answers_of(eye, shuffled) == known
    assert answers_of(eye, unknown) == known


def test_cells_in_the_picture_and_cells_put_before_a_learner_are_one(cells):
    shown = [shown_cell(cell, uuid4()) for cell in cells]
    assert answers_of(SHAKY, shown) == answers_of(SHAKY, cells)


def test_a_sure_eye_takes_what_looks_between_its_edges(cells):
    taken = [answer is Answer.TAKE for answer in answers_of(SURE, cells)]
    right = [cell.looks_age_h is not None and 6.0 <= cell.looks_age_h <= 30.0 for cell in cells]
    assert taken == right
    assert 10 < sum(taken) < len(cells) - 10


def test_a_body_that_cannot_be_seen_is_left():
    assert answers_of(SURE, [make_cell(Content.LARVA)]) == [Answer.LEAVE]


def test_a_closed_disc_is_judged_by_its_length():
    disc, small = make_cell(Content.LARVA, 7.5), make_cell(Content.LARVA, 2.2)
    assert answers_of(SURE, [disc, small]) == [Answer.LEAVE, Answer.TAKE]


@pytest.mark.parametrize("curl_deg", [0.0, 400.0])
def test_errors_of_the_eye_stay_within_what_a_body_can_be(curl_deg):
    eye = replace(SURE, length_sd_share=1.0, curl_sd_deg=180.0)
    assert len(answers_of(eye, [make_cell(Content.LARVA, 2.2, curl_deg)] * 500)) == 500


def test_at_the_edge_half_is_taken():
    edge_h = looks_age_h(2.9, 240.0)
    eye = replace(SURE, young_edge_h=0.0, old_edge_h=edge_h, length_sd_share=0.05)
    larva = make_cell(Content.LARVA, 2.9, 240.0)
    # Four standard deviations of 2000 choices, and the step of the ages.
    assert taken_share(eye, larva) == pytest.approx(0.5, abs=0.05)
    assert taken_share(eye, make_cell(Content.LARVA, 2.9 * 1.2, 280.0)) < 0.02
    assert taken_share(eye, make_cell(Content.LARVA, 2.9 / 1.2, 180.0)) > 0.98


def test_an_egg_is_seldom_taken_for_a_just_hatched_larva():
    egg = make_cell(Content.EGG, 1.45)
    eye = replace(SURE, young_edge_h=0.0, egg_confusion_share=0.2)
    assert taken_share(replace(eye, egg_confusion_share=0.0), egg) == 0.0
    assert taken_share(eye, egg) == pytest.approx(0.2, abs=0.04)
    # An eye that leaves what looks just hatched leaves the egg as well.
    assert taken_share(replace(eye, young_edge_h=6.0), egg) == 0.0


@pytest.mark.parametrize("content", [c for c in Content if c is not Content.LARVA])
def test_slips_turn_any_answer(content):
    cell = make_cell(content, 1.45 if content is Content.EGG else None)
    assert taken_share(SURE, cell) == 0.0
    assert taken_share(replace(SURE, slip_share=0.1), cell) == pytest.approx(0.1, abs=0.03)
    assert taken_share(replace(SURE, slip_share=1.0), cell) == 1.0


def test_a_learner_improves_evenly():
    eyes = improving_eyes()
    assert [len(eyes), eyes[0].old_edge_h, eyes[-1].old_edge_h] == [10, 40.0, 29.0]
    steps = np.diff([eye.old_edge_h for eye in eyes])
    assert steps == pytest.approx(np.full(9, -11.0 / 9.0))
    for name in ("length_sd_share", "curl_sd_deg", "slip_share", "egg_confusion_share"):
        assert getattr(eyes[-1], name) < getattr(eyes[0], name)
    with pytest.raises(ValueError, match="n_sessions"):
        improving_eyes(1)


@pytest.mark.parametrize(
    "wrong",
    [
        {"young_edge_h": 31.0},
        {"old_edge_h": 97.0},
        {"length_sd_share": -0.1},
        {"curl_sd_deg": float("nan")},
        {"slip_share": 1.1},
        {"egg_confusion_share": -0.1},
    ],
    ids=lambda wrong: next(iter(wrong)),
)
def test_an_eye_that_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match=next(iter(wrong))):
        replace(SURE, **wrong)


def test_answers_take_about_as_long_as_a_look():
    times_ms = responses_ms(1001, np.random.default_rng(5))
    assert median(times_ms) == pytest.approx(1400, rel=0.06)
    assert all(isinstance(ms, int) and ms > 100 for ms in times_ms)
    assert responses_ms(0, np.random.default_rng(5)) == []
