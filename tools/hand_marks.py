"""Files of marks made by hand on photographs."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from larvasight.errors import LarvasightError
from larvasight.sheet import Content

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

FORMAT = """\
The marks file is JSON:

  {"photos": [{
      "photo": "comb.jpg",                       file name in the photo folder
      "lattice": {
        "region_xyxy": [left, top, right, bottom],  px; only cells in it are marked (optional)
        "pitch_px_mean": 28.4,                   mean distance of neighbouring middles, px
        "row_angle_deg": -4.0,                   direction of one row, x right, y down
        "centres_xy_px": [[541.4, 957.2], ...]   middles of the cells' mouths
      },
      "cells": [{                                what some cells hold (may be left out or empty)
        "cell_centre_px": [275, 116],
        "stage": "closed ring",                  in words: egg, empty, capped, pollen, nectar,
                                                 honey, bee; larva, ring, coil, arc, comma or C
        "arc_deg": 345,                          turn of the larva's body, degrees
        "body_length_pitch": 1.2,                its length as a share of the pitch
        "outer_diameter_pitch": 0.71             its coil's outer diameter as a share of the pitch
      }]
  }]}

Pixels are those of the upright picture, the origin in the middle of the top left one. Unknown
keys are passed over; every value but the photo's name and the centres may be null or missing."""


class MarksInvalidError(LarvasightError):
    """A file of marks cannot be read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandCell:
    """What a person saw in one cell; None where nothing was noted."""

    centre_xy_px: tuple[float, float]
    stage: str
    arc_deg: float | None
    length_pitch: float | None
    diameter_pitch: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HandMarks:
    """Marks on one photograph; centres have shape (N, 2), px."""

    photo: str
    region_xyxy: tuple[int, int, int, int] | None
    centres_xy_px: NDArray[np.float64]
    pitch_px: float
    row_angle_deg: float | None
    cells: tuple[HandCell, ...]


# Words of a stage, the first that fits: what they say the cell holds.
# Fewer centres tell no lattice.
_CENTRES_LEAST = 3
_WORDS = (
    ("egg", Content.EGG),
    ("empty", Content.EMPTY),
    ("capped", Content.CAPPED),
    ("pollen", Content.STORES),
    ("nectar", Content.STORES),
    ("honey", Content.STORES),
    ("stores", Content.STORES),
    ("bee", Content.COVERED),
    ("larva", Content.LARVA),
    ("ring", Content.LARVA),
    ("coil", Content.LARVA),
    ("arc", Content.LARVA),
    ("comma", Content.LARVA),
)


def content_of(stage: str) -> Content | None:
    """Return what a cell holds by the words of a mark, None where they do not tell."""
    words = re.findall("[a-z]+", stage.lower())
    told = (content for start, content in _WORDS if any(w.startswith(start) for w in words))
    return next(told, Content.LARVA if "c" in words else None)


def read_marks(path: Path) -> list[HandMarks]:
    """Read a file of marks.

    Raises
    ------
    MarksInvalidError
        If the file cannot be read or has another form.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8-sig"))
        return [_photo(one) for one in data["photos"]]
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        msg = f"{path.name} is no file of marks: {type(error).__name__} {error}."
        raise MarksInvalidError(msg) from error


def _photo(record: dict[str, Any]) -> HandMarks:
    lattice = record["lattice"]
    region = lattice.get("region_xyxy")
    centres = np.array(lattice["centres_xy_px"], dtype=np.float64).reshape(-1, 2)
    if len(centres) < _CENTRES_LEAST:
        msg = f"centres_xy_px must be {_CENTRES_LEAST} or more, got {len(centres)}"
        raise ValueError(msg)
    angle = lattice.get("row_angle_deg")
    return HandMarks(
        photo=str(record["photo"]),
        region_xyxy=None if region is None else _region(region),
        centres_xy_px=centres,
        pitch_px=float(lattice.get("pitch_px_mean") or _usual_gap_px(centres)),
        row_angle_deg=None if angle is None else float(angle),
        cells=tuple(_cell(one) for one in record.get("cells") or ()),
    )


def _region(sides: list[Any]) -> tuple[int, int, int, int]:
    left, top, right, bottom = (int(side) for side in sides)
    return left, top, right, bottom


def _usual_gap_px(centres: NDArray[np.float64]) -> float:
    apart_px = np.hypot(*np.moveaxis(centres[None] - centres[:, None], -1, 0))
    np.fill_diagonal(apart_px, np.inf)
    return float(np.median(apart_px.min(axis=1)))


def _cell(record: dict[str, Any]) -> HandCell:
    x, y = record["cell_centre_px"]
    return HandCell(
        centre_xy_px=(float(x), float(y)),
        stage=str(record.get("stage") or ""),
        arc_deg=_number(record.get("arc_deg")),
        length_pitch=_number(record.get("body_length_pitch")),
        diameter_pitch=_number(record.get("outer_diameter_pitch")),
    )


def _number(value: float | str | None) -> float | None:
    return None if value is None else float(value)
