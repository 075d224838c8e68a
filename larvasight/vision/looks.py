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

# Looks lie so far apart, crop px: about as far as the place of a cell may be off.
_AWAY_PX = 4
# Of so many looks the one that sees least and the one that sees most count for nothing.
_LOOKS_TO_TRIM = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a cell is shown to the parser.

    ``colour`` is the share of its colour kept, 0-1; ``shift_px`` says how far right and down it is
    moved: cells are never found to the px, and what is measured must not hang on that.
    """

    mirror_x: bool = False
    mirror_y: bool = False
    colour: float = 0.5
    shift_px: tuple[int, int] = (0, 0)


FIRST_LOOK = Look()
SECOND_LOOK = Look(mirror_y=True, colour=0.0, shift_px=(_AWAY_PX, -_AWAY_PX))
# For cells on which the first two part.
MORE_LOOKS = (
    Look(mirror_x=True, colour=0.5, shift_px=(-_AWAY_PX, _AWAY_PX)),
    Look(mirror_x=True, mirror_y=True, colour=0.0, shift_px=(-_AWAY_PX, -_AWAY_PX)),
)


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
    moved = (_shifted(_muted(crop, look.colour), look.shift_px) for crop in crops)
    shown = np.stack([_mirror(crop, look) for crop in moved])
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


def _shifted(values: NDArray[_T], shift_px: tuple[int, int]) -> NDArray[_T]:
    """Return an image moved right and down; what was beyond its edge repeats the edge."""
    right, down = shift_px
    if not (right or down):
        return values
    high, wide = values.shape[:2]
    reach = max(abs(right), abs(down))
    wider = cv2.copyMakeBorder(values, *(reach,) * 4, cv2.BORDER_REPLICATE)
    kept = wider[reach - down : reach - down + high, reach - right : reach - right + wide]
    return np.asarray(kept, values.dtype)


def _upright(parsed: ParsedCell, look: Look) -> ParsedCell:
    back_px = (-look.shift_px[0], -look.shift_px[1])

    def turned(chart: NDArray[np.float32]) -> NDArray[np.float32]:
        return _shifted(_mirror(chart, look), back_px)

    return replace(
        parsed,
        body=turned(parsed.body),
        seen=turned(parsed.seen),
        line=turned(parsed.line),
        egg=turned(parsed.egg),
    )
