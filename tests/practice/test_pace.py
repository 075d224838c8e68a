"""Against the clock: a limit from one's own pace, eased when answers go wrong."""

import math

import pytest

from larvasight.practice.pace import own_pace_ms, time_limit_ms


def test_own_pace_is_the_usual_time():
    assert own_pace_ms([1000.0] * 10 + [2000.0] * 11) == 2000.0


def test_answers_without_looking_and_pauses_do_not_count():
    usual = [1200.0] * 20
    assert own_pace_ms(usual + [100.0] * 15 + [60_000.0] * 5) == 1200.0


@pytest.mark.parametrize("n", [0, 19])
def test_too_few_times_are_no_pace(n):
    assert own_pace_ms([1200.0] * n) is None
    assert own_pace_ms([1200.0] * n + [50.0] * 30) is None


def test_the_limit_is_a_fifth_above_the_pace():
    assert time_limit_ms(1500.0, []) == pytest.approx(1800.0)
    assert time_limit_ms(1500.0, [True] * 9 + [False]) == pytest.approx(1800.0)


def test_every_two_wrong_ease_it():
    assert time_limit_ms(1000.0, [False, True, False]) == pytest.approx(1440.0)
    assert time_limit_ms(1000.0, [False] * 3) == pytest.approx(1440.0)
    assert time_limit_ms(1000.0, [False] * 4) == pytest.approx(1728.0)


@pytest.mark.parametrize("pace_ms", [0.0, 199.0, math.nan])
def test_a_pace_that_cannot_be_is_refused(pace_ms):
    with pytest.raises(ValueError, match=r"^pace_ms must lie between 200"):
        time_limit_ms(pace_ms, [])
