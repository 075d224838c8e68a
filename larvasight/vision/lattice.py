"""Finding the cells of a comb in a photograph."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.errors import NoCombError, require_positive
from larvasight.geometry import axial_to_offset
from larvasight.vision.lattice_frame import (
    AXIAL_TO_PLANE,
    Canvas,
    Picture,
    Points,
    draw_canvas,
    project,
)
from larvasight.vision.lattice_frequency import Guess, guess_lattices, row_angle_of_deg
from larvasight.vision.lattice_grow import (
    FOUND,
    PASSED,
    UNSEEN,
    Board,
    board_for,
    grow,
    plant_islands,
    remeasure,
    view_of,
)
from larvasight.vision.lattice_seed import Seed, check_guess, trial_guesses

__all__ = ["FoundCell", "FoundLattice", "find_lattice"]

# Smallest and largest pitch looked for, px: below, a larva is a dot; above, four cells fill 12 MP.
PITCH_MIN_PX = 18.0
PITCH_MAX_PX = 760.0
# A hint narrows the search to within this ratio.
HINT_RATIO = 1.35

# Pitch of the canvas on which the lattice is measured, canvas pixels, and of the smaller one on
# which it is first followed where the other would have more pixels than this.
CANVAS_PITCH = 16.0
FIRST_PITCH = 12.0
FIRST_MAX_PX = 400_000

# A seed this good is followed at once; one below the lower limit is no comb. Chance fits in
# pictures without comb reach about 0.8 (cells that fit perfectly: 1.7).
SEED_SURE = 1.2
SEED_MIN = 0.75
# So many seeds of different lattices are followed, and none that is so far behind the best.
SEEDS_MAX = 4
SEED_BEHIND = 0.4

# Fewer cells than this are no comb.
CELLS_MIN = 4

# Frames are fitted anew until the lattice's offsets from the frame fall below this, in pitches.
# or a new frame changes neither their number nor the offsets by more than these ratios.
FRAME_GOOD_PITCH = 0.04
FRAME_ROUNDS = 4
SAME_COUNT = 1.03
SAME_OFF = 0.85

# A cell is as likely there as not at this part of the distinctness that the picture's better
# cells have, within limits. In capped comb single places reach 0.9 by chance.
EVEN_PART = 0.45
EVEN_DISTINCT_MIN = 0.5
EVEN_DISTINCT_MAX = 0.8
DISTINCT_SPREAD = 0.12

# The mean over its neighbours may be lower by this factor (a cell at the rim of capped comb, where
# chance gives 0.5), lower still for a cell that is very clear itself.
AROUND_PART = 0.75
AROUND_OWN_PART = 0.2
AROUND_SPREAD = 0.08

# Steps to neighbours hardly differ from the frame's, in pitches; where they do, the search has
# slipped into another pattern (capped comb, the holes of a sink).
STRAIN_EVEN = 0.14
STRAIN_SPREAD = 0.015

# How far a cell's own rims are trusted against its neighbours: rims are torn and lit from one
# side, bees build evenly. The trust is halved at this distance from the neighbours' place, in pitches.
OWN_PLACE_TRUST = 0.8
OWN_PLACE_PITCH = 0.08

# Places passed over are listed (with their low confidence) only where so many of the six
# neighbours were found: in the midst of comb a bee sits on a cell, at its edge there is none.
ENCLOSED_NEIGHBOURS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundCell:
    """One cell of a comb in a photograph.

    Attributes
    ----------
    row, col : int
        Name of the cell in the whole picture, as `geometry.axial_to_offset` counts.
    centre_xy_px : tuple of float
        Middle of the cell's mouth, origin at the centre of the top-left pixel.
    steps_xy_px : tuple of tuple of float
        Steps to the next cell along the row and along the row turned by 60 degrees.
    residual_px : float
        Distance from where the cells around it would have it; NaN without neighbours.
    confidence : float
        How sure it is that a cell is there, 0-1.
    """

    row: int
    col: int
    centre_xy_px: tuple[float, float]
    steps_xy_px: tuple[tuple[float, float], tuple[float, float]]
    residual_px: float
    confidence: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundLattice:
    """The cells of a comb and the lattice they form.

    Attributes
    ----------
    cells : tuple of FoundCell
        Cells whose middle is in the picture, by row and column.
    pitch_px : float
        Mean distance between the middles of neighbouring cells.
    row_angle_deg : float
        Direction of the rows in (-30, 30].
    residual_px : float
        Root mean square of the sure cells' residuals.
    tilt_deg : float
        Angle between view and the comb's axis told from the squeezing; NaN when it cannot be told.
    """

    cells: tuple[FoundCell, ...]
    pitch_px: float
    row_angle_deg: float
    residual_px: float
    tilt_deg: float


def find_lattice(pixels: NDArray[np.uint8], *, pitch_hint_px: float | None = None) -> FoundLattice:
    """Find the cells of a comb.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8
        The picture, RGB.
    pitch_hint_px : float, optional
        About how far apart neighbouring cells are, px.

    Returns
    -------
    FoundLattice
        The cells with their names and places.

    Raises
    ------
    NoCombError
        If there is no regular pattern of cells.
    ValueError
        If the arguments are no picture or no pitch.
    """
    if pixels.ndim != 3 or pixels.shape[2] != 3 or pixels.dtype != np.uint8:
        msg = f"pixels must have shape (H, W, 3) and type uint8, got {pixels.shape} {pixels.dtype}"
        raise ValueError(msg)
    pitch_range_px = (PITCH_MIN_PX, PITCH_MAX_PX)
    if pitch_hint_px is not None:
        hint = require_positive("pitch_hint_px", pitch_hint_px)
        pitch_range_px = (hint / HINT_RATIO, hint * HINT_RATIO)
    picture = Picture(np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), np.uint8))
    best: _Grown | None = None
    for seed in _seeds(picture, pitch_range_px):
        if best is not None and best.holds(seed):
            continue
        grown = _follow(picture, seed)
        if best is None or grown.weight > best.weight:
            best = grown
    if best is None:
        raise NoCombError(_why_not(picture))
    lattice = _listed(picture, best)
    if lattice is None:
        raise NoCombError("Too few cells stand together to be a comb.")
    return lattice


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grown:
    canvas: Canvas
    board: Board

    @property
    def weight(self) -> float:
        """Picture area that sure cells cover, px2, each counted by how distinct it is.

        By area and not by number, since a lattice of small hexagons fits on one of large ones.
        """
        confidence = _confidence(self.board)
        axial = self.board.axial(confidence >= 0.5).astype(float)
        if not len(axial):
            return 0.0
        at = self.canvas.to_canvas(axial)
        half = 0.5 * self.canvas.pitch * np.eye(2)
        spans = [self.canvas.to_picture(at + h) - self.canvas.to_picture(at - h) for h in half]
        area_px2 = np.abs(spans[0][:, 0] * spans[1][:, 1] - spans[0][:, 1] * spans[1][:, 0])
        return float((area_px2 * self.board.distinct[confidence >= 0.5]).sum())

    def holds(self, seed: Seed) -> bool:
        """Tell whether a sure cell lies where a seed was found."""
        _, places = _places(self.canvas, self.board, _confidence(self.board) >= 0.5)
        basis_px = AXIAL_TO_PLANE @ seed.matrix[:2, :2].T
        reach_px = 0.6 * float(np.hypot(*basis_px[0]))
        off = np.hypot(*(places - seed.matrix[:2, 2]).T)
        return bool((off < reach_px).any())


def _seeds(picture: Picture, pitch_range_px: tuple[float, float]) -> list[Seed]:
    seeds = _checked(picture, guess_lattices(picture, pitch_range_px))
    if not seeds or seeds[0].score < SEED_SURE:
        seeds = _checked(picture, trial_guesses(picture, pitch_range_px)) + seeds
        seeds.sort(key=lambda s: -s.score)
    chosen: list[Seed] = []
    for seed in seeds:
        good = seed.score >= max(SEED_MIN, seeds[0].score - SEED_BEHIND)
        if good and len(chosen) < SEEDS_MAX and not any(seed.repeats(c) for c in chosen):
            chosen.append(seed)
    return chosen


def _checked(picture: Picture, guesses: list[Guess]) -> list[Seed]:
    seeds = [check_guess(picture, g) for g in guesses]
    seeds.sort(key=lambda s: -s.score)
    return seeds


def _follow(picture: Picture, seed: Seed) -> _Grown:
    canvas = draw_canvas(picture, seed.matrix, FIRST_PITCH)
    if canvas.gray.size * (CANVAS_PITCH / FIRST_PITCH) ** 2 <= FIRST_MAX_PX:
        canvas = draw_canvas(picture, seed.matrix, CANVAS_PITCH)
    view = view_of(canvas)
    board = board_for(view.canvas)
    grow(view, board)
    remeasure(view, board)
    n_before, off_before = 0, math.inf
    for _ in range(FRAME_ROUNDS):
        sure = _confidence(board, strain_counts=False) >= 0.5
        n_sure, off = int(sure.sum()), _mean_off_pitch(view.canvas, board, sure)
        done = off < FRAME_GOOD_PITCH or (n_sure < SAME_COUNT * n_before and off > SAME_OFF * off_before)
        if n_sure < 6 or (done and view.canvas.pitch == CANVAS_PITCH):
            break
        n_before, off_before = n_sure, off
        view = view_of(draw_canvas(picture, _fitted_frame(view.canvas, board, sure), CANVAS_PITCH))
        board = _moved_board(board, sure, view.canvas)
        remeasure(view, board)
        board.state[board.state == PASSED] = UNSEEN
        grow(view, board)
        if plant_islands(view, board):
            grow(view, board)
        remeasure(view, board)
    return _Grown(canvas=view.canvas, board=board)


def _mean_off_pitch(canvas: Canvas, board: Board, mask: NDArray[np.bool_]) -> float:
    off = board.off_xy[mask] / canvas.pitch
    return float(np.sqrt((off**2).sum(axis=1).mean())) if len(off) else 0.0


def _confidence(board: Board, *, strain_counts: bool = True) -> Points:
    """How sure it is that there is a cell at each place of a board, 0-1."""
    looked = (board.state != UNSEEN) & (board.distinct > -0.99)
    cross = np.array([[0, 1, 1], [1, 0, 1], [1, 1, 0]], np.float64)
    values = np.where(looked, board.distinct, 0.0)
    total = cv2.filter2D(values, cv2.CV_64F, cross, borderType=cv2.BORDER_CONSTANT)
    count = cv2.filter2D(looked.astype(np.float64), cv2.CV_64F, cross, borderType=cv2.BORDER_CONSTANT)
    around = total / np.maximum(count, 1.0)
    found = board.state == FOUND
    better = float(np.percentile(board.distinct[found], 75)) if found.any() else 1.0
    even = min(max(EVEN_PART * better, EVEN_DISTINCT_MIN), EVEN_DISTINCT_MAX)
    own = board.distinct - even
    confidence = _sigmoid(own / DISTINCT_SPREAD)
    confidence *= _sigmoid((around + AROUND_OWN_PART * own - AROUND_PART * even) / AROUND_SPREAD)
    if strain_counts:
        confidence *= _sigmoid((STRAIN_EVEN - board.strain) / STRAIN_SPREAD)
    return np.where(looked, confidence, 0.0)


def _sigmoid(logit: Points) -> Points:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(logit, -30.0, 30.0))))


def _places(canvas: Canvas, board: Board, mask: NDArray[np.bool_]) -> tuple[NDArray[np.int64], Points]:
    """Lattice positions and picture positions of cells, drawn towards where their neighbours want them."""
    axial = board.axial(mask)
    apart = board.off_xy[mask] - board.smooth_xy[mask]
    distance = np.hypot(*apart.T) / canvas.pitch
    trust = OWN_PLACE_TRUST / (1.0 + (distance / OWN_PLACE_PITCH) ** 2)
    off = board.smooth_xy[mask] + trust[:, None] * apart
    return axial, canvas.to_picture(canvas.to_canvas(axial.astype(float)) + off)


def _fitted_frame(canvas: Canvas, board: Board, sure: NDArray[np.bool_]) -> Points:
    axial, places = _places(canvas, board, sure)
    plane = axial @ AXIAL_TO_PLANE
    for _ in range(3):
        matrix = _fitted_map(plane, places)
        off = np.hypot(*(project(matrix, plane) - places).T)
        keep = off <= max(3.0 * float(np.median(off)), 1e-6)
        if keep.all():
            break
        plane, places = plane[keep], places[keep]
    return matrix


def _fitted_map(plane: Points, places: Points) -> Points:
    spread = plane - plane.mean(axis=0)
    flat = float(np.linalg.svd(spread, compute_uv=False)[-1]) / math.sqrt(len(plane))
    if len(plane) >= 12 and flat >= 0.8:
        matrix, _ = cv2.findHomography(plane, places, 0)
        if matrix is not None:
            return np.asarray(matrix, np.float64)
    design = np.column_stack([plane, np.ones(len(plane))])
    solution = np.linalg.lstsq(design, places, rcond=None)[0]
    return np.vstack([solution.T, [0.0, 0.0, 1.0]])


def _moved_board(board: Board, sure: NDArray[np.bool_], canvas: Canvas) -> Board:
    """Put the sure cells of a board on a new one for another canvas of the same lattice."""
    fresh = board_for(canvas)
    axial = board.axial(sure)
    rows, cols = axial[:, 1] - fresh.r_low, axial[:, 0] - fresh.q_low
    ok = (rows >= 0) & (rows < fresh.state.shape[0]) & (cols >= 0) & (cols < fresh.state.shape[1])
    fresh.state[rows[ok], cols[ok]] = FOUND
    fresh.distinct[rows[ok], cols[ok]] = 1.0
    return fresh


def _listed(picture: Picture, grown: _Grown) -> FoundLattice | None:
    board, canvas = grown.board, grown.canvas
    all_confidence = _confidence(board)
    found = (board.state == FOUND) & (all_confidence >= 0.1)
    cross = np.array([[0, 1, 1], [1, 0, 1], [1, 1, 0]], np.float64)
    beside = cv2.filter2D(found.astype(np.float64), cv2.CV_64F, cross, borderType=cv2.BORDER_CONSTANT)
    listed = (found & (beside >= 1)) | ((board.state != UNSEEN) & (beside >= ENCLOSED_NEIGHBOURS))
    axial, places = _places(canvas, board, listed)
    steps = _local_steps(canvas, board, listed)
    smooth = canvas.to_picture(canvas.to_canvas(axial.astype(float)) + board.smooth_xy[listed])
    measured = canvas.to_picture(canvas.to_canvas(axial.astype(float)) + board.off_xy[listed])
    residual = np.hypot(*(measured - smooth).T)
    confidence = np.where(found, all_confidence, np.minimum(all_confidence, 0.4))[listed]
    inside = (places >= -0.5).all(axis=1) & (places[:, 0] < picture.width_px - 0.5)
    inside &= places[:, 1] < picture.height_px - 0.5
    sure = inside & (confidence >= 0.5)
    if sure.sum() < CELLS_MIN:
        return None
    cells = []
    for n in np.nonzero(inside)[0]:
        row, col = axial_to_offset(int(axial[n, 0]), int(axial[n, 1]))
        (ax, ay), (bx, by) = steps[n]
        cells.append(
            FoundCell(
                row=row,
                col=col,
                centre_xy_px=(float(places[n, 0]), float(places[n, 1])),
                steps_xy_px=((float(ax), float(ay)), (float(bx), float(by))),
                residual_px=float(residual[n]),
                confidence=float(confidence[n]),
            )
        )
    cells.sort(key=lambda c: (c.row, c.col))
    mean_steps = steps[sure].mean(axis=0)
    third = steps[sure][:, 1] - steps[sure][:, 0]
    pitch = float(np.hypot(*np.concatenate([steps[sure].reshape(-1, 2), third]).T).mean())
    return FoundLattice(
        cells=tuple(cells),
        pitch_px=pitch,
        row_angle_deg=row_angle_of_deg(mean_steps),
        residual_px=float(np.sqrt((residual[sure] ** 2).mean())),
        tilt_deg=_tilt_deg(mean_steps) if sure.sum() >= 7 else math.nan,
    )


def _local_steps(canvas: Canvas, board: Board, mask: NDArray[np.bool_]) -> Points:
    """Steps (N, 2, 2) between smoothed places, through the frame."""
    axial = board.axial(mask).astype(float)
    padded = np.pad(board.smooth_xy, ((1, 1), (1, 1), (0, 0)), mode="edge")
    rows, cols = (n + 1 for n in np.nonzero(mask))
    steps = []
    for dq, dr in ((1, 0), (0, 1)):
        ends = []
        for sign in (1, -1):
            step = np.array([sign * dq, sign * dr], float)
            off = padded[rows + sign * dr, cols + sign * dq]
            ends.append(canvas.to_picture(canvas.to_canvas(axial + step) + off))
        steps.append(0.5 * (ends[0] - ends[1]))
    return np.stack(steps, axis=1)


def _tilt_deg(basis_px: Points) -> float:
    """Tilt that squeezes a regular lattice into one with this basis."""
    linear = np.linalg.solve(AXIAL_TO_PLANE, basis_px)
    long, short = np.linalg.svd(linear, compute_uv=False)
    return math.degrees(math.acos(min(1.0, float(short / long))))


def _why_not(picture: Picture) -> str:
    spread = float(picture.reduced(0.25)[0].std())
    if spread < 4.0:
        return "There is hardly any contrast in this picture, so no cells can be seen."
    return "No regular pattern of comb cells was found in this picture."

