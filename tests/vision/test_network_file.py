"""The network's maps put side by side, and the network cut down to its classes."""

from importlib import resources

import cv2
import numpy as np
import pytest

from larvasight.vision.network import NetworkParser
from larvasight.vision.network_file import only_for
from larvasight.vision.rectify import CROP_PX


@pytest.fixture(scope="module")
def model():
    return resources.files("larvasight.vision").joinpath("cell_parser.onnx").read_bytes()


def _side_by_side(packed):
    """Four maps from 16 channels, by ONNX's rule for DepthToSpace in its mode CRD."""
    channels, height, width = packed.shape
    maps = np.empty((channels // 4, 2 * height, 2 * width))
    for k in range(channels):
        maps[k // 4, k % 4 // 2 :: 2, k % 2 :: 2] = packed[k]
    return maps


@pytest.mark.reference("DepthToSpace of the ONNX standard; OpenCV dnn runs the file itself")
def test_the_parser_says_what_the_whole_network_says(model):
    rng = np.random.default_rng(21)
    crops = rng.integers(0, 256, (3, CROP_PX, CROP_PX, 3), dtype=np.uint8)
    net = cv2.dnn.readNetFromONNX(np.frombuffer(model, np.uint8))
    net.setInput(np.ascontiguousarray(crops.transpose(0, 3, 1, 2), np.float32) / 255.0, "crops")
    packed, classes = net.forward(["maps", "classes"])
    logits = np.stack([_side_by_side(cell) for cell in packed.astype(np.float64)])
    maps = 1.0 / (1.0 + np.exp(-logits))
    content = np.exp(classes[:, :7].astype(np.float64))
    for k, parsed in enumerate(NetworkParser().parse(crops)):
        said = np.stack([parsed.body, parsed.seen, parsed.line, parsed.egg])
        np.testing.assert_allclose(said, maps[k], rtol=0, atol=1e-5)
        np.testing.assert_allclose(parsed.content, content[k] / content[k].sum(), rtol=0, atol=1e-5)


@pytest.mark.parametrize("data", [b"", b"no network", b"\xff" * 40, b"\x3a\x7f\x0a"])
def test_what_is_no_network_is_left_as_it_is(data):
    assert only_for(data, "classes") == data


def test_a_network_cut_short_is_left_as_it_is(model):
    for n in (10, 1000, len(model) // 2, len(model) - 1):
        assert only_for(model[:n], "classes") == model[:n]


@pytest.mark.reference("OpenCV dnn, which runs the unchanged file to its end")
def test_contents_alone_are_those_of_the_whole_network(model):
    assert len(only_for(model, "classes")) < len(model)
    rng = np.random.default_rng(22)
    crops = rng.integers(0, 256, (17, CROP_PX, CROP_PX, 3), dtype=np.uint8)
    parser = NetworkParser()
    for whole, alone in zip(parser.parse(crops), parser.parse_contents(crops), strict=True):
        np.testing.assert_allclose(alone.content, whole.content, rtol=0, atol=1e-5)
        np.testing.assert_allclose(alone.jelly, whole.jelly, rtol=0, atol=1e-5)
        assert not alone.body.any()


def test_an_output_that_is_not_there_leaves_the_file_as_it_is(model):
    assert only_for(model, "weights of wings") == model
