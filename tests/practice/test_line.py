"""A learner's line: from the latest cells, by days with enough of them, and the next drill."""

import math
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from larvasight.practice import (
    CONTENT_CODES,
    DRILLS,
    TOO_FEW,
    AnswerTable,
    summarise,
)
from larvasight.practice.drills import FIND_YOUR_EDGES, NAME_THE_STAGE
from larvasight.practice.line import DAYS_MOST, LATEST_CELLS, line_of, when_text
from larvasight.practice.measuring import edges_of
from larvasight.sheet import Content

START = datetime(2026, 5, 4, 9, tzinfo=UTC)
FIRST = START.date()
LARVA, EGG = CONTENT_CODES.index(Content.LARVA), CONTENT_CODES.index(Content.EGG)
EMPTY = CONTENT_CODES.index(Content.EMPTY)


def table_of(age_h, taken, day):
    """Answers to larvae, to eggs where the age is negative, to empty cells where it is NaN."""
    age_h, n = np.asarray(age_h, dtype=np.float64), len(age_h)
    content = np.where(np.isnan(age_h), EMPTY, np.where(age_h < 0.0, EGG, LARVA))
    return AnswerTable(
        answered_utc_ms=int(START.timestamp() * 1000)
        + np.broadcast_to(np.asarray(day, dtype=np.int64), n) * 86_400_000,
        content=content.astype(np.int8),
        age_h=age_h,
        looks_age_h=np.where(age_h >= 0.0, age_h, math.nan),
        is_plain=np.ones(n, dtype=np.bool_),
        taken=np.asarray(taken, dtype=np.bool_),
        response_ms=np.full(n, 2000.0),
        young_h=np.full(n, 6.0),
        old_h=np.full(n, 30.0),
    )


def judged(n_of_days, old_h, *, young_h=5.0, seed=1):
    """Answers of days, each with its own oldest age; a day is its number and how many cells."""
    rng = np.random.default_rng(seed)
    day = np.repeat([each for each, _ in n_of_days], [n for _, n in n_of_days])
    edge = np.repeat(np.asarray(old_h, dtype=float), [n for _, n in n_of_days])
    age_h = rng.uniform(-6.0, 66.0, len(day))
    chance = 1.0 / (1.0 + np.exp((young_h - age_h) / 1.5)) / (1.0 + np.exp((age_h - edge) / 1.5))
    return table_of(age_h, rng.random(len(day)) < chance, day)


def told(table, today=FIRST + timedelta(days=60)):
    return line_of(table, summarise(table, UTC), UTC, today)


def test_the_line_is_where_the_learner_draws_it():
    line = told(judged([(0, 100), (1, 100)], [28.0, 28.0]))
    assert line.is_enough
    assert line.young.lo < 5.0 < line.young.hi
    assert line.old.lo < 28.0 < line.old.hi
    assert line.old.half_width < 3.0
    assert line.is_clear


def test_it_agrees_with_the_slower_way_of_measuring():
    table = judged([(0, 90)], [30.0])
    line, slow = told(table), edges_of(table)
    assert line.old.value == pytest.approx(slow.old_edge_h.value, rel=0, abs=0.15)
    assert line.young.lo == pytest.approx(slow.young_edge_h.lo, rel=0, abs=0.15)


def test_only_the_latest_cells_count():
    early, late = (0, 1000), (20, LATEST_CELLS)
    line = told(judged([early, late], [44.0, 26.0]))
    assert line.n == LATEST_CELLS
    assert line.old.value == pytest.approx(26.0, rel=0, abs=1.5)
    assert sum(share.n for share in line.ages) + line.eggs.n == LATEST_CELLS


@pytest.mark.parametrize(("n", "is_enough"), [(0, False), (TOO_FEW - 1, False), (TOO_FEW, True)])
def test_below_forty_cells_nothing_is_to_be_told(n, is_enough):
    line = told(judged([(0, n)], [28.0]))
    assert line.n == n
    assert line.is_enough is is_enough
    assert len(line.days) == (1 if is_enough else 0)
    assert line.moved is None


def test_empty_cells_are_no_part_of_the_line():
    line = told(table_of([*([math.nan] * 60), *([18.0] * 30)], [False] * 60 + [True] * 30, 0))
    assert line.n == 30
    assert not line.is_enough


def test_who_takes_nothing_has_no_line():
    line = told(table_of(np.linspace(0.0, 60.0, 80), np.zeros(80), 0))
    assert not line.is_enough


def test_the_curve_falls_through_half_at_the_old_edge():
    line = told(judged([(0, 200)], [30.0]))
    ages_h, shares = np.array(line.curve).T
    assert ages_h[0] == 0.0
    assert ages_h[-1] == 72.0
    at_edge, middle = np.interp([line.old.value, 17.0], ages_h, shares)
    assert at_edge == pytest.approx(0.5, abs=0.06)
    assert middle > 0.9


def test_days_with_too_few_cells_are_put_together_from_the_latest_back():
    line = told(judged([(0, 50), (1, 15), (3, 30), (9, 60), (12, 20), (13, 25)], [28.0] * 6))
    spans = [((day.first - FIRST).days, (day.last - FIRST).days, day.n) for day in line.days]
    assert spans == [(0, 0, 50), (1, 3, 45), (9, 9, 60), (12, 13, 45)]


def test_a_long_record_shows_its_latest_days():
    line = told(judged([(day, TOO_FEW) for day in range(DAYS_MOST + 9)], [28.0] * (DAYS_MOST + 9)))
    assert len(line.days) == DAYS_MOST
    assert (line.days[-1].last - FIRST).days == DAYS_MOST + 8


def test_a_line_that_moves_to_older_larvae_is_seen_to_move():
    line = told(judged([(0, 120), (7, 120)], [26.0, 36.0]))
    assert line.moved.lo > 0.0
    assert line.moved.value == pytest.approx(10.0, rel=0, abs=3.0)


@pytest.mark.parametrize("n", [0, 12, 60, 700])
def test_the_next_drill_is_one_that_there_is(n):
    line = told(judged([(0, n)], [30.0]))
    assert line.next.title in {drill.title for drill in DRILLS}
    assert 1.0 <= line.next.minutes <= 15.0
    assert line.next.why.endswith(".")


def test_who_never_practised_is_told_at_once_before_anything_is_measured():
    assert told(judged([(0, 0)], [30.0])).next.title == NAME_THE_STAGE.title


def test_a_line_older_than_a_week_is_to_be_found_anew():
    table = judged([(0, 60)], [28.0])
    assert told(table, FIRST + timedelta(days=2)).next.title != FIND_YOUR_EDGES.title
    assert told(table, FIRST + timedelta(days=9)).next.title == FIND_YOUR_EDGES.title


@pytest.mark.reference(
    "Akimoto & Kuroda 1981, abstract: sorters' limits slid back within about a week of being set"
)
def test_the_second_session_is_due_well_within_a_week_of_the_first():
    table = judged([(0, 60)], [28.0])
    assert told(table, FIRST).next.day == FIRST + timedelta(days=1)
    held = judged([(0, 80), (1, 80)], [28.0, 28.0], seed=2)
    gap = told(held, FIRST + timedelta(days=1)).next.day - (FIRST + timedelta(days=1))
    assert timedelta(days=1) <= gap < timedelta(days=7)


def test_practising_every_day_puts_the_next_session_off_by_no_more_than_three_days():
    n_days = 8
    table = judged([(day, 60) for day in range(n_days)], [28.0] * n_days)
    last = FIRST + timedelta(days=n_days - 1)
    assert told(table, last).next.day - last <= timedelta(days=3)


def test_with_too_few_cells_the_next_drill_is_today():
    assert told(judged([(0, 25)], [28.0]), FIRST).next.day == FIRST


def test_what_was_due_before_is_due_today():
    today = FIRST + timedelta(days=90)
    assert told(judged([(0, 60)], [28.0]), today).next.day == today


@pytest.mark.parametrize(
    ("days", "text"), [(-3, "today"), (0, "today"), (1, "tomorrow"), (7, "in 7 days")]
)
def test_a_day_to_come_is_said_plainly(days, text):
    assert when_text(date(2026, 5, 4) + timedelta(days=days), date(2026, 5, 4)) == text


def test_the_same_answers_give_the_same_line():
    table = judged([(0, 100)], [28.0])
    assert repr(told(table)) == repr(told(table))
