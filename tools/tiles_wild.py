"""Settings drawn by chance, for training the parser only: light and comb of every sort."""

from __future__ import annotations

import math
from dataclasses import fields
from typing import Final

import numpy as np

from tiles_settings import RGB, WAXES, Lamp, Setting, Wax

PREFIX: Final = "wild-"
_TILT_MOST_DEG = 13.0
_COLOURS: Final = ("rim_rgb", "wall_rgb", "floor_rgb", "cap_rgb")
_AMOUNTS: Final = ("subsurface", "cocoon", "stain", "crumbs", "dust", "glitter")
# A wax of this luma, 0-255, is exposed as it is; darker ones longer, as cameras do.
_USUAL_LUMA = 120.0


def wild_setting(name: str, seed: int) -> Setting:
    """Return the setting of a name as ``wild-012``; the same for the same seed.

    Raises
    ------
    ValueError
        If the name is not of this form.
    """
    number = name.removeprefix(PREFIX)
    if not name.startswith(PREFIX) or not number.isdigit():
        msg = f"name must be {PREFIX} and a number, got {name!r}"
        raise ValueError(msg)
    rng = np.random.default_rng([seed, int(number)])
    wax = _wax(rng)
    focus, focus_mm, aperture_mm = _focus(rng)
    luma = float(np.mean([wax.floor_rgb, wax.wall_rgb]))
    lamps, sky = _lamps(rng)
    return Setting(
        name=name,
        light="wild",
        comb="wild",
        focus=focus,
        tilt_deg=_TILT_MOST_DEG * float(rng.random()),
        tilt_direction_deg=float(rng.uniform(0.0, 360.0)),
        wax=wax,
        lamps=lamps,
        sky=sky,
        sky_rgb=_tinted(rng, 0.06),
        exposure=0.85 * (_USUAL_LUMA / luma) ** 0.4 * float(np.exp(rng.normal(0.0, 0.28))),
        focus_mm=focus_mm,
        aperture_mm=aperture_mm,
        saturation=float(rng.uniform(0.75, 1.3)),
    )


def _wax(rng: np.random.Generator) -> Wax:
    """Return wax somewhere between two kinds, each of its traits a little off."""
    one, other = rng.choice(sorted(WAXES), 2)
    share = float(rng.random())
    values: dict[str, object] = {"floor_turned": bool(rng.random() < 0.5)}
    for field in fields(Wax):
        a, b = getattr(WAXES[one], field.name), getattr(WAXES[other], field.name)
        if field.name in _COLOURS:
            mixed = (1.0 - share) * np.array(a) + share * np.array(b)
            shade = np.exp(rng.normal(0.0, 0.18) + rng.normal(0.0, 0.08, 3))
            values[field.name] = tuple(float(v) for v in np.clip(mixed * shade, 3.0, 253.0))
        elif field.name != "floor_turned":
            mixed = ((1.0 - share) * a + share * b) * float(np.exp(rng.normal(0.0, 0.25)))
            values[field.name] = min(mixed, 1.0) if field.name in _AMOUNTS else mixed
    values["specular"] = float(rng.uniform(0.05, 0.6))
    values["roughness"] = float(rng.uniform(0.28, 0.55))
    return Wax(**values)  # type: ignore[arg-type]


def _focus(rng: np.random.Generator) -> tuple[str, float, float]:
    kind = rng.choice(["both", "floor", "rim", "past"], p=[0.45, 0.35, 0.1, 0.1])
    aperture_mm = float(rng.uniform(0.2, 1.6))
    depth_mm = {"both": 8.0, "floor": 10.2, "rim": 1.5, "past": 13.0}[str(kind)]
    return str(kind), depth_mm, 0.3 * aperture_mm if kind == "both" else aperture_mm


def _lamps(rng: np.random.Generator) -> tuple[tuple[Lamp, ...], float]:
    """Return lamps from any side that reaches the floors, and the light of the sky."""
    n_lamps = int(rng.choice([1, 1, 1, 2, 3, 12]))
    strength = float(rng.uniform(0.8, 3.6)) / n_lamps**0.7
    turn = float(rng.uniform(0.0, 2.0 * math.pi))
    lamps = []
    for k in range(n_lamps):
        angle = turn + (2.0 * math.pi * k / n_lamps if n_lamps > 3 else rng.uniform(0.0, 7.0))
        slope = float(rng.uniform(0.04, 0.3))
        lamps.append(
            Lamp(
                slope_xy=(slope * math.cos(angle), slope * math.sin(angle)),
                size=float(np.exp(rng.uniform(math.log(0.01), math.log(0.2)))),
                strength=strength,
                colour_rgb=_tinted(rng, 0.08),
                square=bool(rng.random() < 0.3),
            )
        )
    return tuple(lamps), float(rng.uniform(0.35, 1.3))


def _tinted(rng: np.random.Generator, sd: float) -> RGB:
    warmth = float(rng.normal(0.0, sd))
    return (1.0 + warmth, 1.0, 1.0 - warmth)
