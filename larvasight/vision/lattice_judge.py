"""How sure it is that cells are there, and whether they are comb at all."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.vision.lattice_board import FOUND, OUTSIDE, UNSEEN, Board
from larvasight.vision.lattice_frame import AXIAL_TO_PLANE, Points
from larvasight.vision.lattice_grow import View
from larvasight.vision.lattice_rims import side_strengths

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

# Steps from cell to cell are alike about a cell, within this many pitches; where they are not, the
# search has slipped into another pattern (capped comb, the holes of a sink).
STRAIN_EVEN = 0.11
STRAIN_SPREAD = 0.015

# Cells that stand apart from the main body of comb have to fit it, unless they are so many (then
# they are comb beyond doubt, and it bends). So far may they lie off the lattice carried over to
# them, in pitches; so much may theirs be stretched or turned; more where it is wider, since cells
# of honey and drones at the comb's edge are larger, but hardly any are smaller.
ISLAND_BEYOND_DOUBT = 40
ISLAND_OFF_PITCH = 0.25
ISLAND_SLOPE = 0.12
ISLAND_WIDER_SLOPE = 0.17
ISLAND_WIDER = 0.03

# n cells are comb if their mean distinctness is at least BASE + FEW / n, and chance gives about
# CHANCE_BASE + FEW / n: a few places look like cells by chance more easily than many do. Clear
# cells have 1.2-1.8, chance finds in pictures of other things 0.7-1.2.
COMB_DISTINCT_BASE = 0.85
CHANCE_DISTINCT_BASE = 0.6
COMB_DISTINCT_FEW = 1.5

# So many cells have to be sure, and so many likely to be there (at the picture's edge much of a
# cell may be out of it).
SURE_CELLS_MIN = 3
LIKELY_CELLS_MIN = 4
LIKELY = 0.25

# Of the neighbours of sure cells this share is sure too; chance finds lie scattered.
COMB_FULL_SHARE = 0.58

# Few cells are comb only if they fill much of the picture: n cells this part over n, at most the
# second number. Someone who photographs four cells does so from near.
COVER_CELLS = 5.0
COVER_MAX_SHARE = 0.35

# Bees build evenly: cells lie within this of where their neighbours want them, root mean square,
# pitches. In comb with torn rims 0.07 was seen, in chance finds 0.12; where many cells average out
# single torn rims 0.05 in comb and 0.09 in capped honey.
COMB_UNEVEN_MAX_PITCH = 0.105
COMB_UNEVEN_MANY_MAX_PITCH = 0.08
COMB_UNEVEN_MANY_CELLS = 50

# Six-sided cells have rims in three directions: the weakest direction has at least this part of the
# strongest one's response; less of it where there are few cells, of which one lies in shade. In
# comb 0.8-1 was seen, with few cells 0.5; in brickwork 0.5.
SIDES_EVEN_CELLS = 20
SIDES_EVEN_PART = 0.6
SIDES_EVEN_FEW_PART = 0.4

# Squeezed more than comb seen at this angle, a pattern is squares or bricks (55 degrees); with few
# cells the angle is known but roughly.
COMB_TILT_MAX_DEG = 54.0
COMB_TILT_FEW_MAX_DEG = 54.0
TILT_KNOWN_CELLS = 7

_BESIDE = np.array([[0, 1, 1], [1, 0, 1], [1, 1, 0]], np.float64)


def confidence(board: Board, *, strain_counts: bool = True) -> Points:
    """Return how sure it is that there is a cell at each place of a board.

    Parameters
    ----------
    board : Board
        The cells.
    strain_counts : bool
        Whether uneven steps to the neighbours count against a cell.

    Returns
    -------
    ndarray of shape (R, Q)
        0-1.
    """
    looked = (board.state != UNSEEN) & (board.distinct > OUTSIDE)
    total = beside(np.where(looked, board.distinct, 0.0))
    around = total / np.maximum(beside(looked), 1.0)
    found = board.state == FOUND
    better = float(np.percentile(board.distinct[found], 75)) if found.any() else 1.0
    even = min(max(EVEN_PART * better, EVEN_DISTINCT_MIN), EVEN_DISTINCT_MAX)
    own = board.distinct - even
    sure = _sigmoid(own / DISTINCT_SPREAD)
    sure *= _sigmoid((around + AROUND_OWN_PART * own - AROUND_PART * even) / AROUND_SPREAD)
    if strain_counts:
        sure *= _sigmoid((STRAIN_EVEN - board.strain) / STRAIN_SPREAD)
    return np.where(looked, sure, 0.0)


def beside(values: NDArray[np.bool_] | Points) -> Points:
    """Return for each place of a board the sum over its six neighbours."""
    values = values.astype(np.float64)
    return np.asarray(cv2.filter2D(values, cv2.CV_64F, _BESIDE, borderType=cv2.BORDER_CONSTANT))


def chance_distinct(n: int) -> float:
    """Return the mean distinctness that the best n places reach by chance."""
    return CHANCE_DISTINCT_BASE + COMB_DISTINCT_FEW / max(n, 1)


def stray_islands(board: Board, sure: NDArray[np.bool_], pitch: float) -> NDArray[np.bool_]:
    """Return the sure cells that stand apart from the comb and do not fit its lattice.

    Parameters
    ----------
    board : Board
        The cells, with the bend fitted.
    sure : ndarray of shape (R, Q), bool
        Cells more likely there than not.
    pitch : float
        Pitch of the frame, canvas pixels.
    """
    n_labels, labels, stats, _ = cv2.connectedComponentsWithStats(
        sure.astype(np.uint8), connectivity=8
    )
    stray = np.zeros(sure.shape, bool)
    sizes = stats[:, cv2.CC_STAT_AREA]
    for label in range(1, n_labels):
        if sizes[label] < min(ISLAND_BEYOND_DOUBT, sizes[1:].max()):
            island = labels == label
            stray |= island & (not _fits(board, island, pitch))
    return stray


def _fits(board: Board, island: NDArray[np.bool_], pitch: float) -> bool:
    n = int(island.sum())
    if float(board.distinct[island].mean()) < COMB_DISTINCT_BASE + COMB_DISTINCT_FEW / max(n, 2):
        return False
    off = np.hypot(*np.median(board.off_xy[island] - board.bend_xy[island], axis=0)) / pitch
    # The island's own lattice against the frame's: 0 when alike.
    plane = board.axial(island) @ AXIAL_TO_PLANE
    plane = plane - plane.mean(axis=0)
    slope = (
        np.linalg.solve(plane.T @ plane + 0.3 * np.eye(2), plane.T @ board.off_xy[island]) / pitch
    )
    wider = 0.5 * float(np.trace(slope)) > ISLAND_WIDER
    most = ISLAND_WIDER_SLOPE if wider else ISLAND_SLOPE
    return bool(off <= ISLAND_OFF_PITCH and math.sqrt(float((slope**2).sum()) / 2.0) <= most)


def why_no_comb(
    view: View, board: Board, sure: NDArray[np.bool_], basis_px: Points, picture_px: int
) -> str | None:
    """Return why sure cells are no comb, one plain sentence, or None when they are.

    Parameters
    ----------
    view : View
        The picture in the frame.
    board : Board
        The cells.
    sure : ndarray of shape (R, Q), bool
        Cells more likely there than not.
    basis_px : ndarray of shape (2, 2)
        Mean axial steps of the sure cells, px.
    picture_px : int
        Number of the picture's pixels.
    """
    n = int(sure.sum())
    looked = (board.state != UNSEEN) & (board.distinct > OUTSIDE)
    n_beside = float(beside(looked)[sure].sum())
    full = float(beside(sure)[sure].sum()) / max(n_beside, 1.0)
    n_likely = int((confidence(board) >= LIKELY).sum())
    if n < SURE_CELLS_MIN or n_likely < LIKELY_CELLS_MIN or full < COMB_FULL_SHARE:
        return "Too few cells can be seen side by side; show open comb, larger or sharper."
    if float(board.distinct[sure].mean()) < COMB_DISTINCT_BASE + COMB_DISTINCT_FEW / n:
        return "No clear cell rims were found; the comb may be capped, blurred or too small."
    share = n * abs(float(np.linalg.det(basis_px))) / picture_px
    if share < min(COVER_CELLS / n, COVER_MAX_SHARE):
        return "Only a few places look like cells; show more comb, or go nearer."
    uneven = np.hypot(*(board.off_xy - board.smooth_xy)[sure].T) / view.canvas.pitch
    many = n >= COMB_UNEVEN_MANY_CELLS
    most = COMB_UNEVEN_MANY_MAX_PITCH if many else COMB_UNEVEN_MAX_PITCH
    if float(np.sqrt((uneven**2).mean())) > most:
        return "The pattern in this picture is too uneven to be comb."
    tilt_max_deg = COMB_TILT_MAX_DEG if n >= TILT_KNOWN_CELLS else COMB_TILT_FEW_MAX_DEG
    if squeeze_deg(basis_px) > tilt_max_deg:
        return "The pattern in this picture is not six-sided, or was taken at too flat an angle."
    sides = rim_strengths(view, board, sure)
    part = SIDES_EVEN_PART if n >= SIDES_EVEN_CELLS else SIDES_EVEN_FEW_PART
    if sides.min() < part * sides.max():
        return "The pattern in this picture has no rims in three directions, so it is no comb."
    return None


def rim_strengths(view: View, board: Board, sure: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Return how clearly rims stand on the sides of sure cells, for three directions of rim."""
    places = view.canvas.to_canvas(board.axial(sure).astype(float)) + board.off_xy[sure]
    return side_strengths(view.rims, places, view.canvas.pitch)


def squeeze_deg(basis_px: Points) -> float:
    """Return the tilt at which a regular lattice looks squeezed like this one, degrees."""
    linear = np.linalg.solve(AXIAL_TO_PLANE, basis_px)
    long, short = np.linalg.svd(linear, compute_uv=False)
    return math.degrees(math.acos(min(1.0, float(short / long))))


def _sigmoid(logit: Points) -> Points:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(logit, -30.0, 30.0))))
