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

from larvasight.vision.lattice_frame import AXIAL_TO_PLANE, Canvas, Points
from larvasight.vision.lattice_rims import Maps

# Likeness from which a place beside found cells is taken as a cell, and the likeness asked for
# beyond a gap, where the prediction is loose and a chance fit would start a false island.
TAKE_LIKENESS = 0.75
TAKE_BEYOND_GAP_LIKENESS = 1.1

# Places in a row that may be passed over: a bee covers two or three cells.
GAP_MAX_CELLS = 4

# How far from the prediction a cell may be, in pitches, and how much likeness a cell at
# that distance loses. A corner of the walls is 0.58 off; half of that would slip the lattice.
SEARCH_PITCH = 0.26
SEARCH_LOSS = 0.5

# Spread of the weights with which found cells predict a place, in pitches, the reach over which
# they are gathered, and the strength with which the local steps are held to the frame's.
PREDICT_SIGMA_PITCH = 1.3
PREDICT_REACH_CELLS = 3
PREDICT_HOLD = 0.6

UNSEEN, FOUND, PASSED = 0, 1, 2


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
    likeness : ndarray of shape (R, Q)
        Cell likeness where it is.
    gap : ndarray of shape (R, Q)
        Places passed over since the last found cell.
    """

    q_low: int
    r_low: int
    state: NDArray[np.uint8]
    off_xy: Points
    smooth_xy: Points
    likeness: Points
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
        likeness=np.zeros((n_r, n_q)),
        gap=np.zeros((n_r, n_q), np.int64),
    )


def grow(canvas: Canvas, likeness: Maps, board: Board) -> None:
    """Follow the lattice over the canvas from the cells already found on the board.

    Parameters
    ----------
    canvas : Canvas
        The picture in the frame.
    likeness : ndarray of shape (h, w), float32
        Cell likeness on the canvas.
    board : Board
        Changed in place; with no cell found it starts from lattice position (0, 0).
    """
    if not (board.state == FOUND).any():
        start = np.zeros(board.state.shape, bool)
        start[-board.r_low, -board.q_low] = True
        _look(canvas, likeness, board, start, board.smooth_xy, TAKE_LIKENESS)
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
        predicted = predict(board)
        board.gap[todo] = least[todo] + 1
        beyond = todo & (least > 0)
        _look(canvas, likeness, board, todo & ~beyond, predicted, TAKE_LIKENESS)
        _look(canvas, likeness, board, beyond, predicted, TAKE_BEYOND_GAP_LIKENESS)


def remeasure(canvas: Canvas, likeness: Maps, board: Board) -> None:
    """Measure all cells anew from the prediction by their neighbours, and their residuals."""
    for _ in range(2):
        predicted = predict(board)
        mask = board.state != UNSEEN
        found = board.state == FOUND
        _look(canvas, likeness, board, mask, predicted, TAKE_LIKENESS)
        lost = found & (board.state != FOUND)
        board.gap[lost] = 1
    board.smooth_xy = predict(board)


def predict(board: Board) -> Points:
    """Return for every place the offset that the found cells around it agree on.

    A weighted plane through the offsets of found cells within three steps, itself left out.
    """
    weight = np.where(board.state == FOUND, np.clip(board.likeness, 0.2, 2.0), 0.0)
    reach = PREDICT_REACH_CELLS
    r, q = np.mgrid[-reach : reach + 1, -reach : reach + 1].astype(np.float64)
    plane = np.stack([q, r], axis=-1) @ AXIAL_TO_PLANE
    distance2 = (plane**2).sum(axis=-1)
    kernel = np.exp(-0.5 * distance2 / PREDICT_SIGMA_PITCH**2) * (distance2 <= reach**2 + 0.1)
    kernel[reach, reach] = 0.0
    dx, dy = plane[..., 0], plane[..., 1]

    def gather(values: Points, factor: Points) -> Points:
        return np.asarray(cv2.filter2D(values, cv2.CV_64F, kernel * factor, borderType=cv2.BORDER_CONSTANT))

    one = np.ones_like(dx)
    s, sx, sy = gather(weight, one), gather(weight, dx), gather(weight, dy)
    sxx, sxy, syy = gather(weight, dx * dx), gather(weight, dx * dy), gather(weight, dy * dy)
    normal = np.empty((*weight.shape, 3, 3))
    normal[..., 0, :] = np.stack([s + 1e-6, sx, sy], axis=-1)
    normal[..., 1, :] = np.stack([sx, sxx + PREDICT_HOLD, sxy], axis=-1)
    normal[..., 2, :] = np.stack([sy, sxy, syy + PREDICT_HOLD], axis=-1)
    right = np.empty((*weight.shape, 3, 2))
    for axis in range(2):
        values = weight * board.off_xy[..., axis]
        right[..., axis] = np.stack([gather(values, one), gather(values, dx), gather(values, dy)], axis=-1)
    return np.asarray(np.linalg.solve(normal, right)[..., 0, :])


def _look(
    canvas: Canvas,
    likeness: Maps,
    board: Board,
    mask: NDArray[np.bool_],
    predicted: Points,
    take: float,
) -> None:
    if not mask.any():
        return
    at = canvas.to_canvas(board.axial(mask).astype(float)) + predicted[mask]
    peak_xy, value, seen = measure_peaks(likeness, canvas.inside, at, SEARCH_PITCH * canvas.pitch)
    taken = seen & (value >= take)
    off = np.where(taken[:, None], peak_xy - at, 0.0) + predicted[mask]
    board.off_xy[mask] = off
    board.likeness[mask] = np.where(seen, value, -1.0)
    board.state[mask] = np.where(taken, FOUND, PASSED)


def measure_peaks(
    likeness: Maps, inside: NDArray[np.bool_], at_xy: Points, radius_px: float
) -> tuple[Points, Points, NDArray[np.bool_]]:
    """Return the highest likeness near each of several places, to a fraction of a pixel.

    Parameters
    ----------
    likeness : ndarray of shape (h, w), float32
        Cell likeness.
    inside : ndarray of shape (h, w), bool
        Where there is picture.
    at_xy : ndarray of shape (N, 2)
        Places to look at.
    radius_px : float
        How far to look.

    Returns
    -------
    peak_xy : ndarray of shape (N, 2)
        Where the likeness is highest.
    value : ndarray of shape (N,)
        The likeness there.
    seen : ndarray of shape (N,), bool
        False for places outside the picture.
    """
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
    return peak, judged[n, iy, ix], valid


def _vertex(low: Points, mid: Points, high: Points) -> Points:
    bend = low - 2.0 * mid + high
    shift = 0.5 * (low - high) / np.where(bend < -1e-6, bend, -1.0)
    return np.asarray(np.where(bend < -1e-6, np.clip(shift, -0.5, 0.5), 0.0))
