"""A cell of a truth sheet comes before the learner unchanged; hidden ones are marked so."""

from dataclasses import FrozenInstanceError, fields
from uuid import UUID

import pytest

from larvasight.practice import Answer, ShownCell, shown_cell
from larvasight.sheet import Cell, Content, Flag, Jelly

ID = UUID(int=7)
HIDING = {Flag.HIDDEN_BY_WALL, Flag.CUT_BY_FRAME}


def true_cell(**values):
    start = {
        "row": 3,
        "col": 4,
        "centre_xy_px": (10.0, 20.0),
        "px_per_mm": 20.0,
        "content": Content.LARVA,
        "jelly": Jelly.PLENTY,
        "length_mm": 2.5,
        "curl_deg": 150.0,
        "age_h": 20.0,
        "looks_age_h": 22.5,
    }
    return Cell(**(start | values))


def test_everything_true_of_a_cell_is_carried_over():
    cell = true_cell()
    shown = shown_cell(cell, ID)
    assert shown.id == ID
    assert shown.is_plain
    assert shown.tile_id is None
    carried = {f.name for f in fields(ShownCell)} - {"id", "is_plain", "tile_id"}
    assert carried == {
        "row",
        "col",
        "content",
        "age_h",
        "looks_age_h",
        "length_mm",
        "curl_deg",
        "jelly",
    }
    assert {name: getattr(shown, name) for name in carried} == {
        name: getattr(cell, name) for name in carried
    }


@pytest.mark.parametrize("content", Content)
def test_every_content_can_be_shown(content):
    assert shown_cell(true_cell(content=content), ID).content is content


def test_an_egg_keeps_its_negative_age_and_its_missing_measures():
    egg = true_cell(
        content=Content.EGG, age_h=-20.0, looks_age_h=None, length_mm=None, curl_deg=None
    )
    shown = shown_cell(egg, ID)
    assert (shown.age_h, shown.looks_age_h) == (-20.0, None)
    assert (shown.length_mm, shown.curl_deg) == (None, None)


@pytest.mark.parametrize("flag", Flag)
def test_only_wall_and_frame_hide_a_cell(flag):
    assert shown_cell(true_cell(flags=(flag,)), ID).is_plain is (flag not in HIDING)


def test_a_hiding_flag_counts_among_others():
    flags = (Flag.CLOSED, Flag.CUT_BY_FRAME, Flag.BLURRED)
    assert not shown_cell(true_cell(flags=flags), ID).is_plain


def test_a_shown_cell_cannot_be_changed():
    shown = shown_cell(true_cell(), ID)
    with pytest.raises(FrozenInstanceError):
        shown.age_h = 3.0


def test_answers_keep_their_stored_words():
    assert [answer.value for answer in Answer] == [
        *("take", "leave", "cannot-tell"),
        *("egg", "just-hatched", "right-age", "closed-c", "too-old"),
        *("younger", "older"),
        *("place-1", "place-2", "place-3", "place-4", "place-5"),
        *("hit", "open-side", "wall"),
    ]
