"""The place and lattice from which a comb is followed outward.

Guesses are checked against the rims themselves: a cell with its six neighbours must
be there. Where cells are large in the view, all pitches and directions are tried.
"""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import NEIGHBOUR_STEPS_QR, fold_row_angle_deg, lattice_vectors
from larvasight.vision.lattice_frame import (
    AXIAL_TO_PLANE,
    Canvas,
    Picture,
    Points,
    affine_matrix,
    draw_canvas,
    mean_pitch_px,
)
from larvasight.vision.lattice_frequency import (
    SAME_ANGLE_DEG,
    SAME_PITCH_RATIO,
    Guess,
    row_angle_of_deg,
)
from larvasight.vision.lattice_rims import Maps, cell_likeness, distinctness, rim_maps, shifted

# Pitch at which all pitches and directions are tried, px: rims are just resolved.
TRIAL_PITCH_PX = 12.0
# Steps of the trial: half a step off still leaves rims on rims.
TRIAL_PITCH_RATIO = 1.13
TRIAL_ANGLE_STEP_DEG = 7.5
# Trials are made for pitches above this share of the picture's longer side; below it a window of
# the spectrum holds cells enough.
TRIAL_PITCH_MIN_SHARE = 1.0 / 12.0
# Two cells side by side must fit into the shorter side.
TRIAL_PITCH_MAX_SHARE = 0.75

# Pitch at which guesses are checked, px, and half the side of the place looked at, in pitches.
CHECK_PITCH_PX = 16.0
CHECK_REACH_PITCH = 5.0
# Further looks after the first, each with the lattice fitted to the cell and its neighbours.
CHECK_ROUNDS = 2

# How far a neighbour may be from where the lattice wants it, in pitches: below half the way
# from a cell's middle to a corner (0.29), so that corners are never taken for cells.
NEIGHBOUR_SLACK_PITCH = 0.12

# Seeds of one lattice this close together, in pitches, are the same.
SAME_REACH_PITCH = 6.0

# A few cells may look alike by chance: the mean over n cells is lowered by this over sqrt(n),
# about the spread of likeness in pictures without comb.
CHANCE_SPREAD = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Seed:
    """A cell with neighbours that fit a lattice.

    Attributes
    ----------
    matrix : ndarray of shape (3, 3)
        Map from the lattice plane (unit: one pitch; the cell at its origin) to the picture, px.
    score : float
        Mean likeness of the cell and its neighbours, lowered when they are few.
    reach_pitch : float
        How far about it to look for a better one, pitches.
    """

    matrix: Points
    score: float
    reach_pitch: float

    @property
    def basis_px(self) -> Points:
        """Axial steps (2, 2), one a row, px."""
        return AXIAL_TO_PLANE @ self.matrix[:2, :2].T

    def repeats(self, other: "Seed") -> bool:
        """Tell whether both are the same lattice, seen at places close to each other."""
        pitch_px = mean_pitch_px(self.basis_px)
        turn_deg = row_angle_of_deg(self.basis_px) - row_angle_of_deg(other.basis_px)
        near = (
            float(np.hypot(*(self.matrix[:2, 2] - other.matrix[:2, 2])))
            < SAME_REACH_PITCH * pitch_px
        )
        alike = abs(math.log(pitch_px / mean_pitch_px(other.basis_px))) < math.log(SAME_PITCH_RATIO)
        return near and alike and abs(fold_row_angle_deg(turn_deg)) < SAME_ANGLE_DEG


def trial_guesses(
    picture: Picture, pitch_range_px: tuple[float, float], limit: int = 4
) -> list[Guess]:
    """Return the lattices of large cells that fit best, all pitches and directions tried.

    Parameters
    ----------
    picture : Picture
        The picture.
    pitch_range_px : tuple of float
        Smallest and largest pitch wanted, px.
    limit : int
        At most so many guesses.
    """
    low = max(pitch_range_px[0], TRIAL_PITCH_MIN_SHARE * max(picture.gray.shape))
    high = min(pitch_range_px[1], TRIAL_PITCH_MAX_SHARE * min(picture.gray.shape))
    found: list[Guess] = []
    pitch_px = low
    while pitch_px <= high:
        found += _try_pitch(picture, pitch_px)
        pitch_px *= TRIAL_PITCH_RATIO
    found.sort(key=lambda g: -g.weight)
    return found[:limit]


def _try_pitch(picture: Picture, pitch_px: float) -> list[Guess]:
    scale = TRIAL_PITCH_PX / pitch_px
    width = max(2, round(picture.width_px * scale))
    height = max(2, round(picture.height_px * scale))
    source = picture.reduced(min(1.0, 2.0 * scale))[0]
    gray = cv2.resize(source, (width, height), interpolation=cv2.INTER_AREA).astype(np.float32)
    inside = np.ones(gray.shape, bool)
    guesses = []
    for step in range(round(60.0 / TRIAL_ANGLE_STEP_DEG)):
        angle_deg = step * TRIAL_ANGLE_STEP_DEG
        likeness = cell_likeness(
            rim_maps(gray, TRIAL_PITCH_PX, angle_deg), inside, TRIAL_PITCH_PX, angle_deg
        )
        distinct = distinctness(likeness, TRIAL_PITCH_PX, angle_deg)
        grouped = group_likeness(distinct, inside, lattice_vectors(TRIAL_PITCH_PX, angle_deg))
        top = int(grouped.argmax())
        y, x = divmod(top, width)
        centre = (np.array([x, y], float) + 0.5) * [
            picture.width_px / width,
            picture.height_px / height,
        ] - 0.5
        guesses.append(
            Guess(
                centre_xy_px=centre,
                basis_px=lattice_vectors(pitch_px, angle_deg),
                reach_px=1.5 * pitch_px,
                weight=float(grouped.flat[top]),
            )
        )
    guesses.sort(key=lambda g: -g.weight)
    return guesses[:2]


def group_likeness(likeness: Maps, inside: NDArray[np.bool_], basis: Points) -> Maps:
    """Return the mean likeness of a cell and its neighbours in view, lowered when they are few.

    Parameters
    ----------
    likeness : ndarray of shape (H, W), float32
        Cell likeness.
    inside : ndarray of shape (H, W), bool
        Where there is picture.
    basis : ndarray of shape (2, 2)
        Axial steps, px.
    """
    pitch = float(np.hypot(*basis[0]))
    slack = 2 * max(1, round(NEIGHBOUR_SLACK_PITCH * pitch)) + 1
    near = cv2.dilate(likeness, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (slack, slack)))
    seen = inside.astype(np.float32)
    near = np.asarray(near, np.float32) * seen
    total, count = likeness * seen, seen.copy()
    for step in NEIGHBOUR_STEPS_QR:
        # The slack covers the fraction of a pixel.
        dx_px, dy_px = (float(round(d)) for d in np.array(step) @ basis)
        total += shifted(near, dx_px, dy_px)
        count += shifted(seen, dx_px, dy_px)
    count = np.maximum(count, 1.0)
    grouped = total / count - CHANCE_SPREAD / np.sqrt(count)
    grouped[~inside] = -1.0
    return grouped.astype(np.float32)


def first_look(picture: Picture, guess: Guess) -> Seed:
    """Return the best cell with neighbours near a guess, as its lattice shows it at first.

    Parameters
    ----------
    picture : Picture
        The picture.
    guess : Guess
        Place and lattice to look at.
    """
    reach = min(CHECK_REACH_PITCH, max(guess.reach_px / guess.pitch_px, 1.5) + 1.0)
    matrix = affine_matrix(guess.centre_xy_px, guess.basis_px)
    return _look(picture, Seed(matrix=matrix, score=-1.0, reach_pitch=reach))


def check_seed(picture: Picture, seed: Seed) -> Seed:
    """Return the best cell with neighbours near a seed, the lattice fitted to them.

    Parameters
    ----------
    picture : Picture
        The picture.
    seed : Seed
        What the first look at a guess showed.
    """
    for _ in range(CHECK_ROUNDS):
        seed = _look(picture, seed)
    return seed


def _look(picture: Picture, seed: Seed) -> Seed:
    """Return the best cell with neighbours near a seed and their lattice."""
    regular = CHECK_PITCH_PX * AXIAL_TO_PLANE
    part = (np.full(2, -seed.reach_pitch), np.full(2, seed.reach_pitch))
    canvas = draw_canvas(picture, seed.matrix, CHECK_PITCH_PX, part)
    likeness = cell_likeness(rim_maps(canvas.gray, CHECK_PITCH_PX), canvas.inside, CHECK_PITCH_PX)
    grouped = group_likeness(distinctness(likeness, CHECK_PITCH_PX), canvas.inside, regular)
    top = int(grouped.argmax())
    y, x = divmod(top, grouped.shape[1])
    matrix = _refit(canvas, likeness, np.array([x, y], float), regular)
    return replace(seed, matrix=matrix, score=float(grouped.flat[top]))


def _refit(canvas: Canvas, likeness: Maps, centre: Points, regular: Points) -> Points:
    steps = np.array([(0, 0), *NEIGHBOUR_STEPS_QR], float)
    wanted = centre + steps @ regular
    slack = max(1, round(2.0 * NEIGHBOUR_SLACK_PITCH * CHECK_PITCH_PX))
    height, width = likeness.shape
    found, weights = [], []
    for x, y in np.rint(wanted).astype(int):
        if not (0 <= x < width and 0 <= y < height and canvas.inside[y, x]):
            found.append(np.array([x, y], float))
            weights.append(0.0)
            continue
        x0, y0 = max(x - slack, 0), max(y - slack, 0)
        part = likeness[y0 : y + slack + 1, x0 : x + slack + 1]
        top = int(part.argmax())
        found.append(np.array([x0 + top % part.shape[1], y0 + top // part.shape[1]], float))
        weights.append(max(float(part.flat[top]), 0.0))
    at, weight = np.array(found), np.array(weights)
    # Least squares for centre and basis, held to the basis so far where neighbours are missing.
    design = np.column_stack([np.ones(len(steps)), steps])
    off = at - wanted
    normal = design.T @ (weight[:, None] * design) + np.diag([1e-3, 0.5, 0.5])
    change = np.linalg.solve(normal, design.T @ (weight[:, None] * off))
    origin, basis = centre + change[0], regular + change[1:]
    ends = canvas.to_picture(np.array([origin, origin + basis[0], origin + basis[1]]))
    return affine_matrix(ends[0], ends[1:] - ends[0])
