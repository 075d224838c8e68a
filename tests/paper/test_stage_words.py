"""Stages confused, in plain words with counts."""

import pytest

from larvasight.paper.stage_words import is_told, mixed_sentence, named_sentence
from larvasight.practice.stages import Stage, stage_table


def table_of(*named):
    true, said = zip(*((t, n) for t, n, times in named for _ in range(times)), strict=True)
    return stage_table(true, said)


def test_nothing_is_told_of_fewer_than_twenty_cells():
    assert not is_told(table_of((Stage.EGG, Stage.EGG, 19)))
    assert is_told(table_of((Stage.EGG, Stage.EGG, 20)))


@pytest.mark.parametrize(("n", "often"), [(1, "once"), (2, "twice"), (5, "5 times")])
def test_the_commonest_mistake_is_named_with_its_count(n, often):
    table = table_of((Stage.CLOSED_C, Stage.RIGHT_AGE, n), (Stage.EGG, Stage.EGG, 30))
    said = f"Most often you called a closed C of the right age: {often}."
    assert mixed_sentence(table) == said
    assert named_sentence(table) == f"Of the latest {30 + n} cells you named 30 rightly. {said}"


def test_without_a_mistake_it_is_said_so():
    table = table_of((Stage.EGG, Stage.EGG, 20), (Stage.TOO_OLD, Stage.TOO_OLD, 5))
    assert mixed_sentence(table) == ""
    assert named_sentence(table) == "All of the latest 25 cells were named rightly."
