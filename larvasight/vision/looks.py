"""Several looks at one rectified cell: mirrored and with less colour, the same cell each time.

Colour differs most between combs, lamps and cameras, so no look has all of it. What the looks
agree on is sure; how far they part tells how sure.
"""

import functools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.vision.parsed import CellParser, ContentParser, ParsedCell

_T = TypeVar("_T", np.uint8, np.float32)

# Of so many looks the one that sees least and the one that sees most count for nothing.
_LOOKS_TO_TRIM = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a cell is shown to the parser; ``colour`` is the share of its colour kept, 0-1."""

    mirror_x: bool = False
    mirror_y: bool = False
    colour: float = 0.5


FIRST_LOOK = Look()
SECOND_LOOK = Look(mirror_y=True, colour=0.0)
# For cells on which the first two part.
MORE_LOOKS = (Look(mirror_x=True, colour=0.5), Look(mirror_x=True, mirror_y=True, colour=0.0))


def look_at(
    parser: CellParser,
    crops: Sequence[NDArray[np.uint8]],
    look: Look,
    *,
    only_contents: bool = False,
) -> list[ParsedCell]:
    """Return what the parser says of each crop seen in one way, maps turned back upright.

    Parameters
    ----------
    parser : CellParser
        Reads cells.
    crops : sequence of ndarray of shape (CROP_PX, CROP_PX, 3), uint8
        Rectified cells, RGB.
    look : Look
        How they are shown.
    only_contents : bool, optional
        No maps are wanted: they may be of nothing.

    Returns
    -------
    list of ParsedCell
        One for each crop.
    """
    if not crops:
        return []
    shown = np.stack([_mirror(_muted(crop, look.colour), look) for crop in crops])
    if only_contents and isinstance(parser, ContentParser):
        return parser.parse_contents(shown)
    return [_upright(parsed, look) for parsed in parser.parse(shown)]


def mean_of(looks: Sequence[ParsedCell]) -> ParsedCell:
    """Return the mean maps of several looks with the first one's classes."""
    return replace(
        looks[0],
        body=_mean([look.body for look in looks]),
        seen=_mean([look.seen for look in looks]),
        line=_mean([look.line for look in looks]),
        egg=_mean([look.egg for look in looks]),
    )


def _mean(maps: Sequence[NDArray[np.float32]]) -> NDArray[np.float32]:
    """Return the mean map; one added to the next, without a copy of all side by side.

    Of four or more the lowest and the highest chance are left out, place by place: what one look
    alone sees, a smear beside the body or a gap in it, is not there.
    """
    total = maps[0].copy()
    for other in maps[1:]:
        total += other
    if len(maps) < _LOOKS_TO_TRIM:
        total /= len(maps)
        return total
    total -= functools.reduce(np.minimum, maps)
    total -= functools.reduce(np.maximum, maps)
    total /= len(maps) - 2
    return total


def _muted(crop: NDArray[np.uint8], colour: float) -> NDArray[np.uint8]:
    mix = np.full((3, 3), (1.0 - colour) / 3.0) + colour * np.eye(3)
    return np.asarray(cv2.transform(crop, mix), dtype=np.uint8)


def _mirror(values: NDArray[_T], look: Look) -> NDArray[_T]:
    return values[:: -1 if look.mirror_y else 1, :: -1 if look.mirror_x else 1]


def _upright(parsed: ParsedCell, look: Look) -> ParsedCell:
    return replace(
        parsed,
        body=_mirror(parsed.body, look),
        seen=_mirror(parsed.seen, look),
        line=_mirror(parsed.line, look),
        egg=_mirror(parsed.egg, look),
    )
