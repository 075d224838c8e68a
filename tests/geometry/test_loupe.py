"""The loupe: what a card on the screen says about it, and how large comb is shown then."""

import pytest

from larvasight.geometry.loupe import (
    CARD_HEIGHT_MM,
    CARD_WIDTH_MM,
    field_px,
    magnifications,
    on_screen_px,
    screen_px_per_mm,
)

# 96 dots to the inch of 25.4 mm, the reference pixel of style sheets.
PX_PER_MM = 96.0 / 25.4


@pytest.mark.reference("ISO/IEC 7810, size ID-1 (from memory): 3.375 x 2.125 inch")
def test_a_card_has_the_size_of_the_standard():
    assert pytest.approx(3.375 * 25.4, abs=0.13) == CARD_WIDTH_MM
    assert pytest.approx(2.125 * 25.4, abs=0.05) == CARD_HEIGHT_MM
    assert CARD_WIDTH_MM == 85.60
    assert CARD_HEIGHT_MM == 53.98


@pytest.mark.reference("CSS Values and Units Level 4: 96 px to the inch")
def test_a_card_on_a_usual_screen_tells_its_dots():
    assert screen_px_per_mm(85.60 * 96.0 / 25.4) == pytest.approx(PX_PER_MM)


@pytest.mark.parametrize(("magnification", "pitch_mm"), [(2.5, 13.25), (3.5, 18.55), (8.0, 42.4)])
def test_a_cell_stands_as_large_as_through_the_loupe(magnification, pitch_mm):
    assert magnification in magnifications()
    assert on_screen_px(5.3, magnification, 1.0) == pytest.approx(pitch_mm)


def test_a_cell_under_the_microscope_is_160_px_on_a_usual_screen():
    assert on_screen_px(5.3, 8.0, PX_PER_MM) == pytest.approx(160.25, abs=0.1)


def test_a_round_field_shows_60_mm_of_comb_where_there_is_room():
    assert field_px(2.5, 1.0, (500.0, 400.0)) == pytest.approx(150.0)
    assert field_px(3.5, 1.0, (500.0, 400.0)) == pytest.approx(210.0)
    assert field_px(3.5, PX_PER_MM, (900.0, 640.0)) == 640.0


def test_a_microscope_has_no_round_field():
    assert field_px(8.0, 1.0, (500.0, 400.0)) is None


@pytest.mark.parametrize("call", [lambda: screen_px_per_mm(0.0), lambda: on_screen_px(5, 0.0, 1.0)])
def test_sizes_must_be_above_nothing(call):
    with pytest.raises(ValueError, match="must be"):
        call()
