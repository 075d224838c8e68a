"""The screen test: its four parts, what counts, and whom it lets pass."""

import re
from dataclasses import replace
from datetime import date, timedelta
from uuid import UUID

import numpy as np
import pytest

from larvasight.grading import Limits
from larvasight.practice import Outcome
from larvasight.practice.readiness import (
    CHECK_AFTER_DAYS,
    CHECK_PICKS,
    N_PICKS,
    FreshPick,
    Part,
    ScreenTry,
    TryState,
    counted_picks,
    is_line_met,
    judge_try,
    try_from,
)
from larvasight.stats import EdgePosterior
from screen_test_curve import chance_of_check, chance_of_line, chance_of_picks, within

LIMITS = Limits()
FIRST = date(2027, 4, 3)
SECOND = FIRST + timedelta(days=2)
CHECK_DAY = SECOND + timedelta(days=CHECK_AFTER_DAYS)
RIGHT, OLD, EGG = Outcome.RIGHT, Outcome.TOO_OLD, Outcome.EGG


def picks(day, outcomes, *, first_comb=0, per_comb=20):
    return tuple(
        FreshPick(day=day, comb_id=UUID(int=first_comb + k // per_comb), outcome=outcome)
        for k, outcome in enumerate(outcomes)
    )


def day_of(n_wrong, kind=EGG, n=60):
    return [kind] * n_wrong + [RIGHT] * (n - n_wrong)


def two_days(one, two):
    return picks(FIRST, one) + picks(SECOND, two, first_comb=3)


def edges(last_taken_h, n_each=8):
    ages_h = np.repeat(np.arange(-6.0, 60.0, 2.0), n_each)
    found = EdgePosterior()
    found.update_many(ages_h, (ages_h >= 4.0) & (ages_h <= last_taken_h))
    return found


GOOD_EDGES, LATE_EDGES = edges(26.0), edges(38.0)
FULL = two_days(day_of(1), day_of(1))
GOOD = ScreenTry(begun_on=FIRST, picks=FULL, edges=GOOD_EDGES, n_blocks=1)


def check(outcomes, day=CHECK_DAY):
    return picks(day, outcomes, first_comb=10)


def judged(attempt, today=CHECK_DAY):
    return judge_try(attempt, LIMITS, today)


# The parts


def test_all_four_parts_pass_the_screen_test():
    result = judged(replace(GOOD, check=check(day_of(2, n=CHECK_PICKS))))
    assert result.state is TryState.PASSED
    assert (result.n_picks, result.n_wrong, result.n_days, result.n_combs) == (120, 2, 2, 6)
    assert (result.n_check, result.n_check_wrong) == (40, 2)
    assert result.sentence == "Passed the screen test."


@pytest.mark.parametrize("n_picks", [0, 1, 60, 119])
def test_too_few_picks_are_not_done(n_picks):
    result = judged(replace(GOOD, picks=FULL[:n_picks]))
    assert result.state is TryState.PICKING
    assert result.n_picks == n_picks
    assert str(N_PICKS - n_picks) in result.sentence


@pytest.mark.parametrize(
    ("one", "two", "passes"),
    [(3, 3, True), (4, 2, True), (2, 4, True), (3, 4, False), (5, 0, False), (0, 5, False)],
)
def test_six_wrong_and_four_on_a_day_are_the_most(one, two, passes):
    result = judged(replace(GOOD, picks=two_days(day_of(one), day_of(two))))
    assert (result.state is TryState.CHECKING) is passes
    assert result.not_met == (() if passes else (Part.PICKS,))


@pytest.mark.parametrize(("n_old", "passes"), [(1, True), (2, False)])
def test_one_too_old_is_the_most(n_old, passes):
    result = judged(replace(GOOD, picks=two_days(day_of(n_old, OLD), day_of(0))))
    assert result.n_too_old == n_old
    assert result.not_met == (() if passes else (Part.TOO_OLD,))


def test_a_try_ends_as_soon_as_a_part_can_no_longer_be_met():
    result = judged(ScreenTry(begun_on=FIRST, picks=picks(FIRST, [OLD, OLD])), FIRST)
    assert result.state is TryState.NOT_PASSED
    assert "too old" in result.sentence


def test_the_line_is_needed_and_a_second_block_is_the_last():
    assert judged(replace(GOOD, edges=None, n_blocks=0)).state is TryState.MEASURING
    late = replace(GOOD, edges=LATE_EDGES)
    assert judged(late).state is TryState.MEASURING
    result = judged(replace(late, n_blocks=2))
    assert (result.state, result.not_met) == (TryState.NOT_PASSED, (Part.LINE,))
    assert judged(replace(GOOD, n_blocks=2)).state is TryState.CHECKING


def test_the_line_must_be_known_and_lie_no_later_than_larvae_are_counted():
    assert is_line_met(GOOD_EDGES, LIMITS)
    assert not is_line_met(LATE_EDGES, LIMITS)
    assert is_line_met(LATE_EDGES, replace(LIMITS, old_h=40.0))
    assert not is_line_met(EdgePosterior(), replace(LIMITS, old_h=90.0))
    just = replace(LIMITS, old_h=GOOD_EDGES.old_edge_h.hi - 3.0)
    assert is_line_met(GOOD_EDGES, just)
    assert not is_line_met(GOOD_EDGES, replace(just, old_h=just.old_h - 0.01))


def test_the_check_waits_a_week():
    eve = CHECK_DAY - timedelta(days=1)
    waiting = judged(GOOD, eve)
    assert (waiting.state, waiting.check_from) == (TryState.WAITING, CHECK_DAY)
    assert str(CHECK_DAY) in waiting.sentence
    assert judged(GOOD).state is TryState.CHECKING
    with pytest.raises(ValueError, match=rf"^check must begin on {CHECK_DAY} or later, got {eve}$"):
        judged(replace(GOOD, check=check([RIGHT], eve)))


def test_a_check_before_the_picks_are_done_is_refused():
    with pytest.raises(ValueError, match=r"^check must begin on None or later"):
        judged(replace(GOOD, picks=FULL[:50], check=check([RIGHT])))


def test_three_wrong_in_the_check_end_the_try():
    result = judged(replace(GOOD, check=check([EGG] * 3)))
    assert (result.state, result.not_met) == (TryState.NOT_PASSED, (Part.CHECK,))


# What counts


def test_no_more_than_sixty_picks_count_on_a_day():
    one_day = picks(FIRST, [RIGHT] * 130)
    assert judged(replace(GOOD, picks=one_day)).n_picks == 60


def test_no_more_than_twenty_picks_count_on_a_comb():
    one_comb = picks(FIRST, [RIGHT] * 50, per_comb=50)
    assert len(counted_picks(one_comb, N_PICKS)) == 20


def test_picks_after_the_last_that_counts_do_no_harm():
    extra = picks(SECOND + timedelta(days=1), [OLD] * 9, first_comb=7)
    assert judged(replace(GOOD, picks=FULL + extra)).n_wrong == 2


@pytest.mark.parametrize("outcome", [Outcome.JUST_PAST, Outcome.HIDDEN, Outcome.LEFT])
def test_what_is_not_counted_elsewhere_is_not_counted_here(outcome):
    assert counted_picks(picks(FIRST, [outcome] * 3), N_PICKS) == []


def test_very_young_picks_are_right():
    result = judged(replace(GOOD, picks=two_days([Outcome.VERY_YOUNG] * 60, day_of(0))))
    assert (result.n_picks, result.n_wrong) == (120, 0)


def test_picks_out_of_order_are_refused():
    with pytest.raises(ValueError, match=r"^picks must stand in the order of their days"):
        counted_picks(picks(SECOND, [RIGHT]) + picks(FIRST, [RIGHT]), N_PICKS)


@pytest.mark.reference("Clopper & Pearson 1934, one-sided: 6 wrong of 120 leave .90, by scipy")
def test_six_wrong_of_120_still_show_nine_in_ten():
    six, seven = (
        judged(replace(GOOD, picks=two_days(day_of(3), day_of(n)))).right_at_least for n in (3, 4)
    )
    assert six >= 0.90 > seven


def test_no_picks_show_nothing():
    assert judged(ScreenTry(begun_on=FIRST)).right_at_least is None


# Tries


def test_a_try_a_week_at_most():
    assert try_from([]) is None
    again = ScreenTry(begun_on=FIRST + timedelta(days=9))
    assert try_from([again, GOOD]) == FIRST + timedelta(days=16)


def test_sentences_are_plain():
    attempts = [
        GOOD,
        ScreenTry(begun_on=FIRST),
        replace(GOOD, edges=None, n_blocks=0),
        replace(GOOD, edges=LATE_EDGES, n_blocks=2),
        replace(GOOD, picks=two_days(day_of(4, OLD), day_of(4))),
        replace(GOOD, check=check(day_of(3, n=CHECK_PICKS))),
    ]
    for attempt in attempts:
        words = judged(attempt).sentence
        assert words[0].isupper() or words[0].isdigit()
        assert words.endswith(".")
        assert not re.search(r"licen[cs]e|certif|interval|posterior|limit of error|!", words, re.I)


# Whom it lets pass


def chance_of_try(right_share):
    return chance_of_picks(right_share) * chance_of_check(right_share)


def test_exact_chances_are_those_of_many_simulated_tries():
    rng, n_tries, right_share = np.random.default_rng(6), 1500, 0.97
    kinds = np.array([RIGHT, OLD, EGG])
    shares = [right_share, 0.25 * (1 - right_share), 0.75 * (1 - right_share)]
    n_passed = 0
    for _ in range(n_tries):
        drawn = [Outcome(k) for k in rng.choice(kinds, N_PICKS + CHECK_PICKS, p=shares).tolist()]
        attempt = replace(GOOD, picks=two_days(drawn[:60], drawn[60:120]), check=check(drawn[120:]))
        n_passed += judged(attempt).state is TryState.PASSED
    expected = chance_of_try(right_share)
    sd = (expected * (1.0 - expected) / n_tries) ** 0.5
    assert n_passed / n_tries == pytest.approx(expected, rel=0, abs=3.5 * sd)


@pytest.mark.parametrize("too_old_part", [0.0, 0.25])
@pytest.mark.parametrize("alike", [0.0, 0.02])
def test_who_picks_nine_in_ten_right_hardly_ever_passes_in_three_tries(too_old_part, alike):
    picked = chance_of_picks(0.90, too_old_part=too_old_part, alike=alike)
    assert within(3, picked * chance_of_check(0.90, alike=alike)) <= 0.05


def test_picks_alone_would_let_too_many_pass():
    assert within(3, chance_of_picks(0.90, too_old_part=0.0)) > 0.05


def test_who_picks_99_in_100_right_nearly_always_passes():
    line = chance_of_line(0.25 * 0.01, 40, seed=2)
    assert chance_of_try(0.99) * line >= 0.85


def test_passing_rises_with_skill():
    shares = np.arange(0.80, 0.995, 0.01).tolist()
    assert (np.diff([chance_of_try(share) for share in shares]) > 0.0).all()


def test_who_takes_too_old_ones_seldom_meets_the_line():
    assert chance_of_line(0.05, 20, seed=3) < 0.3
