"""Looks: words stand out from their ground, and no verdict is told by its colour alone."""

import re
from itertools import combinations

import pytest
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor, QImage, QPainter, QPalette
from PySide6.QtWidgets import QApplication

from larvasight.app.cell_item import MARK_COLOUR
from larvasight.app.dressing import Dressing
from larvasight.app.theme import NIGHT, PAPER, TEXT_PX_MAX, TEXT_PX_MIN, Look
from larvasight.paper.marks import EGG_MARK, GRADE_MARKS, OUTCOME_MARKS
from larvasight.paper.signs import draw_sign
from larvasight.practice.scoring import OUTCOME_WORDS, Outcome
from larvasight.sheet import Grade

WCAG = "WCAG 2.1, success criterion 1.4.3 and the definition of contrast ratio"
TONES = [PAPER, NIGHT]
LOOKS = [Look.LIGHT, Look.DARK]
OKABE_ITO = {
    *("E69F00", "56B4E9", "009E73", "F0E442", "0072B2", "D55E00", "CC79A7", "000000"),
}
TOGETHER = {
    "practice": list(OUTCOME_MARKS.values()),
    "photos": [*GRADE_MARKS.values(), EGG_MARK],
}


def luminance(colour):
    red, green, blue = (
        part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4
        for part in (value / 255.0 for value in QColor(colour).getRgb()[:3])
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.reference(WCAG)
def test_contrast_of_known_colours():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0, abs=1e-9)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.reference(WCAG)
@pytest.mark.parametrize("tones", TONES)
def test_words_stand_out_from_every_ground_they_lie_on(tones):
    grounds = (tones.ground, tones.sheet, tones.well)
    pairs = [
        *((tones.ink, ground) for ground in (*grounds, tones.accent_soft)),
        *((tones.faint, ground) for ground in (tones.ground, tones.sheet)),
        *((tones.accent, ground) for ground in (tones.ground, tones.sheet)),
        (tones.on_accent, tones.accent),
    ]
    assert min(contrast(*pair) for pair in pairs) >= 4.5


@pytest.mark.reference("WCAG 2.1, success criterion 1.4.11")
@pytest.mark.parametrize("tones", TONES)
def test_borders_of_controls_and_the_keyboards_place_stand_out(tones):
    for ground in (tones.ground, tones.sheet):
        assert contrast(tones.faint, ground) >= 3.0
        assert contrast(tones.accent, ground) >= 3.0


@pytest.mark.reference(WCAG)
@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("text_px", [TEXT_PX_MIN, TEXT_PX_MAX])
def test_every_rule_of_the_style_sheet_that_sets_both_can_be_read(qapp, look, text_px):
    Dressing(qapp, look, text_px)
    rules = re.findall(r"([^{}]+)\{([^}]*)\}", qapp.styleSheet())
    n_checked = 0
    for selector, body in rules:
        colour = re.search(r"(?<![-\w])color: (#\w{6})", body)
        ground = re.search(r"background: (#\w{6})", body)
        # What is disabled is exempt.
        if colour and ground and ":disabled" not in selector:
            n_checked += 1
            assert contrast(colour[1], ground[1]) >= 4.5, selector
    assert n_checked >= 8
    assert "$" not in qapp.styleSheet()


@pytest.mark.reference(WCAG)
@pytest.mark.parametrize("look", LOOKS)
def test_the_palette_can_be_read_where_no_rule_holds(qapp, look):
    Dressing(qapp, look, 18)
    palette, role = QApplication.palette(), QPalette.ColorRole
    for words, ground in (
        (role.WindowText, role.Window),
        (role.Text, role.Base),
        (role.Text, role.AlternateBase),
        (role.ButtonText, role.Button),
        (role.ToolTipText, role.ToolTipBase),
        (role.PlaceholderText, role.Base),
        (role.HighlightedText, role.Highlight),
        (role.Link, role.Window),
    ):
        assert contrast(palette.color(words), palette.color(ground)) >= 4.5, words


def test_light_is_light_and_dark_is_dark():
    for tones in TONES:
        assert (luminance(tones.ground) < 0.2) == tones.is_dark
        assert (luminance(tones.ink) > 0.5) == tones.is_dark


def test_every_size_is_in_px_of_the_chosen_text(qapp):
    Dressing(qapp, Look.LIGHT, 20)
    assert qapp.font().pixelSize() == 20
    sizes_px = {int(size) for size in re.findall(r"font-size: (\d+)px", qapp.styleSheet())}
    assert min(sizes_px) == 18
    assert max(sizes_px) == 40


# Marks on comb.


@pytest.mark.reference("Okabe & Ito 2008, Color Universal Design")
def test_marks_take_their_colours_from_the_set():
    marks = [mark for there in TOGETHER.values() for mark in there]
    coloured = [mark for mark in marks if mark is not GRADE_MARKS[Grade.UNSURE]]
    assert {mark.colour.removeprefix("#").upper() for mark in coloured} <= OKABE_ITO
    assert MARK_COLOUR.name().removeprefix("#").upper() in OKABE_ITO
    # What cannot be told has no colour at all.
    assert GRADE_MARKS[Grade.UNSURE].colour == "#FFFFFF"


@pytest.mark.parametrize("place", TOGETHER)
def test_marks_that_appear_together_differ_in_shape_and_in_word(place):
    for one, other in combinations(TOGETHER[place], 2):
        assert one.shape is not other.shape
        assert one.word != other.word
        assert (one.colour, one.shape) != (other.colour, other.shape)


@pytest.mark.parametrize("place", TOGETHER)
def test_marks_that_appear_together_differ_without_any_colour(qapp, place):
    signs = {mark.word: sign_of(mark) for mark in TOGETHER[place]}
    assert len(signs) == len(TOGETHER[place])
    for one, other in combinations(signs, 2):
        differing = sum(a != b for a, b in zip(signs[one], signs[other], strict=True))
        assert differing >= 40, (one, other)


def sign_of(mark):
    """Return which of 40 x 40 px a sign covers, whatever its colours."""
    image = QImage(40, 40, QImage.Format.Format_ARGB32)
    image.fill(0)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    draw_sign(painter, mark, QPointF(20.0, 20.0), 11.0)
    painter.end()
    return [image.pixelColor(x, y).alpha() > 127 for y in range(40) for x in range(40)]


def test_every_outcome_that_is_marked_has_words():
    assert set(OUTCOME_WORDS) == set(Outcome)
    for outcome, mark in OUTCOME_MARKS.items():
        assert mark.word
        assert OUTCOME_WORDS[outcome]
    assert set(GRADE_MARKS) == set(Grade)
    unmarked = set(Outcome) - set(OUTCOME_MARKS)
    assert unmarked == {Outcome.LEFT, Outcome.LEFT_OPEN, Outcome.HIDDEN}


@pytest.mark.reference(WCAG)
def test_words_on_the_comb_can_be_read_on_any_wax():
    # White words on a dark ground that lets a little of the comb through.
    share = 185 / 255
    for wax in ((0, 0, 0), (255, 255, 255), (240, 228, 66)):
        ground = [
            round(over * share + under * (1 - share))
            for over, under in zip((24, 18, 12), wax, strict=True)
        ]
        assert contrast("#ffffff", QColor(*ground)) >= 4.5
