"""The learned parser: a small network in the package, run by OpenCV."""

from importlib import resources

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.errors import AssetMissingError
from larvasight.vision.parsed import CONTENT_CLASSES, ParsedCell

_MODEL_NAME = "cell_parser.onnx"
_BATCH = 16
# Chances beyond this many logits are 0 or 1 to float32.
_LOGIT_MOST = 30.0


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
        except (OSError, cv2.error) as error:
            msg = "The part that reads cells is missing or damaged; install larvasight again."
            raise AssetMissingError(msg) from error

    def parse(self, crops: NDArray[np.uint8]) -> list[ParsedCell]:
        """Read crops of shape (N, CROP_PX, CROP_PX, 3), uint8 RGB; one answer for each."""
        answers: list[ParsedCell] = []
        for first in range(0, len(crops), _BATCH):
            answers.extend(self._parse_batch(crops[first : first + _BATCH]))
        return answers

    def _parse_batch(self, crops: NDArray[np.uint8]) -> list[ParsedCell]:
        blob = np.ascontiguousarray(crops.transpose(0, 3, 1, 2), dtype=np.float32) / 255.0
        self._net.setInput(blob, "crops")
        maps, classes = self._net.forward(["maps", "classes"])
        maps = 1.0 / (1.0 + np.exp(-np.clip(maps, -_LOGIT_MOST, _LOGIT_MOST)))
        n_content = len(CONTENT_CLASSES)
        return [
            ParsedCell(
                content=_chances(one[:n_content]),
                jelly=_chances(one[n_content:]),
                body=chart[0],
                seen=chart[1],
                line=chart[2],
                egg=chart[3],
            )
            for chart, one in zip(maps, classes, strict=True)
        ]


def _chances(logits: NDArray[np.float32]) -> NDArray[np.float32]:
    grown = np.exp(logits - logits.max())
    return np.asarray(grown / grown.sum(), dtype=np.float32)
