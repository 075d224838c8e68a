import numpy as np
import pytest

from larvasight.render.lens import Lens, develop, with_ends


def plain(rgb):
    return np.full((8, 8, 3), rgb, np.uint8)


def test_glints_burn_out():
    assert (with_ends(plain((245, 232, 215))) == 255).all()


@pytest.mark.parametrize("rgb", [(238, 227, 135), (216, 195, 155), (242, 200, 120)])
def test_wax_and_food_keep_their_colour(rgb):
    seen = with_ends(plain(rgb)).astype(int)
    assert (abs(seen - rgb) <= 1).all()


def test_dark_wax_gets_warmer():
    red, green, blue = with_ends(plain((50, 33, 21)))[0, 0].astype(int)
    assert 47 <= red <= 50
    assert 29 <= green <= 33
    assert 11 <= blue <= 16


def test_a_lens_without_anything_changes_nothing():
    picture = np.random.default_rng(5).integers(0, 256, (12, 16, 3), dtype=np.uint8)
    assert (develop(picture, Lens()) == picture).all()


def test_vignetting_darkens_the_corners_and_not_the_middle():
    seen = develop(plain((120, 120, 120)), Lens(vignetting=0.4))
    assert seen[0, 0, 0] < 100
    assert seen[4, 4, 0] >= 118
