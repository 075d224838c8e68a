"""Today: ten to fifteen minutes of what this learner needs."""

import re
from dataclasses import replace
from datetime import date, timedelta
from itertools import product

import numpy as np
import pytest

from larvasight.practice import PICK_FROM_PATCH, TAKE_OR_LEAVE
from larvasight.practice.readiness import TryState
from larvasight.practice.spacing import Due, DueKind
from larvasight.practice.today import (
    AGAINST_THE_CLOCK,
    CHECK,
    FIND_YOUR_EDGES,
    LOOK_FOR,
    NAME_THE_STAGE,
    PUT_IN_ORDER,
    SCREEN_TEST,
    YOUNGER_OF_TWO,
    Needs,
    plan_today,
)
from larvasight.stats import EdgePosterior

TODAY = date(2027, 5, 4)
AGES_H = np.repeat(np.arange(-6.0, 60.0, 2.0), 4)
KNOWS = (True,) * 40


def sharp_edges():
    found = EdgePosterior()
    found.update_many(AGES_H, (AGES_H > 4.0) & (AGES_H < 28.0))
    return found


def gradual_edges():
    found = EdgePosterior()
    shares = np.exp(-0.5 * ((AGES_H - 16.0) / 11.0) ** 2)
    found.update_many(AGES_H, np.random.default_rng(1).random(len(AGES_H)) < shares)
    return found


SHARP, GRADUAL = sharp_edges(), gradual_edges()
PRACTISED = Needs(
    n_cells_ever=300,
    stages_right=KNOWS,
    n_right=80,
    n_picks=100,
    edges=SHARP,
    measured_on=TODAY - timedelta(days=2),
)


def keys(needs):
    return [part.key for part in plan_today(needs, TODAY)]


def test_a_beginner_looks_first_and_learns_the_stages():
    assert keys(Needs()) == [LOOK_FOR, NAME_THE_STAGE, TAKE_OR_LEAVE.key]


def test_who_knows_the_stages_practises_pairs_lines_and_picks():
    assert keys(PRACTISED) == [YOUNGER_OF_TWO, TAKE_OR_LEAVE.key, PICK_FROM_PATCH.key]


@pytest.mark.parametrize("right", [(), (True,) * 39, (True,) * 35 + (False,) * 5])
def test_stages_are_named_until_nine_in_ten_of_the_last_forty_are_right(right):
    needs = replace(PRACTISED, stages_right=right, edges=None, measured_on=None)
    assert keys(needs)[0] == NAME_THE_STAGE


def test_only_the_last_forty_stages_count():
    assert NAME_THE_STAGE not in keys(replace(PRACTISED, stages_right=(False,) * 90 + KNOWS))


@pytest.mark.parametrize(("days", "measures"), [(6, False), (7, True), (None, True)])
def test_edges_are_measured_again_after_a_week(days, measures):
    on = None if days is None else TODAY - timedelta(days=days)
    found = keys(replace(PRACTISED, measured_on=on))
    assert (found[0] == FIND_YOUR_EDGES) is measures
    assert FIND_YOUR_EDGES not in found[1:]


def test_who_picks_surely_practises_pace():
    assert AGAINST_THE_CLOCK in keys(replace(PRACTISED, n_right=98))
    assert AGAINST_THE_CLOCK not in keys(replace(PRACTISED, n_right=18, n_picks=18))


def test_a_gradual_line_has_the_whole_row_of_ages():
    assert GRADUAL.spread_h.value > 3.0
    assert PUT_IN_ORDER in keys(replace(PRACTISED, edges=GRADUAL))


def test_a_graft_tomorrow_is_met_with_a_check_first():
    dues = [Due(kind=DueKind.GRAFT_CHECK, day=TODAY), Due(kind=DueKind.SESSION, day=TODAY)]
    first = plan_today(replace(PRACTISED, dues=dues), TODAY)[0]
    assert (first.key, first.n) == (CHECK, 20)
    later = [replace(due, day=TODAY + timedelta(days=1)) for due in dues]
    assert CHECK not in keys(replace(PRACTISED, dues=later))


@pytest.mark.parametrize(
    ("test", "first", "n"),
    [
        (TryState.PICKING, SCREEN_TEST, 60),
        (TryState.CHECKING, SCREEN_TEST, 40),
        (TryState.MEASURING, SCREEN_TEST, 40),
    ],
)
def test_an_open_screen_test_comes_first_and_without_warm_up(test, first, n):
    part = plan_today(replace(PRACTISED, test=test), TODAY)[0]
    assert (part.key, part.n) == (first, n)


def test_a_test_that_waits_or_has_ended_changes_nothing():
    for test in (TryState.WAITING, TryState.PASSED, TryState.NOT_PASSED):
        assert keys(replace(PRACTISED, test=test)) == keys(PRACTISED)


def test_every_learner_gets_ten_to_fifteen_minutes_in_plain_words():
    dues = ([], [Due(kind=DueKind.GRAFT_CHECK, day=TODAY)])
    every = product((0, 300), ((), KNOWS), (0, 98), (None, SHARP, GRADUAL), dues, [None, *TryState])
    for n_cells, stages, n_right, edges, due, test in every:
        needs = Needs(
            n_cells_ever=n_cells,
            stages_right=stages,
            n_right=n_right,
            n_picks=100 if n_right else 0,
            edges=edges,
            dues=due,
            test=test,
        )
        parts = plan_today(needs, TODAY)
        assert 10.0 <= sum(part.minutes for part in parts) <= 15.0
        assert len({part.key for part in parts}) == len(parts)
        for part in parts:
            assert part.n > 0
            assert part.why.endswith(".")
            assert not re.search(r"posterior|interval|kappa|!", part.why)
