"""Where do you draw the line?: a learner goes through a comb, and the line is found."""

import math
from uuid import UUID

import numpy as np
import pytest
from scipy.special import expit

from larvasight.grading import Limits
from larvasight.practice import TAKE_OR_LEAVE, Answer, Feedback, Given, Round, ShownCell
from larvasight.practice.courses import MeasuringCourse, course_for
from larvasight.practice.drills import FIND_YOUR_EDGES
from larvasight.practice.measuring import BLOCK_CELLS
from larvasight.practice.planning import plan_ages, seen_age_h
from larvasight.sheet import Content


def comb(seed=1):
    rng = np.random.default_rng(seed)
    ages_h = plan_ages(FIND_YOUR_EDGES, None, Limits(), rng)
    looks_h = [age if age < 0.0 else max(age + rng.normal(0.0, 1.0), 0.0) for age in ages_h]
    return [
        ShownCell(
            id=UUID(int=k),
            row=0,
            col=k,
            content=Content.EGG if looks < 0.0 else Content.LARVA,
            age_h=looks,
            looks_age_h=looks,
            length_mm=None,
            curl_deg=None,
            jelly=None,
        )
        for k, looks in enumerate(looks_h)
    ]


def begun(seed=1, cells=None):
    course = course_for(FIND_YOUR_EDGES, np.random.default_rng([seed, 2]))
    return Round(FIND_YOUR_EDGES, cells or comb(seed), course)


def answer_all(measuring, eye, n_most=BLOCK_CELLS):
    """Answer until the round has ended; return the cells asked in order."""
    asked = []
    while (cell := measuring.current) is not None and len(asked) < n_most:
        asked.append(cell)
        measuring.answer(Answer.TAKE if eye(cell) else Answer.LEAVE, response_ms=900)
        measuring.advance()
    return asked


def learner(young_h, old_h, spread_h, seed=0):
    rng = np.random.default_rng(seed)

    def takes(cell):
        age_h = seen_age_h(cell)
        chance = expit((age_h - young_h) / spread_h) * expit((old_h - age_h) / spread_h)
        return rng.random() < chance

    return takes


@pytest.mark.parametrize(("young_h", "old_h"), [(2.0, 26.0), (8.0, 34.0), (12.0, 41.0)])
def test_the_line_of_a_learner_is_found_within_one_comb(young_h, old_h):
    off_young, off_old = [], []
    for seed in range(6):
        measuring = begun(seed)
        asked = answer_all(measuring, learner(young_h, old_h, 1.2, seed))
        assert len(asked) <= BLOCK_CELLS
        assert len({cell.id for cell in asked}) == len(asked)
        assert measuring.edges.n_answers == len(asked)
        off_young.append(measuring.edges.young_edge_h.value - young_h)
        off_old.append(measuring.edges.old_edge_h.value - old_h)
    assert math.sqrt(np.mean(np.square(off_young))) < 3.0
    assert math.sqrt(np.mean(np.square(off_old))) < 3.0


def test_a_steady_learner_is_done_before_forty_cells():
    measuring = begun(3)
    asked = answer_all(measuring, lambda cell: 6.0 <= seen_age_h(cell) <= 28.0)
    assert measuring.is_ended
    assert len(asked) < BLOCK_CELLS
    assert measuring.edges.is_known_to(3.0)


def test_most_cells_lie_where_the_learner_doubts_and_every_fifth_does_not():
    measuring = begun(4)
    asked = [seen_age_h(cell) for cell in answer_all(measuring, learner(6.0, 28.0, 1.0))]
    away_h = [min(abs(age - 6.0), abs(age - 28.0)) for age in asked]
    assert np.median(away_h) < 6.0
    assert all(away >= 6.0 for away in away_h[4::5])


def test_nothing_is_asked_that_holds_no_brood():
    cells = [*comb(5)[:6]]
    cells.append(
        ShownCell(
            id=UUID(int=99),
            row=1,
            col=1,
            content=Content.EMPTY,
            age_h=None,
            looks_age_h=None,
            length_mm=None,
            curl_deg=None,
            jelly=None,
        )
    )
    measuring = begun(5, cells)
    assert len(answer_all(measuring, lambda _cell: True)) == 6
    assert measuring.is_ended


def test_measuring_goes_on_where_it_was_broken_off():
    first = begun(6)
    eye = learner(6.0, 28.0, 1.0)
    asked = answer_all(first, eye, n_most=10)
    givens = [
        Given(cell_id=cell.id, answer=first.answer_of(cell.id), response_ms=1, is_final=True)
        for cell in asked
    ]
    again = begun(6)
    again.resume(givens)
    assert again.n_answered == 10
    assert again.edges.n_answers == 10
    assert again.edges.old_edge_h.value == pytest.approx(first.edges.old_edge_h.value, rel=1e-9)
    assert again.current not in asked


def test_only_measuring_has_a_course_and_it_tells_at_the_end():
    rng = np.random.default_rng(1)
    assert isinstance(course_for(FIND_YOUR_EDGES, rng), MeasuringCourse)
    assert course_for(TAKE_OR_LEAVE, rng) is None
    assert FIND_YOUR_EDGES.feedback is Feedback.AFTER_COMB
    assert (begun().n_to_ask, FIND_YOUR_EDGES.n_asked) == (BLOCK_CELLS, BLOCK_CELLS)
