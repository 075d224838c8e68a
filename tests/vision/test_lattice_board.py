"""What found cells agree on, against the same sums one place and one neighbour at a time."""

import numpy as np
import pytest

from larvasight.geometry import NEIGHBOUR_STEPS_QR
from larvasight.vision.lattice_board import (
    FOUND,
    PREDICT_HOLD,
    PREDICT_REACH_CELLS,
    PREDICT_SIGMA_PITCH,
    Board,
    neighbour_errors,
    predict,
)
from larvasight.vision.lattice_frame import AXIAL_TO_PLANE

PITCH_PX = 16.0
N_R, N_Q = 15, 21
MARGIN = PREDICT_REACH_CELLS + 1
LSTSQ = "NumPy lstsq, one place at a time"


def board_with(rng):
    """Return a board whose cells, most of them found, lie off by chance, more along r than q."""
    state = np.zeros((N_R, N_Q), np.uint8)
    inner = (slice(MARGIN, -MARGIN), slice(MARGIN, -MARGIN))
    state[inner] = np.where(rng.random(state[inner].shape) < 0.75, FOUND, 0)
    r, q = np.mgrid[0:N_R, 0:N_Q]
    drift = np.stack([0.3 * r - 0.1 * q, 0.05 * r + 0.2 * q], axis=-1)
    return Board(
        q_low=-3,
        r_low=2,
        state=state,
        off_xy=drift + rng.normal(0.0, 0.4, (N_R, N_Q, 2)),
        smooth_xy=np.zeros((N_R, N_Q, 2)),
        bend_xy=rng.normal(0.0, 0.3, (N_R, N_Q, 2)),
        slope=rng.normal(0.0, 0.2, (N_R, N_Q, 2, 2)),
        distinct=rng.uniform(0.3, 1.8, (N_R, N_Q)),
        strain=np.zeros((N_R, N_Q)),
        gap=np.zeros((N_R, N_Q), np.int64),
    )


def inner_places():
    wanted = np.zeros((N_R, N_Q), bool)
    wanted[MARGIN:-MARGIN, MARGIN:-MARGIN] = True
    return wanted


def plane_at(board, row, col):
    """Return the level and slopes of the weighted plane through the cells around a place."""
    rows, right, weights = [], [], []
    for other_row, other_col in np.argwhere(board.state == FOUND):
        x, y = np.array([other_col - col, other_row - row]) @ AXIAL_TO_PLANE
        away = np.hypot(x, y)
        if 0.0 < away <= np.sqrt(PREDICT_REACH_CELLS**2 + 0.1):
            rows.append([1.0, x, y])
            right.append((board.off_xy - board.bend_xy)[other_row, other_col])
            weights.append(
                board.distinct[other_row, other_col]
                * np.exp(-0.5 * (away / PREDICT_SIGMA_PITCH) ** 2)
            )
    root = np.sqrt(weights)[:, None]
    hold = np.sqrt(PREDICT_HOLD) * np.eye(3)[1:]
    design = np.vstack([np.array(rows) * root, hold])
    found = np.linalg.lstsq(design, np.vstack([np.array(right) * root, np.zeros((2, 2))]))[0]
    return found[0], found[1:]


@pytest.mark.reference(LSTSQ)
@pytest.mark.parametrize("seed", range(3))
def test_cells_around_a_place_predict_it_by_a_weighted_plane(seed):
    board = board_with(np.random.default_rng([7, seed]))
    wanted = inner_places()
    found = predict(board, wanted, PITCH_PX)
    for (row, col), off in zip(np.argwhere(wanted), found, strict=True):
        level, slope = plane_at(board, row, col)
        np.testing.assert_allclose(off, level + board.bend_xy[row, col], rtol=0, atol=1e-4)
        np.testing.assert_allclose(board.slope[row, col], slope, rtol=0, atol=1e-4)


def test_a_slope_too_steep_for_comb_is_held_back():
    board = board_with(np.random.default_rng(1))
    r, _ = np.mgrid[0:N_R, 0:N_Q]
    board.off_xy[...] = np.stack([PITCH_PX * r, 0.0 * r], axis=-1)
    board.bend_xy[...] = 0.0
    predict(board, inner_places(), PITCH_PX)
    steep = np.sqrt((board.slope[inner_places()] ** 2).sum(axis=(1, 2)) / 2.0)
    assert steep.max() == pytest.approx(0.22 * PITCH_PX, rel=0, abs=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_errors_are_the_mean_miss_of_steps_to_found_neighbours(seed):
    board = board_with(np.random.default_rng([9, seed]))
    wanted = inner_places()
    apart = board.off_xy - board.bend_xy
    for (row, col), error in zip(np.argwhere(wanted), neighbour_errors(board, wanted), strict=True):
        misses = []
        for dq, dr in NEIGHBOUR_STEPS_QR:
            if board.state[row + dr, col + dq] == FOUND:
                step = np.array([dq, dr]) @ AXIAL_TO_PLANE @ board.slope[row, col]
                misses.append(np.hypot(*(apart[row + dr, col + dq] - apart[row, col] - step)))
        assert error == pytest.approx(np.mean(misses) if misses else 0.0, rel=0, abs=1e-12)
