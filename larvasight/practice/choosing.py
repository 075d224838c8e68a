"""Which cells of a comb are asked one at a time."""

from collections.abc import Sequence

import numpy as np

from larvasight.grading import Limits
from larvasight.practice.cells import ShownCell
from larvasight.sheet import Content

# Older than this nobody hesitates: asked as often as eggs and empty cells, seldom.
_EASY_OLD_H = 60.0
# How often each kind is asked, against each other.
_RIGHT_WEIGHT = 5.0
_OLD_WEIGHT = 4.0
_OTHER_WEIGHT = 1.0


def choose_cells(
    cells: Sequence[ShownCell], n_asked: int, limits: Limits, rng: np.random.Generator
) -> tuple[ShownCell, ...]:
    """Choose cells so that about half are right ones and few are plain at first sight.

    Parameters
    ----------
    cells : sequence of ShownCell
        All whole cells of a comb; those that are not plain to see are never asked.
    n_asked : int
        How many are wanted; fewer come back where the comb has fewer.
    limits : Limits
        The teacher's spans.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    tuple of ShownCell
        In the order of asking.
    """
    plain = [cell for cell in cells if cell.is_plain]
    kinds = [_kind(cell, limits) for cell in plain]
    weights = np.array([_WEIGHTS[kind] / kinds.count(kind) for kind in kinds])
    n_chosen = min(n_asked, len(plain))
    if n_chosen == 0:
        return ()
    chosen = rng.choice(len(plain), size=n_chosen, replace=False, p=weights / weights.sum())
    return tuple(plain[int(index)] for index in chosen)


_WEIGHTS = {"right": _RIGHT_WEIGHT, "old": _OLD_WEIGHT, "other": _OTHER_WEIGHT}


def _kind(cell: ShownCell, limits: Limits) -> str:
    if cell.content is not Content.LARVA or cell.age_h is None or cell.age_h > _EASY_OLD_H:
        return "other"
    return "right" if cell.age_h <= limits.old_h else "old"
