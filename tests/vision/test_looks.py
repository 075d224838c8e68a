"""Looks at one cell: maps come back upright, colour is muted, means are means."""

import numpy as np
import pytest
from scipy.stats import trim_mean

from larvasight.vision.looks import FIRST_LOOK, MORE_LOOKS, SECOND_LOOK, Look, look_at, mean_of
from larvasight.vision.parsed import ParsedCell
from larvasight.vision.rectify import CROP_PX


class EchoParser:
    """Answers with the picture's own red channel as every map, so that turning shows."""

    def __init__(self):
        self.shown = []

    def parse(self, crops):
        self.shown.append(crops)
        chances = np.ones(7, np.float32) / 7.0
        maps = [crop[..., 0].astype(np.float32) / 255.0 for crop in crops]
        return [
            ParsedCell(content=chances, jelly=chances[:3], body=m, seen=m, line=m, egg=m)
            for m in maps
        ]


@pytest.fixture
def grey_crop():
    rng = np.random.default_rng(3)
    return np.repeat(rng.integers(0, 256, (CROP_PX, CROP_PX, 1), dtype=np.uint8), 3, axis=2)


@pytest.mark.parametrize("look", [FIRST_LOOK, SECOND_LOOK, *MORE_LOOKS])
def test_maps_come_back_upright(grey_crop, look):
    (parsed,) = look_at(EchoParser(), [grey_crop], look)
    # What a moved look does not show at its edge is not known: there the edge is repeated.
    lost = max(map(abs, look.shift_px))
    inner = slice(lost, CROP_PX - lost)
    wanted = grey_crop[inner, inner, 0]
    np.testing.assert_allclose(parsed.body[inner, inner] * 255.0, wanted, rtol=0, atol=0.01)
    np.testing.assert_array_equal(parsed.egg, parsed.body)


def test_mirrored_looks_show_another_picture(grey_crop):
    parser = EchoParser()
    look_at(parser, [grey_crop], Look(mirror_x=True))
    np.testing.assert_array_equal(parser.shown[0][0], grey_crop[:, ::-1])


def test_a_look_may_be_moved_right_and_down(grey_crop):
    parser = EchoParser()
    look_at(parser, [grey_crop], Look(shift_px=(5, 3)))
    (shown,) = parser.shown[0]
    np.testing.assert_array_equal(shown[3:, 5:], grey_crop[:-3, :-5])
    np.testing.assert_array_equal(shown[:3, 5:], np.repeat(grey_crop[:1, :-5], 3, axis=0))


def test_no_two_looks_show_the_same_place():
    places = {look.shift_px for look in (FIRST_LOOK, SECOND_LOOK, *MORE_LOOKS)}
    assert len(places) == 4


def test_colour_is_muted_about_grey():
    parser = EchoParser()
    crop = np.zeros((CROP_PX, CROP_PX, 3), np.uint8)
    crop[...] = (200, 100, 0)
    look_at(parser, [crop], Look(colour=0.5))
    np.testing.assert_array_equal(parser.shown[0][0, 0, 0], [150, 100, 50])
    look_at(parser, [crop], Look(colour=0.0))
    np.testing.assert_array_equal(parser.shown[1][0, 0, 0], [100, 100, 100])


def test_no_crops_ask_nothing():
    parser = EchoParser()
    assert look_at(parser, [], FIRST_LOOK) == []
    assert parser.shown == []


def test_mean_of_averages_maps_and_keeps_the_first_classes(grey_crop):
    (one,) = look_at(EchoParser(), [grey_crop], FIRST_LOOK)
    (other,) = look_at(EchoParser(), [np.zeros_like(grey_crop)], FIRST_LOOK)
    mean = mean_of([one, other])
    np.testing.assert_allclose(mean.line, one.line / 2.0, rtol=0, atol=1e-6)
    assert mean.content is one.content


def _look_of(values):
    chances = np.ones(7, np.float32) / 7.0
    return ParsedCell(
        content=chances, jelly=chances[:3], body=values, seen=values, line=values, egg=values
    )


@pytest.mark.reference("SciPy trim_mean, a quarter left out at each end")
def test_of_four_looks_the_lowest_and_the_highest_count_for_nothing():
    rng = np.random.default_rng(4)
    maps = rng.random((4, CROP_PX, CROP_PX), dtype=np.float32)
    before = maps.copy()
    found = mean_of([_look_of(values) for values in maps])
    np.testing.assert_allclose(found.body, trim_mean(maps, 0.25, axis=0), rtol=0, atol=1e-6)
    np.testing.assert_array_equal(maps, before)


def test_what_one_look_of_four_sees_beside_a_body_is_not_there():
    body = np.zeros((CROP_PX, CROP_PX), np.float32)
    body[40:80, 40:80] = 1.0
    smeared = body.copy()
    smeared[40:80, 20:40] = 0.9
    found = mean_of([_look_of(values) for values in (body, smeared, body, body)])
    np.testing.assert_allclose(found.body, body, rtol=0, atol=1e-6)
