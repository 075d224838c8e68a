"""What a parser says about one rectified cell, whichever way it finds it."""

from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from larvasight.sheet import Content, Jelly

# Order of the classes in every parser's answer.
CONTENT_CLASSES: tuple[Content, ...] = (
    Content.EMPTY,
    Content.EGG,
    Content.LARVA,
    Content.CAPPED,
    Content.STORES,
    Content.COVERED,
    Content.UNCLEAR,
)
# A point belongs to a body, or shows an egg, where its chance is above this.
INSIDE = 0.5
JELLY_CLASSES: tuple[Jelly, ...] = (Jelly.NONE, Jelly.LITTLE, Jelly.PLENTY)


@dataclass(frozen=True, slots=True, kw_only=True)
class ParsedCell:
    """Chances and maps of one rectified cell.

    ``content`` has shape (7,) and ``jelly`` shape (3,), chances in the order of the class
    lists. The maps have shape (CROP_PX, CROP_PX), float32 in 0-1: the whole ``body`` as if
    no wall hid any of it, the part of it that is ``seen``, its middle ``line``, and an ``egg``.
    """

    content: NDArray[np.float32]
    jelly: NDArray[np.float32]
    body: NDArray[np.float32]
    seen: NDArray[np.float32]
    line: NDArray[np.float32]
    egg: NDArray[np.float32]


class CellParser(Protocol):
    """Anything that reads rectified cells."""

    def parse(self, crops: NDArray[np.uint8]) -> list[ParsedCell]:
        """Read crops of shape (N, CROP_PX, CROP_PX, 3), uint8 RGB; one answer for each."""
        ...


@runtime_checkable
class ContentParser(Protocol):
    """A parser that is quicker where only the chances are wanted."""

    def parse_contents(self, crops: NDArray[np.uint8]) -> list[ParsedCell]:
        """Read crops as ``parse`` does; the same chances, and maps of nothing."""
        ...
