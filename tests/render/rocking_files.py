"""Pictures to rock, small and plain: a bar on the floor that slides, a dot for the lamp."""

import json

import cv2
import numpy as np

PITCH_PX = 32.0
SIDE_PX = 40
VIEWS = {
    "straight": (0, 0),
    "right": (6, 0),
    "down": (0, 6),
    "left": (-6, 0),
    "up": (0, -6),
}
LAMPS = {"a": (90, 60, 40), "b": (40, 60, 90)}
# Content, age in hours, whether it is set apart for tests.
CELLS = (
    ("egg", -60.0, False),
    ("egg", -10.0, False),
    ("larva", 1.5, False),
    ("larva", 17.0, False),
    ("larva", 35.0, False),
    ("larva", 18.0, True),
)


def write_rocking(folder, settings=("lamp-a",), leave_out=()):
    """Write the views of a few cells and their list; ``leave_out`` names views not written."""
    (folder / "rocking").mkdir(parents=True, exist_ok=True)
    lines = []
    for setting in settings:
        for number, (content, age_h, is_test) in enumerate(CELLS):
            cell = f"rock-{setting}-00-{number:04d}"
            for view, shift in VIEWS.items():
                for lamp, colour in LAMPS.items():
                    name = f"{cell}-{view}-{lamp}"
                    if name in leave_out:
                        continue
                    file = f"rocking/{name}.png"
                    cv2.imwrite(str(folder / file), picture(shift, colour)[..., ::-1])
                    record = record_of(name, cell, file, setting, content, age_h, view, lamp)
                    lines.append(json.dumps(record | {"is_test": is_test}))
    (folder / "rocking.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


def picture(shift, colour):
    tile = np.full((SIDE_PX, SIDE_PX, 3), colour, dtype=np.uint8)
    x, y = SIDE_PX // 2 + shift[0], SIDE_PX // 2 + shift[1]
    tile[y - 2 : y + 2, x - 5 : x + 5] = 250
    return tile


def record_of(name, cell, file, setting, content, age_h, view, lamp):
    is_larva = content == "larva"
    return {
        "id": name,
        "cell": cell,
        "file": file,
        "setting": setting,
        "view": view,
        "lamp": lamp,
        "content": content,
        "stores": None,
        "age_h": age_h,
        "looks_age_h": age_h if is_larva else None,
        "length_mm": 1.6,
        "width_mm": 0.4,
        "area_mm2": 0.5,
        "curl_deg": 60.0 if is_larva else None,
        "jelly": "little",
        "visible_share": 1.0,
        "midline_xy": [[-5.0, 0.0], [5.0, 0.0]],
        "outline_xy": [[-5.0, 0.0], [5.0, 0.0]],
        "flags": [],
        "pitch_px": PITCH_PX,
        "pitch_mm": 5.3,
        "side_px": SIDE_PX,
    }
