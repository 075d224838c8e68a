"""Draw scenes by chance: handsome ones to practise on, and wide ones to train a reader of comb on.

Amount and look of food, wax and light are drawn without regard to age: an eye trained
on these pictures must not find a short cut.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from larvasight.growth import BodySize, sample_body, sample_colony_rate, sample_egg
from larvasight.render.bodies import BODY_SHAPES, body_reach_mm
from larvasight.render.scene import (
    FIRST_LOOK,
    WALL_ALLOWANCE_MM,
    Camera,
    Comb,
    CombScene,
    Egg,
    Larva,
    Pool,
    SceneCell,
    Stores,
    StoresKind,
)
from larvasight.render.surroundings import sample_camera, sample_comb, sample_light, sample_shadows
from larvasight.render.view import cells_in_view
from larvasight.sheet import Content, Jelly

Variation = Literal["practice", "wide"]

AGE_SPAN_H = (0.0, 84.0)
EGG_SPAN_H = (-74.0, 0.0)
# Fresh larvae lie dry until they are first fed (Nelson, Sturtevant & Lineburg 1924).
FED_FROM_H = 2.0
CONTENT_WEIGHTS: Mapping[Content, float] = {
    Content.LARVA: 0.66,
    Content.EGG: 0.12,
    Content.EMPTY: 0.10,
    Content.CAPPED: 0.06,
    Content.STORES: 0.06,
}
_POLLEN_RGB = (
    (232.0, 184.0, 84.0),
    (206.0, 138.0, 62.0),
    (196.0, 160.0, 84.0),
    (150.0, 90.0, 48.0),
    (176.0, 170.0, 96.0),
    (120.0, 96.0, 110.0),
    (226.0, 206.0, 130.0),
)
_NECTAR_RGB = ((190.0, 120.0, 40.0), (214.0, 160.0, 66.0), (140.0, 78.0, 26.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Colony:
    """What the brood of one comb has in common.

    ``rate`` is its growth rate against the mean, ``milk`` its food's opacity per mm,
    ``tint_rgb`` the food's colour.
    """

    rate: float
    milk: float
    tint_rgb: tuple[float, float, float]


def random_scene(
    rng: np.random.Generator,
    *,
    size_px: tuple[int, int] = (1000, 750),
    n_cells: int | None = None,
    pitch_px: float | None = None,
    tilt_deg: float | None = None,
    distance_mm: float | None = None,
    pitch_mm: float = 5.3,
    variation: Variation = "practice",
    look: str = FIRST_LOOK,
    contents: Mapping[Content, float] | None = None,
    age_weights: Sequence[float] | None = None,
    clean: bool = False,
) -> CombScene:
    """Draw a scene.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance; the scene keeps its own seeds, so painting needs none.
    size_px : tuple of int
        Width and height of the picture.
    n_cells : int, optional
        About how many cells the picture holds (default 24); not together with ``pitch_px``.
    pitch_px : float, optional
        Pitch at the middle of the picture.
    tilt_deg : float, optional
        Angle between view and cell axis; by default drawn, mostly small.
    distance_mm : float, optional
        Camera to comb; by default drawn from 140 to 320 mm.
    pitch_mm : float
        Pitch of the comb.
    variation : {"practice", "wide"}
        Handsome and likely comb, or everything a camera may ever meet.
    look : str
        Set of drawing rules.
    contents : mapping of Content to float, optional
        Weights of what cells hold.
    age_weights : sequence of float, optional
        Weights of equal parts of 0-84 h; flat by default.
    clean : bool
        Without blur, noise, dirt and shadows: what remains is shape and light.

    Returns
    -------
    CombScene
        Every cell in view, those cut by the picture's edge included.

    Raises
    ------
    ValueError
        If an argument is out of range, or both ``n_cells`` and ``pitch_px`` are given.
    """
    if variation not in ("practice", "wide"):
        msg = f'variation must be "practice" or "wide", got {variation!r}'
        raise ValueError(msg)
    require_look(look)
    wide = variation == "wide"
    comb = sample_comb(rng, wide=wide, pitch_mm=pitch_mm, clean=clean)
    camera = sample_camera(
        rng,
        wide=wide,
        size_px=size_px,
        pitch_px=_pitch_px(size_px, n_cells, pitch_px),
        pitch_mm=pitch_mm,
        tilt_deg=tilt_deg,
        distance_mm=distance_mm,
        clean=clean,
    )
    light = sample_light(rng, wide=wide, camera=camera)
    cells = _sample_cells(
        rng,
        comb,
        camera,
        wide=wide,
        look=look,
        contents=contents or CONTENT_WEIGHTS,
        age_weights=age_weights,
    )
    shadows = () if clean else sample_shadows(rng, wide=wide, camera=camera, pitch_mm=pitch_mm)
    return CombScene(comb=comb, cells=cells, light=light, shadows=shadows, camera=camera, look=look)


def require_look(look: str) -> None:
    """Raise ValueError unless ``look`` names a set of drawing rules."""
    if look not in BODY_SHAPES:
        msg = f"look must be one of {sorted(BODY_SHAPES)}, got {look!r}"
        raise ValueError(msg)


def _pitch_px(size_px: tuple[int, int], n_cells: int | None, pitch_px: float | None) -> float:
    if n_cells is not None and pitch_px is not None:
        msg = "n_cells and pitch_px must not both be given"
        raise ValueError(msg)
    if pitch_px is not None:
        return pitch_px
    count = 24 if n_cells is None else n_cells
    if count < 1:
        msg = f"n_cells must be at least 1, got {count}"
        raise ValueError(msg)
    return math.sqrt(size_px[0] * size_px[1] / (count * math.sqrt(3.0) / 2.0))


def _sample_cells(
    rng: np.random.Generator,
    comb: Comb,
    camera: Camera,
    *,
    wide: bool,
    look: str,
    contents: Mapping[Content, float],
    age_weights: Sequence[float] | None,
) -> tuple[SceneCell, ...]:
    kinds = list(contents)
    weights = np.array([contents[kind] for kind in kinds], dtype=np.float64)
    colony = sample_colony(rng, wide=wide)
    cells = []
    for q, r in cells_in_view(comb, camera):
        content = kinds[int(rng.choice(len(kinds), p=weights / weights.sum()))]
        cell = SceneCell(q=q, r=r, seed=int(rng.integers(1 << 31)))
        if content is Content.LARVA:
            age_h = _sample_age_h(rng, age_weights)
            cell = with_larva(
                cell, age_h, rng, colony=colony, pitch_mm=comb.pitch_mm, look=look, wide=wide
            )
        elif content is Content.EGG:
            cell = with_egg(cell, float(rng.uniform(*EGG_SPAN_H)), rng, pitch_mm=comb.pitch_mm)
        elif content is Content.STORES:
            cell = with_stores(cell, rng)
        elif content is Content.CAPPED:
            cell = replace(cell, content=content)
        elif wide and rng.random() < 0.25:  # food without a larva, or a shiny wet floor
            cell = replace(cell, pool=sample_pool(rng, age_h=24.0, colony=colony, wide=True))
        cells.append(cell)
    return tuple(cells)


def sample_colony(rng: np.random.Generator, *, wide: bool) -> Colony:
    """Draw what the brood of one comb has in common."""
    return Colony(
        rate=sample_colony_rate(rng),
        milk=float(rng.uniform(2.0, 12.0)),
        tint_rgb=_tint(rng, 0.06 if wide else 0.015),
    )


def with_larva(
    cell: SceneCell,
    age_h: float,
    rng: np.random.Generator,
    *,
    colony: Colony,
    pitch_mm: float,
    look: str,
    wide: bool,
) -> SceneCell:
    """Return an empty cell with a larva of an age drawn into it, and its food."""
    body = sample_body(age_h, rng, colony.rate)
    larva = sample_larva(age_h, body, rng, pitch_mm=pitch_mm, look=look, wide=wide)
    pool = sample_pool(rng, age_h=age_h, colony=colony, wide=wide)
    return replace(cell, content=Content.LARVA, larva=larva, pool=pool)


def _sample_age_h(rng: np.random.Generator, weights: Sequence[float] | None) -> float:
    low_h, high_h = AGE_SPAN_H
    if weights is None:
        return float(rng.uniform(low_h, high_h))
    share = np.asarray(weights, dtype=np.float64)
    if share.ndim != 1 or len(share) == 0 or (share < 0.0).any() or not share.sum() > 0.0:
        msg = f"age_weights must be weights >= 0 of which one is above 0, got {weights!r}"
        raise ValueError(msg)
    part = int(rng.choice(len(share), p=share / share.sum()))
    step_h = (high_h - low_h) / len(share)
    return float(low_h + step_h * (part + rng.random()))


def sample_larva(
    age_h: float,
    body: BodySize,
    rng: np.random.Generator,
    *,
    pitch_mm: float = 5.3,
    look: str = FIRST_LOOK,
    wide: bool = False,
) -> Larva:
    """Draw how a larva of a given size lies in its cell.

    A body too big for the cell winds up further and is then drawn smaller, as far as it
    must be; the offset leaves it clear of the walls.

    Parameters
    ----------
    age_h : float
        Hours after hatching.
    body : BodySize
        Length, width and curl wanted.
    rng : numpy.random.Generator
        Source of chance.
    pitch_mm : float
        Pitch of the comb.
    look : str
        Set of drawing rules, for the shape of the body.
    wide : bool
        Stranger poses.
    """
    room_mm = 0.5 * pitch_mm - WALL_ALLOWANCE_MM
    larva = Larva(
        age_h=age_h,
        length_mm=body.length_mm,
        width_mm=body.width_mm,
        curl_deg=float(np.clip(body.curl_deg, 0.0, 400.0)),
        heading_deg=float(rng.uniform(0.0, 360.0)),
        curl_side=1 if rng.random() < 0.5 else -1,
        wiggle=float(np.clip(rng.normal(0.0, 0.10 if not wide else 0.16), -0.3, 0.3)),
        unevenness=float(rng.uniform(0.0, 0.2) if not wide else rng.uniform(-0.2, 0.35)),
        roll=float(rng.uniform(-1.0, 1.0)),
        sink=float(abs(rng.normal(0.08, 0.10 if not wide else 0.3))),
        tint_rgb=_tint(rng, 0.05 if wide else 0.012),
        gloss=float(rng.uniform(0.6, 1.2) if not wide else rng.uniform(0.0, 1.8)),
    )
    shape = BODY_SHAPES[look]
    reach_mm = body_reach_mm(larva, shape)
    if reach_mm > room_mm and larva.curl_deg < 375.0:
        larva = replace(
            larva, curl_deg=max(larva.curl_deg, min(375.0, larva.curl_deg * reach_mm / room_mm))
        )
        reach_mm = body_reach_mm(larva, shape)
    if reach_mm > room_mm:
        share = room_mm / reach_mm
        larva = replace(larva, length_mm=larva.length_mm * share, width_mm=larva.width_mm * share)
        reach_mm = room_mm
    spare_mm = room_mm - reach_mm
    usual_mm = 0.7 if wide else 0.4
    away_mm = min(abs(float(rng.normal(0.0, usual_mm))), spare_mm)
    angle_rad = float(rng.uniform(0.0, 2.0 * np.pi))
    return replace(
        larva, offset_xy_mm=(away_mm * math.cos(angle_rad), away_mm * math.sin(angle_rad))
    )


def sample_pool(
    rng: np.random.Generator,
    *,
    age_h: float,
    colony: Colony,
    wide: bool,
) -> Pool:
    """Draw the food of one cell, of its colony's opacity and colour."""
    kind = float(rng.random())
    level_mm = float(rng.uniform(0.3, 0.46) if kind < 0.4 else rng.uniform(0.5, 0.95))
    if kind > 0.93 or (wide and kind > 0.85):
        level_mm = float(rng.uniform(1.1, 1.8))
    opacity = float(
        np.clip(colony.milk * np.exp(rng.normal(0.0, 0.35 if not wide else 0.7)), 0.6, 25.0)
    )
    ripple = float(rng.uniform(0.1, 0.7) if not wide else rng.uniform(0.0, 1.6))
    if age_h < FED_FROM_H or kind < (0.06 if not wide else 0.12):
        return Pool()
    amount = Jelly.LITTLE if level_mm < 0.48 else Jelly.PLENTY
    return Pool(
        amount=amount,
        level_mm=level_mm,
        opacity_per_mm=opacity,
        tint_rgb=colony.tint_rgb,
        ripple=ripple,
    )


def with_egg(
    cell: SceneCell, age_h: float, rng: np.random.Generator, *, pitch_mm: float
) -> SceneCell:
    """Return an empty cell with an egg of an age (negative) drawn into it."""
    pose = sample_egg(age_h, rng)
    away_mm = min(abs(float(rng.normal(0.0, 0.45))), 0.25 * pitch_mm)
    angle_rad = float(rng.uniform(0.0, 2.0 * np.pi))
    egg = Egg(
        age_h=age_h,
        length_mm=pose.length_mm,
        width_mm=pose.width_mm,
        lean_deg=float(np.clip(pose.lean_deg, 0.0, 90.0)),
        azimuth_deg=float(rng.uniform(0.0, 360.0)),
        bend_deg=float(rng.uniform(5.0, 35.0)),
        offset_xy_mm=(away_mm * math.cos(angle_rad), away_mm * math.sin(angle_rad)),
    )
    return replace(cell, content=Content.EGG, egg=egg)


def with_stores(
    cell: SceneCell, rng: np.random.Generator, *, pollen_chance: float = 0.6
) -> SceneCell:
    """Return an empty cell with pollen or nectar drawn into it."""
    if rng.random() < pollen_chance:
        colour = np.array(_POLLEN_RGB[int(rng.integers(len(_POLLEN_RGB)))]) * rng.uniform(
            0.85, 1.08
        )
        kind, depth_mm = StoresKind.POLLEN, float(rng.uniform(3.0, 8.5))
    else:
        colour = np.array(_NECTAR_RGB[int(rng.integers(len(_NECTAR_RGB)))]) * rng.uniform(
            0.85, 1.08
        )
        kind, depth_mm = StoresKind.NECTAR, float(rng.uniform(1.5, 8.5))
    r, g, b = np.clip(colour, 0.0, 255.0)
    stores = Stores(kind=kind, depth_mm=depth_mm, colour_rgb=(float(r), float(g), float(b)))
    return replace(cell, content=Content.STORES, stores=stores)


def _tint(rng: np.random.Generator, spread: float) -> tuple[float, float, float]:
    r, g, b = np.exp(rng.normal(0.0, spread, 3))
    return (float(r), float(g), float(b))
