"""Cut a rendered frame into tiles and keep them with their truth, whole or not at all."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from PIL import Image

from tiles_fillings import food_area_mm2
from tiles_settings import CROP_PITCHES, PITCH_MM
from tiles_tone import tone
from tiles_truth import Eye, tile_truth

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from tiles_frames import Frame, FrameCell
    from tiles_scene import Shot

WEBP_QUALITY = 90
TEST_SHARE = 0.25


def tile_id(frame: Frame, at: FrameCell) -> str:
    """Return the name of a tile, the same for ever."""
    kind = "rock-" if frame.rocking else ""
    return f"{kind}{frame.setting.name}-{frame.number:02d}-{at.row:02d}{at.col:02d}"


def is_test(name: str) -> bool:
    """Tell whether a tile is set apart for tests, by a hash of its name; none to rock is."""
    digest = hashlib.sha256(name.encode()).digest()
    return int.from_bytes(digest[:4], "big") < TEST_SHARE * 2.0**32


def tile_side_px(pitch_px: float) -> int:
    """Return the side of a tile's square, an even number."""
    return 2 * round(0.5 * CROP_PITCHES * pitch_px)


def cut_tile(
    picture: NDArray[np.uint8], shot: Shot, at: FrameCell, pitch_px: float
) -> NDArray[np.uint8]:
    """Return the square about a cell; its rims lie as a regular hexagon.

    The cell's axis crosses the plane of the rims at pixel ``(side - 1) / 2`` of both axes.
    """
    side = tile_side_px(pitch_px)
    per_px = PITCH_MM / pitch_px
    to_mm = np.column_stack([np.eye(2) * per_px, at.centre_xy_mm - per_px * (side - 1) / 2.0])
    linear = shot.matrix[:, :2] @ to_mm[:, :2]
    shift = shot.matrix[:, :2] @ to_mm[:, 2] + shot.matrix[:, 2]
    tile = cv2.warpAffine(
        picture,
        np.column_stack([linear, shift]),
        (side, side),
        flags=cv2.INTER_LANCZOS4 | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REFLECT_101,
    )
    return np.asarray(tile, dtype=np.uint8)


def cut_frame(
    frame: Frame, shot: Shot, folder: Path, pitch_px: float, *, view: str = ""
) -> list[dict[str, Any]]:
    """Write a frame's tiles into a folder and return what is true about each.

    Parameters
    ----------
    frame : Frame
        What was rendered.
    shot : Shot
        The picture.
    folder : pathlib.Path
        Where tiles go; made if need be.
    pitch_px : float
        Pitch in the tiles.
    view : str
        View and lamp of frames to rock, as in "left-a": a suffix of the names.
    """
    folder.mkdir(parents=True, exist_ok=True)
    picture = tone(shot.light, frame.setting)
    eye = Eye(slope_xy=shot.slope_xy, pitch_px=pitch_px)
    records = []
    for at in frame.cells:
        if not at.shown:
            continue
        own = tile_id(frame, at)
        name = f"{own}-{view}" if view else own
        image = Image.fromarray(cut_tile(picture, shot, at, pitch_px))
        _write_image(image, folder / f"{name}.webp")
        records.append(
            {
                "id": name,
                "cell": own,
                "file": f"{folder.name}/{name}.webp",
                "is_test": not view and is_test(own),
                "setting": frame.setting.name,
                "light": "headlamp" if view else frame.setting.light,
                "comb": frame.setting.comb,
                "focus": frame.setting.focus,
                "view": view.partition("-")[0] or None,
                "lamp": view.partition("-")[2] or None,
                "frame": frame.number,
                "row": at.row,
                "col": at.col,
                "seed": at.cell.seed,
                "frame_seed": frame.seed,
                "pitch_px": pitch_px,
                "pitch_mm": PITCH_MM,
                "side_px": tile_side_px(pitch_px),
                "slope_xy": [round(s, 5) for s in shot.slope_xy],
                "jelly_level_mm": round(at.cell.pool.level_mm, 4),
                "jelly_opacity_per_mm": round(at.cell.pool.opacity_per_mm, 4),
                "jelly_area_mm2": round(food_area_mm2(at.food), 4) if at.food else 0.0,
                "stores": at.cell.stores.kind.value if at.cell.stores else None,
                **tile_truth(at, eye),
            }
        )
    return records


def _write_image(image: Image.Image, path: Path) -> None:
    partial = path.with_suffix(".part")
    image.save(partial, format="WEBP", quality=WEBP_QUALITY, method=6)
    partial.replace(path)


def write_records(records: list[dict[str, Any]], path: Path) -> None:
    """Write one line of JSON a tile; the file appears only when whole."""
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_suffix(".part")
    lines = [json.dumps(record, separators=(",", ":")) for record in records]
    partial.write_text("\n".join(lines) + "\n", encoding="utf-8")
    partial.replace(path)
