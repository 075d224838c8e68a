"""The screen test from stored answers: what stands, what comes next, and when."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from larvasight.desk.screen_test import Now, Step, marks_of, screen_test_of
from larvasight.grading import Limits
from larvasight.practice import TAKE_OR_LEAVE, Answer, Given, Outcome, ShownCell
from larvasight.practice.drills import FIND_YOUR_EDGES, SCREEN_TEST
from larvasight.practice.readiness import Part, TryState
from larvasight.records.store import Store
from larvasight.records.types import ShownRound
from larvasight.sheet import Content

LIMITS = Limits()
FIRST = datetime(2027, 4, 3, 8, 0, tzinfo=UTC)
DAY = timedelta(days=1)
SECOND, CHECK_DAY = FIRST + DAY, FIRST + 8 * DAY
TRY = UUID(int=1)
RIGHT_H, OLD_H = 18.0, 40.0


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "records.db", now=FIRST) as opened:
        yield opened


@pytest.fixture
def learner(store):
    return store.add_learner("Mira", now=FIRST).id


def cell(age_h, tile_id=None):
    return ShownCell(
        id=uuid4(),
        row=0,
        col=0,
        content=Content.LARVA,
        age_h=age_h,
        looks_age_h=age_h,
        length_mm=None,
        curl_deg=None,
        jelly=None,
        tile_id=tile_id or str(uuid4()),
    )


@pytest.fixture
def put(store, learner):
    """Return a function that stores one comb of a step and which of its cells were taken."""

    def make(step, at, cells, taken, *, try_id=TRY, is_ended=True, drill=SCREEN_TEST):
        shown = ShownRound(
            id=uuid4(),
            learner_id=learner,
            drill=FIND_YOUR_EDGES if step is Step.LINE else drill,
            cells=tuple(cells),
            limits=LIMITS,
            recipe=marks_of(try_id, step, at.date()) if step else {},
            kind="drawn",
            shown_at_utc=at,
        )
        store.show_round(shown)
        givens = [
            Given(
                cell_id=each.id,
                answer=Answer.TAKE if is_taken else Answer.LEAVE,
                response_ms=900,
                is_final=is_ended,
            )
            for each, is_taken in zip(cells, taken, strict=True)
        ]
        if is_ended:
            store.end_round(shown.id, givens, now=at)
        else:
            store.keep([given for given in givens if given.answer is Answer.TAKE], now=at)
        return shown

    return make


@pytest.fixture
def pick(put):
    """Return a function that takes so many right cells and wrong ones, 20 picks a comb."""

    def make(at, n, n_old=0, step=Step.PICKS, try_id=TRY):
        ages_h = [OLD_H] * n_old + [RIGHT_H] * (n - n_old)
        for begin in range(0, n, 20):
            part = ages_h[begin : begin + 20]
            cells = [cell(age_h) for age_h in part] + [cell(60.0), cell(60.0)]
            put(step, at, cells, [True] * len(part) + [False] * 2, try_id=try_id)
            at += timedelta(minutes=2)

    return make


@pytest.fixture
def measure(put):
    """Return a function that answers a block with a line of one's own."""

    def make(at, old_h=26.0, n_each=4):
        ages_h = np.repeat(np.arange(0.0, 60.0, 2.0), n_each)
        cells = [cell(float(age_h)) for age_h in ages_h]
        put(Step.LINE, at, cells, [4.0 <= age_h <= old_h for age_h in ages_h])

    return make


@pytest.fixture
def stand(store, learner):
    def read(now, tz=UTC, until=None):
        return screen_test_of(store, learner, LIMITS, now=now, tz=tz, until=until)

    return read


def test_before_the_first_comb_a_try_can_be_begun(stand):
    test = stand(FIRST)
    assert (test.tries, test.now, test.from_day) == ((), Now.BEGIN, FIRST.date())
    assert test.passed_on is None


def test_all_parts_one_after_the_other_pass_the_test(stand, pick, measure):
    pick(FIRST, 60)
    test = stand(FIRST)
    assert (test.now, test.from_day) == (Now.WAIT, SECOND.date())
    assert test.open_try.n_today == 60
    pick(SECOND, 60)
    assert stand(SECOND).now is Now.MEASURE
    measure(SECOND)
    test = stand(SECOND)
    assert (test.now, test.from_day) == (Now.WAIT, CHECK_DAY.date())
    assert stand(CHECK_DAY).now is Now.CHECK
    pick(CHECK_DAY, 40, n_old=2, step=Step.CHECK)
    test = stand(CHECK_DAY)
    assert test.passed_on == CHECK_DAY.date()
    assert test.latest.result.state is TryState.PASSED
    assert test.open_try is None
    assert [wrong.outcome for wrong in test.latest.wrong] == [Outcome.TOO_OLD] * 2


def test_a_try_ends_with_the_comb_that_makes_it_fail_and_the_next_waits_a_week(stand, pick):
    pick(FIRST, 20, n_old=2)
    test = stand(FIRST)
    assert test.latest.result.not_met == (Part.TOO_OLD,)
    assert (test.now, test.from_day) == (Now.WAIT, (FIRST + 7 * DAY).date())
    assert stand(FIRST + 6 * DAY).now is Now.WAIT
    assert stand(FIRST + 7 * DAY).now is Now.BEGIN


def test_tries_are_counted_and_one_begun_instead_gives_the_former_up(stand, pick):
    pick(FIRST, 20)
    later = FIRST + 9 * DAY
    assert not stand(FIRST + DAY).may_begin_anew
    assert stand(later).may_begin_anew
    pick(later, 20, try_id=UUID(int=2))
    test = stand(later)
    assert [one.is_given_up for one in test.tries] == [True, False]
    assert test.open_try.id == UUID(int=2)
    assert test.open_try.result.n_picks == 20


def test_the_check_waits_for_a_morning_without_practice(stand, pick, measure, put):
    pick(FIRST, 60)
    pick(SECOND, 60)
    measure(SECOND)
    put(None, CHECK_DAY, [cell(RIGHT_H)], [True], drill=TAKE_OR_LEAVE)
    test = stand(CHECK_DAY + timedelta(hours=1))
    assert (test.now, test.from_day) == (Now.WARMED_UP, (CHECK_DAY + DAY).date())
    assert stand(CHECK_DAY + DAY).now is Now.CHECK


def test_a_comb_broken_off_counts_nothing_and_can_be_gone_on_with(stand, pick, put):
    pick(FIRST, 20)
    cells = [cell(RIGHT_H), cell(OLD_H)]
    shown = put(Step.PICKS, FIRST + timedelta(hours=1), cells, [True, True], is_ended=False)
    test = stand(FIRST + timedelta(hours=2))
    assert test.open_try.broken_off.id == shown.id
    assert test.open_try.result.n_picks == 20
    assert {each.tile_id for each in cells} <= test.seen.spent


def test_what_is_just_past_the_limit_and_what_is_left_is_no_pick(stand, put):
    cells = [cell(RIGHT_H), cell(LIMITS.old_h + 1.0), cell(RIGHT_H)]
    put(Step.PICKS, FIRST, cells, [True, True, False])
    assert stand(FIRST).open_try.result.n_picks == 1


def test_days_are_those_of_the_learners_own_zone(stand, pick):
    """An evening in Auckland and the next morning there are two days, though one in UTC."""
    zone = ZoneInfo("Pacific/Auckland")
    evening = datetime(2027, 4, 3, 22, 0, tzinfo=zone)
    pick(evening, 60)
    test = stand(evening + timedelta(hours=9), tz=zone)
    assert test.now is Now.PICK
    assert test.open_try.n_today == 0
    assert test.latest.attempt.begun_on == date(2027, 4, 3)


def test_days_stay_what_they_were_when_read_in_another_zone(stand, pick, measure):
    """Two evenings at home are one day half a world away; both stay the learner's own days."""
    pick(FIRST, 60)
    pick(SECOND, 60)
    measure(SECOND)
    pick(CHECK_DAY, 40, step=Step.CHECK)
    for zone in ("Pacific/Auckland", "Pacific/Pago_Pago"):
        test = stand(CHECK_DAY, tz=ZoneInfo(zone))
        assert test.latest.result.state is TryState.PASSED
        assert test.passed_on == CHECK_DAY.date()


def test_a_check_that_cannot_be_counts_nothing(stand, pick):
    """Somebody changed the records: nothing breaks."""
    pick(FIRST, 20)
    pick(SECOND, 40, step=Step.CHECK)
    assert stand(SECOND).open_try.result.n_check == 0


def test_the_second_block_that_leaves_the_line_too_late_ends_the_try(stand, pick, measure):
    pick(FIRST, 60)
    pick(SECOND, 60)
    measure(SECOND, old_h=44.0)
    assert stand(SECOND).now is Now.MEASURE
    measure(SECOND + timedelta(hours=1), old_h=44.0)
    assert stand(SECOND + timedelta(hours=2)).latest.result.not_met == (Part.LINE,)


def test_the_day_can_be_read_as_it_began(stand, pick):
    pick(FIRST, 60)
    pick(SECOND, 60)
    begin = datetime(2027, 4, 4, tzinfo=UTC)
    assert stand(SECOND + timedelta(hours=1), until=begin).open_try.result.n_picks == 60


def test_rounds_whose_mark_is_no_id_belong_to_no_try(store, learner, stand):
    shown = ShownRound(
        id=uuid4(),
        learner_id=learner,
        drill=SCREEN_TEST,
        cells=(cell(RIGHT_H),),
        limits=LIMITS,
        recipe={"screen_try": "anything", "screen_step": "picks"},
        kind="drawn",
        shown_at_utc=FIRST,
    )
    store.show_round(shown)
    store.show_round(replace(shown, id=uuid4(), cells=(cell(RIGHT_H),), recipe={"screen_try": 3}))
    assert stand(FIRST).tries == ()


def test_tiles_of_the_measuring_block_are_not_counted_as_seen_in_tests(stand, pick, measure):
    pick(FIRST, 20)
    measure(FIRST + timedelta(hours=1))
    assert stand(FIRST + timedelta(hours=2)).times.total() == 22
