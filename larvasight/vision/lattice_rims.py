"""How much a place looks like the middle of a cell: rims around it, whatever lies inside.

The rims of a cell are ridges of light, brighter than what borders them on either
side. Each of the three directions of rim gets its own map, evened out for local
contrast and clipped, so that neither a white larva nor a glittering floor facet
outweighs six thin rims.
"""

import math
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import hexagon_corners

# Half widths of the rims looked for, in pitches. Torn rims of new comb are about a tenth of a
# pitch across, granular rims of old comb up to a quarter.
RIM_SIGMAS_PITCH = (0.055, 0.11)

# The same where cells are known and only their places are to be measured: the band beside a torn
# rim (the lit face of the wall) would draw a broad rim towards it.
FINE_SIGMAS_PITCH = (0.03, 0.06)

# Half length of a rim's straight part over which it is gathered, in pitches. A side of the
# hexagon is 0.58 pitch long, its ends are rounded off in old comb.
RIM_GATHER_PITCH = 0.11

# Reach over which contrast is evened out, in pitches: about one cell, so that each cell is
# judged in its own light.
CONTRAST_REACH_PITCH = 0.6

# Response to a rim, in grey levels, below which it is sensor noise and JPEG grain.
CONTRAST_FLOOR_GREY = 1.0

# Evened-out response is clipped here: above, a rim is no more sure; below, a dark groove
# (a shadow beside a rim) says no more against it.
RESPONSE_HIGH = 2.0
RESPONSE_LOW = -1.5

# A place is compared with the best look within this distance of each corner, in pitches: as far
# as a cell itself is searched for, so that chance has the same room in both.
CORNER_SLACK_PITCH = 0.19

# Sides of which only some are in the picture may look like rims by chance: this is taken off the
# mean over n of them, times 1/sqrt(n) less the same for all six.
SIDE_CHANCE = 0.8

# Shifts this close to whole pixels are rounded; a fiftieth of a pitch of 12 pixels.
WHOLE_SHIFT_PX = 0.24

Maps = NDArray[np.float32]


def rim_maps(
    gray: NDArray[np.float32],
    pitch_px: float,
    row_angle_deg: float = 0.0,
    sigmas_pitch: tuple[float, ...] = RIM_SIGMAS_PITCH,
) -> Maps:
    """Return how strongly a bright rim runs through each pixel, for three directions of rim.

    Parameters
    ----------
    gray : ndarray of shape (H, W), float32
        Grey levels 0-255.
    pitch_px : float
        Centre to centre of neighbouring cells, px.
    row_angle_deg : float
        Direction of the rows, degrees, x right and y down.
    sigmas_pitch : tuple of float
        Half widths of the rims looked for, pitches.

    Returns
    -------
    ndarray of shape (3, H, W), float32
        Response in [-1.5, 2] to rims standing square to the row turned by 0, 60, 120 degrees.
    """
    best = np.full((3, *gray.shape), RESPONSE_LOW, np.float32)
    for sigma_pitch in sigmas_pitch:
        kernels = [_rim_kernel(pitch_px, sigma_pitch, row_angle_deg + 60.0 * k) for k in range(3)]
        raw = [cv2.filter2D(gray, cv2.CV_32F, k, borderType=cv2.BORDER_REFLECT) for k in kernels]
        power = np.zeros(gray.shape, np.float32)
        for response in raw:
            power += response * response
        power = _spread(power / np.float32(3.0), CONTRAST_REACH_PITCH * pitch_px)
        even = 1.0 / np.sqrt(power + np.float32(CONTRAST_FLOOR_GREY**2))
        for k, response in enumerate(raw):
            np.maximum(best[k], response * even, out=best[k])
    return np.minimum(best, np.float32(RESPONSE_HIGH), out=best)


def cell_likeness(
    rims: Maps, inside: NDArray[np.bool_], pitch_px: float, row_angle_deg: float = 0.0
) -> Maps:
    """Return the mean rim response over the sides of a cell centred on each pixel.

    Sides outside the picture are left out; the fewer are seen, the more is taken off for chance.

    Parameters
    ----------
    rims : ndarray of shape (3, H, W), float32
        What `rim_maps` returned for the same pitch and direction.
    inside : ndarray of shape (H, W), bool
        Where there is picture.
    pitch_px : float
        Centre to centre of neighbouring cells, px.
    row_angle_deg : float
        Direction of the rows, degrees.

    Returns
    -------
    ndarray of shape (H, W), float32
        Likeness in [-1.5, 2]; open cells reach 1-2, elsewhere it is about 0.
    """
    seen = inside.astype(np.float32)
    total, count = np.zeros_like(seen), np.zeros_like(seen)
    for k in range(3):
        angle_rad = math.radians(row_angle_deg + 60.0 * k)
        dx_px, dy_px = 0.5 * pitch_px * math.cos(angle_rad), 0.5 * pitch_px * math.sin(angle_rad)
        rims_seen = np.asarray(rims[k] * seen, np.float32)
        for sign in (1.0, -1.0):
            total += shifted(rims_seen, sign * dx_px, sign * dy_px)
            count += shifted(seen, sign * dx_px, sign * dy_px)
    count = np.clip(count, 1.0, 6.0)
    return np.asarray(
        total / count - SIDE_CHANCE * (1.0 / np.sqrt(count) - 1.0 / math.sqrt(6.0)), np.float32
    )


def side_strengths(rims: Maps, centres_xy: NDArray[np.float64], pitch_px: float) -> Maps:
    """Return the mean rim response of cells' sides for each of the three directions of rim.

    Parameters
    ----------
    rims : ndarray of shape (3, H, W), float32
        What `rim_maps` returned for rows along x.
    centres_xy : ndarray of shape (N, 2)
        Middles of cells, px.
    pitch_px : float
        Centre to centre of neighbouring cells, px.

    Returns
    -------
    ndarray of shape (3,), float32
        Mean response, in [-1.5, 2]; sides beyond the border count as those at the border.
    """
    height, width = rims.shape[1:]
    means = []
    for k in range(3):
        angle_rad = math.radians(60.0 * k)
        half = 0.5 * pitch_px * np.array([math.cos(angle_rad), math.sin(angle_rad)])
        x, y = np.rint(np.concatenate([centres_xy + half, centres_xy - half])).astype(int).T
        means.append(rims[k, np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)].mean())
    return np.array(means, np.float32)


def distinctness(likeness: Maps, pitch_px: float, row_angle_deg: float = 0.0) -> Maps:
    """Return the likeness less half the best looks near the six corners about each place.

    In comb the corners between cells look least like a middle. In capped comb, bees and
    other busy texture the best look near each corner is as good as the middle's own. Half,
    since the ridges of the floor give some likeness to corners too.

    Parameters
    ----------
    likeness : ndarray of shape (H, W), float32
        What `cell_likeness` returned.
    pitch_px : float
        Centre to centre of neighbouring cells, px.
    row_angle_deg : float
        Direction of the rows, degrees.

    Returns
    -------
    ndarray of shape (H, W), float32
        Open cells reach 1-1.8; busy texture lies at 0.5 +- 0.3, best looks searched for.
    """
    size = 2 * round(CORNER_SLACK_PITCH * pitch_px) + 1
    ellipse = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    best = np.asarray(cv2.dilate(likeness, ellipse), np.float32)
    corners = np.zeros_like(likeness)
    for dx_px, dy_px in hexagon_corners(pitch_px, row_angle_deg):
        # Within the slack a fraction of a pixel does not count.
        corners += shifted(best, float(round(dx_px)), float(round(dy_px)))
    return likeness - corners / np.float32(12.0)


def shifted(values: Maps, dx_px: float, dy_px: float) -> Maps:
    """Return ``values`` sampled at ``(x + dx_px, y + dy_px)``, 0 beyond the borders.

    A shift that is nearly a whole number of pixels is taken as one, which is much faster.
    """
    height, width = values.shape
    dx, dy = round(dx_px), round(dy_px)
    if max(abs(dx_px - dx), abs(dy_px - dy)) <= WHOLE_SHIFT_PX:
        left, top = max(-dx, 0), max(-dy, 0)
        wide = cv2.copyMakeBorder(
            values, top, max(dy, 0), left, max(dx, 0), cv2.BORDER_CONSTANT, value=0.0
        )
        return np.asarray(
            wide[top + dy : top + dy + height, left + dx : left + dx + width], np.float32
        )
    move = np.array([[1.0, 0.0, dx_px], [0.0, 1.0, dy_px]], np.float32)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    moved = cv2.warpAffine(
        values, move, (width, height), flags=flags, borderMode=cv2.BORDER_CONSTANT
    )
    return np.asarray(moved, np.float32)


def _spread(values: Maps, sigma_px: float) -> Maps:
    """Average over a neighbourhood: three boxes in a row come close to a Gaussian."""
    size = 2 * max(1, round(sigma_px)) + 1
    for _ in range(3):
        values = np.asarray(
            cv2.blur(values, (size, size), borderType=cv2.BORDER_REFLECT), np.float32
        )
    return values


@lru_cache(maxsize=256)
def _rim_kernel(pitch_px: float, sigma_pitch: float, across_deg: float) -> NDArray[np.float32]:
    sigma_px, gather_px = sigma_pitch * pitch_px, RIM_GATHER_PITCH * pitch_px
    reach = math.ceil(2.7 * max(sigma_px, gather_px))
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1].astype(np.float64)
    c, s = math.cos(math.radians(across_deg)), math.sin(math.radians(across_deg))
    across, along = (x * c + y * s) / sigma_px, (y * c - x * s) / gather_px
    kernel = (1.0 - across**2) * np.exp(-0.5 * (across**2 + along**2))
    kernel -= kernel.mean()
    return np.asarray(kernel * (2.0 / np.abs(kernel).sum()), np.float32)
