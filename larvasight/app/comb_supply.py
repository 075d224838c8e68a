"""Combs drawn ahead, so that the next one is there when the learner wants it."""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QImage

from larvasight.app.comb_picture import halves
from larvasight.app.comb_places import CellPlace
from larvasight.app.images import image_of
from larvasight.app.jobs import Job
from larvasight.desk.broken_off import prepare_again
from larvasight.desk.practising import (
    PreparedComb,
    new_seed,
    picture_size_px,
    prepare_comb,
    shipped_tiles,
)
from larvasight.desk.recipes import LESSON_MARK
from larvasight.errors import LarvasightError
from larvasight.grading import Limits
from larvasight.practice import Drill, Shows
from larvasight.practice.planning import plan_ages
from larvasight.stats import EdgePosterior

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import UnfinishedRound

_AHEAD = 2
# As many cells as a picture of the usual size shows; more cells get a larger one, up to a limit.
_USUAL_CELLS = 30
_LARGER_MOST = 1.9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadyComb:
    """A comb and its picture, ready to be shown; ``smaller`` holds the picture's halves."""

    comb: PreparedComb
    image: QImage
    smaller: tuple[QImage, ...]

    @property
    def places(self) -> list[CellPlace]:
        """Where the cells that are asked lie in the picture."""
        sheet = self.comb.sheet
        return [
            CellPlace(
                centre_xy_px=cell.centre_xy_px, pitch_px=cell.px_per_mm * sheet.scale.pitch_mm
            )
            for cell in (sheet.cells[place] for place in self.comb.places)
        ]


class CombSupply(QObject):
    """Draws combs for the drills in a worker, two ahead of each drill in use.

    ``aspect`` is the width over height that the next pictures get.

    Parameters
    ----------
    rng : numpy.random.Generator
        Chooses the combs.
    """

    arrived = Signal()
    failed = Signal(str)

    def __init__(self, rng: np.random.Generator) -> None:
        super().__init__()
        self._rng = rng
        self._limits = Limits()
        self.aspect = 4.0 / 3.0
        self._ready: dict[Drill, deque[ReadyComb]] = {}
        self._edges: EdgePosterior | None = None
        self._n_learners = self._n_own_changes = 0
        self._job: Job | None = None
        self._wanted: list[Drill] = []
        # Takes the comb of a drill on own photos, by a seed and the wanted ages.
        self.take_own: Callable[[Drill, int, Limits], PreparedComb] | None = None
        # No tile is shown twice in a sitting while others are left.
        self._seen: set[str] = set()

    def aim_at(self, edges: EdgePosterior | None, *, is_new_learner: bool = False) -> None:
        """Lay the next combs by a learner's edges; none of another learner's is kept."""
        self._edges = edges
        if is_new_learner:
            self._n_learners += 1
            self._ready.clear()

    def drop_own(self) -> None:
        """Keep no comb of own photos that was taken before these were put right."""
        self._n_own_changes += 1
        for drill in [drill for drill in self._ready if drill.own is not None]:
            del self._ready[drill]

    def want(self, drill: Drill, limits: Limits) -> None:
        """Draw ahead for this drill from now on, before others; not for one with its own page."""
        if drill.shows is Shows.OWN_PAGE:
            return
        if limits != self._limits:
            self._ready.clear()
        self._limits = limits
        if drill.own is not None:  # its photo may have been put right since
            self._ready.pop(drill, None)
        # A whole comb side takes much memory: it is kept only while one is practised on.
        others = [other for other in self._wanted if other != drill and not other.is_side]
        self._wanted = [drill, *others]
        for other in [other for other in self._ready if other.is_side and other != drill]:
            del self._ready[other]
        self._draw_on()

    def n_ready(self, drill: Drill) -> int:
        """Return how many combs are ready for a drill."""
        return len(self._ready.get(drill, ()))

    def take(self, drill: Drill) -> ReadyComb | None:
        """Return a comb for a drill, None while none is ready; more are drawn."""
        queue = self._ready.get(drill)
        comb = queue.popleft() if queue else None
        self._draw_on()
        return comb

    def _draw_on(self) -> None:
        drill = next((d for d in self._wanted if self.n_ready(d) < _ahead(d)), None)
        if drill is None or self._job is not None:
            return
        seed, limits = new_seed(self._rng), self._limits
        done = self._keep(drill, limits)
        size_px, seen = enough_px(picture_size_px(self.aspect), drill), frozenset(self._seen)
        ages_h = plan_ages(drill, self._edges, limits, np.random.default_rng([seed, 3]))
        take_own = self.take_own
        if drill.own is not None and take_own is not None:
            work = partial(_take, take_own, drill, seed, limits)
        else:
            work = partial(_draw, drill, seed, size_px, limits, seen, ages_h)
        self._job = Job(work, done, self._fail).start()

    def _keep(self, drill: Drill, limits: Limits) -> Callable[[ReadyComb], None]:
        n_learners, n_own_changes = self._n_learners, self._n_own_changes

        def done(ready: ReadyComb) -> None:
            self._job = None
            if not drill.is_side:  # which needs nearly all tiles there are
                self._seen.update(ready.comb.recipe.get("tiles", ()))
            is_theirs = n_learners == self._n_learners
            is_right = drill.own is None or n_own_changes == self._n_own_changes
            if is_theirs and is_right and limits == self._limits and drill in self._wanted:
                self._ready.setdefault(drill, deque()).append(ready)
            self._draw_on()
            self.arrived.emit()

        return done

    def _fail(self, error: LarvasightError) -> None:
        self._job = None
        self.failed.emit(str(error))


def _ahead(drill: Drill) -> int:
    # What is laid by a learner's edges is best laid late.
    is_late = drill.is_side or drill.n_asked is not None or drill.own is not None
    return 1 if is_late else _AHEAD


def enough_px(size_px: tuple[int, int], drill: Drill) -> tuple[int, int]:
    """Return the size of a picture whose cells are as large as usual, however many there are."""
    if drill.n_cells <= _USUAL_CELLS or drill.is_side:
        return size_px
    times = min(drill.n_cells / _USUAL_CELLS, _LARGER_MOST) ** 0.5
    return round(size_px[0] * times / 8.0) * 8, round(size_px[1] * times / 8.0) * 8


def _draw(
    drill: Drill,
    seed: int,
    size_px: tuple[int, int],
    limits: Limits,
    seen: frozenset[str],
    ages_h: tuple[float, ...],
) -> ReadyComb:
    comb = prepare_comb(
        drill,
        seed,
        size_px=size_px,
        limits=limits,
        library=shipped_tiles(),
        avoid=seen,
        ages_h=ages_h,
    )
    return ready_comb(comb)


def _take(
    take_own: Callable[[Drill, int, Limits], PreparedComb], drill: Drill, seed: int, limits: Limits
) -> ReadyComb:
    return ready_comb(take_own(drill, seed, limits))


def draw_again(unfinished: "UnfinishedRound", store: "Store") -> ReadyComb | None:
    """Return the comb of a round that was broken off; None when it cannot be drawn alike."""
    if LESSON_MARK in unfinished.recipe:
        from larvasight.desk.homework import lesson_again

        comb = lesson_again(unfinished, store)
    else:
        comb = prepare_again(unfinished, shipped_tiles())
    return None if comb is None else ready_comb(comb)


def ready_comb(comb: PreparedComb) -> ReadyComb:
    """Return a comb with its picture as the window shows it."""
    image = image_of(comb.pixels)
    if comb.drill.is_side:  # the image is enough
        comb = replace(comb, pixels=comb.pixels[:0, :0].copy())
    return ReadyComb(comb=comb, image=image, smaller=halves(image))
