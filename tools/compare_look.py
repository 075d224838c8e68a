"""Colours of the tile library beside medians measured on photographs of real comb.

python tools/compare_look.py DIR

DIR holds ``tiles.jsonl`` and the tiles, as ``render_tiles.py`` writes them. Printed for
each setting: colours of floor, wall, rim, body and food, how the body stands out, the share
of its pixels that are burnt out, all as a camera's curve shows them; then what grows with age
that should not.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import defaultdict
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from larvasight.geometry import CELL_DEPTH_MM
from larvasight.render.lens import with_ends

Floats = NDArray[np.float64]
RGB = tuple[float, float, float]

# Medians of photographs, sRGB 0-255: new comb in sun, fresh yellow comb, old dark comb.
PHOTOGRAPHS: Final[dict[str, dict[str, RGB]]] = {
    "new": {"floor": (135, 71, 0), "wall": (137, 66, 1), "rim": (187, 127, 6)},
    "yellow": {"floor": (201, 172, 74), "rim": (254, 234, 143)},
    "old": {
        "floor": (46, 29, 11),
        "lit wall": (126, 78, 42),
        "rim": (202, 155, 91),
        "capping": (226, 174, 99),
    },
}
BODY_LIT, BODY_SHADE = (200.0, 178.0, 128.0), (158.0, 122.0, 88.0)
JELLY_RGB = (181.0, 162.0, 138.0)
BURNT_SHARE = 0.01
CLOSE_ENOUGH = 0.15
_LUMA = np.array([0.299, 0.587, 0.114])
_BURNT_FROM = 250


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("library", type=Path)
    library = parser.parse_args().library
    lines = (library / "tiles.jsonl").read_text(encoding="utf-8").splitlines()
    records = [json.loads(line) for line in lines]
    by_setting: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for record in records:
        by_setting[record["setting"]].append(record)
    for name, own in sorted(by_setting.items()):
        print_setting(name, own, library)
    print_independence(records)
    return 0


def print_setting(name: str, records: list[dict[str, Any]], library: Path) -> None:
    """Print one setting's colours beside those of photographs of such comb."""
    samples: dict[str, list[Floats]] = defaultdict(list)
    stands_out = []
    for record in records:
        drawn = np.asarray(Image.open(library / record["file"]).convert("RGB"), dtype=np.uint8)
        tile = with_ends(drawn).astype(np.float64)
        found = {key: tile[mask] for key, mask in regions(record).items() if mask.any()}
        for key, values in found.items():
            samples[key].append(values)
        around = found.get("jelly", found.get("beside"))
        if "body" in found and around is not None:
            stands_out.append(float(np.median(found["body"] @ _LUMA) - np.median(around @ _LUMA)))
    comb = records[0]["comb"]
    say(f"\n{name} ({len(records)} tiles)")
    if "wall" in samples:
        samples["lit wall"] = [_brightest(np.vstack(samples["wall"]))]
    for key in ("floor", "wall", "lit wall", "rim", "capping", "body", "egg", "jelly"):
        if key in samples:
            say(_line(key, np.vstack(samples[key]), PHOTOGRAPHS.get(comb, {}).get(key)))
    if "body" in samples:
        body = np.vstack(samples["body"])
        burnt = float((body.min(axis=1) >= _BURNT_FROM).mean())
        say(f"  burnt out   {100 * burnt:5.2f} % of bodies (photographs about 1 %)")
    if stands_out:
        low, mid, high = np.percentile(stands_out, [10, 50, 90])
        say(f"  body over what lies beside it, luma: {low:.0f} / {mid:.0f} / {high:.0f} (10/50/90)")


def _brightest(values: Floats) -> Floats:
    """Return the brightest sixth of colours."""
    luma = values @ _LUMA
    return np.asarray(values[luma >= np.percentile(luma, 100.0 * 5.0 / 6.0)])


def _line(key: str, values: Floats, photograph: RGB | None) -> str:
    median = np.median(values, axis=0)
    bright = np.percentile(values @ _LUMA, 90)
    text = f"  {key:9s} {_rgb(median)}  luma 90 % {bright:4.0f}"
    if key == "body":
        return f"{text}   photographs {_rgb(BODY_LIT)} lit, {_rgb(BODY_SHADE)} in shade"
    wanted = JELLY_RGB if key == "jelly" else photograph
    if wanted is None:
        return text
    apart = difference(median, wanted)
    verdict = "close" if apart <= CLOSE_ENOUGH else "apart"
    return f"{text}   photographs {_rgb(wanted)}  {100 * apart:3.0f} % {verdict}"


def _rgb(colour: Floats | RGB) -> str:
    return "(" + ",".join(f"{round(float(channel)):3d}" for channel in colour) + ")"


def difference(colour: Floats | RGB, wanted: Floats | RGB) -> float:
    """Return how far a colour is from another, as a share of the other's channels' sum."""
    away = np.abs(np.asarray(colour, dtype=np.float64) - np.asarray(wanted, dtype=np.float64))
    return float(away.sum() / np.sum(wanted))


def regions(record: dict[str, Any]) -> dict[str, NDArray[np.bool_]]:
    """Return which pixels of a tile show which part of the cell."""
    side, pitch = int(record["side_px"]), float(record["pitch_px"])
    px_per_mm = pitch / float(record["pitch_mm"])
    middle = (side - 1) / 2.0
    y, x = np.mgrid[:side, :side] - middle
    turns = np.radians([0.0, 60.0, 120.0])
    reach = np.max([np.abs(x * np.cos(a) + y * np.sin(a)) for a in turns], axis=0) / pitch
    below = -CELL_DEPTH_MM * np.array(record["slope_xy"]) * px_per_mm
    from_floor = np.hypot(x - below[0], y - below[1]) / pitch
    found = {"rim": (reach > 0.475) & (reach <= 0.5)}
    content = record["content"]
    if content == "capped":
        found["capping"] = reach < 0.35
    if content == "empty":
        found["floor"] = (from_floor < 0.25) & (reach < 0.38)
        found["wall"] = (from_floor > 0.44) & (reach < 0.42)
    if record["outline_xy"] is None:
        return found
    outline = np.round(16.0 * (np.array(record["outline_xy"]) + middle)).astype(np.int32)
    drawn = np.zeros((side, side), dtype=np.uint8)
    cv2.fillPoly(drawn, [outline], 1, cv2.LINE_8, 4)
    ball = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    inside = cv2.erode(drawn, ball) > 0
    near = cv2.dilate(drawn, ball, iterations=4) > 0
    off = cv2.dilate(drawn, ball, iterations=2) == 0
    in_sight = reach < 0.42
    found["body" if content == "larva" else "egg"] = inside & in_sight
    if content == "egg":
        found["floor"] = off & (from_floor < 0.25) & (reach < 0.38)
        found["wall"] = (from_floor > 0.44) & (reach < 0.42)
    found["beside"] = near & off & in_sight
    wet_mm = np.sqrt(float(record["jelly_area_mm2"]) / np.pi)
    if record["jelly"] == "plenty":
        found["jelly"] = near & off & in_sight & (from_floor * record["pitch_mm"] < 0.8 * wet_mm)
    return found


def print_independence(records: list[dict[str, Any]]) -> None:
    """Print what the library's larvae have to do with age that must not tell it."""
    larvae = [r for r in records if r["content"] == "larva"]
    if len(larvae) < 3:
        return
    ages = np.array([r["age_h"] for r in larvae])
    say("\ncorrelation with age over all larvae (must stay within 0.2):")
    for key in ("jelly_area_mm2", "jelly_level_mm", "jelly_opacity_per_mm"):
        values = np.array([r[key] for r in larvae])
        say(f"  {key:22s} {np.corrcoef(ages, values)[0, 1]:+.3f}")
    for key in ("light", "comb", "focus"):
        for kind in sorted({r[key] for r in larvae}):
            own = np.array([r[key] == kind for r in larvae], dtype=np.float64)
            if own.std() > 0.0:
                say(f"  {key + ' is ' + kind:22s} {np.corrcoef(ages, own)[0, 1]:+.3f}")


def say(line: str) -> None:
    """Print one line."""
    sys.stdout.write(line + "\n")


if __name__ == "__main__":
    raise SystemExit(main())
