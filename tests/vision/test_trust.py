"""Signs of doubt, error estimates, and flags that explain an unsure measurement."""

import math
from dataclasses import replace

import numpy as np
import pytest

from larvasight.sheet import Flag
from larvasight.vision.measures import BodyMeasure
from larvasight.vision.parsed import ParsedCell
from larvasight.vision.rectify import CROP_PX
from larvasight.vision.trust import (
    ErrorModel,
    Signs,
    Trust,
    is_burnt,
    less_sure,
    picture_flags,
    signs_of,
    trust_in,
)

BODY = BodyMeasure(
    length_px=50.0,
    width_px=12.0,
    area_px2=500.0,
    curl_deg=180.0,
    visible_share=1.0,
    faint=0.02,
    stray=0.0,
    is_closed=False,
    midline_xy_px=np.zeros((3, 2)),
    outline_xy_px=np.zeros((3, 2)),
)
SURE = Signs(
    length_split=0.01,
    curl_split_deg=2.0,
    missed=0.0,
    faint=0.02,
    stray=0.0,
    hidden=0.0,
    grain=0.02,
)


def parsed(body):
    nothing = np.zeros((CROP_PX, CROP_PX), np.float32)
    chances = np.zeros(7, np.float32)
    return ParsedCell(
        content=chances, jelly=chances[:3], body=body, seen=body, line=nothing, egg=nothing
    )


def test_signs_of_looks_that_agree_are_small():
    signs = signs_of(BODY, [BODY, BODY], px_per_crop_px=1.0)
    assert signs.length_split == 0.0
    assert signs.curl_split_deg == 0.0
    assert signs.missed == 0.0
    assert signs.grain == pytest.approx(1.0 / 50.0)


def test_signs_of_looks_that_part_tell_how_far():
    other = replace(BODY, length_px=60.0, curl_deg=150.0)
    signs = signs_of(BODY, [BODY, other, None], px_per_crop_px=1.0)
    assert signs.length_split == pytest.approx(0.2)
    assert signs.curl_split_deg == pytest.approx(30.0)
    assert signs.missed == pytest.approx(1.0 / 3.0)


def test_a_ring_in_one_look_and_a_curve_in_the_other_is_a_miss():
    ring = replace(BODY, curl_deg=math.nan, is_closed=True)
    signs = signs_of(BODY, [BODY, ring], px_per_crop_px=1.0)
    assert signs.missed == pytest.approx(0.5)
    assert math.isfinite(signs.curl_split_deg)


def test_error_model_adds_squares():
    model = ErrorModel(floor=3.0, per_faint=40.0)
    assert model.sd(replace(SURE, faint=0.1)) == pytest.approx(5.0)


def test_sure_signs_are_trusted():
    trust = trust_in(BODY, SURE)
    assert not trust.is_uncertain
    assert not trust.is_hopeless
    assert 0.0 < trust.length_share < 0.075
    assert 0.0 < trust.curl_deg < 18.0


@pytest.mark.parametrize(
    "signs",
    [
        replace(SURE, length_split=0.5),
        replace(SURE, faint=0.2),
        replace(SURE, stray=0.2),
        replace(SURE, hidden=0.4),
    ],
    ids=["looks part", "faint line", "another body", "hidden"],
)
def test_bad_signs_are_doubted(signs):
    assert trust_in(BODY, signs).is_uncertain


def test_a_ring_that_half_of_the_looks_do_not_see_is_doubted():
    ring = replace(BODY, curl_deg=math.nan, is_closed=True)
    sure = replace(SURE, curl_split_deg=0.0)
    assert not trust_in(ring, sure).is_uncertain
    assert trust_in(ring, replace(sure, missed=0.5)).is_uncertain


def test_what_else_looks_like_body_makes_a_ring_less_sure():
    ring = replace(BODY, curl_deg=math.nan, is_closed=True)
    shares = [trust_in(ring, replace(SURE, stray=stray)).length_share for stray in (0.0, 0.1, 0.2)]
    assert shares == sorted(set(shares))
    assert not trust_in(ring, replace(SURE, stray=0.05)).is_uncertain
    assert trust_in(ring, replace(SURE, stray=0.2)).is_uncertain


def test_looks_that_part_on_a_ring_make_it_less_sure():
    ring = replace(BODY, curl_deg=math.nan, is_closed=True)
    assert trust_in(ring, replace(SURE, length_split=0.12)).is_uncertain


def test_very_bad_signs_are_hopeless():
    assert trust_in(BODY, replace(SURE, faint=0.6)).is_hopeless


def test_a_flat_picture_is_blurred_and_of_low_contrast():
    body = np.zeros((CROP_PX, CROP_PX), np.float32)
    body[50:70, 50:70] = 1.0
    flags = picture_flags(np.full((CROP_PX, CROP_PX, 3), 120, np.uint8), parsed(body))
    assert flags == [Flag.BLURRED, Flag.LOW_CONTRAST]


def test_burnt_out_pictures_glare():
    rng = np.random.default_rng(5)
    crop = rng.integers(60, 180, (CROP_PX, CROP_PX, 3), dtype=np.uint8)
    crop[:40] = 255
    assert picture_flags(crop, parsed(np.zeros((CROP_PX, CROP_PX), np.float32))) == [Flag.GLARE]


@pytest.mark.parametrize(("share", "is_told"), [(0.3, False), (0.7, True)])
def test_a_body_most_of_which_is_burnt_out_is_told(share, is_told):
    body = np.zeros((128, 128), np.float32)
    body[40:80, 40:80] = 0.9
    crop = np.full((128, 128, 3), 120, np.uint8)
    crop[40 : 40 + round(40 * share), 40:80] = 255
    # Yellow is not burnt out, though two of its colours are.
    crop[72:80, 40:80] = (255, 255, 120)
    assert is_burnt(crop, parsed(body)) is is_told
    assert not is_burnt(crop, parsed(np.zeros_like(body)))


def test_less_sure_is_uncertain_and_never_surer_than_before():
    sure = Trust(length_share=0.05, curl_deg=11.0, is_uncertain=False, is_hopeless=False)
    assert less_sure(sure, 0.3) == replace(sure, length_share=0.3, is_uncertain=True)
    assert less_sure(replace(sure, length_share=0.32), 0.3).length_share == 0.32
