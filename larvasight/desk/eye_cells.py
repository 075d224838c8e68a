"""Single cells for drills of the eye: one of a stage, two of a gap in age, five in a row."""

from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import AssetMissingError
from larvasight.grading import LOOKS_OTHER_H, Limits
from larvasight.practice.ordering import ROW_CELLS
from larvasight.practice.stages import Stage, stage_of
from larvasight.render.tiles import Tile, TileLibrary
from larvasight.sheet import Content, Flag

# Where larvae of a pair lie on average: about the old limit more than about the young one, since
# too old is the costly mistake.
_OLD_EDGE_SHARE = 0.65
_ABOUT_EDGE_H = 6.0
_ROW_FROM_H = 2.0
_TRIES = 12
# A tile shown in this sitting is taken only where it fits better than all others by so much.
_SEEN_COSTS_H = 50.0
_OFF_THE_AIM = 0.2
# Among pairs that fit about as well chance decides, so that none comes again and again.
_CHANCE_H = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class EyeCells:
    """Cells shown one at a time or side by side: nothing hides what lies in them.

    ``settings`` holds, for each light and comb, its eggs and larvae; none of them is set apart for
    tests.
    """

    settings: tuple[tuple[Tile, ...], ...]

    @classmethod
    def of(cls, library: TileLibrary) -> "EyeCells":
        """Find the cells of a library.

        Raises
        ------
        AssetMissingError
            If it holds too few to practise on.
        """
        found = (tuple(filter(_is_clear, library.of(name))) for name in library.settings)
        settings = tuple(tiles for tiles in found if len(_even(tiles)) >= ROW_CELLS)
        if not settings:
            msg = "No pictures of larvae to compare are there; install larvasight again."
            raise AssetMissingError(msg)
        return cls(settings=settings)

    def one(
        self, stage: Stage, limits: Limits, rng: np.random.Generator, seen: Set[str] = frozenset()
    ) -> Tile:
        """Choose a cell of a stage, one not seen before while there is one.

        Its stage is the same by its age and by the age it looks: what nobody can see is not asked.

        Raises
        ------
        AssetMissingError
            If no cell is of this stage.
        """
        tiles = [tile for each in self.settings for tile in each if _is_of(tile, stage, limits)]
        if not tiles:
            msg = "Pictures of one of the stages are missing; install larvasight again."
            raise AssetMissingError(msg)
        fresh = [tile for tile in tiles if tile.id not in seen] or tiles
        return fresh[int(rng.integers(len(fresh)))]

    def pair(
        self, gap_h: float, limits: Limits, rng: np.random.Generator, seen: Set[str] = frozenset()
    ) -> tuple[Tile, Tile]:
        """Choose two larvae of one light and comb that look ``gap_h`` apart, the younger first.

        They lie about one of the teacher's limits, and the one that looks younger is younger.
        """
        edge_h = limits.old_h if rng.random() < _OLD_EDGE_SHARE else limits.young_h
        aim_h = max(edge_h + rng.uniform(-_ABOUT_EDGE_H, _ABOUT_EDGE_H), gap_h / 2.0)
        tiles = _even(self.settings[int(rng.integers(len(self.settings)))])
        looks_h, ages_h = _looks_h(tiles), np.array([tile.age_h for tile in tiles])
        gaps_h = looks_h[None, :] - looks_h[:, None]
        middles_h = (looks_h[None, :] + looks_h[:, None]) / 2.0
        is_seen = np.array([tile.id in seen for tile in tiles])
        cost = np.abs(gaps_h - gap_h) + _OFF_THE_AIM * np.abs(middles_h - aim_h)
        cost += _SEEN_COSTS_H * (is_seen[None, :].astype(np.float64) + is_seen[:, None])
        cost += rng.uniform(0.0, _CHANCE_H, cost.shape)
        cost[(gaps_h <= 0.0) | (ages_h[None, :] - ages_h[:, None] <= gap_h / 2.0)] = np.inf
        younger, older = divmod(int(cost.argmin()), len(tiles))
        return tiles[younger], tiles[older]

    def row(
        self, step_h: float, limits: Limits, rng: np.random.Generator, seen: Set[str] = frozenset()
    ) -> tuple[Tile, ...]:
        """Choose five larvae of one light and comb that look ``step_h`` apart, youngest first.

        The row lies about the teacher's span, and is in the same order by age and by look.
        """
        span_h = step_h * (ROW_CELLS - 1)
        last_h = max(_ROW_FROM_H + 4.0, limits.old_h + span_h / 4.0 - span_h / 2.0)
        found: list[tuple[float, tuple[Tile, ...]]] = []
        for _ in range(_TRIES):
            tiles = _even(self.settings[int(rng.integers(len(self.settings)))])
            first_h = rng.uniform(_ROW_FROM_H, last_h)
            row = _nearest(tiles, [first_h + k * step_h for k in range(ROW_CELLS)], seen)
            cost = float(sum(tile.id in seen for tile in row))
            if _rises(row, step_h):
                if cost == 0.0:
                    return row
                found.append((cost, row))
            else:
                found.append((cost + len(row) + 1.0, row))
        return min(found, key=lambda each: each[0])[1]


def _nearest(tiles: Sequence[Tile], ages_h: Sequence[float], seen: Set[str]) -> tuple[Tile, ...]:
    """Return the tiles nearest to some ages by their look, in the order of their look."""
    looks_h = _looks_h(tiles)
    costs = np.array([_SEEN_COSTS_H * (tile.id in seen) for tile in tiles])
    chosen: list[int] = []
    for age_h in ages_h:
        cost = np.abs(looks_h - age_h) + costs
        cost[chosen] = np.inf
        chosen.append(int(cost.argmin()))
    return tuple(sorted((tiles[k] for k in chosen), key=lambda tile: tile.looks_age_h or 0.0))


def _rises(row: Iterable[Tile], step_h: float) -> bool:
    tiles = tuple(row)
    ages_h = np.array([tile.age_h for tile in tiles], dtype=np.float64)
    steps_h = np.concatenate([np.diff(_looks_h(tiles)), np.diff(ages_h)])
    return bool(steps_h.min() >= step_h / 3.0)


def _looks_h(tiles: Sequence[Tile]) -> NDArray[np.float64]:
    return np.array([tile.looks_age_h for tile in tiles], dtype=np.float64)


def _even(tiles: Sequence[Tile]) -> list[Tile]:
    """Return the larvae that look about as old as they are: ages can be compared by eye."""
    return [
        tile
        for tile in tiles
        if tile.age_h is not None
        and tile.looks_age_h is not None
        and abs(tile.looks_age_h - tile.age_h) <= LOOKS_OTHER_H
    ]


def _is_clear(tile: Tile) -> bool:
    is_told = tile.content in (Content.EGG, Content.LARVA) and tile.age_h is not None
    return is_told and not tile.is_test and Flag.HIDDEN_BY_WALL not in tile.flags


def _is_of(tile: Tile, stage: Stage, limits: Limits) -> bool:
    if tile.age_h is None or stage_of(tile.age_h, limits) is not stage:
        return False
    return tile.looks_age_h is None or stage_of(tile.looks_age_h, limits) is stage
