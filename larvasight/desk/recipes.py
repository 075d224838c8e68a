"""How a practice comb is composed for its drill, and what its recipe may hold."""

from collections.abc import Sequence
from typing import Any, Literal

import numpy as np

from larvasight.practice import Drill
from larvasight.render.composer import ComposedComb, compose_patch
from larvasight.render.planned_composer import compose_planned
from larvasight.render.side_composer import compose_side
from larvasight.render.tiles import TileLibrary

# Pictures are drawn at twice the size they usually have on screen, to be looked at closely.
PICTURE_PX = 1_920_000
SEED_BELOW = 1 << 53
_SIDE_MOST_PX = 50_000_000
_AGES_MOST = 100
_AGE_MOST_H = 96.0
# Keys in the recipe of a round of the screen test: which try it belongs to, which step of it, and
# the learner's own day, which is not to change with the zone that it is read in.
TRY_MARK = "screen_try"
STEP_MARK = "screen_step"
DAY_MARK = "screen_day"
# Keys in the recipe of a round of a lesson: the lesson's id, and which of its combs, from 0.
LESSON_MARK = "lesson"
TASK_MARK = "task"


def compose_for(
    drill: Drill,
    rng: np.random.Generator,
    library: TileLibrary,
    *,
    size_px: tuple[int, int],
    avoid: frozenset[str],
    laid_ids: Sequence[str] | None,
    ages_h: Sequence[float] = (),
    name: str,
) -> ComposedComb:
    """Compose the patch of comb, or the whole side of comb, that a drill is for.

    Parameters
    ----------
    drill : Drill
        What it is for.
    rng : numpy.random.Generator
        Source of chance.
    library : TileLibrary
        Where tiles come from.
    size_px : tuple of int
        Width and height of a patch's picture.
    avoid : frozenset of str
        Tiles to be used in a patch only where no other is left.
    laid_ids : sequence of str or None
        The tiles of an earlier comb from the same chance, to compose that one again.
    ages_h : sequence of float
        Ages that its larvae should look, h; without them they lie as a queen lays.
    name : str
        Name of the picture in its sheet.
    """
    if ages_h and laid_ids is None:
        return compose_planned(
            *(rng, library),
            ages_h=ages_h,
            size_px=size_px,
            n_cells=drill.n_cells,
            avoid=avoid,
            name=name,
        )
    if drill.is_side:
        return compose_side(rng, library, n_cells=drill.n_cells, laid_ids=laid_ids, name=name)
    return compose_patch(
        *(rng, library),
        size_px=size_px,
        n_cells=drill.n_cells,
        avoid=avoid,
        laid_ids=laid_ids,
        name=name,
    )


def kind_of(recipe: dict[str, Any]) -> Literal["drawn", "photo", "lesson"]:
    """Return where the comb of a recipe came from."""
    if LESSON_MARK in recipe:
        return "lesson"
    return "photo" if "photo" in recipe else "drawn"


def can_be_drawn(recipe: dict[str, Any]) -> bool:
    """Return whether a recipe is such as this program writes; records may be anyone's."""
    seed, size_px, tiles = (recipe.get(name) for name in ("seed", "size_px", "tiles"))
    if type(seed) is not int or not 0 <= seed < SEED_BELOW:
        return False
    if tiles is not None and not (
        isinstance(tiles, list) and all(isinstance(tile_id, str) for tile_id in tiles)
    ):
        return False
    if not _are_ages(recipe.get("ages_h", [])):
        return False
    is_side = recipe.get("is_side") is True
    if is_side and tiles is None:
        return False
    if not isinstance(size_px, list) or [type(side) for side in size_px] != [int, int]:
        return False
    n_px: int = size_px[0] * size_px[1]
    most = _SIDE_MOST_PX if is_side else 2 * PICTURE_PX
    return n_px <= most and bool(min(size_px) > 0)


def _are_ages(told: object) -> bool:
    if not isinstance(told, list) or len(told) > _AGES_MOST:
        return False
    return all(isinstance(age, float) and abs(age) <= _AGE_MOST_H for age in told)
