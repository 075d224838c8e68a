"""What a whole side of comb holds: rings of brood, what came and went in patches, stores around.

Brood lies in rings about a centre as the queen laid it, or anew where some has emerged. Past
it bees keep pollen, then nectar, above and beside; below they leave cells empty.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import require_between
from larvasight.geometry import PITCH_DEFAULT_MM, lattice_vectors, offset_to_axial
from larvasight.geometry.facts import Fact, Label
from larvasight.growth import EGG_STAGE_H
from larvasight.render.patch import (
    MISSED_SHARE,
    NEAR_SD,
    RING_MOST,
    AgeField,
    Waves,
    sample_age_field,
    sample_waves,
)
from larvasight.render.scene import AGE_MAX_H, StoresKind
from larvasight.sheet import Content

if TYPE_CHECKING:
    from collections.abc import Iterator

Floats = NDArray[np.float64]

SEALED_AGE = Fact(
    name="age at which a worker larva is sealed",
    value=132.0,
    unit="h",
    label=Label.COMMON_PRACTICE,
)

FACTS: tuple[Fact, ...] = (SEALED_AGE,)

N_CELLS_SPAN = (100, 1000)
# A comb side is about this much wider than high.
ASPECT = 1.75
_ROW_MM = PITCH_DEFAULT_MM * math.sqrt(3.0) / 2.0
# Sealing and hatching are spread over neighbours more widely than laying.
_SEALED_SD_H = 8.0
# Rings of pollen past the brood, then nectar.
_POLLEN_RINGS = 2.2


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedCell:
    """A place of the comb and what is wanted there: ``kind`` as tiles name it, ``age_h``."""

    q: int
    r: int
    centre_xy_mm: tuple[float, float]
    kind: str
    age_h: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Blob:
    """A patch of older or newer brood: about a point, ``reach_mm`` wide, ``later_h`` younger."""

    centre_xy_mm: tuple[float, float]
    reach_mm: float
    later_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """How hard the larvae of the right age are to find on a side.

    Attributes
    ----------
    ring_h : float
        Hours from one ring of brood to the next: the more, the narrower is each band of ages.
    hatching_share : float
        How far out eggs hatch now, 0 in the middle of the brood to 1 at its edge.
    centre_share : float
        How far the middle of the brood lies to one side of the comb's, as a share of its width.
    missed_share : float
        Cells that the queen missed and that hold something else.
    n_patches : int
        Patches of older or newer brood.
    """

    ring_h: float
    hatching_share: float
    centre_share: float
    missed_share: float
    n_patches: int

    def __post_init__(self) -> None:
        """Refuse a comb that no queen lays."""
        require_between("ring_h", self.ring_h, 1.0, RING_MOST.value)
        require_between("hatching_share", self.hatching_share, 0.2, 1.0)
        require_between("centre_share", self.centre_share, -0.4, 0.4)
        require_between("missed_share", self.missed_share, 0.0, 0.5)
        require_between("n_patches", self.n_patches, 0, 6)


@dataclass(frozen=True, slots=True, kw_only=True)
class _SidePlan:
    field: AgeField
    border_rings: float
    missed: Waves
    missed_share: float
    blobs: tuple[_Blob, ...]


def side_size_mm(n_cells: int) -> tuple[float, float]:
    """Return width and height of a rectangle that holds about so many whole cells.

    Centres keep half a cell away from its edge, as in ``patch.patch_pitch_px``.

    Raises
    ------
    ValueError
        If the number is out of range.
    """
    require_between("n_cells", n_cells, *N_CELLS_SPAN)
    pitch_mm, tall_mm = PITCH_DEFAULT_MM, PITCH_DEFAULT_MM * 2.0 / math.sqrt(3.0)
    cell_mm2 = pitch_mm * _ROW_MM
    # (A h - p)(h - t) = n p row, solved for h.
    linear = ASPECT * tall_mm + pitch_mm
    square = linear**2 - 4.0 * ASPECT * (pitch_mm * tall_mm - n_cells * cell_mm2)
    height_mm = (linear + math.sqrt(square)) / (2.0 * ASPECT)
    return ASPECT * height_mm, height_mm


def side_cells(
    rng: np.random.Generator, size_mm: tuple[float, float], ground: Ground | None = None
) -> tuple[WantedCell, ...]:
    """Draw what every cell of a comb side holds, row by row, those cut by its edge included.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    size_mm : tuple of float
        Width and height of the side; its middle is the origin.
    ground : Ground, optional
        How hard the right ages are to find; by chance without it.
    """
    shift_mm = rng.uniform(-0.5, 0.5, 2) * [PITCH_DEFAULT_MM, _ROW_MM]
    plan = _sample_plan(rng, size_mm)
    if ground is not None:
        plan = _on_ground(rng, plan, size_mm, ground)
    return tuple(_lay(rng, place, centre, plan) for place, centre in _places(size_mm, shift_mm))


def _places(
    size_mm: tuple[float, float], shift_mm: Floats
) -> Iterator[tuple[tuple[int, int], Floats]]:
    """Yield the lattice's places about a side and their middles, mm, row by row."""
    half = 0.5 * np.array(size_mm)
    basis = lattice_vectors(PITCH_DEFAULT_MM)
    n_rows = math.ceil(half[1] / _ROW_MM) + 1
    n_cols = math.ceil(half[0] / PITCH_DEFAULT_MM) + 1
    for row in range(-n_rows, n_rows + 1):
        for col in range(-n_cols, n_cols + 1):
            q, r = offset_to_axial(row, col)
            centre = np.array([q, r], dtype=np.float64) @ basis + shift_mm
            if (np.abs(centre) < half + 0.65 * PITCH_DEFAULT_MM).all():
                yield (q, r), centre


def _sample_plan(rng: np.random.Generator, size_mm: tuple[float, float]) -> _SidePlan:
    """Draw where the queen began, how fast she went and how far she came."""
    width_mm, height_mm = size_mm
    centre = (
        float(rng.normal(0.0, 0.07)) * width_mm,
        float(rng.normal(0.06, 0.05)) * height_mm,
    )
    field = sample_age_field(rng, centre_xy_mm=centre, pitch_mm=PITCH_DEFAULT_MM)
    # The brood ends a little before the side's left and right edges, in an even curve.
    rings = 0.5 * width_mm / PITCH_DEFAULT_MM * float(rng.uniform(0.82, 0.98))
    is_sealing = rng.random() < 0.4
    if is_sealing:  # laid long enough ago that the middle is being sealed
        first_h = float(rng.uniform(SEALED_AGE.value - 4.0, SEALED_AGE.value + 24.0))
        last_h = -float(rng.uniform(2.0, 24.0))
    else:  # an empty comb put in for larvae of the right age
        first_h = float(rng.uniform(46.0, 90.0))
        last_h = -float(rng.uniform(4.0, 36.0))
    ring_h = min((first_h - last_h) / rings, RING_MOST.value)
    grown = AgeField(
        centre_xy_mm=field.centre_xy_mm,
        ring_mm=field.ring_mm,
        lag=field.lag,
        height_share=field.height_share,
        turn=field.turn,
        first_age_h=first_h,
        ring_h=ring_h,
    )
    return _SidePlan(
        field=grown,
        border_rings=rings,
        missed=sample_waves(rng, height=0.9, pitch_mm=PITCH_DEFAULT_MM),
        missed_share=float(np.clip(rng.gamma(1.5, MISSED_SHARE.value / 1.5), 0.02, 0.2)),
        blobs=_sample_blobs(rng, size_mm, is_sealing=is_sealing),
    )


def _on_ground(
    rng: np.random.Generator, plan: _SidePlan, size_mm: tuple[float, float], ground: Ground
) -> _SidePlan:
    """Return a plan whose right ages are as hard to find as wanted."""
    rings = plan.border_rings
    first_h = ground.ring_h * ground.hatching_share * rings
    field = replace(
        plan.field,
        centre_xy_mm=(ground.centre_share * size_mm[0], plan.field.centre_xy_mm[1]),
        first_age_h=first_h,
        ring_h=ground.ring_h,
    )
    is_sealing = first_h > SEALED_AGE.value
    blobs = _sample_blobs(rng, size_mm, is_sealing=is_sealing, n_blobs=ground.n_patches)
    return replace(plan, field=field, missed_share=ground.missed_share, blobs=blobs)


def _sample_blobs(
    rng: np.random.Generator,
    size_mm: tuple[float, float],
    *,
    is_sealing: bool,
    n_blobs: int | None = None,
) -> tuple[_Blob, ...]:
    """Draw patches of another age: sealed brood left from before, and cells laid anew."""
    blobs = []
    for _ in range(int(rng.integers(1, 4)) if n_blobs is None else n_blobs):
        angle_rad, away = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(0.25, 0.8)
        is_newer = is_sealing or rng.random() < 0.4
        later_h = float(rng.uniform(24.0, 60.0)) if is_newer else -float(rng.uniform(140.0, 220.0))
        blobs.append(
            _Blob(
                centre_xy_mm=(
                    float(0.5 * size_mm[0] * away * math.cos(angle_rad)),
                    float(0.5 * size_mm[1] * away * math.sin(angle_rad)),
                ),
                reach_mm=PITCH_DEFAULT_MM * float(rng.uniform(1.4, 3.4)),
                later_h=later_h,
            )
        )
    return tuple(blobs)


def _lay(
    rng: np.random.Generator, place_qr: tuple[int, int], centre: Floats, plan: _SidePlan
) -> WantedCell:
    beyond = float(plan.field.rings(centre)) - plan.border_rings + rng.normal(0.0, 0.35)
    if beyond > 0.0:
        kind, age_h = _past_brood(rng, centre[1] - plan.field.centre_xy_mm[1], beyond), None
    else:
        kind, age_h = _brood(rng, centre, plan)
    x, y = (float(v) for v in centre)
    return WantedCell(q=place_qr[0], r=place_qr[1], centre_xy_mm=(x, y), kind=kind, age_h=age_h)


def _brood(rng: np.random.Generator, centre: Floats, plan: _SidePlan) -> tuple[str, float | None]:
    """Return kind and age of a cell that the queen came to."""
    age_h = float(plan.field.age_h(centre) + rng.normal(0.0, NEAR_SD.value))
    for blob in plan.blobs:
        away_mm = math.dist(blob.centre_xy_mm, centre) + rng.normal(0.0, 0.25 * PITCH_DEFAULT_MM)
        if away_mm < blob.reach_mm:
            age_h -= blob.later_h
    # The mean of exp(wave) over the comb is about 1.5 for waves of this height.
    if rng.random() < plan.missed_share * math.exp(float(plan.missed.at(centre))) / 1.5:
        if rng.random() < 0.5:
            return Content.EMPTY.value, None
        age_h -= float(rng.uniform(20.0, 70.0))
    if age_h < -EGG_STAGE_H.value:
        return Content.EMPTY.value, None
    if age_h < 0.0:
        return Content.EGG.value, age_h
    if age_h + rng.normal(0.0, _SEALED_SD_H) > SEALED_AGE.value:
        return Content.CAPPED.value, None
    return Content.LARVA.value, min(age_h, AGE_MAX_H)


def _past_brood(rng: np.random.Generator, below_mm: float, beyond: float) -> str:
    """Return what lies ``beyond`` rings past the brood, ``below_mm`` under its middle."""
    is_below = below_mm > 3.0 * PITCH_DEFAULT_MM
    if rng.random() < (0.75 if is_below else 0.3 if beyond < 0.7 else 0.12):
        return Content.EMPTY.value
    pollen_chance = 0.9 if beyond < _POLLEN_RINGS else 0.5
    is_pollen = is_below or rng.random() < pollen_chance
    return (StoresKind.POLLEN if is_pollen else StoresKind.NECTAR).value
