"""Combs that were broken off: which is still open, and the same comb again to go on with it."""

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from larvasight import __version__
from larvasight.desk.practising import PreparedComb, prepare_comb
from larvasight.desk.recipes import LESSON_MARK, TRY_MARK, can_be_drawn
from larvasight.practice import DRILLS, PICK_FROM_SIDE, ShownCell, Shows, drill_of
from larvasight.render.tiles import TileLibrary

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import UnfinishedRound

# Ages that differ by no more are the same age.
_SAME_AGE_H = 1e-6


def open_round(store: "Store", learner_id: UUID, *, now: datetime) -> "UnfinishedRound | None":
    """Return the round that a learner broke off; None when there is none to go on with.

    One that was not touched, is of a drill that this program does not know, or was drawn by
    another version of it, is put away. A comb of the screen test stays whatever becomes of it here.
    """
    unfinished = store.unfinished_round(learner_id)
    if unfinished is not None and TRY_MARK in unfinished.recipe:
        return unfinished if unfinished.givens else None
    if unfinished is None or _is_to_go_on(unfinished):
        return unfinished
    store.end_round(unfinished.id, (), now=now)
    return None


def _is_to_go_on(unfinished: "UnfinishedRound") -> bool:
    known = {drill.key: drill for drill in DRILLS}
    drill = known.get(unfinished.drill)
    is_lesson = LESSON_MARK in unfinished.recipe
    if drill is None or drill.shows is Shows.OWN_PAGE:
        return False
    if not is_lesson and unfinished.recipe.get("drawn_by") != __version__:
        return False
    n_answered = sum(given.answer is not None for given in unfinished.givens)
    n_asked = min(drill.n_asked or len(unfinished.cells), len(unfinished.cells))
    is_over = drill.shows is Shows.ONE_CELL and n_answered >= n_asked
    return n_answered > 0 and not is_over


def prepare_again(
    unfinished: "UnfinishedRound", library: TileLibrary | None = None
) -> PreparedComb | None:
    """Draw the comb of a round that was broken off; None when it cannot be drawn alike."""
    recipe = unfinished.recipe
    if recipe.get("drawn_by") != __version__ or not can_be_drawn(recipe):
        return None
    laid_ids = recipe.get("tiles")
    if laid_ids is not None and (library is None or not library.has(laid_ids)):
        return None
    width_px, height_px = recipe["size_px"]
    comb = prepare_comb(
        PICK_FROM_SIDE if recipe.get("is_side") is True else drill_of(unfinished.drill),
        recipe["seed"],
        size_px=(width_px, height_px),
        limits=unfinished.limits,
        library=library if laid_ids is not None else None,
        laid_ids=laid_ids,
        ages_h=recipe.get("ages_h", ()),
    )
    return as_it_was(comb, unfinished)


def as_it_was(comb: PreparedComb, unfinished: "UnfinishedRound") -> PreparedComb | None:
    """Return a comb with the cells that were asked of it; None where it is another comb."""
    if len(comb.asked) != len(unfinished.cells):
        return None
    if not all(map(_is_same, comb.asked, unfinished.cells)):
        return None
    return replace(comb, asked=tuple(unfinished.cells))


def _is_same(drawn: ShownCell, kept: ShownCell) -> bool:
    """Return whether a cell drawn again holds what it held when it was shown."""
    if (drawn.row, drawn.col, drawn.content) != (kept.row, kept.col, kept.content):
        return False
    if drawn.age_h is None or kept.age_h is None:
        return drawn.age_h is kept.age_h
    return abs(drawn.age_h - kept.age_h) <= _SAME_AGE_H
