"""Settings of the tile library: which light, comb, focus and direction of view go together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

RGB = tuple[float, float, float]

PITCH_MM = 5.3
# Tiles reach beyond their hexagon, so that neighbours can be blended along the rims.
CROP_PITCHES = 1.25
CAMERA_DISTANCE_MM = 180.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wax:
    """Wax and shape of one kind of comb.

    Colours are sRGB 0-255 of the albedo. ``specular`` is how
    strongly wax mirrors, 0.5 as clean wax; ``subsurface`` and ``scatter_mm`` say how far
    light wanders in the wax, ``corner_power`` how sharp the hexagon's corners are,
    ``granular_mm`` how rough the rims, ``torn_mm`` how far their inner edges fray;
    ``stain``, ``crumbs``, ``dust`` and ``glitter`` are amounts in [0, 1].
    """

    rim_rgb: RGB
    wall_rgb: RGB
    floor_rgb: RGB
    cap_rgb: RGB
    roughness: float
    specular: float
    subsurface: float
    scatter_mm: float
    cocoon: float
    rim_half_mm: float
    wall_half_mm: float
    corner_power: float
    granular_mm: float
    torn_mm: float
    stain: float
    crumbs: float
    dust: float
    glitter: float
    floor_turned: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """One far lamp.

    ``slope_xy`` points to it: mm sideways for each mm of height, x right and y down;
    ``size`` is its radius in the same slope units; ``square`` lamps are window panes.
    """

    slope_xy: tuple[float, float]
    size: float
    strength: float
    colour_rgb: RGB = (1.0, 0.97, 0.92)
    square: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One light, comb, focus and direction of view; all its tiles fit together.

    ``exposure`` multiplies linear light before the tone curve, ``saturation`` is 1 for
    colours as they are. ``focus_mm`` is the depth in focus and ``aperture_mm`` the
    radius of the lens opening, 0 for everything sharp.
    """

    name: str
    light: str
    comb: str
    focus: str
    tilt_deg: float
    tilt_direction_deg: float
    wax: Wax
    lamps: tuple[Lamp, ...]
    sky: float
    sky_rgb: RGB
    exposure: float
    focus_mm: float
    aperture_mm: float
    saturation: float = 1.0

    @property
    def slope_xy(self) -> tuple[float, float]:
        """Mm sideways for each mm of depth along a ray from the camera."""
        return view_slope(self.tilt_deg, self.tilt_direction_deg)


def view_slope(tilt_deg: float, direction_deg: float) -> tuple[float, float]:
    """Return the slope of rays of a camera that leans towards a direction."""
    tan, way_rad = math.tan(math.radians(tilt_deg)), math.radians(direction_deg)
    return (-tan * math.cos(way_rad), -tan * math.sin(way_rad))


WAXES: Final[dict[str, Wax]] = {
    "new": Wax(
        rim_rgb=(198, 130, 14),
        wall_rgb=(236, 172, 36),
        floor_rgb=(184, 124, 34),
        cap_rgb=(222, 168, 74),
        roughness=0.36,
        specular=0.45,
        subsurface=0.45,
        scatter_mm=0.9,
        cocoon=0.06,
        rim_half_mm=0.13,
        wall_half_mm=0.05,
        corner_power=34.0,
        granular_mm=0.045,
        torn_mm=0.17,
        stain=0.22,
        crumbs=0.35,
        dust=0.25,
        glitter=0.9,
    ),
    "yellow": Wax(
        rim_rgb=(255, 220, 120),
        wall_rgb=(246, 220, 122),
        floor_rgb=(240, 208, 108),
        cap_rgb=(232, 190, 110),
        roughness=0.42,
        specular=0.45,
        subsurface=0.5,
        scatter_mm=0.8,
        cocoon=0.18,
        rim_half_mm=0.20,
        wall_half_mm=0.06,
        corner_power=20.0,
        granular_mm=0.05,
        torn_mm=0.04,
        stain=0.28,
        crumbs=0.25,
        dust=0.3,
        glitter=0.5,
        floor_turned=True,
    ),
    "brown": Wax(
        rim_rgb=(190, 140, 72),
        wall_rgb=(168, 104, 48),
        floor_rgb=(150, 92, 44),
        cap_rgb=(196, 142, 76),
        roughness=0.38,
        specular=0.16,
        subsurface=0.45,
        scatter_mm=0.5,
        cocoon=0.7,
        rim_half_mm=0.27,
        wall_half_mm=0.11,
        corner_power=11.0,
        granular_mm=0.08,
        torn_mm=0.03,
        stain=0.45,
        crumbs=0.45,
        dust=0.35,
        glitter=0.45,
    ),
    "old": Wax(
        rim_rgb=(170, 124, 74),
        wall_rgb=(116, 66, 30),
        floor_rgb=(70, 41, 12),
        cap_rgb=(198, 146, 80),
        roughness=0.5,
        specular=0.08,
        subsurface=0.4,
        scatter_mm=0.2,
        cocoon=1.0,
        rim_half_mm=0.36,
        wall_half_mm=0.15,
        corner_power=7.5,
        granular_mm=0.11,
        torn_mm=0.02,
        stain=0.6,
        crumbs=0.6,
        dust=0.45,
        glitter=0.6,
        floor_turned=True,
    ),
}


def _ring(strength: float) -> tuple[Lamp, ...]:
    angles = [2.0 * math.pi * k / 14 for k in range(14)]
    return tuple(
        Lamp(
            slope_xy=(0.23 * math.cos(a), 0.23 * math.sin(a)),
            size=0.035,
            strength=strength / 14.0,
            colour_rgb=(1.0, 0.98, 0.96),
        )
        for a in angles
    )


def _headlamp(x: float, y: float, strength: float) -> tuple[Lamp, ...]:
    return (Lamp(slope_xy=(x, y), size=0.04, strength=strength, colour_rgb=(1.0, 0.98, 0.95)),)


def _sun(x: float, y: float, strength: float) -> tuple[Lamp, ...]:
    return (Lamp(slope_xy=(x, y), size=0.012, strength=strength, colour_rgb=(1.0, 0.95, 0.86)),)


def _window(x: float, y: float, strength: float) -> tuple[Lamp, ...]:
    return (
        Lamp(
            slope_xy=(x, y), size=0.14, strength=strength, colour_rgb=(0.97, 0.99, 1.0), square=True
        ),
    )


_BOTH: dict[str, str | float] = {"focus": "both", "focus_mm": 8.0, "aperture_mm": 0.35}
_FLOOR: dict[str, str | float] = {"focus": "floor", "focus_mm": 10.2, "aperture_mm": 1.6}
_RIM: dict[str, str | float] = {"focus": "rim", "focus_mm": 0.8, "aperture_mm": 0.9}
_COOL, _NEUTRAL, _WARM = (0.96, 0.98, 1.03), (1.0, 1.0, 1.0), (1.08, 0.98, 0.88)


def _setting(
    light: str,
    comb: str,
    focus: dict[str, str | float],
    lamps: tuple[Lamp, ...],
    **rest: object,
) -> Setting:
    values: dict[str, object] = {**focus, **rest}
    name = f"{light}-{comb}-{focus['focus']}"
    return Setting(
        name=name,
        light=light,
        comb=comb,
        wax=WAXES[comb],
        lamps=lamps,
        **values,  # type: ignore[arg-type]
    )


_ALL: Final = (
    _setting("ring", "new", _BOTH, _ring(3.2), tilt_deg=2.0, tilt_direction_deg=140.0,
             sky=0.5, sky_rgb=_COOL, exposure=0.78, saturation=1.14),
    _setting("ring", "old", _FLOOR, _ring(3.2), tilt_deg=4.0, tilt_direction_deg=250.0,
             sky=0.5, sky_rgb=_COOL, exposure=1.25, saturation=1.15),
    _setting("sun", "new", _FLOOR, _sun(0.07, -0.17, 3.0), tilt_deg=7.0, tilt_direction_deg=75.0,
             sky=1.1, sky_rgb=_COOL, exposure=0.70, saturation=1.14),
    _setting("sun", "brown", _BOTH, _sun(-0.16, -0.12, 3.4), tilt_deg=5.0,
             tilt_direction_deg=20.0, sky=1.0, sky_rgb=_COOL, exposure=0.88),
    _setting("window", "yellow", _FLOOR, _window(-0.16, -0.20, 2.6), tilt_deg=3.0,
             tilt_direction_deg=300.0, sky=0.8, sky_rgb=_COOL, exposure=0.95),
    _setting("window", "old", _BOTH, _window(0.22, -0.10, 3.0), tilt_deg=5.0,
             tilt_direction_deg=200.0, sky=0.8, sky_rgb=_COOL, exposure=1.35, saturation=1.15),
    _setting("headlamp", "yellow", _RIM, _headlamp(0.07, -0.13, 3.0), tilt_deg=0.0,
             tilt_direction_deg=0.0, sky=0.5, sky_rgb=_NEUTRAL, exposure=0.74),
    _setting("headlamp", "brown", _BOTH, _headlamp(-0.09, -0.11, 3.2), tilt_deg=6.0,
             tilt_direction_deg=110.0, sky=0.5, sky_rgb=_NEUTRAL, exposure=0.76),
    _setting("dim", "yellow", _FLOOR, _window(0.13, 0.07, 0.9), tilt_deg=1.0,
             tilt_direction_deg=45.0, sky=0.75, sky_rgb=_WARM, exposure=0.75),
    _setting("dim", "brown", _RIM, _window(-0.07, 0.13, 1.0), tilt_deg=9.0,
             tilt_direction_deg=330.0, sky=0.9, sky_rgb=_COOL, exposure=0.95),
)  # fmt: skip

SETTINGS: Final[dict[str, Setting]] = {setting.name: setting for setting in _ALL}

# Rocking: straight and four tilts, each under two lamps.
ROCK_TILT_DEG = 12.0
ROCK_VIEWS: Final[dict[str, tuple[float, float]]] = {
    "straight": (0.0, 0.0),
    "right": (ROCK_TILT_DEG, 0.0),
    "down": (ROCK_TILT_DEG, 90.0),
    "left": (ROCK_TILT_DEG, 180.0),
    "up": (ROCK_TILT_DEG, 270.0),
}
ROCK_LAMPS: Final[dict[str, tuple[Lamp, ...]]] = {
    "a": _headlamp(-0.11, -0.12, 3.2),
    "b": _headlamp(0.15, 0.02, 3.2),
}
ROCK_SETTINGS: Final = ("headlamp-brown-both", "ring-new-both")
