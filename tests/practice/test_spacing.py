"""When to practise next: up the ladder while the eye holds, back when it drifts."""

from datetime import date, timedelta

import numpy as np
import pytest

from larvasight.practice.spacing import (
    LADDER_DAYS,
    N_REFRESH,
    Due,
    DueKind,
    LadderState,
    SessionEnd,
    climb,
    due_list,
    due_today,
    has_held,
    is_drift,
    old_edge_drift,
)
from larvasight.stats import EdgePosterior, Estimate, Interval, wilson_interval

DAY = date(2027, 3, 1)
AGES_H = np.repeat(np.arange(-6.0, 60.0, 2.0), 6)


def edges(old_h, n_each=6):
    ages_h = np.repeat(np.arange(-6.0, 60.0, 2.0), n_each)
    found = EdgePosterior()
    found.update_many(ages_h, (ages_h > 5.0) & (ages_h < old_h))
    return found


EDGES = {old_h: edges(old_h) for old_h in (25.0, 27.0, 31.0)}


def session(days=0, right=None, old_h=None):
    return SessionEnd(day=DAY + timedelta(days=days), right=right, edges=EDGES.get(old_h))


def state(step, **last):
    return LadderState(step=step, last=session(**last))


def test_an_eye_that_holds_climbs_the_ladder_to_its_top():
    at, days = None, 0
    gaps = []
    for _ in range(8):
        at = climb(at, session(days))
        gaps.append((at.due_on - at.last.day).days)
        days = (at.due_on - DAY).days
    assert gaps == [1, 3, 7, 14, 28, 56, 56, 56]


@pytest.mark.reference("Boutis et al. 2019: 20 cases every two months kept the level for a year")
def test_the_ladder_ends_at_two_months_with_twenty_cells():
    assert LADDER_DAYS == (1, 3, 7, 14, 28, 56)
    assert LADDER_DAYS[-1] == pytest.approx(60, abs=5)
    assert N_REFRESH == 20


@pytest.mark.parametrize(("step", "then"), [(0, 0), (1, 0), (2, 0), (3, 1), (5, 3)])
def test_an_eye_that_drifts_goes_two_steps_back_and_never_under_a_day(step, then):
    after = climb(state(step, old_h=25.0), session(7, old_h=31.0))
    assert after.step == then
    assert after.due_on > after.last.day


def test_a_late_session_simply_goes_on():
    at = climb(state(2), session(200))
    assert (at.step, at.due_on) == (3, DAY + timedelta(days=214))


def test_a_second_session_on_one_day_moves_nobody_up():
    assert climb(state(2), session(0)).step == 2
    assert climb(state(2, old_h=25.0), session(0, old_h=31.0)).step == 0


def test_an_earlier_session_is_refused():
    with pytest.raises(ValueError, match=r"^session must not be earlier than 2027-03-01"):
        climb(state(0), session(-1))


# Whether it held


@pytest.mark.parametrize(
    ("last", "now", "held"),
    [
        (wilson_interval(90, 100), wilson_interval(88, 100), True),
        (wilson_interval(90, 100), wilson_interval(80, 100), False),
        (wilson_interval(80, 100), wilson_interval(95, 100), True),
        (Interval(lo=0.80, hi=0.9), Interval(lo=0.75, hi=0.9), True),
        (wilson_interval(90, 100), None, True),
        (None, wilson_interval(10, 100), True),
    ],
)
def test_a_share_may_fall_a_little(last, now, held):
    assert has_held(session(right=last), session(7, right=now)) is held


def test_a_small_move_of_the_old_edge_is_no_drift():
    assert has_held(session(old_h=25.0), session(7, old_h=27.0))
    assert not has_held(session(old_h=25.0), session(7, old_h=31.0))
    assert not has_held(session(old_h=31.0), session(7, old_h=25.0))


def test_drift_is_the_difference_of_both_edges_with_both_doubts():
    moved = old_edge_drift(session(old_h=25.0), session(7, old_h=31.0))
    assert moved.value == pytest.approx(6.0, rel=0, abs=0.5)
    assert moved.half_width > EDGES[25.0].old_edge_h.half_width
    assert old_edge_drift(session(), session(7, old_h=31.0)) is None


@pytest.mark.parametrize(
    ("value", "lo", "hi", "drifts"),
    [
        (6.0, 1.0, 11.0, True),
        (-6.0, -11.0, -1.0, True),
        (6.0, -1.0, 13.0, False),
        (2.9, 1.0, 5.0, False),
        (3.0, 0.5, 5.5, True),
    ],
)
def test_drift_is_three_hours_and_surely_not_nothing(value, lo, hi, drifts):
    assert is_drift(Estimate(value=value, lo=lo, hi=hi)) is drifts


def test_the_same_eye_is_seldom_called_drifting():
    rng, n_drifts, n_pairs = np.random.default_rng(3), 0, 40
    for _ in range(n_pairs):
        sessions = []
        for _ in range(2):
            found = EdgePosterior()
            shares = 1.0 / (1.0 + np.exp((AGES_H - 28.0) / 2.0))
            found.update_many(AGES_H, (AGES_H > 5.0) & (rng.random(len(AGES_H)) < shares))
            sessions.append(SessionEnd(day=DAY, edges=found))
        n_drifts += not has_held(*sessions)
    assert n_drifts <= 0.1 * n_pairs


# What is due


def test_the_first_session_is_due_today():
    assert due_list(None, DAY) == (Due(kind=DueKind.SESSION, day=DAY),)


def test_the_day_before_a_graft_has_its_check_whatever_the_ladder_says():
    graft = DAY + timedelta(days=10)
    dues = due_list(state(5), DAY, grafts_on=[graft, graft])
    assert dues == (
        Due(kind=DueKind.GRAFT_CHECK, day=graft - timedelta(days=1)),
        Due(kind=DueKind.SESSION, day=DAY + timedelta(days=56)),
    )


@pytest.mark.parametrize(("done_days", "is_due"), [(8, True), (9, False), (10, False)])
def test_a_check_done_on_the_eve_or_the_day_is_done(done_days, is_due):
    graft, done = DAY + timedelta(days=10), DAY + timedelta(days=done_days)
    dues = due_list(state(5), DAY, grafts_on=[graft], checks_done_on=[done])
    assert (DueKind.GRAFT_CHECK in {due.kind for due in dues}) is is_due


def test_a_graft_of_today_still_has_its_check_and_a_past_one_not():
    kinds = [
        {due.kind for due in due_list(state(5), DAY, grafts_on=[DAY + timedelta(days=days)])}
        for days in (-1, 0)
    ]
    assert kinds == [{DueKind.SESSION}, {DueKind.SESSION, DueKind.GRAFT_CHECK}]


def test_an_open_screen_test_has_its_check():
    dues = due_list(state(5), DAY, screen_check_from=DAY + timedelta(days=3))
    assert dues[0] == Due(kind=DueKind.SCREEN_CHECK, day=DAY + timedelta(days=3))


def test_what_was_missed_is_still_to_do():
    dues = due_list(state(1), DAY)
    assert due_today(dues, DAY + timedelta(days=2)) == ()
    assert due_today(dues, DAY + timedelta(days=3)) == dues
    assert due_today(dues, DAY + timedelta(days=90)) == dues
