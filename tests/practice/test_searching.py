"""Search a comb side: how hard the next one is, ground in vain, where a search begins."""

import numpy as np
import pytest

from larvasight.practice.searching import (
    LEVEL_WORDS,
    Searched,
    SearchLevel,
    next_level,
    start_of,
    vain_share,
    way_mm,
)

NEVER = np.inf


def searched(level=SearchLevel.BROAD, *, n_picks=15, n_right=15, minutes=3.0):
    return Searched(level=level, n_picks=n_picks, n_right=n_right, minutes=minutes)


def test_the_first_search_is_the_easiest():
    assert next_level([]) is SearchLevel.BROAD


def test_two_sure_and_quick_searches_in_a_row_lead_on():
    assert next_level([searched()]) is SearchLevel.BROAD
    assert next_level([searched(), searched()]) is SearchLevel.SOME_WAY_OFF
    one_each = [searched(), searched(SearchLevel.SOME_WAY_OFF)]
    assert next_level(one_each) is SearchLevel.SOME_WAY_OFF


@pytest.mark.parametrize(
    "other",
    [
        searched(n_right=13),  # 87 % right
        searched(minutes=5.1),  # fewer than three in a minute
        searched(n_picks=7, n_right=7, minutes=1.0),  # too few picks to tell
    ],
    ids=["not sure", "not quick", "too few"],
)
def test_one_that_is_not_good_enough_keeps_the_level(other):
    assert next_level([searched(), other]) is SearchLevel.BROAD
    assert next_level([other, searched()]) is SearchLevel.BROAD


def test_many_wrong_lead_back_but_never_below_the_first():
    poor = searched(SearchLevel.NARROW, n_right=10)
    assert next_level([searched(SearchLevel.NARROW), poor]) is SearchLevel.SOME_WAY_OFF
    assert next_level([searched(n_right=3)]) is SearchLevel.BROAD


def test_the_hardest_stays_the_hardest():
    best = [searched(SearchLevel.MIXED)] * 2
    assert next_level(best) is SearchLevel.MIXED


def test_shares_and_paces_are_those_of_the_right_picks():
    found = searched(n_picks=12, n_right=9, minutes=1.5)
    assert found.right_share == pytest.approx(0.75)
    assert found.right_per_min == pytest.approx(6.0)
    assert searched(n_picks=0, n_right=0).right_share is None


def test_ground_is_in_vain_while_nothing_to_take_lies_in_the_field():
    path = np.array([(float(x), 0.0) for x in range(11)])
    at_end = np.array([(10.0, 0.0)])
    # Steps end to end of 1 mm; those whose middle is within 3 mm of the larva are the last three.
    assert vain_share(path, at_end, np.array([NEVER]), 3.0) == pytest.approx(0.7)


def test_what_was_taken_already_is_there_no_more():
    path = np.array([(float(x), 0.0) for x in range(11)])
    at_end = np.array([(10.0, 0.0)])
    assert vain_share(path, at_end, np.array([0.0]), 3.0) == pytest.approx(1.0)
    assert vain_share(path, at_end, np.array([8.0]), 3.0) == pytest.approx(0.9)


def test_a_field_that_was_not_moved_has_no_ground_in_vain():
    nothing = np.zeros((0, 2))
    assert vain_share(np.array([(1.0, 1.0)]), nothing, np.zeros(0), 3.0) is None
    assert vain_share(nothing, nothing, np.zeros(0), 3.0) is None
    moved = np.array([(0.0, 0.0), (3.0, 4.0)])
    assert vain_share(moved, nothing, np.zeros(0), 3.0) == pytest.approx(1.0)
    assert way_mm(moved) == pytest.approx(5.0)


def test_a_search_begins_farther_off_the_harder_it_is():
    takeable = np.array([(20.0, 50.0)])
    begins = [start_of((170.0, 96.0), takeable, level, 18.0) for level in SearchLevel]
    away = [float(np.hypot(x - 20.0, y - 50.0)) for x, y in begins]
    assert away == sorted(away)
    assert away[0] == pytest.approx(12.0, abs=8.0)
    assert away[-1] > 120.0
    for x, y in begins:
        assert 18.0 <= x <= 152.0
        assert 18.0 <= y <= 78.0


def test_a_side_with_nothing_to_take_begins_somewhere():
    assert start_of((170.0, 96.0), np.zeros((0, 2)), SearchLevel.NARROW, 18.0) == (18.0, 18.0)


def test_every_level_has_words():
    assert set(LEVEL_WORDS) == set(SearchLevel)
