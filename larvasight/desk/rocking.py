"""Rock the comb: which cells are shown beside each other, and what to watch in them."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from larvasight.errors import AssetMissingError
from larvasight.grading import Limits
from larvasight.render.rocking import RockedCell, RockingLibrary
from larvasight.render.tiles import Tile
from larvasight.sheet import Content, Flag

# Eggs stand upright when they are laid and lean over soon; only the first are dots from above.
_STANDING_H = (-80.0, -60.0)
_HATCHED_H = (0.0, 4.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RockedKind:
    """What one of the cells shows, and what to watch in it."""

    title: str
    watch: str
    content: Content


EGG = RockedKind(
    title="Egg",
    watch="From above a fresh egg is little more than a dot. Tilt the comb: it grows longer or "
    "shorter, and its foot stays where it is.",
    content=Content.EGG,
)
HATCHED = RockedKind(
    title="Just hatched",
    watch="It lies flat: tilt the comb, and it stays as long as it is. What slides is a glint.",
    content=Content.LARVA,
)
RIGHT = RockedKind(
    title="The right age",
    watch="Move the lamp: glints slide over the jelly. The bow of the body stays where it lies.",
    content=Content.LARVA,
)


@cache
def shipped_rocking() -> RockingLibrary | None:
    """Return the cells that come with the program, read once; None where there are none."""
    try:
        return RockingLibrary.load()
    except AssetMissingError:
        return None


def rocked_row(
    library: RockingLibrary, setting: str, limits: Limits, rng: np.random.Generator
) -> tuple[tuple[RockedKind, RockedCell], ...]:
    """Choose an egg, a larva just hatched and one of the right age; none where none is there.

    Parameters
    ----------
    library : RockingLibrary
        Where cells come from.
    setting : str
        One of its settings; ValueError for another.
    limits : Limits
        The ages that are wanted.
    rng : numpy.random.Generator
        Chooses among cells that serve equally well.
    """
    wanted = (
        (EGG, _STANDING_H, (-80.0, 0.0)),
        (HATCHED, _HATCHED_H, _HATCHED_H),
        (RIGHT, (limits.best_young_h, limits.best_old_h), (limits.young_h, limits.old_h)),
    )
    cells = library.of(setting)
    row = []
    for kind, *spans_h in wanted:
        for span_h in spans_h:  # the plainest first
            fitting = [cell for cell in cells if _is_of(cell.straight, kind.content, span_h)]
            if fitting:
                row.append((kind, fitting[int(rng.integers(len(fitting)))]))
                break
    return tuple(row)


def _is_of(tile: Tile, content: Content, span_h: tuple[float, float]) -> bool:
    if tile.content is not content or tile.age_h is None or Flag.HIDDEN_BY_WALL in tile.flags:
        return False
    return span_h[0] <= tile.age_h <= span_h[1]
