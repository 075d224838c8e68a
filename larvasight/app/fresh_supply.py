"""Combs of test tiles and of a measuring block, drawn in a worker when a test asks for them."""

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from larvasight.app.comb_supply import ReadyComb, enough_px, ready_comb
from larvasight.app.jobs import Job
from larvasight.desk.broken_off import prepare_again
from larvasight.desk.fresh_combs import (
    SeenTiles,
    prepare_fresh,
    prepare_fresh_again,
    shipped_set_apart,
)
from larvasight.desk.practising import (
    new_seed,
    picture_size_px,
    prepare_comb,
    shipped_tiles,
    with_marks,
)
from larvasight.errors import AssetMissingError, LarvasightError
from larvasight.grading import Limits
from larvasight.practice import Drill
from larvasight.practice.drills import FIND_YOUR_EDGES
from larvasight.practice.planning import plan_ages

if TYPE_CHECKING:
    from larvasight.records.types import UnfinishedRound

_MISSING = "The comb tiles that come with larvasight are missing; install it again."


class FreshSupply:
    """Draws one comb after the other; a new order forgets the one before.

    Parameters
    ----------
    rng : numpy.random.Generator
        Chooses the combs.
    """

    def __init__(self, rng: np.random.Generator) -> None:
        self._rng = rng
        self._job: Job | None = None

    def order(
        self,
        drill: Drill,
        *,
        aspect: float,
        seen: SeenTiles,
        marks: Mapping[str, str],
        done: Callable[[ReadyComb | None], None],
        failed: Callable[[LarvasightError], None],
    ) -> None:
        """Draw a comb of test tiles; ``done`` gets None where no fresh one is left."""
        self._start(
            partial(_draw_fresh, drill, new_seed(self._rng), picture_size_px(aspect), seen, marks),
            done,
            failed,
        )

    def order_block(
        self,
        limits: Limits,
        *,
        aspect: float,
        spent: frozenset[str],
        marks: Mapping[str, str],
        done: Callable[[ReadyComb | None], None],
        failed: Callable[[LarvasightError], None],
    ) -> None:
        """Draw a comb on which a learner's line is measured, without tiles shown already."""
        size_px = enough_px(picture_size_px(aspect), FIND_YOUR_EDGES)
        self._start(
            partial(_draw_block, new_seed(self._rng), size_px, limits, spent, marks), done, failed
        )

    def order_again(
        self,
        unfinished: "UnfinishedRound",
        drill: Drill,
        *,
        done: Callable[[ReadyComb | None], None],
        failed: Callable[[LarvasightError], None],
    ) -> None:
        """Draw a comb that was broken off; ``done`` gets None where it cannot be drawn alike."""
        self._start(partial(_draw_broken_off, unfinished, drill), done, failed)

    def forget(self) -> None:
        """Let what is being drawn run out."""
        if self._job is not None:
            self._job.forget()
            self._job = None

    def _start(
        self,
        work: Callable[[], ReadyComb | None],
        done: Callable[[ReadyComb | None], None],
        failed: Callable[[LarvasightError], None],
    ) -> None:
        self.forget()
        self._job = Job(work, done, failed).start()


def _draw_fresh(
    drill: Drill,
    seed: int,
    size_px: tuple[int, int],
    seen: SeenTiles,
    marks: Mapping[str, str],
) -> ReadyComb | None:
    tiles = shipped_set_apart()
    if tiles is None:
        raise AssetMissingError(_MISSING)
    comb = prepare_fresh(drill, seed, size_px=size_px, tiles=tiles, seen=seen, marks=marks)
    return None if comb is None else ready_comb(comb)


def _draw_block(
    seed: int,
    size_px: tuple[int, int],
    limits: Limits,
    spent: frozenset[str],
    marks: Mapping[str, str],
) -> ReadyComb:
    ages_h = plan_ages(FIND_YOUR_EDGES, None, limits, np.random.default_rng([seed, 3]))
    comb = prepare_comb(
        FIND_YOUR_EDGES,
        seed,
        size_px=size_px,
        limits=limits,
        library=shipped_tiles(),
        avoid=spent,
        ages_h=ages_h,
    )
    return ready_comb(with_marks(comb, marks))


def _draw_broken_off(unfinished: "UnfinishedRound", drill: Drill) -> ReadyComb | None:
    """Return the comb of a test that was broken off; None when it cannot be drawn alike."""
    if unfinished.drill == FIND_YOUR_EDGES.key:
        comb = prepare_again(unfinished, shipped_tiles())
    else:
        tiles = shipped_set_apart()
        comb = None if tiles is None else prepare_fresh_again(drill, unfinished, tiles)
    return None if comb is None else ready_comb(comb)
