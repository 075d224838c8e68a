"""A line for each learner: who needs the teacher stands first, and few cells tell nothing."""

from dataclasses import astuple, fields, replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from larvasight.grading import Limits
from larvasight.practice import CONTENT_CODES, AnswerTable
from larvasight.practice.class_line import State, class_lines, topic_sentence
from larvasight.practice.line import line_of
from larvasight.practice.progress import summarise
from larvasight.sheet import Content

TODAY = date(2027, 5, 20)
BEGIN = datetime(2027, 5, 10, 9, tzinfo=UTC)


def table(n, old_h, *, seed=1, per_day=60, slope_h=1.5):
    """Return answers of somebody who takes larvae from 5 h to ``old_h``."""
    rng = np.random.default_rng(seed)
    ages_h = rng.uniform(0.0, 60.0, n)
    chance = 1.0 / (1.0 + np.exp((ages_h - old_h) / slope_h)) / (1.0 + np.exp(5.0 - ages_h))
    times = [BEGIN + timedelta(days=k // per_day, seconds=5 * (k % per_day)) for k in range(n)]
    return AnswerTable(
        answered_utc_ms=np.array([round(at.timestamp() * 1000) for at in times], dtype=np.int64),
        content=np.full(n, CONTENT_CODES.index(Content.LARVA), dtype=np.int8),
        age_h=ages_h,
        looks_age_h=ages_h,
        is_plain=np.ones(n, dtype=np.bool_),
        taken=rng.random(n) < chance,
        response_ms=np.full(n, 900.0),
        young_h=np.full(n, 6.0),
        old_h=np.full(n, 30.0),
    )


def lines_of(*tables, today=TODAY):
    limits = Limits()
    return class_lines([(f"L{k}", one, limits) for k, one in enumerate(tables)], UTC, today)


def test_nothing_but_the_number_is_told_below_forty_cells():
    (line,) = lines_of(table(39, 45.0))
    assert line.state is State.NEW
    assert line.n_cells == 39
    assert line.young is None
    assert line.old is None


def test_a_class_without_learners_has_no_lines():
    assert lines_of() == ()


def test_somebody_without_answers_has_a_line():
    (line,) = lines_of(table(0, 20.0))
    assert (line.state, line.n_cells, line.last_day) == (State.NEW, 0, None)


def test_who_takes_too_old_ones_stands_first():
    lines = lines_of(table(240, 22.0, seed=2), table(240, 45.0, seed=3), table(20, 45.0, seed=4))
    assert [line.name for line in lines] == ["L1", "L0", "L2"]
    assert lines[0].state is State.PAST
    assert lines[0].old.lo > 30.0


def test_the_line_is_found_where_it_was_drawn():
    (line,) = lines_of(table(240, 26.0, seed=5))
    assert line.old.lo <= 26.0 <= line.old.hi  # h
    assert abs(line.old.value - 26.0) <= 3.0


def test_a_line_whose_upper_end_alone_lies_past_is_perhaps_past():
    (line,) = lines_of(table(120, 29.5, seed=6, slope_h=3.0))
    assert line.state is State.PERHAPS


@pytest.mark.parametrize(
    ("sizes", "edges_h"),
    [((300,), (28.0,)), ((100, 300), (28.0, 40.0)), ((60, 10, 10, 60), (28.0, 30.0, 45.0, 45.0))],
)
def test_the_class_is_told_the_same_as_the_learner(sizes, edges_h):
    days = [
        replace(one, answered_utc_ms=one.answered_utc_ms + k * 86_400_000)
        for k, one in enumerate(
            table(n, old_h, seed=k, per_day=n)
            for k, (n, old_h) in enumerate(zip(sizes, edges_h, strict=True))
        )
    ]
    columns = {
        f.name: np.concatenate([getattr(day, f.name) for day in days]) for f in fields(days[0])
    }
    whole = AnswerTable(**columns)
    whole.taken[: sizes[0] // 3] = True  # an eye moves within a long day, too
    own = line_of(whole, summarise(whole, UTC), UTC, TODAY)
    (line,) = lines_of(whole)
    for found, wanted in ((line.old, own.old), (line.moved, own.moved)):
        assert (found is None) == (wanted is None)
        if found is not None:
            assert astuple(found) == pytest.approx(astuple(wanted), abs=0.01)  # h
    assert (line.moved is None) == (len(sizes) == 1)


def test_practice_is_due_when_its_day_has_come():
    steady = table(60, 22.0, seed=7)
    soon, late = lines_of(steady, today=date(2027, 5, 10)), lines_of(steady)
    assert soon[0].state is State.PRACTISING
    assert late[0].state is State.DUE
    assert late[0].next_day > late[0].last_day


def test_a_jump_from_one_day_to_the_next_is_told():
    first, second = table(60, 18.0, seed=8), table(60, 27.0, seed=9)
    both = AnswerTable(
        answered_utc_ms=np.concatenate(
            [first.answered_utc_ms, second.answered_utc_ms + 86_400_000]
        ),
        **{
            name: np.concatenate([getattr(first, name), getattr(second, name)])
            for name in (
                *("content", "age_h", "looks_age_h", "is_plain", "taken"),
                *("response_ms", "young_h", "old_h"),
            )
        },
    )
    (line,) = lines_of(both)
    assert line.moved.value == pytest.approx(9.0, abs=5.0)  # h
    assert line.state in (State.MOVED, State.PERHAPS)


def test_the_next_lesson_is_about_what_is_wrong_most():
    assert "too old" in topic_sentence(lines_of(table(240, 45.0)))
    assert "left" in topic_sentence(lines_of(table(240, 10.0)))


def test_too_old_picks_come_before_larvae_that_are_left():
    lines = lines_of(table(240, 40.0, seed=2), *(table(240, 10.0, seed=k) for k in (3, 4, 5)))
    assert "too old" in topic_sentence(lines)


def test_few_mistakes_are_no_topic():
    assert topic_sentence(lines_of(table(60, 29.0))) == (
        "No kind of mistake stands out in the class."
    )
