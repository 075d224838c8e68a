"""Marks put on cups one after the other, each checked against the days before."""

from datetime import date, timedelta

import pytest

from larvasight.errors import GraftInvalidError
from larvasight.grafts import Cup, Fate, Stage
from larvasight.grafts.marking import cleared, cup_of, fated, reached

TODAY = date(2027, 6, 20)


def mark(batch, stage, days, number=1):
    seen_on = batch.grafted_on + timedelta(days=days)
    return reached(batch, number, stage, seen_on=seen_on, today=TODAY)


def test_a_cup_goes_from_stage_to_stage_and_keeps_its_days(make_batch):
    batch = make_batch("oo")
    for stage, days in ((Stage.ACCEPTED, 1), (Stage.CAPPED, 5), (Stage.EMERGED, 12)):
        batch = mark(batch, stage, days)
    cup = cup_of(batch, 1)
    assert cup.reached is Stage.EMERGED
    assert [(day - batch.grafted_on).days for day in cup.days.values()] == [1, 5, 12]
    assert cup_of(batch, 2) == Cup(number=2)


def test_marked_back_a_cup_loses_the_later_days(make_batch):
    batch = mark(mark(make_batch("o"), Stage.ACCEPTED, 1), Stage.EMERGED, 12)
    batch = mark(batch, Stage.CAPPED, 5)
    assert set(cup_of(batch, 1).days) == {Stage.ACCEPTED, Stage.CAPPED}


def test_stages_between_may_stay_without_a_day(make_batch):
    assert set(cup_of(mark(make_batch("o"), Stage.LAYING, 28), 1).days) == {Stage.LAYING}


def test_emergence_before_grafting_is_refused_in_one_sentence(make_batch):
    with pytest.raises(GraftInvalidError) as refused:
        mark(make_batch("o"), Stage.EMERGED, -2)
    assert str(refused.value) == (
        "Cup 1 cannot have emerged on 12 May 2027: it was grafted on 14 May 2027."
    )


@pytest.mark.reference("queens 15-17 d from egg to emergence (americasbeekeeper.com)")
def test_a_queen_cannot_have_emerged_within_a_week_of_grafting(make_batch):
    with pytest.raises(GraftInvalidError) as refused:
        mark(make_batch("o"), Stage.EMERGED, 7)
    assert str(refused.value) == (
        "Cup 1 cannot have emerged on 21 May 2027: it was grafted on 14 May 2027, and that takes 8 "
        "days or more. Is the day of grafting right?"
    )
    # As early as a larva a day and a half older than thought emerges, and more.
    assert cup_of(mark(make_batch("o"), Stage.EMERGED, 10), 1).reached is Stage.EMERGED


@pytest.mark.reference("sealed 4.5-5 d after grafting (Rosecomb Apiaries 2012), day 6 (Cushman)")
@pytest.mark.parametrize(("stage", "days"), [(Stage.CAPPED, 1), (Stage.MATED, 11)])
def test_no_stage_comes_sooner_than_bees_can_be(make_batch, stage, days):
    with pytest.raises(GraftInvalidError, match="days or more"):
        mark(make_batch("o"), stage, days)
    assert cup_of(mark(make_batch("o"), Stage.CAPPED, 4), 1).reached is Stage.CAPPED


def test_a_day_before_an_earlier_stage_is_refused(make_batch):
    with pytest.raises(GraftInvalidError, match=r"begun to lay on .* emerged on 26 May 2027"):
        mark(mark(make_batch("o"), Stage.EMERGED, 12), Stage.LAYING, 11)


def test_a_day_to_come_is_refused(make_batch):
    with pytest.raises(GraftInvalidError, match="has not come yet"):
        mark(make_batch("o"), Stage.ACCEPTED, 60)


def test_a_cup_is_lost_after_the_stage_it_came_to(make_batch):
    batch = fated(make_batch("co"), 1, Fate.LOST)
    assert (cup_of(batch, 1).reached, cup_of(batch, 1).fate) == (Stage.CAPPED, Fate.LOST)
    assert cup_of(mark(batch, Stage.EMERGED, 12), 1).fate is Fate.OPEN


def test_a_laying_queen_is_not_lost_and_an_empty_cup_not_given_away(make_batch):
    with pytest.raises(GraftInvalidError, match="lays"):
        fated(make_batch("l"), 1, Fate.LOST)
    with pytest.raises(GraftInvalidError, match="nothing to give away"):
        fated(make_batch("o"), 1, Fate.GIVEN_AWAY)


def test_clearing_takes_everything_back(make_batch):
    batch = cleared(mark(make_batch("o"), Stage.ACCEPTED, 1), 1)
    assert cup_of(batch, 1) == Cup(number=1)


@pytest.mark.parametrize("number", [0, 3])
def test_a_cup_that_is_not_there_is_our_own_fault(make_batch, number):
    with pytest.raises(ValueError, match="number"):
        cleared(make_batch("oo"), number)
