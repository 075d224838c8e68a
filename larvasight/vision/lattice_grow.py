"""Following the lattice outward from its surest cell.

Cells are kept on a dense board over lattice positions. In each round every place
beside a found cell is predicted from the found cells around it, looked at, and
taken or passed over; a few places in a row may be passed over, so that bees and
capped cells do not end the comb.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import NEIGHBOUR_STEPS_QR
from larvasight.vision.lattice_frame import AXIAL_TO_PLANE, Canvas, Points
from larvasight.vision.lattice_rims import RIM_SIGMAS_PITCH, Maps, cell_likeness, distinctness, rim_maps
from larvasight.vision.lattice_seed import group_likeness

# Distinctness from which a place beside found cells is taken as a cell, and the distinctness asked
# for beyond a gap, where the prediction is loose and a chance fit would start a false island.
# Open cells have 0.7-1.8; in capped comb a quarter of the places reach 0.65, one in twenty 0.9.
TAKE_DISTINCT = 0.65
TAKE_BEYOND_GAP_DISTINCT = 0.9

# A bend is fitted where there are this many cells, its terms held by this many cells' worth.
BEND_CELLS_MIN = 40
BEND_HOLD = 1.0

# Places in a row that may be passed over: a bee covers two or three cells.
GAP_MAX_CELLS = 3

# Mean distinctness of a cell and its neighbours from which they are comb even where they stand
# apart, and how far apart that is, in pitches.
ISLAND_DISTINCT = 0.8
ISLAND_APART_PITCH = 1.6

# How far from the prediction a cell may be, in pitches, and how much likeness a cell at
# that distance loses. A corner of the walls is 0.58 off; half of that would slip the lattice.
SEARCH_PITCH = 0.26
SEARCH_LOSS = 0.5
# The same where the cell was found before and its place is only measured more finely.
SETTLE_PITCH = 0.22
SETTLE_ROUNDS = 2

# Spread of the weights with which found cells predict a place, in pitches, the reach over which
# they are gathered, and the strength with which the local steps are held to the frame's.
PREDICT_SIGMA_PITCH = 1.3
PREDICT_REACH_CELLS = 3
PREDICT_HOLD = 0.6

# The lattice may stretch or turn against its frame by so much, a ratio, before the frame has to
# be fitted anew; and steps to neighbours may differ by so much, in pitches. What differs more is
# another pattern (the holes of a sink beside the comb).
STRAIN_MAX = 0.22
STEP_ERROR_MAX_PITCH = 0.15

UNSEEN, FOUND, PASSED = 0, 1, 2


def _around() -> tuple[NDArray[np.int64], Points, Points]:
    """Places within reach: steps (K, 2) in r and q, weights (K,), planes (K, 3) of 1, x, y."""
    reach = PREDICT_REACH_CELLS
    r, q = (n.ravel() for n in np.mgrid[-reach : reach + 1, -reach : reach + 1])
    plane = np.column_stack([q, r]) @ AXIAL_TO_PLANE
    distance2 = (plane**2).sum(axis=1)
    keep = (distance2 > 0.0) & (distance2 <= reach**2 + 0.1)
    design = np.column_stack([np.ones(int(keep.sum())), plane[keep]])
    return np.column_stack([r, q])[keep], np.exp(-0.5 * distance2[keep] / PREDICT_SIGMA_PITCH**2), design


AROUND_RQ, AROUND_WEIGHT, AROUND_DESIGN = _around()
AROUND_MOMENTS = (AROUND_DESIGN[:, :, None] * AROUND_DESIGN[:, None, :]).reshape(len(AROUND_DESIGN), 9)


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A canvas with its maps of how much each place looks like the middle of a cell.

    Attributes
    ----------
    canvas : Canvas
        The picture in a frame.
    likeness, distinct : ndarray of shape (h, w), float32
        What `cell_likeness` and `distinctness` make of it.
    """

    canvas: Canvas
    likeness: Maps
    distinct: Maps


def view_of(canvas: Canvas, sigmas_pitch: tuple[float, ...] = RIM_SIGMAS_PITCH) -> View:
    """Return a canvas with its maps, for rims of some half widths (pitches)."""
    rims = rim_maps(canvas.gray, canvas.pitch, sigmas_pitch=sigmas_pitch)
    likeness = cell_likeness(rims, canvas.inside, canvas.pitch)
    return View(canvas=canvas, likeness=likeness, distinct=distinctness(likeness, canvas.pitch))


@dataclass(slots=True, kw_only=True)
class Board:
    """Cells by lattice position; array index ``[r - r_low, q - q_low]``.

    Attributes
    ----------
    q_low, r_low : int
        Lattice position of the first column and row.
    state : ndarray of shape (R, Q), uint8
        0 not looked at, 1 found, 2 passed over.
    off_xy : ndarray of shape (R, Q, 2)
        Where the cell is, from where the frame's regular lattice has it, canvas pixels.
    smooth_xy : ndarray of shape (R, Q, 2)
        The same as predicted from the cells around, itself left out.
    bend_xy : ndarray of shape (R, Q, 2)
        Smooth part of it all over the board: how the comb bends against the frame.
    slope : ndarray of shape (R, Q, 2, 2)
        Change of the offset (less bend) along x and y of the lattice plane, canvas pixels a pitch.
    distinct : ndarray of shape (R, Q)
        Distinctness where it is.
    strain : ndarray of shape (R, Q)
        How far the steps to its neighbours differ from the frame's, in pitches.
    gap : ndarray of shape (R, Q)
        Places passed over since the last found cell.
    """

    q_low: int
    r_low: int
    state: NDArray[np.uint8]
    off_xy: Points
    smooth_xy: Points
    bend_xy: Points
    slope: Points
    distinct: Points
    strain: Points
    gap: NDArray[np.int64]

    def axial(self, mask: NDArray[np.bool_]) -> NDArray[np.int64]:
        """Return lattice positions (N, 2), ``(q, r)``, of the places in a mask."""
        rows, cols = np.nonzero(mask)
        return np.column_stack([cols + self.q_low, rows + self.r_low])


def board_for(canvas: Canvas) -> Board:
    """Return an empty board that covers a canvas."""
    height, width = canvas.gray.shape
    corners = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    axial = np.linalg.solve(AXIAL_TO_PLANE.T, ((corners - canvas.origin_xy) / canvas.pitch).T).T
    margin = PREDICT_REACH_CELLS + 1
    low = np.floor(axial.min(axis=0)).astype(int) - margin
    high = np.ceil(axial.max(axis=0)).astype(int) + margin
    q_low, r_low = min(int(low[0]), -margin), min(int(low[1]), -margin)
    n_q, n_r = max(int(high[0]), margin) - q_low + 1, max(int(high[1]), margin) - r_low + 1
    return Board(
        q_low=q_low,
        r_low=r_low,
        state=np.zeros((n_r, n_q), np.uint8),
        off_xy=np.zeros((n_r, n_q, 2)),
        smooth_xy=np.zeros((n_r, n_q, 2)),
        bend_xy=np.zeros((n_r, n_q, 2)),
        slope=np.zeros((n_r, n_q, 2, 2)),
        distinct=np.zeros((n_r, n_q)),
        strain=np.zeros((n_r, n_q)),
        gap=np.zeros((n_r, n_q), np.int64),
    )


def grow(view: View, board: Board) -> None:
    """Follow the lattice over the canvas from the cells already found on the board.

    Parameters
    ----------
    view : View
        The picture in the frame.
    board : Board
        Changed in place; with no cell found it starts from lattice position (0, 0).
    """
    if not (board.state == FOUND).any():
        start = np.zeros(board.state.shape, bool)
        start[-board.r_low, -board.q_low] = True
        _look(view, board, start, TAKE_DISTINCT)
        board.state[start] = FOUND
    cross = np.array([[0, 1, 1], [1, 1, 1], [1, 1, 0]], np.uint8)
    for _ in range(sum(board.state.shape)):
        found = board.state == FOUND
        carry = np.where(found, 0, np.where(board.state == PASSED, board.gap, GAP_MAX_CELLS + 1))
        least = cv2.erode(carry.astype(np.uint8), cross, borderType=cv2.BORDER_REPLICATE).astype(np.int64)
        open_places = (board.state == UNSEEN) & (least < GAP_MAX_CELLS)
        # A place passed over with a poor prediction is looked at again once it has new neighbours.
        again = (board.state == PASSED) & (least < board.gap - 1)
        todo = open_places | again
        if not todo.any():
            break
        board.gap[todo] = least[todo] + 1
        _look(view, board, todo, np.where(least > 0, TAKE_BEYOND_GAP_DISTINCT, TAKE_DISTINCT)[todo])
        torn = todo & (board.state == FOUND)
        torn &= neighbour_errors(board) > STEP_ERROR_MAX_PITCH * view.canvas.pitch
        board.state[torn] = PASSED


def plant_islands(view: View, board: Board) -> int:
    """Put cells with neighbours that stand apart from the comb found so far on the board.

    Where a stretch of capped cells parts the comb, the lattice is carried over it by a smooth
    surface through the offsets of the found cells, and the nearest place names the island.

    Parameters
    ----------
    view : View
        The picture in the frame.
    board : Board
        Changed in place.

    Returns
    -------
    int
        Number of cells put on the board.
    """
    canvas = view.canvas
    grouped = group_likeness(view.distinct, canvas.inside, canvas.pitch * AXIAL_TO_PLANE)
    reach = 2 * round(canvas.pitch) + 1
    top = (grouped >= ISLAND_DISTINCT) & (grouped >= cv2.dilate(grouped, np.ones((reach, reach), np.uint8)))
    found = board.state == FOUND
    axial = board.axial(found).astype(float)
    at = canvas.to_canvas(axial) + board.off_xy[found]
    y, x = np.nonzero(top)
    peaks = np.column_stack([x, y]).astype(float)
    apart = np.array([np.hypot(*(at - p).T).min(initial=np.inf) for p in peaks])
    peaks = peaks[apart > ISLAND_APART_PITCH * canvas.pitch]
    n_planted = 0
    for peak in peaks:
        plane = (peak - canvas.origin_xy) / canvas.pitch
        for _ in range(3):
            place = _nearest_place(plane)
            row, col = int(place[1]) - board.r_low, int(place[0]) - board.q_low
            if not (0 <= row < found.shape[0] and 0 <= col < found.shape[1]):
                break
            plane = (peak - board.bend_xy[row, col] - canvas.origin_xy) / canvas.pitch
        place = _nearest_place(plane)
        row, col = int(place[1]) - board.r_low, int(place[0]) - board.q_low
        if not (0 <= row < found.shape[0] and 0 <= col < found.shape[1]) or board.state[row, col] == FOUND:
            continue
        board.state[row, col] = FOUND
        board.off_xy[row, col] = peak - canvas.to_canvas(place[None])[0]
        board.distinct[row, col] = view.distinct[int(peak[1]), int(peak[0])]
        n_planted += 1
    return n_planted


def _nearest_place(plane: Points) -> Points:
    exact = np.linalg.solve(AXIAL_TO_PLANE.T, plane)
    corners = np.floor(exact) + np.array([[0, 0], [1, 0], [0, 1], [1, 1]])
    return np.asarray(corners[int(np.hypot(*((corners - exact) @ AXIAL_TO_PLANE).T).argmin())])


def fit_bend(board: Board, sure: NDArray[np.bool_]) -> None:
    """Fit a smooth surface of third degree to the offsets of sure cells.

    Parameters
    ----------
    board : Board
        Its `bend_xy` is set, to 0 where there are too few cells.
    sure : ndarray of shape (R, Q), bool
        Cells to rely on.
    """
    board.bend_xy[:] = 0.0
    if int(sure.sum()) < BEND_CELLS_MIN:
        return
    plane = board.axial(sure) @ AXIAL_TO_PLANE
    off = board.off_xy[sure]
    middle = plane.mean(axis=0)
    spread = np.maximum(np.abs(plane - middle).max(axis=0), 1.0)
    design = _bend_terms((plane - middle) / spread)
    hold = np.diag([0.0, *[BEND_HOLD] * (design.shape[1] - 1)])
    keep = np.ones(len(plane), bool)
    for _ in range(3):
        used = design[keep]
        solution = np.linalg.solve(used.T @ used + hold, used.T @ off[keep])
        apart = np.hypot(*(design @ solution - off).T)
        keep = apart <= max(3.0 * float(np.median(apart)), 1e-6)
    everywhere = board.axial(np.ones(board.state.shape, bool)) @ AXIAL_TO_PLANE
    # Beyond the cells the bend is not carried on: it would run away.
    at = np.clip((everywhere - middle) / spread, -1.0, 1.0)
    board.bend_xy[:] = (_bend_terms(at) @ solution).reshape(board.bend_xy.shape)


def _bend_terms(at: Points) -> Points:
    x, y = at.T
    powers = [x**i * y**j for i in range(4) for j in range(4 - i)]
    return np.column_stack(powers)


def remeasure(view: View, board: Board) -> None:
    """Measure all cells anew from the prediction by their neighbours, and their residuals."""
    for _ in range(2):
        found = board.state == FOUND
        _look(view, board, board.state != UNSEEN, TAKE_DISTINCT)
        board.gap[found & (board.state != FOUND)] = 1
    everywhere = np.ones(board.state.shape, bool)
    board.smooth_xy[:] = predict(board, everywhere, view.canvas.pitch).reshape(board.smooth_xy.shape)
    board.strain = neighbour_errors(board) / view.canvas.pitch


def predict(board: Board, mask: NDArray[np.bool_], pitch: float) -> Points:
    """Return for places of a board the offset that the found cells around each agree on.

    A weighted plane through the offsets of found cells within three steps, the place itself
    left out.

    Parameters
    ----------
    board : Board
        The cells.
    mask : ndarray of shape (R, Q), bool
        Places wanted.
    pitch : float
        Pitch of the frame, canvas pixels.

    Returns
    -------
    ndarray of shape (N, 2)
        Offsets from the frame's lattice, canvas pixels, in the order of the mask's places.
    """
    rows, cols = np.nonzero(mask)
    at_rows = rows[:, None] + AROUND_RQ[:, 0]
    at_cols = cols[:, None] + AROUND_RQ[:, 1]
    in_board = (at_rows >= 0) & (at_rows < mask.shape[0]) & (at_cols >= 0) & (at_cols < mask.shape[1])
    at_rows, at_cols = np.where(in_board, at_rows, 0), np.where(in_board, at_cols, 0)
    used = in_board & (board.state[at_rows, at_cols] == FOUND)
    weight = np.where(used, np.clip(board.distinct[at_rows, at_cols], 0.2, 2.0), 0.0) * AROUND_WEIGHT
    moments = weight @ AROUND_MOMENTS
    moments = moments.reshape(-1, 3, 3) + np.diag([1e-6, PREDICT_HOLD, PREDICT_HOLD])
    offsets = (board.off_xy - board.bend_xy)[at_rows, at_cols]
    right = np.einsum("nk,ka,nkb->nab", weight, AROUND_DESIGN, offsets)
    slope = np.linalg.solve(moments, right)[:, 1:, :]
    steep = np.sqrt((slope**2).sum(axis=(1, 2)) / 2.0) / (STRAIN_MAX * pitch)
    slope /= np.maximum(steep, 1.0)[:, None, None]
    level = right[:, 0] - np.einsum("na,nab->nb", moments[:, 0, 1:], slope)
    board.slope[mask] = slope
    return np.asarray(level / moments[:, 0, :1] + board.bend_xy[mask])


def settle(view: View, board: Board) -> None:
    """Measure the places of found cells anew, close to where they are, and nothing else.

    Parameters
    ----------
    view : View
        The picture in the board's frame.
    board : Board
        Its `off_xy` and `smooth_xy` are changed.
    """
    found = board.state == FOUND
    everywhere = np.ones(board.state.shape, bool)
    regular = view.canvas.to_canvas(board.axial(found).astype(float))
    start = board.off_xy[found]
    for _ in range(SETTLE_ROUNDS):
        peak_xy, value, seen = measure_peaks(view, regular + start, SETTLE_PITCH * view.canvas.pitch)
        taken = seen & (value > 0.0)
        board.off_xy[found] = np.where(taken[:, None], peak_xy - regular, start)
        board.smooth_xy[:] = predict(board, everywhere, view.canvas.pitch).reshape(board.smooth_xy.shape)
        # The next look starts half way to where the neighbours want the cell.
        start = 0.5 * (board.off_xy[found] + board.smooth_xy[found])


def neighbour_errors(board: Board) -> Points:
    """Return how far steps to found neighbours differ from those of the bent frame, mean, canvas pixels.

    Returns
    -------
    ndarray of shape (R, Q)
        0 where there is no neighbour found.
    """
    found = np.pad(board.state == FOUND, 1)
    apart = board.off_xy - board.bend_xy
    off = np.pad(apart, ((1, 1), (1, 1), (0, 0)))
    n_r, n_q = board.state.shape
    total, count = np.zeros((n_r, n_q)), np.zeros((n_r, n_q))
    for dq, dr in NEIGHBOUR_STEPS_QR:
        part = (slice(1 + dr, 1 + dr + n_r), slice(1 + dq, 1 + dq + n_q))
        step = np.array([dq, dr]) @ AXIAL_TO_PLANE
        error = np.hypot(*np.moveaxis(off[part] - apart - step @ board.slope, -1, 0))
        total += np.where(found[part], error, 0.0)
        count += found[part]
    return np.asarray(total / np.maximum(count, 1.0))


def _look(
    view: View,
    board: Board,
    mask: NDArray[np.bool_],
    take: Points | float,
) -> None:
    if not mask.any():
        return
    predicted = predict(board, mask, view.canvas.pitch)
    at = view.canvas.to_canvas(board.axial(mask).astype(float)) + predicted
    peak_xy, value, seen = measure_peaks(view, at, SEARCH_PITCH * view.canvas.pitch)
    taken = seen & (value >= take)
    board.off_xy[mask] = np.where(taken[:, None], peak_xy - at, 0.0) + predicted
    board.distinct[mask] = np.where(seen, value, -1.0)
    board.state[mask] = np.where(taken, FOUND, PASSED)


def measure_peaks(view: View, at_xy: Points, radius_px: float) -> tuple[Points, Points, NDArray[np.bool_]]:
    """Return the highest likeness near each of several places, to a fraction of a pixel.

    Parameters
    ----------
    view : View
        The picture and its maps.
    at_xy : ndarray of shape (N, 2)
        Places to look at.
    radius_px : float
        How far to look.

    Returns
    -------
    peak_xy : ndarray of shape (N, 2)
        Where the likeness is highest.
    value : ndarray of shape (N,)
        The distinctness there, less a loss that grows with the distance.
    seen : ndarray of shape (N,), bool
        False for places outside the picture.
    """
    likeness, inside = view.likeness, view.canvas.inside
    reach = math.ceil(radius_px)
    height, width = likeness.shape
    cell = np.rint(at_xy).astype(int)
    valid = (cell[:, 0] >= 0) & (cell[:, 0] < width) & (cell[:, 1] >= 0) & (cell[:, 1] < height)
    cell = np.clip(cell, 0, [width - 1, height - 1])
    valid &= inside[cell[:, 1], cell[:, 0]]
    dy, dx = np.mgrid[-reach - 1 : reach + 2, -reach - 1 : reach + 2]
    padded = cv2.copyMakeBorder(likeness, reach + 1, reach + 1, reach + 1, reach + 1, cv2.BORDER_REPLICATE)
    patch = padded[cell[:, 1, None, None] + dy + reach + 1, cell[:, 0, None, None] + dx + reach + 1]
    patch = patch.astype(np.float64)
    off_x = cell[:, 0, None, None] + dx - at_xy[:, 0, None, None]
    off_y = cell[:, 1, None, None] + dy - at_xy[:, 1, None, None]
    distance2 = (off_x**2 + off_y**2) / radius_px**2
    judged = patch - SEARCH_LOSS * distance2
    inner = judged.copy()
    inner[distance2 > 1.0] = -np.inf
    inner[:, [0, -1], :] = -np.inf
    inner[:, :, [0, -1]] = -np.inf
    top = inner.reshape(len(cell), -1).argmax(axis=1)
    n, iy, ix = np.arange(len(cell)), top // dx.shape[1], top % dx.shape[1]
    iy, ix = np.clip(iy, 1, dx.shape[0] - 2), np.clip(ix, 1, dx.shape[1] - 2)
    fine_x = _vertex(patch[n, iy, ix - 1], patch[n, iy, ix], patch[n, iy, ix + 1])
    fine_y = _vertex(patch[n, iy - 1, ix], patch[n, iy, ix], patch[n, iy + 1, ix])
    peak = cell + np.column_stack([dx[iy, ix] + fine_x, dy[iy, ix] + fine_y])
    x = np.clip(cell[:, 0] + dx[iy, ix], 0, width - 1)
    y = np.clip(cell[:, 1] + dy[iy, ix], 0, height - 1)
    value = view.distinct[y, x] - SEARCH_LOSS * distance2[n, iy, ix]
    return peak, value, valid


def _vertex(low: Points, mid: Points, high: Points) -> Points:
    bend = low - 2.0 * mid + high
    shift = 0.5 * (low - high) / np.where(bend < -1e-6, bend, -1.0)
    return np.asarray(np.where(bend < -1e-6, np.clip(shift, -0.5, 0.5), 0.0))
