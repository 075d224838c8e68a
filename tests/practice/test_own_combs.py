"""Which cells of an own comb have a sure answer, and which half they belong to."""

import pytest

from larvasight.grading import Limits
from larvasight.practice.own_combs import Half, age_band_h, half_of, is_sure
from larvasight.sheet import Cell, Content, Flag

LIMITS = Limits()
SHA = "ab" * 32


def cell(content=Content.LARVA, band=None, flags=()):
    low, high = band or (None, None)
    return Cell(
        row=0,
        col=0,
        centre_xy_px=(0.0, 0.0),
        px_per_mm=10.0,
        content=content,
        age_h_lo=low,
        age_h_hi=high,
        flags=flags,
    )


def test_a_cell_belongs_to_the_same_half_always_and_halves_are_about_even():
    names = [(row, col) for row in range(20) for col in range(20)]
    halves = [half_of(SHA, row, col) for row, col in names]
    assert halves == [half_of(SHA, row, col) for row, col in names]
    assert 160 <= halves.count(Half.PRACTICE) <= 240
    other = [half_of("cd" * 32, row, col) for row, col in names]
    assert other != halves


@pytest.mark.parametrize(
    ("band", "sure"),
    [
        ((10.0, 22.0), True),
        ((6.0, 30.0), True),
        ((24.0, 34.0), False),
        ((31.0, 50.0), True),
        ((2.0, 12.0), False),
        ((0.0, 5.0), True),
        (None, False),
        ((-20.0, -4.0), False),
    ],
)
def test_a_larva_is_sure_only_with_its_whole_band_within_or_beside_the_span(band, sure):
    assert is_sure(cell(), band, LIMITS) is sure


@pytest.mark.parametrize("content", [Content.EMPTY, Content.EGG, Content.CAPPED, Content.STORES])
def test_what_holds_no_larva_is_plainly_left(content):
    assert is_sure(cell(content), None, LIMITS)


@pytest.mark.parametrize(
    "asked",
    [
        cell(Content.UNCLEAR),
        cell(Content.COVERED),
        cell(flags=(Flag.HIDDEN_BY_WALL,)),
        cell(Content.EMPTY, flags=(Flag.CUT_BY_FRAME,)),
    ],
)
def test_what_nobody_can_see_is_never_sure(asked):
    assert not is_sure(asked, (10.0, 20.0), LIMITS)


def test_known_and_measured_ages_are_taken_together():
    assert age_band_h(cell(band=(10.0, 26.0)), None) == (10.0, 26.0)
    assert age_band_h(cell(), (8.0, 20.0)) == (8.0, 20.0)
    assert age_band_h(cell(band=(10.0, 26.0)), (8.0, 20.0)) == (10.0, 20.0)


def test_ages_that_contradict_each_other_tell_nothing():
    assert age_band_h(cell(band=(2.0, 9.0)), (40.0, 60.0)) is None


def test_a_doubtful_outline_alone_tells_no_age():
    doubtful = cell(band=(10.0, 26.0), flags=(Flag.OUTLINE_UNCERTAIN,))
    assert age_band_h(doubtful, None) is None
    assert age_band_h(doubtful, (8.0, 20.0)) == (8.0, 20.0)
    assert age_band_h(doubtful, (40.0, 60.0)) is None
