"""The age row: what to look for, from the egg to a larva that fills its cell."""

from dataclasses import dataclass

import numpy as np

from larvasight.render.tiles import Tile, TileLibrary
from larvasight.sheet import Content, Flag, Jelly


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One step of the row: which cells show it, and what to see in them.

    ``ages_h`` and ``curls_deg`` bound the cells that show it; ``looks`` says what changed.
    """

    title: str
    looks: str
    ages_h: tuple[float, float]
    curls_deg: tuple[float, float] | None
    is_fed: bool


# Words of the trade for shapes; the ages are those of the mean larva with such a curl.
STAGES: tuple[Stage, ...] = (
    Stage(
        title="Egg",
        looks="A pearly rod, glued to the floor by one end, standing or lying. No larva yet.",
        ages_h=(-70.0, -4.0),
        curls_deg=None,
        is_fed=False,
    ),
    Stage(
        title="Just hatched",
        looks="As small as an egg, but lying and bent. Still dry, glassy. Hard to lift.",
        ages_h=(0.0, 2.0),
        curls_deg=(20.0, 110.0),
        is_fed=False,
    ),
    Stage(
        title="A slight bow",
        looks="A thin bow on its first jelly, hardly lighter than the jelly.",
        ages_h=(6.0, 11.0),
        curls_deg=(45.0, 95.0),
        is_fed=True,
    ),
    Stage(
        title="A comma",
        looks="Not much longer than an egg, bent like a comma on a bed of jelly.",
        ages_h=(12.0, 18.0),
        curls_deg=(90.0, 150.0),
        is_fed=True,
    ),
    Stage(
        title="A curve on jelly",
        looks="Half a ring, wide open, small against the floor. Take these.",
        ages_h=(19.0, 26.0),
        curls_deg=(140.0, 215.0),
        is_fed=True,
    ),
    Stage(
        title="A C",
        looks="The ends turn towards each other; segments can be counted. Leave it.",
        ages_h=(33.0, 40.0),
        curls_deg=(235.0, 300.0),
        is_fed=True,
    ),
    Stage(
        title="A closed ring",
        looks="Head meets tail; the body is thick and white against the jelly. Too old.",
        ages_h=(42.0, 58.0),
        curls_deg=(290.0, 400.0),
        is_fed=True,
    ),
    Stage(
        title="Filling the cell",
        looks="A fat coil from wall to wall, rings of segments all round. Far too old.",
        ages_h=(60.0, 96.0),
        curls_deg=None,
        is_fed=False,
    ),
)


def age_row(
    library: TileLibrary, setting: str, rng: np.random.Generator
) -> tuple[tuple[Stage, Tile], ...]:
    """Choose a cell of one setting for each stage; a stage nothing shows is left out.

    Parameters
    ----------
    library : TileLibrary
        Where cells come from.
    setting : str
        One of its settings; ValueError for another.
    rng : numpy.random.Generator
        Chooses among cells that show a stage equally well.
    """
    tiles = library.of(setting)
    row = []
    for stage in STAGES:
        fitting = [tile for tile in tiles if _shows(tile, stage)]
        if fitting:
            row.append((stage, fitting[int(rng.integers(len(fitting)))]))
    return tuple(row)


def _shows(tile: Tile, stage: Stage) -> bool:
    content = Content.EGG if stage.ages_h[1] < 0.0 else Content.LARVA
    if tile.content is not content or tile.age_h is None or Flag.HIDDEN_BY_WALL in tile.flags:
        return False
    low_h, high_h = stage.ages_h
    if not low_h <= tile.age_h <= high_h:
        return False
    if stage.is_fed and tile.jelly is Jelly.NONE:
        return False
    if stage.curls_deg is None or tile.curl_deg is None:
        return True
    return stage.curls_deg[0] <= tile.curl_deg <= stage.curls_deg[1]
