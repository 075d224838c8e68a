"""Today from stored answers: a plan that stays all day, parts ticked off, when to come back."""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest

from larvasight.desk.recommending import standing_of
from larvasight.desk.timetabling import KeptPlan, keep_plan
from larvasight.desk.todays import beside_of, is_part_done, is_warm, next_time_words
from larvasight.grading import Limits
from larvasight.practice import PICK_FROM_PATCH, TAKE_OR_LEAVE, Answer, Given, ShownCell
from larvasight.practice.drills import CHECK, FIND_YOUR_EDGES, NAME_THE_STAGE, SCREEN_TEST
from larvasight.practice.readiness import TryState
from larvasight.practice.today import LOOK_FOR
from larvasight.records.store import Store
from larvasight.records.types import ShownRound
from larvasight.sheet import Content
from larvasight.timetable import PlanSpec

NOW = datetime(2027, 4, 3, 8, 0, tzinfo=UTC)
DAY = timedelta(days=1)


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "records.db", now=NOW) as opened:
        yield opened


@pytest.fixture
def learner(store):
    return store.add_learner("Mira", now=NOW).id


@pytest.fixture
def answer(store, learner):
    """Return a function that answers so many cells of a drill, all ages, up to 28 h taken."""

    def make(drill, at, n=40, old_h=28.0, recipe=None):
        cells = tuple(
            ShownCell(
                id=uuid4(),
                row=0,
                col=k,
                content=Content.LARVA,
                age_h=float(k * 60 / n),
                looks_age_h=float(k * 60 / n),
                length_mm=None,
                curl_deg=None,
                jelly=None,
            )
            for k in range(n)
        )
        shown = ShownRound(
            id=uuid4(),
            learner_id=learner,
            drill=drill,
            cells=cells,
            limits=Limits(),
            recipe=recipe or {},
            kind="drawn",
            shown_at_utc=at,
        )
        store.show_round(shown)
        givens = [
            Given(
                cell_id=cell.id,
                answer=Answer.TAKE if cell.age_h <= old_h else Answer.LEAVE,
                response_ms=900,
                is_final=True,
            )
            for cell in cells
        ]
        store.end_round(shown.id, givens, now=at)

    return make


@pytest.fixture
def today(store, learner):
    def read(now=NOW, **known):
        return standing_of(store, learner, now=now, tz=UTC, **known).today

    return read


def test_a_beginner_looks_first_and_all_is_to_do(today):
    plan = today()
    assert plan.parts[0].key == LOOK_FOR
    assert plan.next_part is plan.parts[0]
    assert not any(part.is_done for part in plan.parts)
    assert plan.minutes_left == plan.minutes > 0.0


def test_what_was_looked_at_is_ticked_off_though_it_leaves_no_answers(today):
    plan = today(has_looked=True)
    assert plan.parts[0].is_done
    assert plan.next_part is plan.parts[1]


def test_the_plan_stays_as_the_day_began_while_parts_are_done(today, answer):
    answer(TAKE_OR_LEAVE, NOW - DAY)
    before = today()
    answer(FIND_YOUR_EDGES, NOW)
    after = today(NOW + timedelta(minutes=10))
    assert [(part.key, part.n) for part in after.parts] == [
        (part.key, part.n) for part in before.parts
    ]
    assert before.parts[0].key == FIND_YOUR_EDGES.key
    assert not before.parts[0].is_done
    assert after.parts[0].is_done
    assert after.next_part is after.parts[1]


def test_a_part_is_done_when_all_of_it_is_and_not_before(today, answer, store, learner):
    answer(FIND_YOUR_EDGES, NOW - DAY)
    part = today().part_of(TAKE_OR_LEAVE.key)
    answer(TAKE_OR_LEAVE, NOW, n=part.n - 1)
    now = NOW + timedelta(minutes=5)
    assert today(now).part_of(TAKE_OR_LEAVE.key).n_done == part.n - 1
    assert not is_part_done(store, learner, part, now=now, tz=UTC)
    answer(TAKE_OR_LEAVE, now, n=1)
    assert today(now).part_of(TAKE_OR_LEAVE.key).is_done
    assert is_part_done(store, learner, part, now=now, tz=UTC)


def test_picks_are_counted_and_not_the_cells_left_beside_them(today, answer):
    answer(FIND_YOUR_EDGES, NOW - DAY)
    part = today().part_of(PICK_FROM_PATCH.key)
    answer(PICK_FROM_PATCH, NOW, n=30, old_h=16.0)
    assert today().part_of(PICK_FROM_PATCH.key).n_done == min(9, part.n)


def test_every_part_names_its_unit(today, answer):
    answer(FIND_YOUR_EDGES, NOW - DAY)
    plan = today()
    amounts = {part.key: part.amount for part in plan.parts}
    assert amounts[PICK_FROM_PATCH.key].endswith(" picks")
    assert amounts[TAKE_OR_LEAVE.key].endswith(" cells")


def test_the_day_before_a_planned_graft_a_check_is_due(store, today, answer):
    answer(FIND_YOUR_EDGES, NOW - DAY)
    assert today().part_of(CHECK.key) is None
    graft = PlanSpec(anchor_at=NOW + DAY)
    keep_plan(store, KeptPlan(id=uuid4(), name="Batch 1", spec=graft), now=NOW)
    plan = today()
    assert plan.parts[0].key == CHECK.key
    assert "graft" in plan.parts[0].why
    answer(CHECK, NOW, n=20)
    assert today(NOW + timedelta(minutes=5)).parts[0].is_done


def test_a_check_done_for_a_graft_is_not_due_again_on_its_day(store, today, answer):
    answer(FIND_YOUR_EDGES, NOW - DAY)
    keep_plan(store, KeptPlan(id=uuid4(), name="A", spec=PlanSpec(anchor_at=NOW + DAY)), now=NOW)
    answer(CHECK, NOW, n=20)
    assert today(NOW + DAY).part_of(CHECK.key) is None


def test_an_open_screen_test_comes_first(store, learner, today, answer):
    marks = {"screen_try": str(uuid4()), "screen_step": "picks"}
    answer(SCREEN_TEST, NOW - DAY, n=20, old_h=20.0, recipe=marks)
    assert beside_of(store, learner, now=NOW, tz=UTC).test is TryState.PICKING
    assert today().parts[0].key == SCREEN_TEST.key


def test_measuring_is_remembered_by_its_day(store, learner, answer):
    assert beside_of(store, learner, now=NOW, tz=UTC).measured_on is None
    answer(FIND_YOUR_EDGES, NOW - 3 * DAY, n=10)
    assert beside_of(store, learner, now=NOW, tz=UTC).measured_on is None
    answer(FIND_YOUR_EDGES, NOW - 2 * DAY, n=20)
    assert beside_of(store, learner, now=NOW, tz=UTC).measured_on == date(2027, 4, 1)


def test_practice_warms_up_and_a_check_does_not(store, learner, answer):
    answer(CHECK, NOW, n=20)
    assert not is_warm(store, learner, now=NOW, tz=UTC)
    answer(TAKE_OR_LEAVE, NOW, n=1)
    assert is_warm(store, learner, now=NOW, tz=UTC)
    assert not is_warm(store, learner, now=NOW + DAY, tz=UTC)


def test_days_to_the_next_time_grow_while_the_eye_holds(store, learner, answer):
    said = []
    at = NOW
    for days in (0, 1, 3, 7):
        at += days * DAY
        answer(TAKE_OR_LEAVE, at)
        said.append(next_time_words(store, learner, now=at, tz=UTC))
    assert said == [
        "Next time: tomorrow.",
        "Next time: in 3 days.",
        "Next time: in 7 days.",
        "Next time: in 14 days.",
    ]


def test_forty_stages_named_rightly_are_known_though_each_was_a_round(store, learner):
    for minute in range(40):
        cell = ShownCell(
            id=uuid4(),
            row=0,
            col=0,
            content=Content.LARVA,
            age_h=20.0,
            looks_age_h=20.0,
            length_mm=None,
            curl_deg=None,
            jelly=None,
        )
        at = NOW - DAY + timedelta(minutes=minute)
        shown = ShownRound(
            id=uuid4(),
            learner_id=learner,
            drill=NAME_THE_STAGE,
            cells=(cell,),
            limits=Limits(),
            recipe={},
            kind="drawn",
            shown_at_utc=at,
        )
        store.show_round(shown)
        answer = Answer.RIGHT_AGE if minute % 10 else Answer.CLOSED_C
        given = Given(cell_id=cell.id, answer=answer, response_ms=900, is_final=True)
        store.end_round(shown.id, [given], now=at)
    right = beside_of(store, learner, now=NOW, tz=UTC).stages_right
    assert (len(right), sum(right)) == (40, 36)
