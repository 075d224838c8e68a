"""The cells of a lattice by their positions in it, and what they agree on.

Cells are kept on a dense board over lattice positions ``(q, r)``, each with its
offset from where the frame's regular lattice has it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import NEIGHBOUR_STEPS_QR
from larvasight.vision.lattice_frame import AXIAL_TO_PLANE, Canvas, Points

# Spread of the weights with which found cells predict a place, in pitches, the reach over which
# they are gathered, and the strength with which the local steps are held to the frame's.
PREDICT_SIGMA_PITCH = 1.3
PREDICT_REACH_CELLS = 3
PREDICT_HOLD = 0.6

# The lattice may stretch or turn against its bent frame by so much, a ratio, before the frame has
# to be fitted anew: more would let the search slip into another pattern.
STRAIN_MAX = 0.22

# A bend is fitted where there are this many cells, its terms held by this many cells' worth.
BEND_CELLS_MIN = 40
BEND_HOLD = 1.0

_BESIDE_QR = np.array(NEIGHBOUR_STEPS_QR)

UNSEEN, FOUND, PASSED = 0, 1, 2

# Distinctness noted for places outside the picture; nothing inside is as low.
OUTSIDE = -9.0


def _around() -> tuple[NDArray[np.int64], Points, Points]:
    """Places within reach: steps (K, 2) in r and q, weights (K,), planes (K, 3) of 1, x, y."""
    reach = PREDICT_REACH_CELLS
    r, q = (n.ravel() for n in np.mgrid[-reach : reach + 1, -reach : reach + 1])
    plane = np.column_stack([q, r]) @ AXIAL_TO_PLANE
    distance2 = (plane**2).sum(axis=1)
    keep = (distance2 > 0.0) & (distance2 <= reach**2 + 0.1)
    design = np.column_stack([np.ones(int(keep.sum())), plane[keep]])
    return (
        np.column_stack([r, q])[keep],
        np.exp(-0.5 * distance2[keep] / PREDICT_SIGMA_PITCH**2),
        design,
    )


AROUND_RQ, AROUND_WEIGHT, AROUND_DESIGN = _around()
AROUND_MOMENTS = (AROUND_DESIGN[:, :, None] * AROUND_DESIGN[:, None, :]).reshape(
    len(AROUND_DESIGN), 9
)


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
    reach = PREDICT_REACH_CELLS
    # With a border of nothing no place around is outside.
    weight, off_x, off_y = np.zeros((3, *(n + 2 * reach for n in mask.shape)))
    inner = (slice(reach, -reach), slice(reach, -reach))
    weight[inner] = np.where(board.state == FOUND, np.clip(board.distinct, 0.2, 2.0), 0.0)
    off_x[inner], off_y[inner] = np.moveaxis(board.off_xy - board.bend_xy, -1, 0)
    rows, cols = np.nonzero(mask)
    at = ((rows + reach) * weight.shape[1] + cols + reach)[:, None] + (
        AROUND_RQ @ [weight.shape[1], 1]
    )
    weight = weight.take(at) * AROUND_WEIGHT
    moments = (weight @ AROUND_MOMENTS).reshape(-1, 3, 3)
    moments += np.diag([1e-6, PREDICT_HOLD, PREDICT_HOLD])
    right = np.stack([(weight * off.take(at)) @ AROUND_DESIGN for off in (off_x, off_y)], axis=2)
    slope = np.linalg.solve(moments, right)[:, 1:, :]
    steep = np.sqrt((slope**2).sum(axis=(1, 2)) / 2.0) / (STRAIN_MAX * pitch)
    slope /= np.maximum(steep, 1.0)[:, None, None]
    level = right[:, 0] - np.einsum("na,nab->nb", moments[:, 0, 1:], slope)
    board.slope[mask] = slope
    return np.asarray(level / moments[:, 0, :1] + board.bend_xy[mask])


def neighbour_errors(board: Board, mask: NDArray[np.bool_]) -> Points:
    """Return how far steps to found neighbours differ from those of the local lattice.

    Parameters
    ----------
    board : Board
        The cells.
    mask : ndarray of shape (R, Q), bool
        Cells wanted, none at the board's border.

    Returns
    -------
    ndarray of shape (N,)
        Mean over the neighbours, canvas pixels; 0 where there is no neighbour found.
    """
    rows, cols = np.nonzero(mask)
    at_rows, at_cols = rows[:, None] + _BESIDE_QR[:, 1], cols[:, None] + _BESIDE_QR[:, 0]
    apart = board.off_xy - board.bend_xy
    error = apart[at_rows, at_cols] - apart[rows, cols][:, None]
    error -= (_BESIDE_QR @ AXIAL_TO_PLANE) @ board.slope[rows, cols]
    found = board.state[at_rows, at_cols] == FOUND
    total = np.where(found, np.hypot(error[..., 0], error[..., 1]), 0.0).sum(axis=1)
    return np.asarray(total / np.maximum(found.sum(axis=1), 1.0))


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
