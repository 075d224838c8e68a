"""Against the clock: never speed before skill, and a time of one's own."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from larvasight.desk.clock import Clock, clock_of
from larvasight.grading import Limits
from larvasight.practice import PICK_FROM_PATCH, TAKE_OR_LEAVE, Answer, Given, ShownCell
from larvasight.records.store import Store
from larvasight.records.types import ShownRound
from larvasight.sheet import Content

NOW = datetime(2027, 4, 3, 8, 0, tzinfo=UTC)
RIGHT_H, OLD_H = 18.0, 45.0


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "records.db", now=NOW) as opened:
        yield opened


@pytest.fixture
def learner(store):
    return store.add_learner("Mira", now=NOW).id


@pytest.fixture
def take(store, learner):
    """Return a function that stores a comb on which everything was taken."""

    def make(n_right, n_wrong=0, *, drill=TAKE_OR_LEAVE, response_ms=1500, at=NOW):
        ages_h = [RIGHT_H] * n_right + [OLD_H] * n_wrong
        cells = tuple(
            ShownCell(
                id=uuid4(),
                row=0,
                col=k,
                content=Content.LARVA,
                age_h=age_h,
                looks_age_h=age_h,
                length_mm=None,
                curl_deg=None,
                jelly=None,
            )
            for k, age_h in enumerate(ages_h)
        )
        shown = ShownRound(
            id=uuid4(),
            learner_id=learner,
            drill=drill,
            cells=cells,
            limits=Limits(),
            recipe={},
            kind="drawn",
            shown_at_utc=at,
        )
        store.show_round(shown)
        givens = [
            Given(cell_id=cell.id, answer=Answer.TAKE, response_ms=response_ms, is_final=True)
            for cell in cells
        ]
        store.end_round(shown.id, givens, now=at)

    return make


def test_a_beginner_is_told_what_is_missing(store, learner):
    clock = clock_of(store, learner)
    assert not clock.is_open
    assert "20 larvae" in clock.missing
    assert "Take or leave" in clock.missing


def test_nine_in_ten_right_and_a_usual_time_open_it(store, learner, take):
    take(27, 3)
    clock = clock_of(store, learner)
    assert (clock.n_right, clock.n_picks) == (27, 30)
    assert clock.pace_ms == pytest.approx(1500.0)
    assert clock.is_open
    assert clock.missing == ""


def test_speed_does_not_come_before_skill(store, learner, take):
    take(26, 4)
    clock = clock_of(store, learner)
    assert not clock.is_open
    assert "9 in 10" in clock.missing
    assert "of the latest 30 picks 26 were" in clock.missing


def test_picks_from_a_patch_show_skill_but_no_time(store, learner, take):
    take(30, drill=PICK_FROM_PATCH)
    clock = clock_of(store, learner)
    assert clock.is_right_enough
    assert clock.pace_ms is None
    assert "20 right answers" in clock.missing


def test_only_right_answers_tell_the_usual_time(store, learner, take):
    take(25, response_ms=1200)
    take(0, 2, response_ms=9000, at=NOW + timedelta(minutes=1))
    assert clock_of(store, learner).pace_ms == pytest.approx(1200.0)


def test_what_was_shown_later_can_be_left_out(store, learner, take):
    take(30, at=NOW + timedelta(hours=1))
    assert clock_of(store, learner, until=NOW).n_picks == 0


@pytest.mark.parametrize(("n_right", "is_enough"), [(18, True), (17, False)])
def test_nine_in_ten_is_enough_and_less_is_not(n_right, is_enough):
    clock = Clock(pace_ms=1000.0, n_times=40, n_right=n_right, n_picks=20)
    assert clock.is_right_enough is is_enough
