"""The network in the package: there, of the right shape, and the same whatever the batch."""

import numpy as np
import pytest

from larvasight.errors import AssetMissingError
from larvasight.vision import network
from larvasight.vision.network import NetworkParser
from larvasight.vision.parsed import CONTENT_CLASSES, JELLY_CLASSES
from larvasight.vision.rectify import CROP_PX


@pytest.fixture(scope="module")
def crops():
    rng = np.random.default_rng(9)
    return rng.integers(0, 256, (19, CROP_PX, CROP_PX, 3), dtype=np.uint8)


@pytest.fixture(scope="module")
def parser():
    return NetworkParser()


def test_answers_have_chances_and_maps(parser, crops):
    (answer,) = parser.parse(crops[:1])
    assert answer.content.shape == (len(CONTENT_CLASSES),)
    assert answer.jelly.shape == (len(JELLY_CLASSES),)
    assert answer.content.sum() == pytest.approx(1.0, abs=1e-5)
    for values in (answer.body, answer.seen, answer.line, answer.egg):
        assert values.shape == (CROP_PX, CROP_PX)
        assert values.min() >= 0.0
        assert values.max() <= 1.0


def test_a_cell_is_read_the_same_alone_and_among_others(parser, crops):
    together = parser.parse(crops)
    assert len(together) == len(crops)
    (alone,) = parser.parse(crops[17:18])
    np.testing.assert_allclose(together[17].body, alone.body, rtol=0, atol=1e-4)


def test_a_missing_network_is_said_plainly(monkeypatch):
    monkeypatch.setattr(network, "_MODEL_NAME", "not_there.onnx")
    with pytest.raises(AssetMissingError, match="install larvasight again"):
        NetworkParser()
