"""The learned parser: a small network in the package, run by OpenCV."""

from importlib import resources

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.errors import AssetMissingError
from larvasight.vision.network_file import only_for
from larvasight.vision.parsed import CONTENT_CLASSES, ParsedCell
from larvasight.vision.rectify import CROP_PX

_MODEL_NAME = "cell_parser.onnx"
_BATCH = 16
# The network's maps: body, seen, line, egg.
_N_MAPS = 4


class NetworkParser:
    """Reads rectified cells with the network that ships with the program."""

    def __init__(self) -> None:
        """Load the network.

        Raises
        ------
        AssetMissingError
            If the network's file is missing from the installation or damaged.
        """
        try:
            data = resources.files("larvasight.vision").joinpath(_MODEL_NAME).read_bytes()
            self._net = cv2.dnn.readNetFromONNX(np.frombuffer(data, np.uint8))
            only_classes = only_for(data, "classes")
            self._contents_net = cv2.dnn.readNetFromONNX(np.frombuffer(only_classes, np.uint8))
        except (OSError, cv2.error) as error:
            msg = "The part that reads cells is missing or damaged; install larvasight again."
            raise AssetMissingError(msg) from error

    def parse(self, crops: NDArray[np.uint8]) -> list[ParsedCell]:
        """Read crops of shape (N, CROP_PX, CROP_PX, 3), uint8 RGB; one answer for each."""
        answers: list[ParsedCell] = []
        for first in range(0, len(crops), _BATCH):
            answers.extend(self._parse_batch(crops[first : first + _BATCH]))
        return answers

    def parse_contents(self, crops: NDArray[np.uint8]) -> list[ParsedCell]:
        """Read crops as ``parse`` does, twice as fast; the same chances, and maps of nothing."""
        nothing = np.zeros((_N_MAPS, CROP_PX, CROP_PX), dtype=np.float32)
        answers: list[ParsedCell] = []
        for first in range(0, len(crops), _BATCH):
            self._contents_net.setInput(_blob(crops[first : first + _BATCH]), "crops")
            classes = self._contents_net.forward("classes")
            answers.extend(_parsed(nothing, np.asarray(one, np.float32)) for one in classes)
        return answers

    def _parse_batch(self, crops: NDArray[np.uint8]) -> list[ParsedCell]:
        self._net.setInput(_blob(crops), "crops")
        maps, classes = self._net.forward(["maps", "classes"])
        maps = _side_by_side(_likelihoods(np.asarray(maps, dtype=np.float32)))
        return [_parsed(chart, one) for chart, one in zip(maps, classes, strict=True)]


def _blob(crops: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return crops as the network takes them, shape (N, 3, CROP_PX, CROP_PX), 0-1."""
    return np.asarray(cv2.dnn.blobFromImages(list(crops), 1.0 / 255.0), dtype=np.float32)


def _parsed(chart: NDArray[np.float32], classes: NDArray[np.float32]) -> ParsedCell:
    n_content = len(CONTENT_CLASSES)
    return ParsedCell(
        content=_chances(classes[:n_content]),
        jelly=_chances(classes[n_content:]),
        body=chart[0],
        seen=chart[1],
        line=chart[2],
        egg=chart[3],
    )


def _chances(logits: NDArray[np.float32]) -> NDArray[np.float32]:
    grown = np.exp(logits - logits.max())
    return np.asarray(grown / grown.sum(), dtype=np.float32)


def _likelihoods(logits: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return 1 / (1 + exp(-logit)); far below 0 the exponential is infinite and that is 0."""
    grown = np.asarray(cv2.exp(np.negative(logits).reshape(len(logits), -1)), dtype=np.float32)
    grown += 1.0
    return np.reciprocal(grown, out=grown).reshape(logits.shape)


def _side_by_side(packed: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return maps (N, 4, H, W) of channels that hold every second row and column of each map."""
    n, channels, height, width = packed.shape
    side = round((channels / _N_MAPS) ** 0.5)
    maps = np.empty((n, _N_MAPS, height, side, width, side), dtype=np.float32)
    parts = packed.reshape(n, _N_MAPS, side, side, height, width)
    for row in range(side):
        for col in range(side):
            maps[:, :, :, row, :, col] = parts[:, :, row, col]
    return maps.reshape(n, _N_MAPS, height * side, width * side)
