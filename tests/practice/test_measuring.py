"""A measuring block asks what tells most, ends in time, and edges rest on what an eye can see."""

import math
from itertools import pairwise

import numpy as np
import pytest

from larvasight.practice import CONTENT_CODES, AnswerTable
from larvasight.practice.measuring import (
    ASKED_AGES_H,
    BLOCK_CELLS,
    EGG_LOOKS_H,
    KNOWN_TO_H,
    MeasuringBlock,
    edges_of,
    next_measuring_age_h,
)
from larvasight.sheet import Content
from larvasight.stats import EdgePosterior


def run(takes, seed=1):
    """Answer a whole block; return it and the ages it asked."""
    block, asked_h = MeasuringBlock(np.random.default_rng(seed)), []
    while (age_h := block.next_age_h()) is not None:
        asked_h.append(age_h)
        block.answer(age_h, takes(age_h))
    return block, asked_h


def table_of(content, looks_age_h, taken, *, age_h=math.nan, is_plain=True):
    n = len(taken)
    return AnswerTable(
        answered_utc_ms=np.zeros(n, dtype=np.int64),
        content=np.full(n, CONTENT_CODES.index(content), dtype=np.int8),
        age_h=np.broadcast_to(np.asarray(age_h, dtype=float), n),
        looks_age_h=np.broadcast_to(np.asarray(looks_age_h, dtype=float), n),
        is_plain=np.full(n, is_plain),
        taken=np.asarray(taken, dtype=bool),
        response_ms=np.full(n, math.nan),
        young_h=np.full(n, 6.0),
        old_h=np.full(n, 30.0),
    )


def sharp(age_h):
    return 6.0 <= age_h <= 28.0


def test_a_sharp_eye_is_measured_before_the_block_is_full():
    block, asked_h = run(sharp)
    assert len(asked_h) < BLOCK_CELLS
    assert block.is_ended
    assert block.posterior.is_known_to(KNOWN_TO_H)
    assert block.posterior.young_edge_h.value == pytest.approx(5.0, rel=0, abs=2.0)
    assert block.posterior.old_edge_h.value == pytest.approx(29.0, rel=0, abs=2.0)


def test_an_eye_that_guesses_gets_a_full_block_and_no_more():
    rng = np.random.default_rng(5)
    block, asked_h = run(lambda _: rng.random() < 0.5)
    assert len(asked_h) == BLOCK_CELLS
    assert block.next_age_h() is None
    assert not block.posterior.is_known_to(KNOWN_TO_H)


def test_one_narrow_interval_does_not_end_a_block():
    block = MeasuringBlock(np.random.default_rng(1))
    narrow = []
    while (age_h := block.next_age_h()) is not None:
        block.answer(age_h, sharp(age_h))
        narrow.append(block.posterior.is_known_to(KNOWN_TO_H))
    assert narrow[-2:] == [True, True]
    assert not any(a and b for a, b in pairwise(narrow[:-1]))


def test_every_fifth_cell_is_an_easy_one():
    _, asked_h = run(lambda age_h: 4.0 <= age_h <= 34.0, seed=3)
    easy = asked_h[4::5]
    assert len(easy) >= 4
    assert all(age_h > 60.0 or 14.0 <= age_h <= 30.0 for age_h in easy)
    assert len({age_h > 60.0 for age_h in easy}) == 2


def test_only_eggs_and_larvae_that_can_be_drawn_are_asked():
    rng = np.random.default_rng(8)
    for seed in range(5):
        _, asked_h = run(lambda age_h: rng.random() < (0.9 if sharp(age_h) else 0.2), seed)
        assert all(age_h == EGG_LOOKS_H or 0.0 <= age_h <= 72.0 for age_h in asked_h)


def test_the_same_chance_asks_the_same_cells():
    assert run(sharp, seed=4)[1] == run(sharp, seed=4)[1]


def test_an_ended_block_takes_no_answer():
    block, _ = run(sharp)
    with pytest.raises(ValueError, match=r"^answer needs a block that has not ended$"):
        block.answer(20.0, True)


def test_easy_cells_follow_where_the_learner_draws_the_line():
    posterior, rng = EdgePosterior(ASKED_AGES_H), np.random.default_rng(2)
    posterior.update_many([20.0, 26.0, 32.0], [True, True, True])
    assert next_measuring_age_h(posterior, rng) == posterior.next_age_h()
    posterior.update(38.0, True)
    middle_h = (posterior.young_edge_h.value + posterior.old_edge_h.value) / 2.0
    asked_h = {next_measuring_age_h(posterior, rng) for _ in range(20)}
    assert asked_h == {66.0, round(middle_h)}


# Edges of answers


def test_edges_go_by_the_age_that_larvae_look():
    looks_h = np.repeat(np.arange(0.0, 60.0, 2.0), 3)
    taken = (looks_h >= 6.0) & (looks_h <= 28.0)
    found = edges_of(table_of(Content.LARVA, looks_h, taken, age_h=looks_h + 9.0))
    assert found.old_edge_h.value == pytest.approx(29.0, rel=0, abs=1.0)
    unknown = edges_of(table_of(Content.LARVA, math.nan, taken, age_h=looks_h))
    assert unknown.old_edge_h.value == pytest.approx(found.old_edge_h.value)


def test_eggs_count_alike_whatever_their_age():
    left = [False] * 12
    young = edges_of(table_of(Content.EGG, math.nan, left, age_h=-70.0))
    late = edges_of(table_of(Content.EGG, math.nan, left, age_h=-1.0))
    taken = edges_of(table_of(Content.EGG, math.nan, [True] * 12, age_h=-1.0))
    assert young.young_edge_h == late.young_edge_h
    assert taken.young_edge_h.value < young.young_edge_h.value - 3.0


@pytest.mark.parametrize(
    "table",
    [
        table_of(Content.EMPTY, math.nan, [True] * 5),
        table_of(Content.STORES, math.nan, [True] * 5),
        table_of(Content.UNCLEAR, 20.0, [True] * 5, age_h=20.0),
        table_of(Content.LARVA, 20.0, [True] * 5, age_h=20.0, is_plain=False),
        table_of(Content.LARVA, math.nan, [True] * 5),
        table_of(Content.LARVA, 20.0, []),
    ],
)
def test_what_no_eye_can_tell_says_nothing_of_edges(table):
    assert edges_of(table).n_answers == 0
