"""Drawn combs exposed two stops too long: larvae on burnt jelly are doubted, not measured wrong."""

import numpy as np
import pytest

from judge import accuracy_seeds, figures, measure_scene, pair_cells, scene_of
from larvasight.render import truth_sheet
from larvasight.vision.network import NetworkParser

_STOPS = 2.0
_GAMMA = 2.2


def exposed(pixels):
    """Return a picture exposed longer, in linear light, and clipped."""
    linear = (pixels / 255.0) ** _GAMMA * 2.0**_STOPS
    return np.rint(255.0 * np.clip(linear, 0.0, 1.0) ** (1.0 / _GAMMA)).astype(np.uint8)


@pytest.fixture(scope="module")
def found():
    parser, pairs = NetworkParser(), []
    for look in ("first", "second"):
        for seed in accuracy_seeds(look)[:7]:
            scene = scene_of(look, seed, pitch_px=120.0, tilt_most_deg=8.0)
            truth = truth_sheet(scene, name="x.png", sha256="")
            pairs += pair_cells(truth, measure_scene(scene, parser, camera=exposed))
    return figures(pairs)


def test_spoiled_measurements_are_flagged(found):
    unflagged = found.n_spoiled * (1.0 - found.spoiled_flagged_share)
    assert found.n_larvae > 150
    assert unflagged <= 0.02 * found.n_larvae


def test_false_larvae_stay_rare(found):
    assert found.false_larvae_per_100 <= 4.0
