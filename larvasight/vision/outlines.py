"""Outer outlines of many bodies, found together."""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from concurrent.futures import Executor

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.vision.parsed import INSIDE

Map = NDArray[np.float32]
Outline = NDArray[np.float64]

# Maps are enlarged so many times, and every so manyth point of the enlarged outline is kept.
_ZOOM = 4
_KEPT_EVERY = 4
# So many maps stand in one picture.
_TOGETHER = 8


def begin_outlines(bodies: Sequence[Map], pool: Executor) -> Callable[[], list[Outline]]:
    """Begin to find the longest outer outline of each map at one half.

    Parameters
    ----------
    bodies : sequence of ndarray of shape (H, W), float32
        Chance that a point belongs to the body, 0-1; of any sizes.
    pool : Executor
        Its threads search meanwhile, in a few calls that do not hold the interpreter's lock.

    Returns
    -------
    callable
        Waits for the search and returns outlines of shape (M, 2), float64, points ``(x, y)``,
        px of each map; M is 0 without an outline.
    """
    # Those of about one size stand together, so that little is gone through for nothing.
    order = sorted(range(len(bodies)), key=lambda k: bodies[k].shape[1])
    groups = [order[first : first + _TOGETHER] for first in range(0, len(bodies), _TOGETHER)]
    together = [_tall([bodies[k] for k in group]) for group in groups]
    traced = pool.submit(lambda: [_contours(tall, is_map) for tall, is_map, _ in together])

    def end() -> list[Outline]:
        found = dict[int, Outline]()
        for contours, (_, _, tops), group in zip(traced.result(), together, groups, strict=True):
            found.update(zip(group, _longest(contours, tops), strict=True))
        return [found[k] for k in range(len(bodies))]

    return end


def outline_alone(body: Map) -> Outline:
    """Return the longest outer outline of one map at one half; see `begin_outlines`."""
    tall, is_map, tops = _tall([body])
    (outline,) = _longest(_contours(tall, is_map), tops)
    return outline


def _contours(tall: Map, is_map: NDArray[np.uint8]) -> list[NDArray[np.int32]]:
    size = (tall.shape[1] * _ZOOM, tall.shape[0] * _ZOOM)
    fine = (cv2.resize(tall, size, interpolation=cv2.INTER_LINEAR) > INSIDE).view(np.uint8)
    apart = cv2.resize(is_map, size, interpolation=cv2.INTER_NEAREST)
    both = cv2.bitwise_and(fine, apart)
    contours, _ = cv2.findContours(both, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return [np.asarray(contour, dtype=np.int32) for contour in contours]


def _longest(contours: Sequence[NDArray[np.int32]], tops: NDArray[np.int64]) -> list[Outline]:
    """Return for each map, by its uppermost row, its longest contour."""
    longest = [np.empty((0, 1, 2), np.int32)] * len(tops)
    for contour in contours:
        k = bisect_right(tops.tolist(), contour[0, 0, 1] // _ZOOM) - 1
        if len(contour) > len(longest[k]):
            longest[k] = contour
    return [
        (contour[::_KEPT_EVERY, 0] + 0.5) / _ZOOM - 0.5 - (1, top)
        for contour, top in zip(longest, tops.tolist(), strict=True)
    ]


def _tall(bodies: Sequence[Map]) -> tuple[Map, NDArray[np.uint8], NDArray[np.int64]]:
    """Return maps below each other in one, where it is of them, and their uppermost rows.

    Each goes on for a px at its sides as it ends there.
    """
    heights = np.array([body.shape[0] + 2 for body in bodies])
    tops = np.cumsum(heights) - heights + 1
    shape = (int(heights.sum()), max(body.shape[1] for body in bodies) + 2)
    tall, is_map = np.zeros(shape, np.float32), np.zeros(shape, np.uint8)
    for top, body in zip(tops.tolist(), bodies, strict=True):
        height, width = body.shape
        tall[top - 1 : top + height + 1, : width + 2] = cv2.copyMakeBorder(
            body, 1, 1, 1, 1, cv2.BORDER_REPLICATE
        )
        is_map[top : top + height, 1 : width + 1] = 1
    return tall, is_map, tops
