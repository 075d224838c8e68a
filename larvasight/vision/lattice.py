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
    mean_pitch_px,
    project,
)
from larvasight.vision.lattice_frequency import Guess, guess_lattices, row_angle_of_deg
from larvasight.vision.lattice_grow import FOUND, PASSED, Board, board_for, grow, remeasure
from larvasight.vision.lattice_seed import Seed, canvas_likeness, check_guess, trial_guesses

__all__ = ["FoundCell", "FoundLattice", "find_lattice"]

# Smallest and largest pitch looked for, px: below, a larva is a dot; above, four cells fill 12 MP.
PITCH_MIN_PX = 18.0
PITCH_MAX_PX = 760.0
# A hint narrows the search to within this ratio.
HINT_RATIO = 1.35

# Pitch of the canvas on which the lattice is followed, canvas pixels.
CANVAS_PITCH = 16.0

# A seed this good is followed at once; one below the lower limit is no comb. Chance fits in
# pictures without comb reach about 1.1 (cells that fit perfectly: 1.8).
SEED_SURE = 1.45
SEED_MIN = 1.15

# Fewer cells than this are no comb.
CELLS_MIN = 4

# Frames are fitted anew until the lattice's offsets from the frame fall below this, in pitches.
FRAME_GOOD_PITCH = 0.04
FRAME_ROUNDS = 3

# Likeness at which a cell is as likely there as not, and the steepness about it.
EVEN_LIKENESS = 0.7
LIKENESS_SPREAD = 0.18

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
        grown = _follow(picture, seed)
        if best is None or grown.n_found > best.n_found:
            best = grown
        if best.share > 0.3:
            break
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
    def n_found(self) -> int:
        return int((self.board.state == FOUND).sum())

    @property
    def share(self) -> float:
        """Part of the picture that found cells cover."""
        area = 0.866 * self.canvas.pitch**2
        return self.n_found * area / max(1.0, float(self.canvas.inside.sum()))


def _seeds(picture: Picture, pitch_range_px: tuple[float, float]) -> list[Seed]:
    seeds = _checked(picture, guess_lattices(picture, pitch_range_px))
    if not seeds or seeds[0].score < SEED_SURE:
        seeds += _checked(picture, trial_guesses(picture, pitch_range_px))
        seeds.sort(key=lambda s: -s.score)
    return [s for s in seeds if s.score >= max(SEED_MIN, seeds[0].score - 0.35)][:3]


def _checked(picture: Picture, guesses: list[Guess]) -> list[Seed]:
    seeds = [check_guess(picture, g) for g in guesses]
    seeds.sort(key=lambda s: -s.score)
    return seeds


def _follow(picture: Picture, seed: Seed) -> _Grown:
    matrix = seed.matrix
    canvas = draw_canvas(picture, matrix, CANVAS_PITCH)
    likeness = canvas_likeness(canvas)
    board = board_for(canvas)
    grow(canvas, likeness, board)
    for _ in range(FRAME_ROUNDS):
        off = board.off_xy[board.state == FOUND] / CANVAS_PITCH
        if len(off) < 6 or float(np.sqrt((off**2).sum(axis=1).mean())) < FRAME_GOOD_PITCH:
            break
        matrix = _fitted_frame(canvas, board)
        canvas = draw_canvas(picture, matrix, CANVAS_PITCH)
        likeness = canvas_likeness(canvas)
        board = _moved_board(board, canvas)
        grow(canvas, likeness, board)
    remeasure(canvas, likeness, board)
    return _Grown(canvas=canvas, board=board)


def _places(canvas: Canvas, board: Board, mask: NDArray[np.bool_]) -> tuple[NDArray[np.int64], Points]:
    axial = board.axial(mask)
    return axial, canvas.to_picture(canvas.to_canvas(axial.astype(float)) + board.off_xy[mask])


def _fitted_frame(canvas: Canvas, board: Board) -> Points:
    axial, places = _places(canvas, board, board.state == FOUND)
    plane = axial @ AXIAL_TO_PLANE
    spread = plane - plane.mean(axis=0)
    flat = float(np.linalg.svd(spread, compute_uv=False)[-1]) / math.sqrt(len(plane))
    if len(plane) < 12 or flat < 0.8:
        design = np.column_stack([plane, np.ones(len(plane))])
        solution = np.linalg.lstsq(design, places, rcond=None)[0]
        return np.vstack([solution.T, [0.0, 0.0, 1.0]])
    matrix, _ = cv2.findHomography(plane, places, 0)
    return canvas.matrix if matrix is None else np.asarray(matrix, np.float64)


def _moved_board(board: Board, canvas: Canvas) -> Board:
    """Put the found cells of a board on a new one for another canvas of the same lattice."""
    fresh = board_for(canvas)
    axial = board.axial(board.state == FOUND)
    rows, cols = axial[:, 1] - fresh.r_low, axial[:, 0] - fresh.q_low
    ok = (rows >= 0) & (rows < fresh.state.shape[0]) & (cols >= 0) & (cols < fresh.state.shape[1])
    fresh.state[rows[ok], cols[ok]] = FOUND
    fresh.likeness[rows[ok], cols[ok]] = 1.0
    remeasure(canvas, canvas_likeness(canvas), fresh)
    fresh.state[fresh.state == PASSED] = 0
    return fresh


def _listed(picture: Picture, grown: _Grown) -> FoundLattice | None:
    board, canvas = grown.board, grown.canvas
    found = board.state == FOUND
    cross = np.array([[0, 1, 1], [1, 0, 1], [1, 1, 0]], np.float64)
    beside = cv2.filter2D(found.astype(np.float64), cv2.CV_64F, cross, borderType=cv2.BORDER_CONSTANT)
    listed = (found & (beside >= 1)) | ((board.state == PASSED) & (beside >= ENCLOSED_NEIGHBOURS))
    axial, places = _places(canvas, board, listed)
    steps = _local_steps(canvas, board, listed)
    smooth = canvas.to_picture(canvas.to_canvas(axial.astype(float)) + board.smooth_xy[listed])
    residual = np.hypot(*(places - smooth).T)
    confidence = 1.0 / (1.0 + np.exp(-(board.likeness[listed] - EVEN_LIKENESS) / LIKENESS_SPREAD))
    confidence = np.where(found[listed], confidence, np.minimum(confidence, 0.4))
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


_ = (mean_pitch_px, project)
