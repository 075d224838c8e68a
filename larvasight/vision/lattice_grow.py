"""Following the lattice outward from its surest cell.

In each round every place beside a found cell is predicted from the found cells
around it, looked at, and taken or passed over; a few places in a row may be passed
over, so that bees and capped cells do not end the comb.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.vision.lattice_board import (
    FOUND,
    OUTSIDE,
    PASSED,
    UNSEEN,
    Board,
    fit_bend,
    neighbour_errors,
    predict,
)
from larvasight.vision.lattice_frame import AXIAL_TO_PLANE, Canvas, Points
from larvasight.vision.lattice_rims import (
    FINE_SIGMAS_PITCH,
    Maps,
    cell_likeness,
    distinctness,
    rim_maps,
)
from larvasight.vision.lattice_seed import group_likeness

# Distinctness from which a place beside found cells is taken as a cell, and the distinctness asked
# for beyond a gap, where the prediction is loose and a chance fit would start a false island.
# Open cells have 0.7-1.8; in capped comb a quarter of the places reach 0.65, one in twenty 0.9.
TAKE_DISTINCT = 0.65
TAKE_BEYOND_GAP_DISTINCT = 0.9

# Places in a row that may be passed over: a bee covers two or three cells.
GAP_MAX_CELLS = 3

# Mean distinctness of a cell and its neighbours from which they are comb even where they stand
# apart, and how far apart that is, in pitches.
ISLAND_DISTINCT = 0.8
ISLAND_APART_PITCH = 1.6
# So many islands are followed; more are chance.
ISLANDS_MAX = 40

# How far from the prediction a cell may be, in pitches, and how much likeness a cell at
# that distance loses. A corner of the walls is 0.58 off; half of that would slip the lattice.
SEARCH_PITCH = 0.26
SEARCH_LOSS = 0.5
# The same where the cell was found before and its place is only measured more finely.
SETTLE_PITCH = 0.22

# Steps to neighbours may differ from the local lattice by so much, in pitches. What differs more is
# another pattern (the holes of a sink beside the comb).
STEP_ERROR_MAX_PITCH = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A canvas with its maps of how much each place looks like the middle of a cell.

    Attributes
    ----------
    canvas : Canvas
        The picture in a frame.
    rims : ndarray of shape (3, h, w), float32
        What `rim_maps` makes of it.
    likeness, distinct : ndarray of shape (h, w), float32
        What `cell_likeness` and `distinctness` make of those.
    near : ndarray of shape (h, w), bool
        Where there is picture, or a pixel further: places at its very edge are measured, too.
    """

    canvas: Canvas
    rims: Maps
    likeness: Maps
    distinct: Maps
    near: NDArray[np.bool_]


def view_of(canvas: Canvas) -> View:
    """Return a canvas with its maps."""
    rims = rim_maps(canvas.gray, canvas.pitch)
    likeness = cell_likeness(rims, canvas.inside, canvas.pitch)
    distinct = distinctness(likeness, canvas.pitch)
    return View(
        canvas=canvas, rims=rims, likeness=likeness, distinct=distinct, near=_widened(canvas)
    )


def fine_view_of(canvas: Canvas) -> View:
    """Return a canvas with its likeness for fine rims, for measuring places only."""
    rims = rim_maps(canvas.gray, canvas.pitch, sigmas_pitch=FINE_SIGMAS_PITCH)
    likeness = cell_likeness(rims, canvas.inside, canvas.pitch)
    return View(
        canvas=canvas, rims=rims, likeness=likeness, distinct=likeness, near=_widened(canvas)
    )


def _widened(canvas: Canvas) -> NDArray[np.bool_]:
    return cv2.dilate(canvas.inside.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)


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
    in_board = np.zeros(board.state.shape, bool)
    in_board[1:-1, 1:-1] = True
    for _ in range(sum(board.state.shape)):
        found = board.state == FOUND
        carry = np.where(found, 0, np.where(board.state == PASSED, board.gap, GAP_MAX_CELLS + 1))
        least = cv2.erode(carry.astype(np.uint8), cross, borderType=cv2.BORDER_REPLICATE).astype(
            np.int64
        )
        open_places = (board.state == UNSEEN) & (least < GAP_MAX_CELLS)
        # A place passed over with a poor prediction is looked at again once it has new neighbours.
        again = (board.state == PASSED) & (least < board.gap - 1)
        todo = (open_places | again) & in_board
        if not todo.any():
            break
        board.gap[todo] = least[todo] + 1
        _look(view, board, todo, np.where(least > 0, TAKE_BEYOND_GAP_DISTINCT, TAKE_DISTINCT)[todo])
        taken = todo & (board.state == FOUND)
        torn = neighbour_errors(board, taken) > STEP_ERROR_MAX_PITCH * view.canvas.pitch
        board.state[taken] = np.where(torn, PASSED, FOUND)


def grow_islands(view: View, board: Board) -> None:
    """Find comb that stands apart from the comb found so far, and follow it, too.

    Where a stretch of capped cells parts the comb, the lattice is carried over it by a smooth
    surface through the offsets of the found cells, and the nearest place names the island. The
    nearest island comes first, since it tells how the lattice goes on.

    Parameters
    ----------
    view : View
        The picture in the frame.
    board : Board
        Changed in place.
    """
    canvas = view.canvas
    grouped = group_likeness(view.distinct, canvas.inside, canvas.pitch * AXIAL_TO_PLANE)
    reach = 2 * round(canvas.pitch) + 1
    highest = cv2.dilate(grouped, np.ones((reach, reach), np.uint8))
    y, x = np.nonzero((grouped >= ISLAND_DISTINCT) & (grouped >= highest))
    peaks = np.column_stack([x, y]).astype(float)
    for _ in range(ISLANDS_MAX):
        found = board.state == FOUND
        at = canvas.to_canvas(board.axial(found).astype(float)) + board.off_xy[found]
        apart = np.hypot(*np.moveaxis(peaks[:, None] - at, -1, 0)).min(axis=1, initial=np.inf)
        free = apart > ISLAND_APART_PITCH * canvas.pitch
        peaks, apart = peaks[free], apart[free]
        if not len(peaks):
            break
        nearest = int(apart.argmin())
        fit_bend(board, found)
        if _plant(view, board, peaks[nearest]):
            grow(view, board)
        peaks = np.delete(peaks, nearest, axis=0)


def _plant(view: View, board: Board, peak_xy: Points) -> bool:
    canvas = view.canvas
    inner = np.array(board.state.shape) - 2
    plane = (peak_xy - canvas.origin_xy) / canvas.pitch
    place = _nearest_place(plane)
    for _ in range(3):
        row, col = int(place[1]) - board.r_low, int(place[0]) - board.q_low
        if not (1 <= row <= inner[0] and 1 <= col <= inner[1]):
            return False
        bend = board.bend_xy[row, col]
        place = _nearest_place(plane - bend / canvas.pitch)
    row, col = int(place[1]) - board.r_low, int(place[0]) - board.q_low
    if not (1 <= row <= inner[0] and 1 <= col <= inner[1]) or board.state[row, col] == FOUND:
        return False
    board.state[row, col] = FOUND
    board.off_xy[row, col] = peak_xy - canvas.to_canvas(place[None])[0]
    board.distinct[row, col] = view.distinct[int(peak_xy[1]), int(peak_xy[0])]
    return True


def _nearest_place(plane: Points) -> Points:
    exact = np.linalg.solve(AXIAL_TO_PLANE.T, plane)
    corners = np.floor(exact) + np.array([[0, 0], [1, 0], [0, 1], [1, 1]])
    return np.asarray(corners[int(np.hypot(*((corners - exact) @ AXIAL_TO_PLANE).T).argmin())])


def remeasure(view: View, board: Board) -> None:
    """Measure all cells anew from the prediction by their neighbours, and their residuals."""
    for _ in range(2):
        found = board.state == FOUND
        _look(view, board, board.state != UNSEEN, TAKE_DISTINCT)
        board.gap[found & (board.state != FOUND)] = 1
    seen = board.state != UNSEEN
    board.smooth_xy[seen] = predict(board, seen, view.canvas.pitch)
    board.strain[seen] = neighbour_errors(board, seen) / view.canvas.pitch


def settle(view: View, board: Board) -> None:
    """Measure the places of found cells anew, close to where they are, and nothing else.

    Parameters
    ----------
    view : View
        The picture in the board's frame.
    board : Board
        Its places and strains are changed.
    """
    found = board.state == FOUND
    if not found.any():
        return
    known = board.state != UNSEEN
    # Looked for from where the neighbours want it: a cell drawn to the wrong rim gets out of there.
    start = view.canvas.to_canvas(board.axial(found).astype(float)) + predict(
        board, found, view.canvas.pitch
    )
    peak_xy, value, seen = measure_peaks(view, start, SETTLE_PITCH * view.canvas.pitch)
    taken = seen & (value > 0.0)
    at = np.where(taken[:, None], peak_xy, start)
    board.off_xy[found] = at - view.canvas.to_canvas(board.axial(found).astype(float))
    board.smooth_xy[known] = predict(board, known, view.canvas.pitch)
    # Fine rims are noisier: what was even on broad ones stays even.
    errors = neighbour_errors(board, known) / view.canvas.pitch
    board.strain[known] = np.minimum(board.strain[known], errors)


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
    board.distinct[mask] = np.where(seen, value, OUTSIDE)
    board.state[mask] = np.where(taken, FOUND, PASSED)


def measure_peaks(
    view: View, at_xy: Points, radius_px: float
) -> tuple[Points, Points, NDArray[np.bool_]]:
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
        The distinctness there, less a loss that grows with the distance; outside the picture lower
        than any.
    seen : ndarray of shape (N,), bool
        False for places outside the picture.
    """
    height, width = view.likeness.shape
    cell = np.rint(at_xy).astype(int)
    valid = (cell[:, 0] >= 0) & (cell[:, 0] < width) & (cell[:, 1] >= 0) & (cell[:, 1] < height)
    valid[valid] = view.near[cell[valid, 1], cell[valid, 0]]
    peak_xy, value = at_xy.copy(), np.full(len(at_xy), OUTSIDE)
    peak_xy[valid], value[valid] = _peaks(view, at_xy[valid], radius_px)
    return peak_xy, value, valid


def _peaks(view: View, at_xy: Points, radius_px: float) -> tuple[Points, Points]:
    """Return the highest places near places in the picture, and their values."""
    height, width = view.likeness.shape
    likeness, reach = view.likeness.ravel(), math.ceil(radius_px)
    cell = np.rint(at_xy).astype(int)
    x, y = cell.T[..., None] + np.arange(-reach - 1, reach + 2)
    column, row = np.clip(x, 0, width - 1), np.clip(y, 0, height - 1) * width
    inner = slice(1, -1)
    off_x2, off_y2 = (np.stack([x, y])[..., inner] - at_xy.T[..., None]) ** 2 / radius_px**2
    distance2 = off_x2[:, None, :] + off_y2[:, :, None]
    judged = likeness[row[:, inner, None] + column[:, None, inner]] - SEARCH_LOSS * distance2
    judged[distance2 > 1.0] = -np.inf
    side = 2 * reach + 1
    top = judged.reshape(len(cell), side * side).argmax(axis=1)
    n, (iy, ix) = np.arange(len(cell)), np.divmod(top, side)

    def level(dx: int, dy: int) -> Points:
        at = row[n, iy + dy + 1] + column[n, ix + dx + 1]
        return np.asarray(likeness[at], np.float64)

    middle = level(0, 0)
    fine_x = _vertex(level(-1, 0), middle, level(1, 0))
    fine_y = _vertex(level(0, -1), middle, level(0, 1))
    peak_xy = np.column_stack([x[n, ix + 1] + fine_x, y[n, iy + 1] + fine_y])
    distinct = view.distinct.ravel()[row[n, iy + 1] + column[n, ix + 1]]
    return peak_xy, distinct - SEARCH_LOSS * distance2[n, iy, ix]


def _vertex(low: Points, mid: Points, high: Points) -> Points:
    bend = low - 2.0 * mid + high
    shift = 0.5 * (low - high) / np.where(bend < -1e-6, bend, -1.0)
    return np.asarray(np.where(bend < -1e-6, np.clip(shift, -0.5, 0.5), 0.0))
