"""Drawn cells with their truth maps, for training the parser on and for judging it."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import axial_to_offset, midline_length, offset_to_axial
from larvasight.render import Variation, paint_with_maps, random_scene, truth_sheet
from larvasight.sheet import Cell, Content, Flag, Jelly, PointsXY, Sheet
from larvasight.vision.parsed import CONTENT_CLASSES, JELLY_CLASSES
from larvasight.vision.rectify import CROP_PX, CropFrame, Pyramid, crop_frame

N_MAPS = 4
# The middle line is drawn this wide: a share of the body's width, but never a hair.
_LINE_WIDTH_SHARE = 0.4
_LINE_WIDTH_LEAST_PX = 3.0
_MAP_ZOOM = 4
_VARIATIONS: tuple[Variation, Variation] = ("practice", "wide")
_NEIGHBOURS = ((0, 1), (1, 0), (-1, 1), (0, -1), (-1, 0), (1, -1))

# How far a found lattice may be off from the true one, for training: shares of a pitch, degrees.
_JITTER_CENTRE = 0.025
_JITTER_SCALE = 0.02
_JITTER_TURN_DEG = 2.0
_COVER_CHANCE = 0.06
# A middle this dark, a body this near its surroundings and this flat, or so little of it in
# view, show nothing to tell contents by.
_DARK_LUMA = 16.0
_EVEN_LUMA = 5.0
_FLAT_LUMA = 12.0
_SEEN_LEAST = 0.25
_SEEN_LEAST_PX = 12
_UNCLEAR_KEPT = 0.5
_CUT_KEPT = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class CellSamples:
    """Drawn cells with their truth.

    ``crops`` have shape (N, 128, 128, 3), uint8; ``maps`` (N, 4, 128, 128), uint8 0-255;
    ``content`` and ``jelly`` (N,), int64 class numbers. Where ``seen_known`` (N,) is false,
    the second map is not known.
    """

    crops: NDArray[np.uint8]
    maps: NDArray[np.uint8]
    content: NDArray[np.int64]
    jelly: NDArray[np.int64]
    seen_known: NDArray[np.bool_]


def joined(parts: Sequence[CellSamples]) -> CellSamples:
    """Return all cells of several sets in one."""
    return CellSamples(
        crops=np.concatenate([p.crops for p in parts]),
        maps=np.concatenate([p.maps for p in parts]),
        content=np.concatenate([p.content for p in parts]),
        jelly=np.concatenate([p.jelly for p in parts]),
        seen_known=np.concatenate([p.seen_known for p in parts]),
    )


def true_steps(sheet: Sheet) -> dict[tuple[int, int], NDArray[np.float64]]:
    """Return each cell's local lattice steps, shape (2, 2) px, from its neighbours' centres."""
    centres = {offset_to_axial(c.row, c.col): np.array(c.centre_xy_px) for c in sheet.cells}
    steps = {}
    for (q, r), centre in centres.items():
        near = [
            (dq, dr, centres[q + dq, r + dr] - centre)
            for dq, dr in _NEIGHBOURS
            if (q + dq, r + dr) in centres
        ]
        if len(near) < 2:
            continue
        design = np.array([[dq, dr] for dq, dr, _ in near], dtype=np.float64)
        if np.linalg.matrix_rank(design) < 2:
            continue
        found = np.linalg.lstsq(design, np.stack([d for *_, d in near]), rcond=None)[0]
        steps[axial_to_offset(q, r)] = found
    return steps


def draw_samples(seed: int, n_scenes: int) -> CellSamples:
    """Draw scenes, handsome and wide ones in turn, and cut their cells out with jitter.

    Parameters
    ----------
    seed : int
        Seed of everything.
    n_scenes : int
        Number of scenes, about 25 cells each.

    Returns
    -------
    CellSamples
        All cells whose centre lies well inside a picture.
    """
    rng = np.random.default_rng(seed)
    return joined([_scene_samples(rng, _VARIATIONS[i % 2]) for i in range(n_scenes)])


def _scene_samples(rng: np.random.Generator, variation: Variation) -> CellSamples:
    pitch_px = float(np.exp(rng.uniform(np.log(55.0), np.log(160.0))))
    size_px = (int(5.4 * pitch_px), int(4.4 * pitch_px))
    tilt_deg = float(rng.uniform(0.0, 14.0))
    scene = random_scene(
        rng, size_px=size_px, pitch_px=pitch_px, tilt_deg=tilt_deg, variation=variation
    )
    painted = paint_with_maps(scene)
    sheet = truth_sheet(scene, name="drawn", sha256="")
    places = {axial_to_offset(c.q, c.r): i for i, c in enumerate(scene.cells)}
    steps = true_steps(sheet)
    cells = [cell for cell in sheet.cells if (cell.row, cell.col) in steps]
    return cut_cells(
        rng,
        painted.image,
        [
            (cell, steps[cell.row, cell.col], painted.seen == places[cell.row, cell.col] + 1)
            for cell in cells
        ],
    )


def cut_cells(
    rng: np.random.Generator,
    picture: NDArray[np.uint8],
    cells: Sequence[tuple[Cell, NDArray[np.float64], NDArray[np.bool_] | None]],
    *,
    whole_from: float = 0.0,
) -> CellSamples:
    """Cut cells out of a picture as a found lattice would, a little off.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    picture : ndarray of shape (H, W, 3), uint8
        Comb, RGB.
    cells : sequence of tuple
        Each cell's truth, its steps (2, 2) px and where its body shows, (H, W), None where that is
        not kept.
    whole_from : float
        Bodies of which this share shows count as wholly seen where it is not kept.
    """
    pyramid, rows = Pyramid(picture), []
    for cell, steps, seen in cells:
        if Flag.CUT_BY_FRAME in cell.flags and rng.random() > _CUT_KEPT:
            continue
        frame = _jittered(cell, steps, rng)
        crop = pyramid.crop(frame)
        maps = _truth_maps(cell, frame, seen)
        known = seen is not None or (cell.visible_share or 1.0) >= whole_from
        content = cell.content
        if rng.random() < _COVER_CHANCE:
            crop, content = _covered(crop, rng), Content.COVERED
            maps = np.zeros_like(maps)
        elif _is_unclear(crop, cell, maps):
            if rng.random() > _UNCLEAR_KEPT:
                continue
            content, maps = Content.UNCLEAR, np.zeros_like(maps)
        rows.append((crop, maps, CONTENT_CLASSES.index(content), _jelly_class(cell), known))
    crops, all_maps, contents, jellies, knowns = zip(*rows, strict=True)
    return CellSamples(
        crops=np.stack(crops),
        maps=np.stack(all_maps),
        content=np.array(contents),
        jelly=np.array(jellies),
        seen_known=np.array(knowns),
    )


def _is_unclear(crop: NDArray[np.uint8], cell: Cell, maps: NDArray[np.uint8]) -> bool:
    """Return whether not even a careful person could tell what the cell holds."""
    if cell.content in (Content.CAPPED, Content.STORES):
        return False
    if cell.visible_share is not None and cell.visible_share < _SEEN_LEAST:
        return True
    soft = cv2.GaussianBlur(crop, (0, 0), 1.5).astype(np.float32)
    if cell.content is Content.EMPTY:
        middle = slice(CROP_PX // 4, 3 * CROP_PX // 4)
        return float(np.percentile(soft[middle, middle].mean(axis=2), 98.0)) < _DARK_LUMA
    body = (maps[1] if cell.content is Content.LARVA else maps[3]) > 127
    near = cv2.dilate(body.astype(np.uint8), np.ones((11, 11), np.uint8)) > 0
    around = near & ~(cv2.dilate(body.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0)
    if body.sum() < _SEEN_LEAST_PX or not around.any():
        return True
    contrast = np.abs(np.median(soft[body], axis=0) - np.median(soft[around], axis=0)).max()
    drawing = np.ptp(np.percentile(soft[body].mean(axis=1), (5.0, 95.0)))
    return bool(contrast < _EVEN_LUMA and drawing < _FLAT_LUMA)


def _jelly_class(cell: Cell) -> int:
    return JELLY_CLASSES.index(cell.jelly or Jelly.NONE)


def _jittered(cell: Cell, steps: NDArray[np.float64], rng: np.random.Generator) -> CropFrame:
    turn_rad = np.radians(rng.normal(0.0, _JITTER_TURN_DEG) + 60.0 * rng.integers(6))
    # Turning by sixths keeps the hexagon: the first step becomes another of the six.
    turned = _turn_lattice(steps, turn_rad) * rng.normal(1.0, _JITTER_SCALE)
    off = rng.normal(0.0, _JITTER_CENTRE, 2) @ steps
    centre = np.array(cell.centre_xy_px) + off
    return crop_frame((float(centre[0]), float(centre[1])), turned)


def _turn_lattice(steps: NDArray[np.float64], turn_rad: float) -> NDArray[np.float64]:
    """Turn steps within their own foreshortened plane."""
    regular = np.array([[1.0, 0.0], [0.5, np.sqrt(0.75)]])
    to_px = np.linalg.solve(regular, steps)
    cos, sin = np.cos(turn_rad), np.sin(turn_rad)
    turned: NDArray[np.float64] = regular @ np.array([[cos, sin], [-sin, cos]]) @ to_px
    return turned


def _truth_maps(cell: Cell, frame: CropFrame, seen: NDArray[np.bool_] | None) -> NDArray[np.uint8]:
    maps = np.zeros((N_MAPS, CROP_PX, CROP_PX), np.uint8)
    if cell.content not in (Content.LARVA, Content.EGG) or cell.outline_xy_px is None:
        return maps
    body = _filled(_to_crop(cell.outline_xy_px, frame))
    if cell.content is Content.EGG:
        maps[3] = body
        return maps
    maps[0] = body
    maps[1] = body if seen is None else np.minimum(body, _seen_map(seen, frame))
    if cell.midline_xy_px is not None:
        width_px = (cell.width_mm or 0.0) * _crop_px_per_mm(cell, frame)
        maps[2] = _stroke(_to_crop(cell.midline_xy_px, frame), width_px * _LINE_WIDTH_SHARE)
    return maps


def _seen_map(seen: NDArray[np.bool_], frame: CropFrame) -> NDArray[np.uint8]:
    warped = cv2.warpAffine(
        seen.astype(np.float32),
        frame.matrix,
        (CROP_PX, CROP_PX),
        flags=cv2.INTER_AREA | cv2.WARP_INVERSE_MAP,
    )
    return np.round(np.clip(warped, 0.0, 1.0) * 255.0).astype(np.uint8)


def _to_crop(points: PointsXY, frame: CropFrame) -> NDArray[np.float64]:
    inverse = np.linalg.inv(frame.matrix[:, :2])
    moved: NDArray[np.float64] = (np.array(points) - frame.matrix[:, 2]) @ inverse.T
    return moved


def _fine(points_xy: NDArray[np.float64]) -> NDArray[np.int32]:
    """Return points on a canvas of ``_MAP_ZOOM`` times the crop, in 1/16 px."""
    return np.round(((points_xy + 0.5) * _MAP_ZOOM - 0.5) * 16.0).astype(np.int32)


def _filled(outline_xy: NDArray[np.float64]) -> NDArray[np.uint8]:
    canvas = np.zeros((CROP_PX * _MAP_ZOOM, CROP_PX * _MAP_ZOOM), np.uint8)
    cv2.fillPoly(canvas, [_fine(outline_xy)], 255, shift=4)
    return np.asarray(cv2.resize(canvas, (CROP_PX, CROP_PX), interpolation=cv2.INTER_AREA))


def _crop_px_per_mm(cell: Cell, frame: CropFrame) -> float:
    """Return crop px per mm of the drawn body, from its midline's two lengths."""
    line = _to_crop(cell.midline_xy_px or (), frame)
    return midline_length(line) / (cell.length_mm or 1.0)


def _stroke(line_xy: NDArray[np.float64], width_px: float) -> NDArray[np.uint8]:
    canvas = np.zeros((CROP_PX * _MAP_ZOOM, CROP_PX * _MAP_ZOOM), np.uint8)
    width = round(max(width_px, _LINE_WIDTH_LEAST_PX) * _MAP_ZOOM)
    cv2.polylines(canvas, [_fine(line_xy)], False, 255, width, shift=4)
    return np.asarray(cv2.resize(canvas, (CROP_PX, CROP_PX), interpolation=cv2.INTER_AREA))


def _covered(crop: NDArray[np.uint8], rng: np.random.Generator) -> NDArray[np.uint8]:
    """Lay something bee-like or finger-like over a cell: banded, hairy or plain."""
    yy, xx = np.mgrid[0:CROP_PX, 0:CROP_PX].astype(np.float32)
    turn = rng.uniform(0.0, np.pi)
    centre = rng.normal(CROP_PX / 2.0, 12.0, 2)
    along = (xx - centre[0]) * np.cos(turn) + (yy - centre[1]) * np.sin(turn)
    across = -(xx - centre[0]) * np.sin(turn) + (yy - centre[1]) * np.cos(turn)
    half = rng.uniform(35.0, 75.0)
    edge = cv2.GaussianBlur(rng.normal(0, 1, (CROP_PX, CROP_PX)).astype(np.float32), (0, 0), 2.0)
    shape = 1.0 - (across / half) ** 2 - (along / rng.uniform(70.0, 200.0)) ** 2 + 0.4 * edge
    alpha = np.clip(shape * rng.uniform(3.0, 12.0), 0.0, 1.0)[..., None]
    base = rng.uniform(10.0, 200.0) * np.array([1.0, rng.uniform(0.6, 0.95), rng.uniform(0.4, 0.9)])
    bands = 1.0 + rng.uniform(0.0, 0.7) * np.sin(along / rng.uniform(4.0, 14.0))
    grain = cv2.GaussianBlur(rng.normal(0, 1, (CROP_PX, CROP_PX)), (0, 0), rng.uniform(0.6, 3.0))
    shade = np.clip(1.0 - 0.6 * (across / half) ** 2, 0.2, 1.0)
    over = base * (bands * shade * (1.0 + 0.5 * grain))[..., None]
    mixed = crop * (1.0 - alpha) + over * alpha
    return np.asarray(np.clip(mixed, 0.0, 255.0), dtype=np.uint8)
