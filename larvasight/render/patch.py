"""Draw a patch of comb whose ages lie as a queen lays them: ring after ring from a centre.

Age varies smoothly over the patch, cells the queen missed break it, and pollen, nectar or
capped brood lie only past the border of what she laid. The food's amount and look, wax and
light stay independent of age.
"""

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import require_between
from larvasight.geometry.facts import Fact, Label
from larvasight.growth import EGG_STAGE_H
from larvasight.render.sampling import (
    AGE_SPAN_H,
    Colony,
    require_look,
    sample_colony,
    with_egg,
    with_larva,
    with_stores,
)
from larvasight.render.scene import (
    FIRST_LOOK,
    SIZE_MAX_PX,
    SIZE_MIN_PX,
    Camera,
    Comb,
    CombScene,
    Light,
    SceneCell,
)
from larvasight.render.surroundings import sample_camera, sample_comb, sample_light
from larvasight.render.view import cells_in_view, lattice_basis
from larvasight.sheet import Content

Floats = NDArray[np.float64]

RING_MOST = Fact(
    name="most hours from one ring of brood to the next",
    value=12.0,
    unit="h",
    label=Label.DERIVED,
    source="judgement: brood of 20 days fills about 30 rings, 16 h each; fewer while a nest grows",
)
MISSED_SHARE = Fact(
    name="cells missed in good brood", value=0.07, unit="share", label=Label.COMMON_PRACTICE
)
NEST_HEIGHT = Fact(
    name="height over width of the brood", value=0.8, unit="ratio", label=Label.COMMON_PRACTICE
)
NEAR_SD = Fact(
    name="spread of hatching among eggs laid together (SD)",
    value=3.0,
    unit="h",
    label=Label.DERIVED,
    source="judgement: less than the spread of the egg stage, since neighbours share their warmth",
)

FACTS: tuple[Fact, ...] = (RING_MOST, NEAR_SD, MISSED_SHARE, NEST_HEIGHT)

N_CELLS_SPAN = (4, 2000)
_TILT_MOST_DEG = 5.0
# Oldest end of a field, so that individuals stay within what is drawn, and its least span.
_OLD_END_MOST_H = 74.0
_SPAN_LEAST_H = 24.0
# A person who looks for larvae turns the comb until its floors are lit: a lamp stands no
# further from the line of sight than this, mm sideways for each mm of height.
_LAMP_ASIDE_MOST = 0.10
_AMBIENT_LEAST = 0.4


class Border(StrEnum):
    """What lies outside of the brood the queen laid last."""

    NONE = "none"
    STORES = "stores"
    OLD_BROOD = "old-brood"


@dataclass(frozen=True, slots=True, kw_only=True)
class Waves:
    """A slowly varying plane: N sines, each along its own way."""

    amplitudes: Floats
    phases_rad: Floats
    along_xy_rad_per_mm: Floats

    def at(self, xy_mm: Floats) -> Floats:
        """Return the height at points ``(x, y)``, shape (...)."""
        turns = np.asarray(xy_mm) @ self.along_xy_rad_per_mm.T + self.phases_rad
        return np.asarray(np.sin(turns) @ self.amplitudes)


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeField:
    """Ages over a comb as a queen lays them, ring after ring or in a spiral.

    ``first_age_h`` is the age of what she laid first, at the centre; each further ring of
    ``ring_mm`` is ``ring_h`` younger. Rings are ellipses, ``height_share`` as high as wide.
    ``turn`` is 1 or -1 for a spiral of either hand, 0 for rings. ``lag`` says how many rings
    late she came, place by place.
    """

    centre_xy_mm: tuple[float, float]
    ring_mm: float
    lag: Waves
    height_share: float = 1.0
    turn: int = 0
    first_age_h: float = 0.0
    ring_h: float = 8.0

    def rings(self, xy_mm: Floats) -> Floats:
        """Return how many rings after the centre points ``(x, y)`` were laid, shape (...)."""
        away = (np.asarray(xy_mm) - self.centre_xy_mm) / [1.0, self.height_share]
        rings = np.hypot(away[..., 0], away[..., 1]) / self.ring_mm
        if self.turn:
            # One arm of a spiral widens by a ring at each turn.
            share = self.turn * np.arctan2(away[..., 1], away[..., 0]) / (2.0 * np.pi) % 1.0
            rings = np.floor(rings - share + 0.5) + share
        return np.asarray(rings + self.lag.at(xy_mm))

    def age_h(self, xy_mm: Floats) -> Floats:
        """Return the age at points ``(x, y)``, negative for eggs, shape (...)."""
        return self.first_age_h - self.ring_h * self.rings(xy_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class BroodPlan:
    """What a queen laid and what bounds it.

    ``missed_share`` of the cells were passed over, more of them where ``missed`` is high.
    What was laid ends ``border_rings`` from the field's centre, and ``border`` follows.
    """

    field: AgeField
    missed: Waves
    missed_share: float = MISSED_SHARE.value
    border: Border = Border.NONE
    border_rings: float = math.inf


def patch_scene(
    rng: np.random.Generator,
    *,
    size_px: tuple[int, int] = (1280, 960),
    n_cells: int = 30,
    focus_age_h: tuple[float, float] = (6.0, 30.0),
    hatching_edge: bool = True,
    tilt_deg: float | None = None,
    pitch_mm: float = 5.3,
    look: str = FIRST_LOOK,
) -> CombScene:
    """Draw a patch of brood to practise on.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance; the scene keeps its own seeds, so painting needs none.
    size_px : tuple of int
        Width and height of the picture.
    n_cells : int
        About how many cells the picture holds whole, 4-2000.
    focus_age_h : tuple of float
        Ages of larvae, within 0-84, of which most patches show a good share.
    hatching_edge : bool
        Whether most patches reach from larvae into eggs, as far as ``focus_age_h`` lets them;
        without it hardly anything but a cell missed and laid later holds an egg.
    tilt_deg : float, optional
        Angle between view and cell axis; by default drawn from 0 to 5.
    pitch_mm : float
        Pitch of the comb.
    look : str
        Set of drawing rules.

    Returns
    -------
    CombScene
        Every cell in view, those cut by the picture's edge included.

    Raises
    ------
    ValueError
        If an argument is out of range.
    """
    for side_px in size_px:
        require_between("size_px", side_px, SIZE_MIN_PX, SIZE_MAX_PX)
    require_between("n_cells", n_cells, *N_CELLS_SPAN)
    low_h, high_h = focus_age_h
    require_between("focus_age_h", high_h, *AGE_SPAN_H)
    if not AGE_SPAN_H[0] <= low_h < high_h:
        msg = f"focus_age_h must rise from at least {AGE_SPAN_H[0]:g}, got {focus_age_h}"
        raise ValueError(msg)
    require_look(look)
    comb = sample_comb(rng, wide=False, pitch_mm=pitch_mm, clean=False)
    camera = sample_camera(
        rng,
        wide=False,
        size_px=size_px,
        pitch_px=patch_pitch_px(size_px, n_cells),
        pitch_mm=pitch_mm,
        tilt_deg=float(rng.uniform(0.0, _TILT_MOST_DEG)) if tilt_deg is None else tilt_deg,
        distance_mm=None,
        clean=False,
    )
    camera = replace(camera, focus_mm=float(rng.uniform(7.0, 10.0)))  # on the floors
    light = _reaching_floors(sample_light(rng, wide=False, camera=camera), comb, camera)
    colony = sample_colony(rng, wide=False)
    places = cells_in_view(comb, camera)
    centres = np.array(places, np.float64) @ lattice_basis(comb) - camera.centre_xy_mm
    half_mm = 0.5 * np.array(size_px) * pitch_mm / camera.pitch_px
    shown = centres[(np.abs(centres) <= half_mm).all(axis=1)]
    ends_h = _sample_ends_h(rng, focus_age_h, hatching_edge=hatching_edge)
    plan = sample_plan(rng, shown, ends_h, 0.5 * (low_h + high_h), pitch_mm=pitch_mm)
    cells = tuple(
        lay_cell(rng, place, centre, plan, colony=colony, pitch_mm=pitch_mm, look=look)
        for place, centre in zip(places, centres, strict=True)
    )
    return CombScene(comb=comb, cells=cells, light=light, camera=camera, look=look)


def sample_age_field(
    rng: np.random.Generator, *, centre_xy_mm: tuple[float, float], pitch_mm: float
) -> AgeField:
    """Draw how a queen lays around a centre; its two ages are left as they come."""
    return AgeField(
        centre_xy_mm=centre_xy_mm,
        ring_mm=pitch_mm,
        lag=sample_waves(rng, height=0.3, pitch_mm=pitch_mm),
        height_share=float(np.clip(rng.normal(NEST_HEIGHT.value, 0.08), 0.6, 1.0)),
        turn=int(rng.integers(-1, 2)),
    )


def sample_waves(rng: np.random.Generator, *, height: float, pitch_mm: float) -> Waves:
    """Draw a plane of root mean square ``height`` that varies over some four to nine cells."""
    count = 4
    angles_rad = rng.uniform(0.0, 2.0 * np.pi, count)
    steep = 2.0 * np.pi / (pitch_mm * rng.uniform(4.0, 9.0, count))
    return Waves(
        amplitudes=np.full(count, height * math.sqrt(2.0 / count)),
        phases_rad=rng.uniform(0.0, 2.0 * np.pi, count),
        along_xy_rad_per_mm=steep[:, None]
        * np.column_stack([np.cos(angles_rad), np.sin(angles_rad)]),
    )


def sample_plan(
    rng: np.random.Generator,
    centres_xy_mm: Floats,
    ends_h: tuple[float, float],
    about_h: float,
    *,
    pitch_mm: float,
) -> BroodPlan:
    """Draw what a queen laid in a patch.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    centres_xy_mm : ndarray of shape (N, 2)
        The patch's cells.
    ends_h : tuple of float
        Ages wanted at the patch's youngest and oldest end.
    about_h : float
        Age towards which they move where the queen would else lay more slowly than queens do.
    pitch_mm : float
        Pitch of the comb.
    """
    low, high = centres_xy_mm.min(axis=0), centres_xy_mm.max(axis=0)
    reach_mm = 0.5 * math.sqrt(float(np.prod(high - low + pitch_mm)))
    is_inside = rng.random() < 0.15
    away_mm = reach_mm * float(rng.uniform(0.2, 0.8) if is_inside else rng.uniform(1.2, 5.0))
    angle_rad = float(rng.uniform(0.0, 2.0 * np.pi))
    x, y = (float(v) for v in 0.5 * (low + high))
    centre = (x + away_mm * math.cos(angle_rad), y + away_mm * math.sin(angle_rad))
    field = sample_age_field(rng, centre_xy_mm=centre, pitch_mm=pitch_mm)
    rings = field.rings(centres_xy_mm)
    young_h, old_h = ends_h
    chances = [0.56, 0.22, 0.22] if young_h < 0.0 else [0.78, 0.22, 0.0]
    border = list(Border)[int(rng.choice(len(chances), p=chances))]
    if border is Border.OLD_BROOD:  # where some has just emerged, she lays anew
        young_h = min(young_h, -float(rng.uniform(12.0, 36.0)))
    border_rings = math.inf
    if border is not Border.NONE:
        border_rings = float(np.quantile(rings, rng.uniform(0.76, 0.92)))
    return BroodPlan(
        field=fit_ages(field, rings[rings <= border_rings], (young_h, old_h), about_h),
        missed=sample_waves(rng, height=0.9, pitch_mm=pitch_mm),
        missed_share=float(np.clip(rng.gamma(1.5, MISSED_SHARE.value / 1.5), 0.0, 0.25)),
        border=border,
        border_rings=border_rings,
    )


def fit_ages(
    field: AgeField, rings: Floats, ends_h: tuple[float, float], about_h: float
) -> AgeField:
    """Return a field whose ages run between two ends over most of the given ``rings``."""
    young_h, old_h = ends_h
    first, last = np.quantile(rings, [0.05, 0.95])
    share = min(1.0, RING_MOST.value * float(last - first) / (old_h - young_h))
    middle_h = float(np.clip(about_h, young_h, old_h))
    young_h, old_h = (middle_h + share * (end_h - middle_h) for end_h in (young_h, old_h))
    ring_h = (old_h - young_h) / max(float(last - first), 1e-6)
    return replace(field, first_age_h=old_h + ring_h * float(first), ring_h=ring_h)


def lay_cell(
    rng: np.random.Generator,
    place_qr: tuple[int, int],
    centre_xy_mm: Floats,
    plan: BroodPlan,
    *,
    colony: Colony,
    pitch_mm: float,
    look: str,
) -> SceneCell:
    """Draw what the cell at a place of the lattice holds, its axis at ``centre_xy_mm``."""
    cell = SceneCell(q=place_qr[0], r=place_qr[1], seed=int(rng.integers(1 << 31)))
    beyond = float(plan.field.rings(centre_xy_mm)) - plan.border_rings + rng.normal(0.0, 0.2)
    if beyond > 0.0:
        return _past_border(rng, cell, plan.border, beyond)
    age_h = float(plan.field.age_h(centre_xy_mm) + rng.normal(0.0, NEAR_SD.value))
    # The mean of exp(wave) over the comb is about 1.5 for waves of this height.
    if rng.random() < plan.missed_share * math.exp(float(plan.missed.at(centre_xy_mm))) / 1.5:
        if rng.random() < 0.5:
            return cell
        age_h -= float(rng.uniform(20.0, 70.0))
    if age_h < -EGG_STAGE_H.value:
        return cell
    if age_h < 0.0:
        return with_egg(cell, age_h, rng, pitch_mm=pitch_mm)
    age_h = min(age_h, AGE_SPAN_H[1])
    return with_larva(cell, age_h, rng, colony=colony, pitch_mm=pitch_mm, look=look, wide=False)


def _past_border(
    rng: np.random.Generator, cell: SceneCell, border: Border, beyond: float
) -> SceneCell:
    """Return a cell ``beyond`` rings past the brood: pollen first, then nectar; or old brood."""
    if border is Border.OLD_BROOD:  # some of it has emerged
        is_empty = rng.random() < (0.35 if beyond < 0.7 else 0.08)
        return cell if is_empty else replace(cell, content=Content.CAPPED)
    if rng.random() < (0.4 if beyond < 0.7 else 0.1):
        return cell
    return with_stores(cell, rng, pollen_chance=0.9 if beyond < 1.5 else 0.4)


def _sample_ends_h(
    rng: np.random.Generator, focus_age_h: tuple[float, float], *, hatching_edge: bool
) -> tuple[float, float]:
    """Draw the youngest and oldest age of a patch; now and then hardly any lies in focus."""
    low_h, high_h = focus_age_h
    kind = float(rng.random())
    if kind < 0.07:  # most is past the focus
        young_h, old_h = high_h - float(rng.uniform(2.0, 12.0)), high_h + float(rng.uniform(24, 44))
    elif kind < 0.14 and hatching_edge:  # most has not reached it
        young_h, old_h = -float(rng.uniform(24.0, 56.0)), low_h + float(rng.uniform(0.0, 12.0))
    else:
        young_h = -float(rng.uniform(5.0, 34.0)) if hatching_edge else float(rng.uniform(3.0, 12.0))
        old_h = high_h + float(rng.uniform(0.0, 38.0))
    old_h = min(old_h, _OLD_END_MOST_H)
    return min(young_h, old_h - _SPAN_LEAST_H), old_h


def _reaching_floors(light: Light, comb: Comb, camera: Camera) -> Light:
    """Return a light by which a person sees the floors; old dark wax gets more of it."""
    lean, way_rad = math.tan(math.radians(camera.tilt_deg)), math.radians(camera.tilt_direction_deg)
    sight = lean * np.array([math.cos(way_rad), math.sin(way_rad)])
    aside = np.array(light.slope_xy) - sight
    share = min(1.0, _LAMP_ASIDE_MOST / max(float(np.hypot(*aside)), 1e-9))
    x, y = sight + share * aside
    more = 1.0 + 0.5 * comb.wax_age
    return replace(
        light,
        slope_xy=(float(x), float(y)),
        strength=0.94 * light.strength,  # the more that comes from all around burns food out
        ambient=more * max(light.ambient, _AMBIENT_LEAST),
    )


def patch_pitch_px(size_px: tuple[int, int], n_cells: int) -> float:
    """Return the pitch at which about ``n_cells`` hexagons lie whole in the picture.

    Their centres stay half a hexagon inside: (W - p)(H - 2p/sqrt 3) = n p^2 sqrt(3)/2.
    """
    width_px, height_px = size_px
    tall = 2.0 / math.sqrt(3.0)
    square = 0.5 * math.sqrt(3.0) * n_cells - tall
    linear = tall * width_px + height_px
    root = math.sqrt(linear**2 + 4.0 * square * width_px * height_px)
    return (root - linear) / (2.0 * square)
