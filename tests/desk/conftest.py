"""Tiles of eggs and larvae of every age, for drills that compare single cells."""

import numpy as np
import pytest

from larvasight.render.tiles import Tile
from larvasight.sheet import Content, Jelly

SETTINGS = ("sun-new-floor", "dim-yellow-floor")


@pytest.fixture
def eye_tile():
    """Return a function that makes the tile of an egg or a larva."""
    return tile_of


@pytest.fixture(scope="session")
def eye_tiles():
    """Return eggs and larvae of two settings that look as old as they are, 1.5 h apart."""
    return tuple(tile_of(float(a), s) for s in SETTINGS for a in np.arange(-60.0, 90.0, 1.5))


def tile_of(age_h, setting=SETTINGS[0], looks_h=0.0, **changes):
    is_egg = age_h < 0.0
    values = {
        "id": f"{setting} {age_h:g} {looks_h:g} {changes.get('is_test', False)}",
        "file": "cell.png",
        "setting": setting,
        "is_test": False,
        "content": Content.EGG if is_egg else Content.LARVA,
        "stores": None,
        "age_h": age_h,
        "looks_age_h": None if is_egg else age_h + looks_h,
        "length_mm": None if is_egg else 2.0,
        "width_mm": None if is_egg else 0.4,
        "area_mm2": None if is_egg else 0.7,
        "curl_deg": None if is_egg else 180.0,
        "jelly": Jelly.PLENTY,
        "visible_share": 1.0,
        "midline_xy_px": None,
        "outline_xy_px": None,
        "flags": (),
        "pitch_px": 96.0,
        "pitch_mm": 5.3,
        "side_px": 120,
    }
    return Tile(**(values | changes))
