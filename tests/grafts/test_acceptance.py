"""Shares count only cups whose outcome is known; each step says where cups were lost."""

from itertools import pairwise

import pytest

from larvasight.grafts import Stage
from larvasight.grafts.acceptance import by_day, cups_of, steps_of, takes_of


def test_cups_not_looked_at_yet_count_for_neither(make_cups):
    takes = takes_of(make_cups("aaxooo"))
    assert (takes.n_known, takes.n_accepted, takes.n_open) == (3, 2, 3)


def test_without_known_cups_there_is_no_share(make_cups):
    assert takes_of(make_cups("ooo")).share is None
    assert takes_of(()).share is None


@pytest.mark.reference(
    "Newcombe 1998, Statistics in Medicine 17:857-872, Table I, as quoted in public test files"
)
def test_the_interval_of_a_share_is_wilsons(make_cups):
    share = takes_of(make_cups("a" + "x" * 28)).share
    assert (share.lo, share.hi) == (
        pytest.approx(0.0061, abs=5e-5),
        pytest.approx(0.1718, abs=5e-5),
    )


def test_days_come_oldest_first_with_all_their_batches(make_batch):
    batches = [make_batch("aax", days=3), make_batch("ax"), make_batch("a", days=3)]
    days = by_day(batches)
    assert [(day.takes.n_accepted, day.takes.n_known) for day in days] == [(1, 2), (3, 4)]
    assert days[0].day < days[1].day


def test_practice_grafts_stand_outside(make_batch):
    batches = [make_batch("xx", is_practice=True), make_batch("a")]
    assert [day.takes.n_known for day in by_day(batches)] == [1]
    assert len(cups_of(batches)) == 1
    assert by_day(batches[:1]) == ()


def test_each_step_says_how_many_came_and_where_the_others_are(make_cups):
    steps = {step.stage: step for step in steps_of(make_cups("oxxacckgeeml"))}
    found = {
        stage: (s.n_reached, s.n_on, s.n_lost, s.n_given_away, s.n_open)
        for stage, s in steps.items()
    }
    assert found == {
        Stage.GRAFTED: (12, 9, 2, 0, 1),
        Stage.ACCEPTED: (9, 8, 0, 0, 1),
        Stage.CAPPED: (8, 4, 1, 1, 2),
        Stage.EMERGED: (4, 2, 0, 0, 2),
        Stage.MATED: (2, 1, 0, 0, 1),
        Stage.LAYING: (1, 0, 0, 0, 1),
    }


def test_what_goes_on_is_what_comes_to_the_next_stage(make_cups):
    steps = steps_of(make_cups("oxxacckgeemlllax"))
    for step, after in pairwise(steps):
        assert step.n_on == after.n_reached
