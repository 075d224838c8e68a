"""The library of path-traced tiles: pictures of single cells with exact truth."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from larvasight.errors import AssetMissingError
from larvasight.render.assets import assets_dir
from larvasight.sheet import Content, Flag, Jelly, PointsXY

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from numpy.typing import NDArray

TILES_FILE = "tiles.jsonl"
_DECODED_MOST = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """One cell of the library.

    The cell's axis crosses the rims at pixel ``(side_px - 1) / 2`` of both axes; rows run
    along x. Points are px of the tile from there. ``is_test`` tiles are never practised on.
    ``slope_xy`` says how far the eye looks in aslant, mm sideways for each mm of depth.
    """

    id: str
    file: str
    setting: str
    is_test: bool
    content: Content
    stores: str | None
    age_h: float | None
    looks_age_h: float | None
    length_mm: float | None
    width_mm: float | None
    area_mm2: float | None
    curl_deg: float | None
    jelly: Jelly | None
    visible_share: float | None
    midline_xy_px: PointsXY | None
    outline_xy_px: PointsXY | None
    flags: tuple[Flag, ...]
    pitch_px: float
    pitch_mm: float
    side_px: int
    slope_xy: tuple[float, float] = (0.0, 0.0)

    @property
    def kind(self) -> str:
        """What it can stand for: its content, stores told apart."""
        return self.stores or self.content.value


class TileLibrary:
    """All tiles of a folder, those for tests or all others.

    Parameters
    ----------
    folder : Path
        Holds ``tiles.jsonl`` and the pictures it names.
    tiles : iterable of Tile
        What can be used.
    """

    def __init__(self, folder: Path, tiles: Iterable[Tile]) -> None:
        self._pictures = TilePictures(folder)
        self._by_setting: dict[str, list[Tile]] = {}
        self._by_id: dict[str, Tile] = {}
        for tile in tiles:
            self._by_id[tile.id] = tile
            self._by_setting.setdefault(tile.setting, []).append(tile)

    @classmethod
    def load(cls, folder: Path | None = None, *, for_tests: bool = False) -> TileLibrary:
        """Read what a folder holds, the program's own without one.

        Raises
        ------
        AssetMissingError
            If the folder lacks the list of tiles.
        """
        place = assets_dir() if folder is None else folder
        try:
            text = (place / TILES_FILE).read_text(encoding="utf-8")
        except OSError as error:
            msg = "The comb tiles that come with larvasight are missing; install it again."
            raise AssetMissingError(msg) from error
        every = (tile_of_record(json.loads(line)) for line in text.splitlines())
        return cls(place, [tile for tile in every if tile.is_test == for_tests])

    @property
    def settings(self) -> tuple[str, ...]:
        """Names of the settings: one light on one comb, seen from one side."""
        return tuple(sorted(self._by_setting))

    def of(self, setting: str) -> tuple[Tile, ...]:
        """Return the tiles of a setting; ValueError for an unknown one."""
        if setting not in self._by_setting:
            msg = f"setting must be one of {list(self.settings)}, got {setting!r}"
            raise ValueError(msg)
        return tuple(self._by_setting[setting])

    def tile(self, tile_id: str) -> Tile:
        """Return the tile of this name; ValueError for an unknown one."""
        if tile_id not in self._by_id:
            msg = f"tile_id must be of a tile in the library, got {tile_id!r}"
            raise ValueError(msg)
        return self._by_id[tile_id]

    def has(self, tile_ids: Iterable[str]) -> bool:
        """Return whether all these tiles are in the library."""
        return all(tile_id in self._by_id for tile_id in tile_ids)

    def pixels(self, tile: Tile) -> NDArray[np.uint8]:
        """Return a tile's picture, RGB, shape (side_px, side_px, 3), read-only.

        Raises
        ------
        AssetMissingError
            If its file is missing or damaged.
        """
        return self._pictures.of(tile.file)


class TilePictures:
    """Pictures of a folder, decoded when they are first wanted; the latest are kept.

    Parameters
    ----------
    folder : Path
        Where they lie.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._decode = lru_cache(maxsize=_DECODED_MOST)(self._read)

    def of(self, file: str) -> NDArray[np.uint8]:
        """Return a picture, RGB, shape (H, W, 3), read-only.

        Raises
        ------
        AssetMissingError
            If its file is missing or damaged.
        """
        return self._decode(file)

    def _read(self, file: str) -> NDArray[np.uint8]:
        try:
            data = np.frombuffer((self._folder / file).read_bytes(), dtype=np.uint8)
        except OSError:
            data = np.zeros(0, dtype=np.uint8)
        found = cv2.imdecode(data, cv2.IMREAD_COLOR_RGB) if data.size else None
        if found is None:
            msg = f"The comb tile {file} is missing or damaged; install larvasight again."
            raise AssetMissingError(msg)
        pixels = np.asarray(found, dtype=np.uint8)
        pixels.setflags(write=False)
        return pixels


def tile_of_record(told: dict[str, Any]) -> Tile:
    """Return the tile that one line of the list of tiles tells of."""
    return Tile(
        id=told["id"],
        file=told["file"],
        setting=told["setting"],
        is_test=told["is_test"],
        content=Content(told["content"]),
        stores=told["stores"],
        age_h=told["age_h"],
        looks_age_h=told["looks_age_h"],
        length_mm=told["length_mm"],
        width_mm=told["width_mm"],
        area_mm2=told["area_mm2"],
        curl_deg=told["curl_deg"],
        jelly=None if told["jelly"] is None else Jelly(told["jelly"]),
        visible_share=told["visible_share"],
        midline_xy_px=_points(told["midline_xy"]),
        outline_xy_px=_points(told["outline_xy"]),
        flags=tuple(Flag(flag) for flag in told["flags"]),
        pitch_px=told["pitch_px"],
        pitch_mm=told["pitch_mm"],
        side_px=told["side_px"],
        slope_xy=tuple(told.get("slope_xy", (0.0, 0.0))),
    )


def _points(told: list[list[float]] | None) -> PointsXY | None:
    return None if told is None else tuple((x, y) for x, y in told)
