"""Rounds read whole, and answers counted by drill and time."""

from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest

from larvasight.practice import PICK_FROM_PATCH, TAKE_OR_LEAVE, Answer, Given

DAY = timedelta(days=1)


@pytest.fixture
def put(store, learner, make_round, now):
    """Return a function that stores a round; the first of its cells is taken, others left."""

    def make(drill=PICK_FROM_PATCH, at=now, recipe=None, *, is_ended=True):
        made = make_round(learner.id)
        shown = replace(
            made,
            id=uuid4(),
            drill=drill,
            cells=tuple(replace(cell, id=uuid4()) for cell in made.cells),
            recipe=made.recipe if recipe is None else recipe,
            shown_at_utc=at,
        )
        store.show_round(shown)
        if is_ended:
            givens = [
                Given(
                    cell_id=cell.id,
                    answer=Answer.TAKE if k == 0 else Answer.LEAVE,
                    response_ms=700 + k,
                    is_final=True,
                )
                for k, cell in enumerate(shown.cells)
            ]
            store.end_round(shown.id, givens, now=at)
        return shown

    return make


def test_a_round_comes_back_as_it_was_answered(store, learner, put, now):
    shown = put()
    (kept,) = store.kept_rounds(learner.id, [PICK_FROM_PATCH.key])
    assert (kept.id, kept.drill, kept.recipe) == (shown.id, shown.drill.key, shown.recipe)
    assert (kept.cells, kept.limits) == (shown.cells, shown.limits)
    assert (kept.shown_at_utc, kept.ended_at_utc) == (now, now)
    assert kept.answers == (Answer.TAKE, *[Answer.LEAVE] * (len(shown.cells) - 1))
    assert [given.response_ms for given in kept.givens] == [
        700 + k for k in range(len(shown.cells))
    ]


def test_a_mark_that_is_not_final_is_no_answer_but_is_kept(store, learner, put, now):
    shown = put(is_ended=False)
    mark = Given(cell_id=shown.cells[0].id, answer=Answer.TAKE, response_ms=900, is_final=False)
    store.keep([mark], now=now)
    (kept,) = store.kept_rounds(learner.id, [PICK_FROM_PATCH.key])
    assert kept.ended_at_utc is None
    assert kept.answers[0] is None
    assert kept.givens[0] == mark
    assert kept.givens[1:] == (None,) * (len(shown.cells) - 1)


def test_rounds_come_oldest_first_and_only_the_latest_when_asked(store, learner, put, now):
    late, early = put(at=now + DAY), put(at=now)
    key = [PICK_FROM_PATCH.key]
    assert [kept.id for kept in store.kept_rounds(learner.id, key)] == [early.id, late.id]
    assert [kept.id for kept in store.kept_rounds(learner.id, key, n_latest=1)] == [late.id]


def test_rounds_are_found_by_drill_or_by_a_key_of_their_recipe(store, learner, put, now):
    put(drill=TAKE_OR_LEAVE)
    marked = put(drill=TAKE_OR_LEAVE, recipe={"screen_try": "a"}, at=now + DAY)
    picked = put(at=now + 2 * DAY)
    found = store.kept_rounds(learner.id, [PICK_FROM_PATCH.key], mark="screen_try")
    assert [kept.id for kept in found] == [marked.id, picked.id]
    assert store.kept_rounds(learner.id, []) == []
    assert store.kept_rounds(uuid4(), [PICK_FROM_PATCH.key]) == []


def test_answers_are_counted_by_drill_and_kind_since_a_moment(store, learner, put, now):
    n = len(put(drill=TAKE_OR_LEAVE).cells)
    put(at=now + DAY)
    put(at=now + DAY, is_ended=False)
    every = {(c.drill, c.answer): c.n for c in store.count_answers(learner.id, since=now)}
    assert every == {
        (TAKE_OR_LEAVE.key, Answer.TAKE): 1,
        (TAKE_OR_LEAVE.key, Answer.LEAVE): n - 1,
        (PICK_FROM_PATCH.key, Answer.TAKE): 1,
        (PICK_FROM_PATCH.key, Answer.LEAVE): n - 1,
    }
    late = store.count_answers(learner.id, since=now + DAY)
    assert {count.drill for count in late} == {PICK_FROM_PATCH.key}
    assert store.count_answers(learner.id, since=now + 2 * DAY) == []


def test_times_of_answers_are_those_of_one_drill(store, learner, put, now):
    n = len(put(drill=TAKE_OR_LEAVE).cells)
    put(at=now + DAY)
    times = store.answer_times(learner.id, TAKE_OR_LEAVE.key, since=now)
    assert times == [now] * n
    assert store.answer_times(learner.id, TAKE_OR_LEAVE.key, since=now + DAY) == []


def test_a_recipe_that_is_no_object_comes_back_empty(store, learner, put):
    put(recipe=["not", "an", "object"])
    (kept,) = store.kept_rounds(learner.id, [PICK_FROM_PATCH.key])
    assert kept.recipe == {}


def test_the_answers_of_one_drill_come_with_what_was_true(store, learner, put, now):
    put(drill=TAKE_OR_LEAVE)
    first, second = put(at=now + DAY), put(at=now + 2 * DAY)
    found = store.named_answers(learner.id, PICK_FROM_PATCH.key)
    cells = [cell for shown in (first, second) for cell in shown.cells]
    assert [one.age_h for one in found] == [cell.age_h for cell in cells]
    assert [one.content for one in found] == [cell.content for cell in cells]
    n = len(first.cells)
    assert [one.position for one in found] == [*range(n), *range(n)]
    assert {one.round_id for one in found} == {first.id, second.id}
    assert found[0].answer is Answer.TAKE
    assert (found[0].response_ms, found[0].limits) == (700, first.limits)
    assert found[-1].answered_at_utc == now + 2 * DAY


def test_named_answers_are_the_latest_or_those_before_a_moment(store, learner, put, now):
    put(at=now)
    late = put(at=now + DAY)
    key = PICK_FROM_PATCH.key
    (latest,) = store.named_answers(learner.id, key, n_latest=1)
    assert (latest.round_id, latest.position) == (late.id, len(late.cells) - 1)
    before = store.named_answers(learner.id, key, before=now + DAY)
    assert {one.answered_at_utc for one in before} == {now}
    assert store.named_answers(learner.id, "no-such-drill") == []
