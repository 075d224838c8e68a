"""Drawn combs with known truth, measured as photos are; bounds at three named picture levels.

The bounds are a little looser than the figures that ``tools/judge.py --accuracy`` prints, so that
they fail when something gets worse and not when a library changes the last digit.
"""

import pytest
from numpy.random import default_rng

from judge import accuracy_seeds, figures, pairs_of, scene_of
from larvasight.render import random_scene
from larvasight.sheet import Content
from larvasight.vision.network import NetworkParser

PITCH_PX = 120.0
TILT_MOST_DEG = 8.0


@pytest.fixture(scope="module")
def reader():
    return NetworkParser()


@pytest.fixture(scope="module")
def photo_like(reader):
    """Half of the scenes drawn by rules that never trained the parser (DEVELOPERS.md: what did)."""
    pairs = []
    for look in ("first", "second"):
        for seed in accuracy_seeds(look):
            scene = scene_of(look, seed, pitch_px=PITCH_PX, tilt_most_deg=TILT_MOST_DEG)
            pairs += pairs_of(scene, reader)
    return figures(pairs)


@pytest.fixture(scope="module")
def clean(reader):
    """No dirt, noise or depth blur."""
    pairs = []
    for number in range(6):
        rng = default_rng([8101, number])
        scene = random_scene(rng, size_px=(744, 564), pitch_px=PITCH_PX, tilt_deg=2.0, clean=True)
        pairs += pairs_of(scene, reader)
    return figures(pairs)


@pytest.fixture(scope="module")
def hard(reader):
    """Any light, wax, food, dirt, focus and compression."""
    pairs = []
    for number in range(8):
        scene = scene_of(
            "first", [8201, number], pitch_px=PITCH_PX, tilt_most_deg=8.0, variation="wide"
        )
        pairs += pairs_of(scene, reader)
    return figures(pairs)


@pytest.mark.parametrize(
    ("content", "least"),
    [
        (Content.EMPTY, 0.92),
        (Content.EGG, 0.95),
        (Content.LARVA, 0.91),
        (Content.CAPPED, 0.93),
        (Content.STORES, 0.78),
    ],
)
def test_photo_like_contents_are_recognised(photo_like, content, least):
    assert photo_like.recall[content] >= least


def test_photo_like_false_larvae_are_rare(photo_like):
    assert photo_like.false_larvae_per_100 <= 1.2


def test_photo_like_most_larvae_are_measured(photo_like):
    assert photo_like.measured_share >= 0.94
    assert photo_like.flagged_share <= 0.15


def test_photo_like_length(photo_like):
    assert abs(photo_like.length_bias) <= 0.02  # share of the length
    assert photo_like.length_median <= 0.035
    assert photo_like.length_p90 <= 0.10


def test_photo_like_curl(photo_like):
    assert photo_like.curl_median_deg <= 8.0
    assert photo_like.curl_p90_deg <= 20.0


def test_photo_like_spoiled_measurements_are_flagged(photo_like):
    # A spoiled measurement without a flag is worse than none.
    unflagged = photo_like.n_spoiled * (1.0 - photo_like.spoiled_flagged_share)
    assert unflagged <= 0.02 * photo_like.n_larvae


def test_photo_like_bands_hold_the_truth(photo_like):
    assert 0.70 <= photo_like.band_holds_share <= 0.90
    assert photo_like.band_width_ratio <= 1.3


def test_clean_pictures_measure_well(clean):
    assert clean.recall[Content.LARVA] >= 0.95
    assert clean.measured_share >= 0.92
    assert clean.length_median <= 0.04  # share of the length
    assert clean.length_p90 <= 0.10
    assert clean.curl_median_deg <= 10.0
    assert clean.curl_p90_deg <= 25.0


def test_hard_pictures_are_doubted_rather_than_wrong(hard):
    assert hard.length_median <= 0.08  # share of the length
    assert hard.curl_median_deg <= 16.0
    unflagged = hard.n_spoiled * (1.0 - hard.spoiled_flagged_share)
    assert unflagged <= 0.05 * hard.n_larvae
