"""The teacher's line: found from takes and leaves, told against the wanted ages, never a score."""

import math
from dataclasses import replace
from datetime import UTC, datetime
from uuid import uuid4

import numpy as np
import pytest

from larvasight.desk.teachers_line import (
    CELLS_LEAST,
    RUN_DRILL,
    gap_words,
    limits_by,
    line_words,
    prepare_line_comb,
    sure_words,
    teachers_line,
    teachers_lines,
)
from larvasight.grading import Limits
from larvasight.practice import Answer, Given, ShownCell
from larvasight.practice.drills import TEACHERS_LINE
from larvasight.practice.measuring import EGG_LOOKS_H
from larvasight.practice.planning import seen_age_h
from larvasight.records.store import Store
from larvasight.records.types import ShownRound
from larvasight.sheet import Content

NOW = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "records.db", now=NOW, wait_ms=50) as opened:
        yield opened


@pytest.fixture
def teacher(store):
    return store.add_learner("Berta", now=NOW)


def cell(age_h):
    is_egg = age_h < 0.0
    return ShownCell(
        id=uuid4(),
        row=0,
        col=0,
        content=Content.EGG if is_egg else Content.LARVA,
        age_h=age_h,
        looks_age_h=None if is_egg else age_h,
        length_mm=2.0,
        curl_deg=100.0,
        jelly=None,
    )


def mark(store, teacher, n, *, young_h=7.0, old_h=23.0, unsure_h=0.0):
    """Let a teacher of this line mark so many cells; about the old end nothing can be told."""
    rng = np.random.default_rng(3)
    ages = np.resize([*(2.0 * k + 0.5 for k in range(28)), EGG_LOOKS_H, EGG_LOOKS_H], n)
    cells = tuple(cell(float(age)) for age in ages)
    answers = []
    for age in ages:
        share = 1.0 / (1.0 + math.exp(-(age - young_h))) / (1.0 + math.exp(-(old_h - age)))
        told = Answer.TAKE if rng.random() < share else Answer.LEAVE
        answers.append(Answer.CANNOT_TELL if abs(age - old_h) < unsure_h else told)
    keep(store, teacher, cells, answers)


def keep(store, teacher, cells, answers, recipe=None):
    shown = ShownRound(
        id=uuid4(),
        learner_id=teacher.id,
        drill=TEACHERS_LINE,
        cells=tuple(cells),
        limits=Limits(),
        recipe=recipe or {},
        kind="photo" if recipe else "drawn",
        shown_at_utc=NOW,
    )
    store.show_round(shown)
    givens = [
        Given(cell_id=one.id, answer=said, response_ms=900, is_final=True)
        for one, said in zip(cells, answers, strict=True)
    ]
    store.end_round(shown.id, givens, now=NOW)


def test_before_the_first_mark_there_is_no_line(store, teacher):
    assert teachers_line(store, teacher.id, UTC) is None
    assert teachers_lines(store, UTC) == []


def test_the_line_lies_where_takes_and_leaves_part(store, teacher):
    mark(store, teacher, 120)
    line = teachers_line(store, teacher.id, UTC)
    assert line.n == 120
    assert line.is_clear
    assert line.edges.young_edge_h.value == pytest.approx(7.0, abs=2.5)
    assert line.edges.old_edge_h.value == pytest.approx(23.0, abs=2.5)
    assert line.edges.young_edge_h.lo <= 7.0 <= line.edges.young_edge_h.hi
    assert line.edges.old_edge_h.lo <= 23.0 <= line.edges.old_edge_h.hi
    assert [one.name for one in teachers_lines(store, UTC)] == ["Berta"]


@pytest.mark.parametrize("share", [0.3, 0.5, 0.7, 0.9])
def test_cells_marked_blindly_tell_no_line(store, teacher, share):
    rng = np.random.default_rng(11)
    for _ in range(3):
        ages = [*(2.0 * k + 0.5 for k in range(28)), EGG_LOOKS_H, EGG_LOOKS_H]
        said = [Answer.TAKE if rng.random() < share else Answer.LEAVE for _ in ages]
        keep(store, teacher, [cell(age) for age in ages], said)
    line = teachers_line(store, teacher.id, UTC)
    assert line.is_enough
    assert not line.is_clear
    assert "do not part young ones from old ones" in line_words(line)
    assert teachers_lines(store, UTC) == []


def test_a_cell_of_an_own_photo_marked_again_counts_once_as_marked_last(store, teacher):
    cells = [replace(cell(2.0 * k + 0.5), col=k) for k in range(20)]
    for said in (Answer.TAKE, Answer.LEAVE):
        anew = [replace(one, id=uuid4()) for one in cells]
        keep(store, teacher, anew, [said] * 20, recipe={"photo": "a" * 64})
    keep(store, teacher, [replace(cells[0], id=uuid4())], [Answer.TAKE], recipe={"photo": "b" * 64})
    line = teachers_line(store, teacher.id, UTC)
    assert line.n == 21
    assert [said for _, said in line.answers].count("take") == 1


def test_fewer_than_60_cells_tell_no_line(store, teacher):
    mark(store, teacher, CELLS_LEAST - 1)
    line = teachers_line(store, teacher.id, UTC)
    assert not line.is_clear
    assert line_words(line) == "59 of 60 cells are marked: that is too few to tell a line."
    assert gap_words(line, Limits()) == ""
    assert teachers_lines(store, UTC) == []


def test_what_cannot_be_told_moves_no_line_and_is_counted(store, teacher):
    mark(store, teacher, 120, unsure_h=3.0)
    line = teachers_line(store, teacher.id, UTC)
    assert line.n == 120
    assert line.n_cannot_tell == 12
    assert line.edges.n_answers == 108
    assert "Of 12 cells you could not tell, mostly larvae of about 2" in sure_words(line)


def test_a_gap_over_four_hours_is_said_aloud_and_a_smaller_one_is_not(store, teacher):
    mark(store, teacher, 120)
    line = teachers_line(store, teacher.id, UTC)
    words = gap_words(line, Limits())
    assert words.startswith("Mind the gap: the oldest you take lies ")
    assert "below the oldest wanted, 30 h" in words
    assert "youngest" not in words
    near = Limits(young_h=6.0, best_young_h=10.0, best_old_h=20.0, old_h=25.0)
    assert gap_words(line, near) == ""


def test_scored_by_the_line_the_wanted_ages_are_the_teachers(store, teacher):
    mark(store, teacher, 120)
    line = teachers_line(store, teacher.id, UTC)
    limits = limits_by(line, Limits())
    assert limits.by == "Berta"
    assert limits.young_h == round(line.edges.young_edge_h.value)
    assert limits.old_h == round(line.edges.old_edge_h.value)
    assert limits.young_h <= limits.best_young_h <= limits.best_old_h <= limits.old_h
    student = store.add_learner("Mira", now=NOW)
    store.set_limits(limits)
    assert store.limits(student.id) == limits
    assert gap_words(line, limits) == ""
    store.set_limits(Limits())
    assert store.limits(student.id).by == ""


def test_marks_for_the_line_are_no_picks(store, teacher):
    mark(store, teacher, 60)
    assert len(store.answers(teacher.id).taken) == 0


def test_the_comb_holds_all_ages_alike_and_eggs():
    comb = prepare_line_comb(5, size_px=(320, 240), limits=Limits(), library=None)
    assert comb.drill == RUN_DRILL
    ages = [seen_age_h(one) for one in comb.asked]
    assert None not in ages
    wanted = comb.recipe["ages_h"]
    assert len(wanted) == RUN_DRILL.n_asked
    assert wanted.count(EGG_LOOKS_H) == 3
    larvae = sorted(age for age in wanted if age >= 0.0)
    assert np.diff(larvae).max() <= 4.0
    assert larvae[0] < 3.0
    assert larvae[-1] > 50.0
    other = prepare_line_comb(6, size_px=(320, 240), limits=Limits(), library=None)
    assert other.recipe["ages_h"] != wanted
