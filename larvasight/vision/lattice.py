"""Finding the cells of a comb in a photograph."""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.errors import NoCombError, require_positive
from larvasight.geometry import axial_to_offset, fold_row_angle_deg
from larvasight.vision.lattice_board import FOUND, OUTSIDE, UNSEEN, fit_bend
from larvasight.vision.lattice_follow import Grown, first_follow, measured_finely, refine
from larvasight.vision.lattice_frame import Picture, Points
from larvasight.vision.lattice_frequency import Guess, guess_lattices
from larvasight.vision.lattice_judge import (
    beside,
    confidence,
    rim_strengths,
    squeeze_deg,
    stray_islands,
    why_no_comb,
)
from larvasight.vision.lattice_seed import Seed, check_seed, first_look, trial_guesses

__all__ = ["FoundCell", "FoundLattice", "enlarged", "find_lattice"]

# Smallest and largest pitch looked for, px: below, a larva is a dot; above, no sensor reaches.
PITCH_MIN_PX = 18.0
PITCH_MAX_PX = 5000.0
# A hint narrows the search to within this ratio.
HINT_RATIO = 1.35

# Grey levels are taken as logarithms from about this level up: a rim in shade stands out from its
# shade as much as a lit one, and a lit floor or larva does not outweigh it.
TONE_KNEE_GREY = 2.0

# With a seed this good no others are looked for at first; one below the lower limit is no comb.
# Chance fits in pictures without comb reach about 0.8 (cells that fit perfectly: 1.7).
SEED_SURE = 1.3
SEED_MIN = 0.75
# So many seeds of different lattices are followed, and none that is so far behind the best.
SEEDS_MAX = 4
SEED_BEHIND = 0.4
# A first look so far behind a sure seed is not checked: hardly any comes near enough by it.
LOOK_BEHIND = 0.6

# Of the lattices followed so far, those with this part of the best one's weight are refined.
REFINE_PART = 0.6

# Places passed over are listed (with their low confidence) only where this part of the neighbours
# in the picture was found, and so many: in the midst of comb a bee sits on a cell, or a cell is
# mostly out of the picture; at the comb's edge there is none.
ENCLOSED_PART = 0.5
ENCLOSED_MIN = 2
ENCLOSED_INNER_PART = 0.66
ENCLOSED_ROUNDS = 2
PASSED_CONFIDENCE_MAX = 0.4
# Less sure than this, a cell counts as passed over.
FOUND_CONFIDENCE_MIN = 0.1

# The squeezing tells the tilt where so many cells are seen; with fewer, chance squeezes as much.
TILT_CELLS_MIN = 7

# Grey levels spread less than this, standard deviation, where nothing is to be seen.
BLANK_SPREAD_GREY = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundCell:
    """One cell of a comb in a photograph.

    Attributes
    ----------
    row, col : int
        Name of the cell in the whole picture, as `geometry.axial_to_offset` counts, from 0;
        rows run along the lattice's row angle, further rows lie below.
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
        Mean direction of the rows in (-30, 30]: seen aslant, the three directions of rows lie
        not quite 60 degrees apart, and this is the one nearest to the picture's x axis.
    residual_px : float
        Root mean square of the sure cells' residuals.
    tilt_deg : float
        Angle between view and the comb's axis told from the squeezing; NaN when it cannot be told.
        Comb is not built quite evenly: seen squarely, real comb reads up to some 15 degrees.
    rim_strength : float
        How clearly rims stand on the sides of the weakest of the three directions: 1 and more in
        comb, the least 0.
    """

    cells: tuple[FoundCell, ...]
    pitch_px: float
    row_angle_deg: float
    residual_px: float
    tilt_deg: float
    rim_strength: float


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
    gray = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    picture = Picture(np.asarray(cv2.LUT(gray, _tone_curve()), np.uint8))
    looks = _looked(picture, guess_lattices(picture, pitch_range_px))
    followed, seeds = _begun(picture, looks)
    if followed or (seeds and seeds[0].score >= SEED_SURE):
        found = _comb(picture, seeds, followed)
        if isinstance(found, FoundLattice):
            return found
    trials = _looked(picture, trial_guesses(picture, pitch_range_px))
    seeds += [check_seed(picture, look) for look in trials]
    found = _comb(picture, sorted(seeds, key=lambda s: -s.score), followed)
    if isinstance(found, FoundLattice):
        return found
    raise NoCombError(found)


def enlarged(lattice: FoundLattice, zoom: float) -> FoundLattice:
    """Return a lattice found in a smaller picture as it lies in one ``zoom`` times as large."""

    def place(xy_px: tuple[float, float]) -> tuple[float, float]:
        x, y = ((v + 0.5) * zoom - 0.5 for v in xy_px)
        return x, y

    def step(xy_px: tuple[float, float]) -> tuple[float, float]:
        return xy_px[0] * zoom, xy_px[1] * zoom

    if zoom == 1.0:
        return lattice
    return replace(
        lattice,
        cells=tuple(
            replace(
                cell,
                centre_xy_px=place(cell.centre_xy_px),
                steps_xy_px=(step(cell.steps_xy_px[0]), step(cell.steps_xy_px[1])),
                residual_px=cell.residual_px * zoom,
            )
            for cell in lattice.cells
        ),
        pitch_px=lattice.pitch_px * zoom,
        residual_px=lattice.residual_px * zoom,
    )


def _comb(picture: Picture, seeds: list[Seed], followed: list[Grown]) -> FoundLattice | str:
    """Return the best lattice followed or growing from the best seeds, or why it is no comb."""
    reason = ""
    for grown in _lattices(picture, _chosen(seeds), followed):
        sure = (confidence(grown.board) >= 0.5) & (grown.board.state == FOUND)
        fit_bend(grown.board, sure)
        sure &= ~stray_islands(grown.board, sure, grown.canvas.pitch)
        basis_px = grown.steps_px(sure).mean(axis=0) if sure.any() else np.eye(2)
        why_not = why_no_comb(grown.view, grown.board, sure, basis_px, picture.gray.size)
        if why_not is None:
            return _listed(picture, grown, sure)
        reason = reason or why_not
    return reason or _why_nothing(picture)


def _tone_curve() -> NDArray[np.uint8]:
    levels = np.arange(256.0)
    curve = 255.0 * np.log1p(levels / TONE_KNEE_GREY) / math.log1p(255.0 / TONE_KNEE_GREY)
    return np.rint(curve).astype(np.uint8)


def _chosen(seeds: list[Seed]) -> list[Seed]:
    """Return the best seeds, the best first, each of a lattice or a place of its own."""
    chosen: list[Seed] = []
    for seed in seeds:
        good = seed.score >= max(SEED_MIN, seeds[0].score - SEED_BEHIND)
        if good and len(chosen) < SEEDS_MAX and not any(seed.repeats(c) for c in chosen):
            chosen.append(seed)
    return chosen


def _looked(picture: Picture, guesses: list[Guess]) -> list[Seed]:
    """Return what a first look at guesses shows, the best first."""
    looks = [first_look(picture, guess) for guess in guesses]
    return sorted(looks, key=lambda s: -s.score)


def _begun(picture: Picture, looks: list[Seed]) -> tuple[list[Grown], list[Seed]]:
    """Follow the first seed if it is sure, and check others: not those behind or on its cells."""
    followed: list[Grown] = []
    seeds: list[Seed] = []
    for look in looks:
        behind = bool(followed) and look.score < seeds[0].score - LOOK_BEHIND
        if behind or any(g.holds(look) for g in followed):
            continue
        seed = check_seed(picture, look)
        if look is looks[0] and seed.score >= SEED_SURE:
            followed.append(first_follow(picture, seed))
        seeds.append(seed)
    return followed, sorted(seeds, key=lambda s: -s.score)


def _lattices(picture: Picture, seeds: list[Seed], begun: list[Grown]) -> list[Grown]:
    """Follow seeds and return the lattices that explain most of the picture, the best first."""
    followed = list(begun)
    for seed in seeds:
        if not any(g.holds(seed) for g in followed):
            followed.append(first_follow(picture, seed))
    followed.sort(key=lambda g: -g.weight)
    refined = [
        measured_finely(picture, refine(picture, g))
        for g in followed
        if g.weight >= REFINE_PART * followed[0].weight
    ]
    refined.sort(key=lambda g: -g.weight)
    return refined


def _listed(picture: Picture, grown: Grown, sure: NDArray[np.bool_]) -> FoundLattice:
    board = grown.board
    confident = confidence(board)
    stray = (confident >= 0.5) & ~sure
    found = (board.state == FOUND) & (confident >= FOUND_CONFIDENCE_MIN) & ~stray
    n_beside = beside(found)
    seen = (board.state != UNSEEN) & (board.distinct > OUTSIDE)
    n_seen = beside(seen)
    passed = ~found & seen & (n_beside >= np.maximum(ENCLOSED_PART * n_seen, ENCLOSED_MIN))
    # What those enclose in turn lies in the midst of a stretch of capped cells, or under a bee.
    inner = np.maximum(ENCLOSED_INNER_PART * n_seen, ENCLOSED_MIN)
    for _ in range(ENCLOSED_ROUNDS):
        passed |= ~found & seen & (beside(found | passed) >= inner)
    listed = (found & (n_beside >= 1)) | passed
    places = grown.places_px(listed)
    steps = grown.steps_px(listed)
    wanted = grown.offset_px(listed, board.smooth_xy[listed])
    residual = np.hypot(*(grown.offset_px(listed, board.off_xy[listed]) - wanted).T)
    residual[passed[listed]] = math.nan
    value = np.where(passed, np.minimum(confident, PASSED_CONFIDENCE_MAX), confident)[listed]
    last_px = np.array([picture.width_px, picture.height_px]) - 0.5
    inside = ((places >= -0.5) & (places <= last_px)).all(axis=1)
    counted = inside & sure[listed]
    axial, steps = _turned(board.axial(listed), steps, steps[counted].mean(axis=0))
    cells = [
        _cell(row, col, place, step, float(off), float(v))
        for (row, col), place, step, off, v in zip(
            _names(axial[inside]),
            places[inside],
            steps[inside],
            residual[inside],
            value[inside],
            strict=True,
        )
    ]
    cells.sort(key=lambda c: (c.row, c.col))
    sides = np.concatenate([steps, steps[:, 1:] - steps[:, :1]], axis=1)[counted]
    basis_px = steps[counted].mean(axis=0)
    return FoundLattice(
        cells=tuple(cells),
        pitch_px=float(np.hypot(sides[..., 0], sides[..., 1]).mean()),
        row_angle_deg=fold_row_angle_deg(math.degrees(math.atan2(*basis_px[0, ::-1]))),
        residual_px=float(np.sqrt((residual[counted] ** 2).mean())),
        tilt_deg=squeeze_deg(basis_px) if counted.sum() >= TILT_CELLS_MIN else math.nan,
        rim_strength=float(rim_strengths(grown.view, board, sure).min()),
    )


def _turned(
    axial: NDArray[np.int64], steps: Points, basis_px: Points
) -> tuple[NDArray[np.int64], Points]:
    """Turn positions and steps by sixths until rows run as nearly along x as they can."""
    third_px = basis_px[1] - basis_px[0]
    around_px = np.array([*basis_px, third_px, *-basis_px, -third_px])
    along = around_px[:, 0] / np.hypot(*around_px.T)
    for _ in range(int(along.argmax())):
        steps = np.stack([steps[:, 1], steps[:, 1] - steps[:, 0]], axis=1)
        axial = np.column_stack([axial.sum(axis=1), -axial[:, 0]])
    return axial, steps


def _names(axial: NDArray[np.int64]) -> list[tuple[int, int]]:
    """Rows and columns counted from 0."""
    first_r = int(axial[:, 1].min())
    first_col = min(axial_to_offset(int(q), int(r) - first_r)[1] for q, r in axial)
    return [axial_to_offset(int(q) - first_col, int(r) - first_r) for q, r in axial]


def _cell(
    row: int, col: int, place: Points, steps: Points, residual_px: float, sure: float
) -> FoundCell:
    (ax, ay), (bx, by) = steps.tolist()
    return FoundCell(
        row=row,
        col=col,
        centre_xy_px=(float(place[0]), float(place[1])),
        steps_xy_px=((ax, ay), (bx, by)),
        residual_px=residual_px,
        confidence=sure,
    )


def _why_nothing(picture: Picture) -> str:
    if float(picture.reduced(0.25)[0].std()) < BLANK_SPREAD_GREY:
        return "There is hardly any contrast in this picture, so no cells can be seen."
    return "No regular pattern of comb cells was found in this picture."
