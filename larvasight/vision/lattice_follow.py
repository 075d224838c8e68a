"""Fitting the frame to the cells and the cells to the frame, in turns."""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.vision.lattice_board import FOUND, PASSED, UNSEEN, Board, board_for, fit_bend
from larvasight.vision.lattice_frame import (
    AXIAL_TO_PLANE,
    Canvas,
    Picture,
    Points,
    draw_canvas,
    project,
)
from larvasight.vision.lattice_grow import (
    View,
    fine_view_of,
    grow,
    grow_islands,
    remeasure,
    settle,
    view_of,
)
from larvasight.vision.lattice_judge import chance_distinct, confidence
from larvasight.vision.lattice_seed import Seed

# Pitch of the canvas on which the lattice is measured, canvas pixels, and of the smaller one on
# which it is first followed where the other would have more pixels than this.
CANVAS_PITCH = 16.0
FIRST_PITCH = 12.0
FIRST_MAX_PX = 400_000
# Pitch of the canvas on which found cells are measured once more, if it has no more pixels than
# this (some 2,500 cells).
FINE_PITCH = 24.0
FINE_MAX_PX = 1_500_000
# Few cells are measured several times, from a frame fitted anew in between: one cell drawn to the
# wrong rim moves its neighbours, too.
FEW_CELLS = 60
FEW_CELLS_ROUNDS = 3

# A canvas drawn anew reaches so many pitches beyond the cells found so far.
BEYOND_PITCH = 40.0

# Frames are fitted anew until the lattice's offsets from the frame fall below this, in pitches,
# or a new frame changes neither the number of cells nor the offsets by more than these ratios.
FRAME_GOOD_PITCH = 0.04
FRAME_ROUNDS = 3
SAME_COUNT = 1.03
SAME_OFF = 0.85
# With fewer cells the frame of the seed is kept.
FRAME_CELLS_MIN = 6

# A frame with perspective needs so many cells, and so much spread of them across their longest
# line, in pitches; fewer get a frame without.
PERSPECTIVE_CELLS_MIN = 12
PERSPECTIVE_SPREAD_PITCH = 0.8
LINE_SPREAD_PITCH = 0.25

# How far a cell's own rims are trusted against its neighbours: rims are torn and lit from one
# side, bees build evenly. The trust is halved at this distance from the neighbours' place, pitches.
OWN_PLACE_TRUST = 0.6
OWN_PLACE_PITCH = 0.08


@dataclass(frozen=True, slots=True, kw_only=True)
class Grown:
    """A lattice followed through a picture.

    Attributes
    ----------
    view : View
        The picture in the last frame, with its maps.
    board : Board
        The cells.
    """

    view: View
    board: Board

    @property
    def canvas(self) -> Canvas:
        """The picture in the last frame."""
        return self.view.canvas

    def places_px(self, mask: NDArray[np.bool_]) -> Points:
        """Return where cells are, drawn towards where their neighbours want them.

        Parameters
        ----------
        mask : ndarray of shape (R, Q), bool
            Cells wanted.

        Returns
        -------
        ndarray of shape (N, 2)
            Picture positions, px.
        """
        board = self.board
        apart = board.off_xy[mask] - board.smooth_xy[mask]
        distance = np.hypot(*apart.T) / self.canvas.pitch
        trust = OWN_PLACE_TRUST / (1.0 + (distance / OWN_PLACE_PITCH) ** 2)
        return self.offset_px(mask, board.smooth_xy[mask] + trust[:, None] * apart)

    def offset_px(self, mask: NDArray[np.bool_], off_xy: Points) -> Points:
        """Return picture positions, px, of places with given offsets from the frame."""
        return self.canvas.to_picture(
            self.canvas.to_canvas(self.board.axial(mask).astype(float)) + off_xy
        )

    def steps_px(self, mask: NDArray[np.bool_]) -> Points:
        """Return the local axial steps (N, 2, 2) of cells, px, from their neighbours' agreement."""
        board, canvas = self.board, self.canvas
        centre = canvas.to_canvas(board.axial(mask).astype(float)) + board.smooth_xy[mask]
        spans = []
        for step in AXIAL_TO_PLANE:
            along = 0.5 * (
                canvas.pitch * step + step @ (board.slope[mask] + self._bend_slope(mask))
            )
            spans.append(canvas.to_picture(centre + along) - canvas.to_picture(centre - along))
        return np.stack(spans, axis=1)

    def _bend_slope(self, mask: NDArray[np.bool_]) -> Points:
        """Change of the bend along x and y of the lattice plane (N, 2, 2)."""
        by_axial = np.stack(
            [np.gradient(self.board.bend_xy, axis=axis)[mask] for axis in (1, 0)], axis=1
        )
        return np.linalg.solve(AXIAL_TO_PLANE, by_axial)

    @property
    def weight(self) -> float:
        """How well the sure cells explain the picture; any number, for comparing lattices.

        Their distinctness beyond chance, since a few large hexagons fit on anything, times the
        cube root of the area covered, since a lattice of small hexagons fits on one of large ones.
        """
        sure = confidence(self.board) >= 0.5
        if not sure.any():
            return 0.0
        area_px2 = np.abs(np.linalg.det(self.steps_px(sure)))
        beyond = self.board.distinct[sure] - chance_distinct(int(sure.sum()))
        return float(np.cbrt(area_px2.sum()) * np.average(beyond, weights=area_px2))

    def holds(self, seed: Seed) -> bool:
        """Tell whether a sure cell lies where a seed was found."""
        places = self.places_px(confidence(self.board) >= 0.5)
        reach_px = 0.6 * float(np.hypot(*seed.basis_px[0]))
        return bool((np.hypot(*(places - seed.matrix[:2, 2]).T) < reach_px).any())


def first_follow(picture: Picture, seed: Seed) -> Grown:
    """Follow the lattice from a seed in the seed's own frame.

    Parameters
    ----------
    picture : Picture
        The picture.
    seed : Seed
        Where to start.
    """
    canvas = draw_canvas(picture, seed.matrix, FIRST_PITCH)
    if canvas.gray.size * (CANVAS_PITCH / FIRST_PITCH) ** 2 <= FIRST_MAX_PX:
        canvas = draw_canvas(picture, seed.matrix, CANVAS_PITCH)
    view = view_of(canvas)
    board = board_for(canvas)
    grow(view, board)
    remeasure(view, board)
    return Grown(view=view, board=board)


def refine(picture: Picture, grown: Grown) -> Grown:
    """Fit the frame to the cells and follow the lattice again until nothing changes.

    Parameters
    ----------
    picture : Picture
        The picture.
    grown : Grown
        What `first_follow` found.
    """
    view, board = grown.view, grown.board
    n_before, off_before = 0, math.inf
    for _ in range(FRAME_ROUNDS):
        sure = confidence(board, strain_counts=False) >= 0.5
        n_sure, off = int(sure.sum()), _mean_off_pitch(view.canvas, board, sure)
        done = off < FRAME_GOOD_PITCH or (
            n_sure < SAME_COUNT * n_before and off > SAME_OFF * off_before
        )
        if n_sure < FRAME_CELLS_MIN or (done and view.canvas.pitch == CANVAS_PITCH):
            break
        n_before, off_before = n_sure, off
        plane = board.axial(sure) @ AXIAL_TO_PLANE
        part = (plane.min(axis=0) - BEYOND_PITCH, plane.max(axis=0) + BEYOND_PITCH)
        matrix = _fitted_frame(view.canvas, board, sure)
        view = view_of(draw_canvas(picture, matrix, CANVAS_PITCH, part))
        board = _moved_board(board, sure, view.canvas)
        remeasure(view, board)
        board.state[board.state == PASSED] = UNSEEN
        fit_bend(board, board.state == FOUND)
        grow(view, board)
        grow_islands(view, board)
        remeasure(view, board)
    return Grown(view=view, board=board)


def measured_finely(picture: Picture, grown: Grown) -> Grown:
    """Measure the places of found cells on a finer canvas, where the picture has the pixels for it.

    Parameters
    ----------
    picture : Picture
        The picture.
    grown : Grown
        The lattice to measure.
    """
    scale = FINE_PITCH / grown.canvas.pitch
    if grown.canvas.gray.size * scale**2 > FINE_MAX_PX:
        return grown
    few = int((grown.board.state == FOUND).sum()) < FEW_CELLS
    for _ in range(FEW_CELLS_ROUNDS if few else 1):
        grown = _settled(picture, grown)
    return grown


def _settled(picture: Picture, grown: Grown) -> Grown:
    old, found = grown.board, grown.board.state == FOUND
    if not found.any():
        return grown
    matrix = grown.canvas.matrix
    if int(found.sum()) >= FRAME_CELLS_MIN:
        matrix = _fitted_frame(grown.canvas, old, found)
    axial = old.axial(found)
    plane = axial @ AXIAL_TO_PLANE
    canvas = draw_canvas(
        picture, matrix, FINE_PITCH, (plane.min(axis=0) - 1.0, plane.max(axis=0) + 1.0)
    )
    known = old.state != UNSEEN
    places = grown.offset_px(known, old.off_xy[known])
    to_plane = np.asarray(np.linalg.inv(matrix), np.float64)
    off = FINE_PITCH * (project(to_plane, places) - old.axial(known) @ AXIAL_TO_PLANE)
    board = replace(
        old,
        off_xy=np.zeros_like(old.off_xy),
        smooth_xy=np.zeros_like(old.off_xy),
        bend_xy=np.zeros_like(old.off_xy),
        slope=np.zeros_like(old.slope),
        strain=old.strain.copy(),
    )
    board.off_xy[known] = off
    view = fine_view_of(canvas)
    settle(view, board)
    return Grown(view=view, board=board)


def _mean_off_pitch(canvas: Canvas, board: Board, mask: NDArray[np.bool_]) -> float:
    off = board.off_xy[mask] / canvas.pitch
    return float(np.sqrt((off**2).sum(axis=1).mean())) if len(off) else 0.0


def _fitted_frame(canvas: Canvas, board: Board, sure: NDArray[np.bool_]) -> Points:
    axial = board.axial(sure).astype(float)
    plane = axial @ AXIAL_TO_PLANE
    places = canvas.to_picture(canvas.to_canvas(axial) + board.off_xy[sure])
    matrix = canvas.matrix
    for _ in range(3):
        fitted = _fitted_map(plane, places)
        if fitted is None:
            return matrix
        matrix = fitted
        off = np.hypot(*(project(matrix, plane) - places).T)
        keep = off <= max(3.0 * float(np.median(off)), 1e-6)
        if keep.all():
            break
        plane, places = plane[keep], places[keep]
    return matrix


def _fitted_map(plane: Points, places: Points) -> Points | None:
    """Map from the lattice plane to the picture; None for cells that stand in a line."""
    spread = plane - plane.mean(axis=0)
    across = float(np.linalg.svd(spread, compute_uv=False)[-1]) / math.sqrt(len(plane))
    if len(plane) < FRAME_CELLS_MIN or across < LINE_SPREAD_PITCH:
        return None
    if len(plane) >= PERSPECTIVE_CELLS_MIN and across >= PERSPECTIVE_SPREAD_PITCH:
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
    last_r, last_q = fresh.state.shape[0] - 1, fresh.state.shape[1] - 1
    ok = (rows > 0) & (rows < last_r) & (cols > 0) & (cols < last_q)
    fresh.state[rows[ok], cols[ok]] = FOUND
    fresh.distinct[rows[ok], cols[ok]] = 1.0
    return fresh
