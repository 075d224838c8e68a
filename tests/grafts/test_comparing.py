"""Comparisons stay within the day where they can, and mostly say that there are too few cups."""

import pytest

from larvasight.grafts import AgeBand, Alternation, Factor, Feeding, Tool
from larvasight.grafts.comparing import Verdict, compare, levels_of, needed_more
from larvasight.stats import newcombe_difference


def letters(n_accepted, n_known):
    return "a" * n_accepted + "x" * (n_known - n_accepted)


def tools(make_batch, *days):
    """Return for each day a bar grafted with the rigid tool and one grafted with the brush."""
    made = []
    for day, (k1, n1, k2, n2) in enumerate(days):
        made.append(make_batch(letters(k1, n1), days=day, tool=Tool.RIGID))
        made.append(make_batch(letters(k2, n2), days=day, tool=Tool.BRUSH))
    return made


def test_one_level_is_compared_with_nothing(make_batch):
    assert compare([make_batch("aax", tool=Tool.BRUSH)], Factor.TOOL) == []
    assert compare([], Factor.TOOL) == []
    assert compare([make_batch("aax")], Factor.TOOL) == []  # no tool noted


def test_few_cups_are_too_few_and_the_number_needed_is_told(make_batch):
    (found,) = compare(tools(make_batch, (15, 20, 12, 20)), Factor.TOOL)
    assert found.verdict is Verdict.TOO_FEW
    assert found.is_within_day
    assert 250 <= found.n_needed <= 380


@pytest.mark.reference("common practice: bars of one day are alike, so tools alternate on a day")
def test_a_good_day_for_one_tool_is_not_taken_for_the_tool(make_batch):
    # Good weather with the brush, bad with the rigid tool; on days with both they are alike.
    batches = [
        *tools(make_batch, (10, 20, 10, 20), (10, 20, 10, 20)),
        make_batch(letters(38, 40), days=9, tool=Tool.BRUSH),
        make_batch(letters(8, 40), days=12, tool=Tool.RIGID),
    ]
    (found,) = compare(batches, Factor.TOOL)
    assert found.is_within_day
    assert found.difference == pytest.approx(0.0)
    assert found.verdict is Verdict.TOO_FEW
    plain = newcombe_difference(28, 80, 58, 80)
    assert plain.hi < 0.0  # what all cups in one heap would have said


def test_a_steady_difference_within_days_is_told(make_batch):
    (found,) = compare(tools(make_batch, *[(18, 20, 10, 20)] * 3), Factor.TOOL)
    # As many cups of both: the one that comes first in the alphabet is held against.
    assert (found.first.value, found.second.value) == ("brush", "rigid")
    assert found.verdict is Verdict.SECOND
    assert found.difference == pytest.approx(-0.4)
    assert -0.6 < found.interval.lo < -0.4 < found.interval.hi < -0.2


def test_one_day_alone_has_the_newcombe_interval(make_batch):
    (found,) = compare(tools(make_batch, (18, 20, 10, 20)), Factor.TOOL)
    assert found.is_within_day
    assert found.interval == newcombe_difference(10, 20, 18, 20)


@pytest.mark.reference("Newcombe 1998, Statistics in Medicine 17:873-890: 56/70 against 48/80")
def test_on_different_days_the_newcombe_interval_decides(make_batch):
    batches = [
        make_batch(letters(48, 80), tool=Tool.RIGID),
        make_batch(letters(56, 70), days=5, tool=Tool.BRUSH),
    ]
    (found,) = compare(batches, Factor.TOOL)
    assert not found.is_within_day
    assert found.first.value == "rigid"
    assert found.interval.lo == pytest.approx(-0.3339, abs=5e-5)
    assert found.interval.hi == pytest.approx(-0.0524, abs=5e-5)
    assert found.verdict is Verdict.SECOND


def test_many_cups_alike_show_no_difference(make_batch):
    days = [(16, 20, 16, 20)] * 20
    (found,) = compare(tools(make_batch, *days), Factor.TOOL)
    assert found.verdict is Verdict.NO_DIFFERENCE
    assert found.n_needed == 0


def test_a_bar_that_alternates_is_compared_within_itself(make_batch):
    second = Alternation(factor=Factor.PRIMING, value="no")
    bar = make_batch("ax" * 15, is_primed=True, alternation=second)
    (found,) = compare([bar], Factor.PRIMING)
    assert found.is_within_day
    assert (found.first.takes.n_accepted, found.second.takes.n_accepted) == (0, 15)
    assert found.verdict is Verdict.SECOND


def test_alternating_one_thing_leaves_the_others_as_they_are(make_batch):
    second = Alternation(factor=Factor.PRIMING, value="no")
    bar = make_batch("axax", is_primed=True, alternation=second, tool=Tool.BRUSH)
    (level,) = levels_of([bar], Factor.TOOL)
    assert (level.value, level.takes.n_known) == ("brush", 4)


def test_every_factor_finds_its_levels(make_batch):
    batches = [
        make_batch("ax", feeding=Feeding.HUNGRY, age_band=AgeBand.OVER_24, is_primed=False),
        make_batch("axx", feeding=Feeding.WELL_FED, age_band=AgeBand.FROM_12, grafter="Noor"),
        make_batch("ooo", feeding=Feeding.WELL_FED),
        make_batch("aaaa", feeding=Feeding.WELL_FED, is_practice=True),
    ]
    values = {f: [level.value for level in levels_of(batches, f)] for f in Factor}
    assert values == {
        Factor.TOOL: [],
        Factor.PRIMING: ["no"],
        Factor.FEEDING: ["well-fed", "hungry"],
        Factor.AGE: ["12-24-h", "over-24-h"],
        Factor.GRAFTER: ["Noor", "Mira"],
    }


def test_three_levels_are_held_against_the_most_used(make_batch):
    batches = [
        make_batch("a" * 12 + "x" * 8, tool=Tool.RIGID),
        make_batch("a" * 5 + "x" * 5, tool=Tool.BRUSH),
        make_batch("a" * 8 + "x" * 4, tool=Tool.FLEXIBLE),
    ]
    found = compare(batches, Factor.TOOL)
    assert [(c.first.value, c.second.value) for c in found] == [
        ("rigid", "flexible"),
        ("rigid", "brush"),
    ]


@pytest.mark.reference("statsmodels samplesize_proportions_2indep_onetail, two-sided: 293.2")
def test_about_three_hundred_of_each_are_needed_at_three_quarters():
    assert needed_more(0.75, 0) == 294
    assert needed_more(0.75, 60) == 234
    assert needed_more(0.75, 500) == 0


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_shares_at_the_ends_ask_for_a_number_too(share):
    assert 0 < needed_more(share, 0) < 294
