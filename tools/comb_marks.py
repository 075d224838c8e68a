"""Where the cells of a picture are known to lie, and how near to that a found lattice comes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import NEIGHBOUR_STEPS_QR, fold_row_angle_deg, offset_to_axial

if TYPE_CHECKING:
    from larvasight.sheet import Sheet
    from larvasight.vision.lattice import FoundLattice

Floats = NDArray[np.float64]

# A cell counts as found within this share of the pitch from its mark.
NEAR_PITCH = 0.2
# Found cells further than this from every mark are none of the marked ones.
STRAY_PITCH = 0.4
SURE = 0.5
# Marks nearer to each other than this share of the pitch are neighbours.
_BESIDE_PITCH = 1.35


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Marks:
    """Known middles of cells (N, 2), px, and which of them lie side by side, pairs (K, 2)."""

    centres_xy_px: Floats
    pairs: NDArray[np.int64]

    def kept(self, keep: NDArray[np.bool_]) -> Marks:
        """Return the marks that a mask of shape (N,) keeps."""
        number = np.cumsum(keep) - 1
        pairs = self.pairs[keep[self.pairs].all(axis=1)]
        return Marks(centres_xy_px=self.centres_xy_px[keep], pairs=number[pairs])

    @property
    def pitch_px(self) -> float:
        """Mean distance of neighbours, px."""
        return float(np.hypot(*self.steps_px.T).mean()) if len(self.pairs) else float("nan")

    @property
    def steps_px(self) -> Floats:
        """Steps from the first to the second of each pair (K, 2), px."""
        return np.asarray(
            self.centres_xy_px[self.pairs[:, 1]] - self.centres_xy_px[self.pairs[:, 0]]
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceFigures:
    """How near a lattice comes to marks.

    ``near_share`` of them have a found cell within `NEAR_PITCH`; ``far_pitch`` is the distance
    that nine in ten stay below. ``pitch_error`` (a share) and ``turn_deg`` compare the local steps
    beside the marks. ``stray_share`` of the sure cells lie on no mark.
    """

    n_marks: int
    near_share: float
    far_pitch: float
    pitch_error: float
    turn_deg: float
    stray_share: float


def marks_of_sheet(sheet: Sheet) -> Marks:
    """Return the marks that a truth sheet gives."""
    centres = np.array([cell.centre_xy_px for cell in sheet.cells]).reshape(-1, 2)
    names = {offset_to_axial(cell.row, cell.col): i for i, cell in enumerate(sheet.cells)}
    pairs = [
        (i, names[(q + dq, r + dr)])
        for (q, r), i in names.items()
        for dq, dr in NEIGHBOUR_STEPS_QR[:3]
        if (q + dq, r + dr) in names
    ]
    return Marks(centres_xy_px=centres, pairs=np.array(pairs, dtype=np.int64).reshape(-1, 2))


def marks_of_centres(centres_xy_px: Floats, pitch_px: float) -> Marks:
    """Return marks made by hand, shape (N, 2), about ``pitch_px`` apart."""
    apart_px = np.hypot(*np.moveaxis(centres_xy_px[None] - centres_xy_px[:, None], -1, 0))
    first, second = np.nonzero(np.triu(apart_px < _BESIDE_PITCH * pitch_px, 1))
    return Marks(centres_xy_px=centres_xy_px, pairs=np.column_stack([first, second]))


def place_figures(lattice: FoundLattice, marks: Marks) -> PlaceFigures:
    """Compare a found lattice with marks; with no pairs among them only places are compared."""
    places = np.array([cell.centre_xy_px for cell in lattice.cells])
    steps = np.array([cell.steps_xy_px for cell in lattice.cells])
    local_px = np.sqrt(np.abs(np.linalg.det(steps)) * 2.0 / np.sqrt(3.0))
    apart = np.hypot(*np.moveaxis(places[None] - marks.centres_xy_px[:, None], -1, 0))
    nearest = apart.argmin(axis=1)
    far = apart.min(axis=1) / local_px[nearest]
    pitch_error, turn_deg = _step_errors(steps[nearest], marks)
    is_sure = np.array([cell.confidence >= SURE for cell in lattice.cells])
    is_stray = apart.min(axis=0) > STRAY_PITCH * local_px
    return PlaceFigures(
        n_marks=len(far),
        near_share=float((far <= NEAR_PITCH).mean()),
        far_pitch=float(np.percentile(far, 90)),
        pitch_error=pitch_error,
        turn_deg=turn_deg,
        stray_share=float((is_stray & is_sure).sum() / max(int(is_sure.sum()), 1)),
    )


def _step_errors(steps: Floats, marks: Marks) -> tuple[float, float]:
    """Return by how much found steps (N, 2, 2) beside the marks are too long, and turned."""
    if not len(marks.pairs):
        return float("nan"), float("nan")
    true = marks.steps_px
    # In perspective the step between two cells is the mean of what is seen at both.
    first, second = (_step_along(steps[marks.pairs[:, end]], true) for end in (0, 1))
    found = 0.5 * (first + second)
    lengths = np.hypot(*found.T).mean() / np.hypot(*true.T).mean()
    turns = np.arctan2(found[:, 1], found[:, 0]) - np.arctan2(true[:, 1], true[:, 0])
    folded = [fold_row_angle_deg(float(turn)) for turn in np.degrees(turns)]
    return float(lengths - 1.0), float(np.mean(folded))


def _step_along(steps: Floats, true: Floats) -> Floats:
    """Return of the six local steps (N, 2, 2) those nearest to true ones (N, 2)."""
    a, b = steps.transpose(1, 0, 2)
    around = np.stack([a, b, b - a, -a, -b, a - b], axis=1)
    chosen = np.hypot(*np.moveaxis(around - true[:, None], -1, 0)).argmin(axis=1)
    return np.asarray(around[np.arange(len(true)), chosen])
