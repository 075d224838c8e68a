"""Which ages a comb is laid with for a drill, and which of its cells are asked."""

from collections.abc import Sequence

import numpy as np

from larvasight.grading import Limits
from larvasight.practice.ages import choose_age
from larvasight.practice.cells import ShownCell
from larvasight.practice.drills import AGAINST_THE_CLOCK, FIND_YOUR_EDGES, TAKE_OR_LEAVE, Drill
from larvasight.practice.measuring import EGG_LOOKS_H
from larvasight.sheet import Content
from larvasight.stats import EdgePosterior

_NEAR_THE_LINE = (TAKE_OR_LEAVE.key, AGAINST_THE_CLOCK.key)
# Close together where people draw the line; eggs, the plain middle and the far too old besides.
_MEASURED_H = (
    *(4 * (EGG_LOOKS_H,)),
    *(float(hour) for hour in range(16)),
    *(17.0, 19.0, 21.0),
    *(float(hour) for hour in range(22, 45)),
    *(47.0, 50.0, 53.0),
    *(62.0, 64.0, 66.0, 68.0, 70.0),
)


def plan_ages(
    drill: Drill, edges: EdgePosterior | None, limits: Limits, rng: np.random.Generator
) -> tuple[float, ...]:
    """Return the ages that a comb should hold for a drill.

    Parameters
    ----------
    drill : Drill
        What the comb is for.
    edges : EdgePosterior or None
        What is known of the learner's edges; None before the first answer.
    limits : Limits
        The teacher's spans.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    tuple of float
        Ages that cells should look, h, in the order of asking; below 0 an egg of whatever age.
        Empty for a drill that takes a comb as a queen lays it.
    """
    if drill.key in _NEAR_THE_LINE:
        known = EdgePosterior() if edges is None else edges
        n = drill.n_asked or drill.n_cells
        return tuple(choose_age(known, limits, rng).age_h for _ in range(n))
    if drill == FIND_YOUR_EDGES:
        return tuple(float(age_h) for age_h in rng.permutation(_MEASURED_H))
    return ()


def seen_age_h(cell: ShownCell) -> float | None:
    """Return the age that an eye can see in a cell, h; None where it sees none.

    An egg counts as looking ``EGG_LOOKS_H``, a larva at the age it looks.
    """
    if not cell.is_plain or cell.content not in (Content.EGG, Content.LARVA):
        return None
    if cell.content is Content.EGG:
        return EGG_LOOKS_H
    return cell.age_h if cell.looks_age_h is None else cell.looks_age_h


def choose_near(cells: Sequence[ShownCell], ages_h: Sequence[float]) -> tuple[ShownCell, ...]:
    """Choose the cell nearest to each age, none twice.

    Parameters
    ----------
    cells : sequence of ShownCell
        All whole cells of a comb; those without brood or not plain to see are never asked.
    ages_h : sequence of float
        Ages wanted, h, below 0 an egg.

    Returns
    -------
    tuple of ShownCell
        In the order of ``ages_h``; fewer where the comb has fewer.
    """
    left = [(age_h, cell) for cell in cells if (age_h := seen_age_h(cell)) is not None]
    chosen = []
    for wanted_h in ages_h[: len(left)]:
        at = nearest_to(wanted_h, [age_h for age_h, _ in left])
        chosen.append(left.pop(at)[1])
    return tuple(chosen)


def nearest_to(wanted_h: float, seen_h: Sequence[float]) -> int:
    """Return the index of the age nearest to the one wanted; all below 0 h are eggs alike."""
    wanted_h = EGG_LOOKS_H if wanted_h < 0.0 else wanted_h
    return min(range(len(seen_h)), key=lambda k: abs(seen_h[k] - wanted_h))
