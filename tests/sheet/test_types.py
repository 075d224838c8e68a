"""The words a sheet may use are the documented ones."""

import dataclasses

import pytest

from larvasight.sheet import Content, Flag, Grade, Jelly, PhotoInfo, ScaleSource


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        (Content, "empty egg larva capped stores covered unclear"),
        (Jelly, "none little plenty"),
        (Grade, "take borderline too-old very-young unsure"),
        (ScaleSource, "comb ruler given"),
        (
            Flag,
            "blurred glare low-contrast too-small hidden-by-wall cut-by-frame outline-uncertain"
            " closed tilted distance-assumed pitch-doubtful",
        ),
    ],
    ids=lambda value: value.__name__ if isinstance(value, type) else "",
)
def test_words_are_the_documented_ones(kind, words):
    assert {member.value for member in kind} == set(words.split())


def test_records_cannot_be_changed():
    photo = PhotoInfo(name="a.png", width_px=2, height_px=1, sha256="0" * 64)
    with pytest.raises(dataclasses.FrozenInstanceError):
        photo.width_px = 3
