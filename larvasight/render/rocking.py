"""Cells seen straight and tilted to four sides under two lamps: what eyes see who rock a comb."""

from __future__ import annotations

import json
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from larvasight.errors import AssetMissingError
from larvasight.render.assets import assets_dir
from larvasight.render.tiles import Tile, TilePictures, tile_of_record

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

ROCKING_FILE = "rocking.jsonl"


class View(StrEnum):
    """To which side the eye leans over the comb."""

    STRAIGHT = "straight"
    RIGHT = "right"
    DOWN = "down"
    LEFT = "left"
    UP = "up"


class Lamp(StrEnum):
    """Where the lamp stands."""

    A = "a"
    B = "b"


@dataclass(frozen=True, slots=True, kw_only=True)
class RockedCell:
    """One cell with a tile for each view and lamp; what is true of it stands in any of them."""

    id: str
    tiles: Mapping[tuple[View, Lamp], Tile]

    @property
    def straight(self) -> Tile:
        """The cell seen straight, under the first lamp."""
        return self.tiles[View.STRAIGHT, Lamp.A]


class RockingLibrary:
    """All cells of a folder that can be rocked, those for tests or all others.

    Parameters
    ----------
    folder : Path
        Holds the pictures that tiles name.
    cells : iterable of RockedCell
        What can be used.
    """

    def __init__(self, folder: Path, cells: Iterable[RockedCell]) -> None:
        self._pictures = TilePictures(folder)
        self._cells: dict[str, list[RockedCell]] = {}
        for cell in cells:
            self._cells.setdefault(cell.straight.setting, []).append(cell)

    @classmethod
    def load(cls, folder: Path | None = None, *, for_tests: bool = False) -> RockingLibrary:
        """Read what a folder holds, the program's own without one.

        Cells of which a view is missing are left out.

        Raises
        ------
        AssetMissingError
            If the folder lacks the list of views, or no cell has all of them.
        """
        place = assets_dir() if folder is None else folder
        try:
            text = (place / ROCKING_FILE).read_text(encoding="utf-8")
        except OSError as error:
            raise _missing() from error
        told = [json.loads(line) for line in text.splitlines()]
        cells = _cells(record for record in told if record["is_test"] == for_tests)
        if not cells:
            raise _missing()
        return cls(place, cells)

    @property
    def settings(self) -> tuple[str, ...]:
        """Names of the settings: one kind of comb each."""
        return tuple(sorted(self._cells))

    def of(self, setting: str) -> tuple[RockedCell, ...]:
        """Return the cells of a setting; ValueError for an unknown one."""
        if setting not in self._cells:
            msg = f"setting must be one of {list(self.settings)}, got {setting!r}"
            raise ValueError(msg)
        return tuple(self._cells[setting])

    def pixels(self, cell: RockedCell, view: View, lamp: Lamp) -> NDArray[np.uint8]:
        """Return a cell's picture, RGB, shape (side_px, side_px, 3), read-only.

        Raises
        ------
        AssetMissingError
            If its file is missing or damaged.
        """
        return self._pictures.of(cell.tiles[view, lamp].file)


def _cells(records: Iterable[dict[str, Any]]) -> list[RockedCell]:
    """Return the cells of which every view is there."""
    tiles: dict[str, dict[tuple[View, Lamp], Tile]] = {}
    for record in records:
        seen = View(record["view"]), Lamp(record["lamp"])
        tiles.setdefault(record["cell"], {})[seen] = tile_of_record(record)
    n_views = len(View) * len(Lamp)
    return [
        RockedCell(id=name, tiles=views)
        for name, views in sorted(tiles.items())
        if len(views) == n_views
    ]


def _missing() -> AssetMissingError:
    return AssetMissingError("The pictures to rock a comb are missing; install larvasight again.")
