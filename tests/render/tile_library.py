"""A small library of drawn tiles for tests: flat colours, dark rims, a bright bar as a body."""

import json

import cv2
import numpy as np

from larvasight.geometry import hexagon_corners

PITCH_PX = 96.0
SIDE_PX = 120
PITCH_MM = 5.3
# Kind, age in hours, colour (R, G, B) of the floor.
KINDS = (
    *(("larva", float(age_h), (90, 60, 40)) for age_h in range(0, 96, 3)),
    *(("egg", -float(age_h), (60, 60, 90)) for age_h in range(2, 74, 8)),
    *(("empty", None, (40, 40, 40)) for _ in range(4)),
    *(("pollen", None, (200, 160, 40)) for _ in range(2)),
    *(("nectar", None, (160, 90, 20)) for _ in range(2)),
    *(("capped", None, (190, 150, 110)) for _ in range(2)),
)
BAR_PX = ((-15.0, 0.0), (15.0, 0.0))


def write_library(folder, settings=("lamp-a", "lamp-b"), test_every=4):
    """Write tiles and their list into a folder; every fourth is set apart for tests."""
    folder.mkdir(parents=True, exist_ok=True)
    lines = []
    for setting in settings:
        for number, (kind, age_h, colour) in enumerate(KINDS):
            name = f"{setting}-{number:03d}"
            cv2.imwrite(str(folder / f"{name}.png"), picture(colour, age_h)[..., ::-1])
            is_test = number % test_every == 3
            lines.append(json.dumps(record(name, setting, kind, age_h, is_test=is_test)))
    (folder / "tiles.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


def picture(colour, age_h):
    tile = np.full((SIDE_PX, SIDE_PX, 3), (230, 200, 120), dtype=np.uint8)
    corners = hexagon_corners(PITCH_PX * 0.9) + (SIDE_PX - 1) / 2.0
    cv2.fillConvexPoly(tile, np.round(corners).astype(np.int32), colour)
    if age_h is not None:
        middle = (SIDE_PX - 1) / 2.0
        (left, _), (right, _) = BAR_PX
        start = (round(middle + left), round(middle))
        cv2.line(tile, start, (round(middle + right), round(middle)), (250, 250, 250), 5)
    return tile


def record(name, setting, kind, age_h, *, is_test):
    stores = kind if kind in ("pollen", "nectar") else None
    content = "stores" if stores else kind
    has_body = content in ("larva", "egg")
    is_larva = content == "larva"
    return {
        "id": name,
        "file": f"{name}.png",
        "setting": setting,
        "is_test": is_test,
        "content": content,
        "stores": stores,
        "age_h": age_h,
        "looks_age_h": age_h if is_larva else None,
        "length_mm": 30.0 * PITCH_MM / PITCH_PX if has_body else None,
        "width_mm": 0.3 if has_body else None,
        "area_mm2": 0.4 if has_body else None,
        "curl_deg": 0.0 if is_larva else None,
        "jelly": "none" if content in ("larva", "egg", "empty") else None,
        "visible_share": 1.0 if has_body else None,
        "midline_xy": BAR_PX if has_body else None,
        "outline_xy": BAR_PX if has_body else None,
        "flags": [],
        "pitch_px": PITCH_PX,
        "pitch_mm": PITCH_MM,
        "side_px": SIDE_PX,
    }
