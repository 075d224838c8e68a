"""Lay few tiles on many cells: none beside itself, and the same one only far apart."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from larvasight.geometry import PITCH_DEFAULT_MM
from larvasight.render.scene import StoresKind
from larvasight.sheet import Content

if TYPE_CHECKING:
    from collections.abc import Sequence

    from larvasight.render.comb_side import WantedCell
    from larvasight.render.tiles import Tile

# Neighbours' middles are one pitch apart; the next cells stand 1.7 away.
_BESIDE = 1.3
# A tile may come again this many cells away as well as anywhere.
_FAR = 9.0
# Tiles this near in age count as right, and so many of the nearest at least.
_NEAR_H = 3.0
_NEAR_LEAST = 5
# What is laid instead where every tile of a kind lies beside the cell already.
_INSTEAD = {
    StoresKind.NECTAR.value: StoresKind.POLLEN.value,
    StoresKind.POLLEN.value: Content.EMPTY.value,
    Content.CAPPED.value: Content.EMPTY.value,
    Content.EMPTY.value: Content.EGG.value,
}


def choose_far_apart(
    cells: Sequence[WantedCell], tiles: Sequence[Tile], rng: np.random.Generator
) -> list[Tile]:
    """Return a tile for each cell, the same one never beside itself.

    Tiles are neither turned nor mirrored: the lamp would shine from another side.

    Parameters
    ----------
    cells : sequence of WantedCell
        Row by row: a cell then has three neighbours before it, so that four tiles of a kind
        are enough; where there are fewer, something else is laid that lies there as well.
    tiles : sequence of Tile
        Of one setting.
    rng : numpy.random.Generator
        Chooses among tiles that serve equally well.
    """
    by_kind: dict[str, list[Tile]] = {}
    for tile in tiles:
        by_kind.setdefault(tile.kind, []).append(tile)
    laid = _Laid()
    return [laid.lay(cell, _fitting(cell, by_kind, tiles, laid), rng) for cell in cells]


class _Laid:
    """Where each tile lies already."""

    def __init__(self) -> None:
        self._places: dict[str, list[tuple[float, float]]] = {}

    def away(self, tile: Tile, cell: WantedCell) -> float:
        """Return how many cells away the tile lies next, inf where it was never laid."""
        places = self._places.get(tile.id, ())
        near = min((math.dist(at, cell.centre_xy_mm) for at in places), default=math.inf)
        return near / PITCH_DEFAULT_MM

    def lay(self, cell: WantedCell, fitting: Sequence[Tile], rng: np.random.Generator) -> Tile:
        """Lay the tile that lies farthest from itself."""
        away = np.array([min(self.away(tile, cell), _FAR) for tile in fitting])
        best = np.flatnonzero(away >= away.max() - 0.5)
        tile = fitting[int(best[int(rng.integers(len(best)))])]
        self._places.setdefault(tile.id, []).append(cell.centre_xy_mm)
        return tile


def _fitting(
    cell: WantedCell, by_kind: dict[str, list[Tile]], tiles: Sequence[Tile], laid: _Laid
) -> Sequence[Tile]:
    """Return tiles that show what is wanted and do not lie beside the cell."""
    kind: str | None = cell.kind
    while kind is not None:
        free = [t for t in by_kind.get(kind, ()) if laid.away(t, cell) > _BESIDE]
        if free:
            return _near_in_age(free, cell.age_h)
        kind = _INSTEAD.get(kind)
    return by_kind.get(Content.EMPTY.value) or tiles


def _near_in_age(tiles: Sequence[Tile], age_h: float | None) -> Sequence[Tile]:
    if age_h is None:
        return tiles
    away_h = np.array([abs((tile.age_h or 0.0) - age_h) for tile in tiles])
    order = np.argsort(away_h, kind="stable")
    n_near = max(int((away_h <= _NEAR_H).sum()), min(_NEAR_LEAST, len(tiles)))
    return [tiles[int(k)] for k in order[:n_near]]
