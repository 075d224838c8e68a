"""How px of the rim plane become mm at the larva's depth, and how sure that is."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from larvasight.errors import RulerUnusableError, require_between, require_positive
from larvasight.geometry import (
    LARVA_DEPTH_MM,
    PITCH_DEFAULT_MM,
    PITCH_MAX_MM,
    PITCH_MIN_MM,
    depth_scale,
    lattice_vectors,
    offset_to_axial,
)
from larvasight.sheet import ScaleSource

# Assumed camera distance where neither photo nor person tells it, and its spread.
DISTANCE_ASSUMED_MM = 200.0
DISTANCE_ASSUMED_SD_MM = 80.0
# A cell size that nobody measured may be off by this share; a measured one by less: derived
# from 5.2-5.4 mm for European worker comb.
_PITCH_ASSUMED_SD_SHARE = 0.015
_PITCH_GIVEN_SD_SHARE = 0.005

# Cell sizes by lens and distance may differ by this ratio from the assumed one.
_LENS_RATIO_MOST = 1.15

# Two clicks, each a few px off, tell the size of a cell to 2 % from this many cells' length on.
_RULER_CELLS_LEAST = 4.0
# A ruler hides the cells under it; those beside it lie no further away than this, in pitches.
_BESIDE_PITCHES = 4.5
# The lattice beside a place is told by so many cells.
_CELLS_BESIDE = 12
_CELLS_LEAST = 4
_RULER_STEPS = 24
_CELL_SURE = 0.5
# Clicks may be a little off where cells are as small or large as worker cells get.
_PITCH_SLACK = 1.05


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleGuess:
    """How px become mm: cell size, camera distance (None assumes it) and where both are from."""

    pitch_mm: float = PITCH_DEFAULT_MM
    distance_mm: float | None = None
    source: ScaleSource = ScaleSource.COMB

    def __post_init__(self) -> None:
        """Refuse sizes no comb or camera has."""
        require_between("pitch_mm", self.pitch_mm, 4.0, 7.5)
        if self.distance_mm is not None:
            require_positive("distance_mm", self.distance_mm)

    def length_factor(self) -> float:
        """Return what a length in the rim plane is multiplied with at the larva's depth."""
        return depth_scale(self.distance_mm or DISTANCE_ASSUMED_MM)

    def length_sd_share(self) -> float:
        """Return the share by which scale alone may be off."""
        pitch = (
            _PITCH_ASSUMED_SD_SHARE if self.source is ScaleSource.COMB else _PITCH_GIVEN_SD_SHARE
        )
        if self.distance_mm is not None:
            return pitch
        d_mm = DISTANCE_ASSUMED_MM
        depth = LARVA_DEPTH_MM / (d_mm + LARVA_DEPTH_MM) * DISTANCE_ASSUMED_SD_MM / d_mm
        return math.hypot(pitch, depth)


def is_pitch_doubtful(guess: ScaleGuess, pitch_px: float, focal_px: float | None) -> bool:
    """Return whether the cell size taken for a comb cannot well be right.

    Nothing in the comb itself tells 4.9 mm from 5.4: eggs are as long as published lengths
    disagree, and seen from above they look shorter. What can be told: a size that no worker
    comb has, and one that contradicts lens and camera distance where both are known. Distances
    are rarely known better than to a tenth, so that small errors stay hidden; a ruler tells them.

    Parameters
    ----------
    guess : ScaleGuess
        Cell size, camera distance and where they are from.
    pitch_px : float
        Cell size in the picture.
    focal_px : float, optional
        Focal length of the lens.
    """
    if not PITCH_MIN_MM <= guess.pitch_mm <= PITCH_MAX_MM:
        return True
    if guess.source is not ScaleSource.COMB or guess.distance_mm is None or focal_px is None:
        return False
    # A pinhole shows 1 mm at the distance d as f / d px.
    seen_mm = pitch_px * guess.distance_mm / focal_px
    return abs(math.log(seen_mm / guess.pitch_mm)) > math.log(_LENS_RATIO_MOST)


class NamedPlace(Protocol):
    """A cell found: its name and the middle of its mouth, px."""

    @property
    def row(self) -> int:
        """Row of the lattice."""
        ...

    @property
    def col(self) -> int:
        """Column of the lattice."""
        ...

    @property
    def centre_xy_px(self) -> tuple[float, float]:
        """Middle of the mouth."""
        ...

    @property
    def confidence(self) -> float | None:
        """How sure it is that a cell is there, 0-1; None where it is known."""
        ...


class NamedPlaces(Protocol):
    """A found lattice or a measured sheet."""

    @property
    def cells(self) -> Sequence[NamedPlace]:
        """Its cells."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class RulerScale:
    """What a ruler on the comb tells: px to the mm along it, and the size of the cells there."""

    px_per_mm: float
    pitch_mm: float

    def guess(self, distance_mm: float | None = None) -> ScaleGuess:
        """Return how px become mm by this ruler."""
        return ScaleGuess(pitch_mm=self.pitch_mm, distance_mm=distance_mm, source=ScaleSource.RULER)


def scale_from_ruler(points_xy_px: ArrayLike, length_mm: float, lattice: NamedPlaces) -> RulerScale:
    """Return the scale that a ruler laid on the rims gives.

    The cells along the ruler are counted with the lattice of those beside it, place by place, so
    that neither perspective nor a comb seen aslant falsifies their size.

    Parameters
    ----------
    points_xy_px : array_like of shape (2, 2)
        Two marks of the ruler in the picture, px.
    length_mm : float
        What the ruler says lies between them.
    lattice : NamedPlaces
        The picture's cells.

    Returns
    -------
    RulerScale
        Scale in the rim plane along the ruler.

    Raises
    ------
    RulerUnusableError
        If the points are too close together or lie beside the comb, too few cells are sure, or
        the cells would have a size that worker cells never have.
    ValueError
        If the points are not two, or a number is not finite or not above 0.
    """
    ends = np.asarray(points_xy_px, dtype=np.float64)
    if ends.shape != (2, 2) or not np.isfinite(ends).all():
        msg = f"points_xy_px must be two finite points, got {points_xy_px!r}"
        raise ValueError(msg)
    require_positive("length_mm", length_mm)
    length_px = float(np.hypot(*(ends[1] - ends[0])))
    n_pitches = _pitches_between(ends, lattice)
    if n_pitches < _RULER_CELLS_LEAST:
        msg = "The two points are too close together; choose points at least four cells apart."
        raise RulerUnusableError(msg)
    pitch_mm = length_mm / n_pitches
    low_mm, high_mm = PITCH_MIN_MM / _PITCH_SLACK, PITCH_MAX_MM * _PITCH_SLACK
    if not low_mm <= pitch_mm <= high_mm:
        msg = (
            f"By this ruler a cell would be {pitch_mm:.1f} mm wide, and worker cells are "
            f"{PITCH_MIN_MM} to {PITCH_MAX_MM} mm; check both points and the length between them."
        )
        raise RulerUnusableError(msg)
    return RulerScale(px_per_mm=length_px / length_mm, pitch_mm=pitch_mm)


def _pitches_between(ends: NDArray[np.float64], lattice: NamedPlaces) -> float:
    """Return how many pitches long the way between two points is."""
    sure = [c for c in lattice.cells if c.confidence is None or c.confidence >= _CELL_SURE]
    if len(sure) < _CELLS_LEAST:
        msg = "Too few cells were found in this picture to lay a ruler beside."
        raise RulerUnusableError(msg)
    places = np.array([cell.centre_xy_px for cell in sure])
    plane = np.array([offset_to_axial(c.row, c.col) for c in sure]) @ lattice_vectors(1.0)
    step = (ends[1] - ends[0]) / _RULER_STEPS
    middles = ends[0] + step * (np.arange(_RULER_STEPS)[:, None] + 0.5)
    return float(sum(np.hypot(*(step @ _plane_per_px(at, places, plane))) for at in middles))


def _plane_per_px(
    at: NDArray[np.float64], places: NDArray[np.float64], plane: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return how the lattice plane (unit: one pitch) changes with x and y, shape (2, 2)."""
    away_px = np.hypot(*(places - at).T)
    near = np.argsort(away_px)[:_CELLS_BESIDE]
    design = np.column_stack([places[near], np.ones(len(near))])
    solution, _, rank, _ = np.linalg.lstsq(design, plane[near], rcond=None)
    per_px = np.asarray(solution[:2], dtype=np.float64)
    if rank < 3 or away_px[near[0]] * math.sqrt(abs(np.linalg.det(per_px))) > _BESIDE_PITCHES:
        msg = "The points lie beside the comb; lay the ruler on it, close to cells that show."
        raise RulerUnusableError(msg)
    return per_px
