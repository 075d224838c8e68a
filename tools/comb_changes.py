"""What cameras, hands and bees do to a picture of comb; known places move along with it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from comb_marks import Marks

if TYPE_CHECKING:
    from collections.abc import Callable

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]

# Squeezed to this share across the tilt's axis.
FORESHORTENED = 0.7
# Of a cell whose middle is nearer to the picture's edge, half or more is cut off.
_EDGE_PITCH = 0.3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Marked:
    """A picture (H, W, 3), uint8 RGB, and where its cells lie."""

    pixels: Pixels
    marks: Marks

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        return self.pixels.shape[1], self.pixels.shape[0]


def aslant(marked: Marked, rng: np.random.Generator, squeeze: float = FORESHORTENED) -> Marked:
    """Look at the comb aslant, in perspective."""
    width, height = marked.size_px
    axis = float(rng.uniform(0.0, math.pi))
    along = np.array([math.cos(axis), math.sin(axis)])
    across = np.array([-along[1], along[0]])
    middle = np.array([width - 1.0, height - 1.0]) / 2.0
    # The plane seen from three frame widths away under an angle whose cosine is the squeeze.
    fall = math.sqrt(1.0 - squeeze**2) / (3.0 * max(width, height))
    matrix = np.eye(3)
    matrix[:2, :2] = np.outer(along, along) + squeeze * np.outer(across, across)
    matrix[2, :2] = fall * across
    there, back = np.eye(3), np.eye(3)
    there[:2, 2], back[:2, 2] = middle, -middle
    matrix = there @ matrix @ back
    share = 1.0
    inverse = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
    corners = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    while not _is_inside(_projected(inverse, middle + share * corners * middle), marked.size_px):
        share *= 0.96
    cut = np.eye(3)
    cut[:2, 2] = -(1.0 - share) * middle
    matrix = cut @ matrix
    size = (round(share * width), round(share * height))
    pixels = cv2.warpPerspective(marked.pixels, matrix, size, flags=cv2.INTER_AREA)
    return _shown(pixels, marked.marks, _projected(matrix, marked.marks.centres_xy_px))


def bent(marked: Marked, rng: np.random.Generator, share: float = 0.06) -> Marked:
    """Bend rows and let the pitch drift: slow waves move places by ``share`` of the frame."""
    width, height = marked.size_px
    side = float(max(width, height))
    phases, ways = rng.uniform(0.0, 2.0 * math.pi, 4), rng.uniform(-1.0, 1.0, (4, 2))
    ways *= math.pi / side / np.hypot(*ways.T)[:, None]
    sizes = rng.normal(0.0, 0.5 * share * side, (4, 2))

    def moved(xy: Floats) -> Floats:
        return np.asarray(np.sin(xy @ ways.T + phases) @ sizes)

    margin = round(1.2 * share * side)
    size = (max(width - 2 * margin, 32), max(height - 2 * margin, 32))
    x, y = np.meshgrid(np.arange(size[0]) + margin, np.arange(size[1]) + margin)
    grid = np.stack([x, y], axis=-1).astype(np.float64)
    source = (grid + moved(grid.reshape(-1, 2)).reshape(grid.shape)).astype(np.float32)
    pixels = cv2.remap(
        marked.pixels,
        np.ascontiguousarray(source[..., 0]),
        np.ascontiguousarray(source[..., 1]),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REFLECT,
    )
    places = marked.marks.centres_xy_px.copy()
    for _ in range(30):
        places = marked.marks.centres_xy_px - moved(places)
    return _shown(pixels, marked.marks, places - margin)


def cropped(marked: Marked, rng: np.random.Generator, n_cells: float = 6.0) -> Marked:
    """Cut out a part of about ``n_cells`` cells about one of them."""
    area_px2 = n_cells * math.sqrt(3.0) / 2.0 * marked.marks.pitch_px**2
    aspect = math.exp(float(rng.uniform(-0.3, 0.3)))
    size = np.array([math.sqrt(area_px2 * aspect), math.sqrt(area_px2 / aspect)]).round()
    size = np.minimum(size, marked.size_px)
    inner = (
        (marked.marks.centres_xy_px > size / 2)
        & (marked.marks.centres_xy_px < marked.size_px - size / 2)
    ).all(axis=1)
    centres = marked.marks.centres_xy_px[inner] if inner.any() else np.array([marked.size_px]) / 2.0
    middle = (
        centres[int(rng.integers(len(centres)))] + rng.uniform(-0.5, 0.5, 2) * marked.marks.pitch_px
    )
    corner = np.clip((middle - size / 2).round(), 0, np.array(marked.size_px) - size).astype(int)
    x, y = (int(v) for v in corner)
    pixels = marked.pixels[y : y + int(size[1]), x : x + int(size[0])]
    return _shown(np.ascontiguousarray(pixels), marked.marks, marked.marks.centres_xy_px - corner)


def resized(marked: Marked, pitch_px: float) -> Marked:
    """Show the picture with ``pitch_px`` to the cell."""
    zoom = pitch_px / marked.marks.pitch_px
    width, height = marked.size_px
    size = (max(round(width * zoom), 32), max(round(height * zoom), 32))
    how = cv2.INTER_AREA if zoom < 1.0 else cv2.INTER_CUBIC
    pixels = cv2.resize(marked.pixels, size, interpolation=how)
    scale = np.array(size) / np.array(marked.size_px)
    return _shown(pixels, marked.marks, (marked.marks.centres_xy_px + 0.5) * scale - 0.5)


def faded(marked: Marked, rng: np.random.Generator, share: float = 0.3) -> Marked:
    """Lower the contrast to a share about a grey, with a little sensor noise."""
    level = float(rng.uniform(70.0, 190.0))
    image = level + share * (marked.pixels.astype(np.float32) - marked.pixels.mean())
    image += rng.normal(0.0, 1.5, image.shape).astype(np.float32)
    return replace(marked, pixels=_as_pixels(image))


def shaded(marked: Marked, rng: np.random.Generator) -> Marked:
    """Let shadows with sharp and soft edges fall across, and the light fall off to one side."""
    width, height = marked.size_px
    light = np.ones((height, width), np.float32)
    for _ in range(3):
        mask = np.zeros((height, width), np.float32)
        corners = rng.uniform(-0.3, 1.3, (4, 2)) * [width, height]
        cv2.fillConvexPoly(mask, cv2.convexHull(corners.astype(np.int32)), 1.0)
        soft_px = float(rng.uniform(0.002, 0.05)) * max(width, height) + 0.5
        light *= 1.0 - float(rng.uniform(0.3, 0.7)) * cv2.GaussianBlur(mask, (0, 0), soft_px)
    way = float(rng.uniform(0.0, 2.0 * math.pi))
    x, y = np.meshgrid(np.linspace(-1.0, 1.0, width), np.linspace(-1.0, 1.0, height))
    light *= (1.0 + 0.5 * (x * math.cos(way) + y * math.sin(way))).astype(np.float32)
    return replace(marked, pixels=_as_pixels(marked.pixels * light[..., None]))


def with_bees(marked: Marked, rng: np.random.Generator, share: float = 0.25) -> Marked:
    """Lay dark striped bodies with wings over about a share of the comb; covered marks go."""
    image = marked.pixels.copy()
    covered = np.zeros(image.shape[:2], np.uint8)
    pitch_px = marked.marks.pitch_px
    for _ in range(400):
        if covered.mean() > share:
            break
        middle = rng.uniform([0, 0], marked.size_px)
        turn_deg = float(rng.uniform(0.0, 360.0))
        _lay_bee(image, covered, middle, turn_deg, pitch_px)
    x, y = np.clip(
        marked.marks.centres_xy_px.round().astype(int), 0, np.array(marked.size_px) - 1
    ).T
    near = cv2.dilate(covered, np.ones((3, 3), np.uint8), iterations=max(1, round(0.2 * pitch_px)))
    return Marked(pixels=image, marks=marked.marks.kept(near[y, x] == 0))


def _lay_bee(
    image: Pixels, covered: NDArray[np.uint8], middle: Floats, turn_deg: float, pitch_px: float
) -> None:
    # A worker is about 13 mm long and 4 wide; a cell 5.3.
    turn = math.radians(turn_deg)
    way = np.array([math.cos(turn), math.sin(turn)])
    parts = (
        (0.0, 1.1, 0.42, (52, 38, 26)),
        (1.3, 0.45, 0.4, (66, 48, 30)),
        (1.9, 0.3, 0.3, (40, 30, 22)),
    )
    for away, long, wide, colour in parts:
        at = tuple(int(v) for v in middle + away * pitch_px * way)
        axes = (max(1, round(long * pitch_px)), max(1, round(wide * pitch_px)))
        cv2.ellipse(image, at, axes, turn_deg, 0, 360, colour, -1, cv2.LINE_AA)
        cv2.ellipse(covered, at, axes, turn_deg, 0, 360, 1, -1)
    side = np.array([-way[1], way[0]])
    for away in np.arange(-0.8, 0.9, 0.4):
        ends = [middle + pitch_px * (away * way + s * 0.36 * side) for s in (-1.0, 1.0)]
        first, last = (tuple(int(v) for v in end) for end in ends)
        cv2.line(image, first, last, (150, 116, 62), max(1, round(0.12 * pitch_px)), cv2.LINE_AA)


def _projected(matrix: Floats, points: Floats) -> Floats:
    moved = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(moved[:, :2] / moved[:, 2:])


def _is_inside(points: Floats, size_px: tuple[int, int]) -> bool:
    return bool((points >= 0.0).all() and (points <= np.array(size_px) - 1.0).all())


def _as_pixels(image: NDArray[np.floating]) -> Pixels:
    return np.asarray(np.clip(np.rint(image), 0, 255), dtype=np.uint8)


def _shown(pixels: NDArray[np.generic], marks: Marks, places: Floats) -> Marked:
    """Return a changed picture with the marks at new places; those on its edge are left out."""
    size = np.array([pixels.shape[1], pixels.shape[0]])
    moved = Marks(centres_xy_px=places, pairs=marks.pairs)
    margin_px = _EDGE_PITCH * moved.pitch_px
    inside = (places >= margin_px) & (places <= size - 1.0 - margin_px)
    moved = moved.kept(np.asarray(inside.all(axis=1)))
    return Marked(pixels=np.asarray(pixels, dtype=np.uint8), marks=moved)


CHANGES: dict[str, Callable[[Marked, np.random.Generator], Marked]] = {
    "as it is": lambda marked, _: marked,
    "aslant": aslant,
    "bent": bent,
    "aslant and bent": lambda marked, rng: bent(aslant(marked, rng), rng, 0.04),
    "20 px": lambda marked, _: resized(marked, 20.0),
    "700 px": lambda marked, rng: resized(cropped(marked, rng, 14.0), 700.0),
    "12 cells": lambda marked, rng: cropped(marked, rng, 12.0),
    "7 cells": lambda marked, rng: cropped(marked, rng, 7.0),
    "5 cells": lambda marked, rng: cropped(marked, rng, 5.0),
    "7 cells aslant": lambda marked, rng: cropped(aslant(marked, rng, 0.8), rng, 7.0),
    "faded": faded,
    "shaded": shaded,
    "bees": with_bees,
    "bees, shaded, aslant": lambda marked, rng: aslant(
        shaded(with_bees(marked, rng), rng), rng, 0.8
    ),
}
