"""Names of stages: what is called what, which are asked, and which are mixed up."""

import math

import numpy as np
import pytest
from statsmodels.stats.inter_rater import cohens_kappa

from larvasight.grading import Limits
from larvasight.practice.stages import (
    STAGE_WORDS,
    Stage,
    StageCourse,
    next_mixed,
    stage_of,
    stage_table,
)

LIMITS = Limits()
EGG, HATCHED, RIGHT, CLOSED, OLD = Stage


@pytest.mark.reference("common practice: eggs and larvae of two days and more are not grafted")
def test_stages_follow_age():
    ages_h = [-70.0, -0.1, 0.0, 5.9, 6.0, 30.0, 30.1, 47.9, 48.0, 90.0]
    expected = [EGG, EGG, HATCHED, HATCHED, RIGHT, RIGHT, CLOSED, CLOSED, OLD, OLD]
    assert [stage_of(age_h, LIMITS) for age_h in ages_h] == expected


def test_stages_follow_the_teachers_span():
    wide = Limits(young_h=2.0, old_h=50.0)
    assert [stage_of(a, wide) for a in (1.0, 3.0, 49.0, 51.0, 70.0)] == [
        HATCHED,
        RIGHT,
        RIGHT,
        CLOSED,
        OLD,
    ]


def test_an_age_that_is_no_number_is_refused():
    with pytest.raises(ValueError, match=r"^age_h must lie between"):
        stage_of(math.nan, LIMITS)


def test_each_stage_has_a_plain_name():
    assert list(STAGE_WORDS) == list(Stage)
    assert len(set(STAGE_WORDS.values())) == len(Stage)


# The course


def run(course, answers):
    for is_right in answers:
        course = course.after(is_right=is_right)
    return course


def test_a_course_begins_with_two_neighbours_and_adds_them_all():
    course, stages = StageCourse(), []
    while not course.is_mixed:
        stages.append(course.stages)
        course = run(course, [True] * 10)
    assert [len(asked) for asked in stages] == [2, 3, 4]
    assert course.stages == tuple(Stage)


@pytest.mark.parametrize(
    ("answers", "n_stages"),
    [
        ([True] * 9, 2),
        ([True] * 8 + [False] * 2, 3),
        ([True] * 7 + [False] * 3, 2),
        ([False] * 30 + [True] * 7, 2),
        ([False] * 30 + [True] * 8, 3),
    ],
)
def test_a_neighbour_is_added_when_eight_of_the_last_ten_are_right(answers, n_stages):
    assert len(run(StageCourse(), answers).stages) == n_stages


def test_a_new_stage_begins_a_new_count():
    course = run(StageCourse(), [True] * 10)
    assert course.last_right == ()
    assert run(course, [True] * 9).stages == course.stages


def test_a_full_course_stays_full():
    course = StageCourse(stages=tuple(Stage))
    assert run(course, [True] * 30).stages == tuple(Stage)


def test_stages_come_in_blocks_next_to_their_neighbours():
    course = StageCourse(stages=(HATCHED, RIGHT, CLOSED))
    shown = course.next_stages(60, np.random.default_rng(1))
    assert len(shown) == 60
    steps = np.diff(shown)
    assert set(np.abs(steps).tolist()) == {0, 1}
    changes = np.flatnonzero(steps)
    assert set(np.diff(changes).tolist()) <= {2, 3, 4}
    assert set(shown) == {HATCHED, RIGHT, CLOSED}


def test_all_stages_come_mixed():
    shown = StageCourse(stages=tuple(Stage)).next_stages(400, np.random.default_rng(1))
    assert np.abs(np.diff(shown)).max() == 4
    assert min(shown.count(stage) for stage in Stage) > 50


@pytest.mark.parametrize("stages", [(), (RIGHT,), (EGG, RIGHT), (CLOSED, RIGHT)])
def test_stages_that_are_no_neighbours_are_refused(stages):
    with pytest.raises(ValueError, match=r"^stages must be two neighbours or more in order"):
        StageCourse(stages=stages)


# Which are mixed up


@pytest.mark.reference("statsmodels.stats.inter_rater.cohens_kappa, quadratic weights")
def test_table_and_agreement_are_those_of_a_general_library():
    rng = np.random.default_rng(2)
    true = [Stage(k) for k in rng.integers(0, 5, 200).tolist()]
    named = [Stage(int(np.clip(k + rng.integers(-1, 2), 0, 4))) for k in true]
    found = stage_table(true, named)
    theirs = cohens_kappa(found.counts, wt="quadratic", return_results=True)
    assert found.agreement.kappa == pytest.approx(theirs.kappa, rel=1e-12)
    assert found.agreement.n == found.counts.sum() == 200
    assert found.counts[RIGHT, CLOSED] == sum(
        t is RIGHT and n is CLOSED for t, n in zip(true, named, strict=True)
    )


def test_the_commonest_mistake_is_named():
    true, named = [CLOSED] * 3 + [EGG] * 2, [RIGHT] * 3 + [HATCHED, EGG]
    assert stage_table(true, named).most_mixed == (CLOSED, RIGHT)


def test_without_mistakes_or_answers_nothing_is_mixed_up():
    assert stage_table([EGG, OLD], [EGG, OLD]).most_mixed is None
    assert stage_table([], []).agreement is None


def test_lists_of_different_lengths_are_refused():
    with pytest.raises(ValueError, match=r"^true and named must have one length, got 1 and 2$"):
        stage_table([EGG], [EGG, OLD])


# Once all come in any order


def test_without_mistakes_all_stages_come_alike():
    rng = np.random.default_rng(5)
    drawn = [next_mixed([(EGG, EGG)] * 10, rng) for _ in range(1000)]
    shares = np.bincount(drawn, minlength=len(Stage)) / 1000
    assert shares == pytest.approx(0.2, abs=0.05)


def test_stages_mixed_up_of_late_come_more_often():
    rng = np.random.default_rng(6)
    named = [(EGG, EGG)] * 8 + [(CLOSED, RIGHT), (CLOSED, RIGHT)]
    drawn = [next_mixed(named, rng) for _ in range(1000)]
    shares = np.bincount(drawn, minlength=len(Stage)) / 1000
    assert shares[[RIGHT, CLOSED]] == pytest.approx(0.32, abs=0.06)
    assert shares[[EGG, HATCHED, OLD]] == pytest.approx(0.12, abs=0.04)
