"""Cells of a photo put right by hand: three handles on the lattice, or two cells to begin with."""

from datetime import datetime
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from larvasight.sheet import LatticeByHand, Scale, Sheet
from larvasight.vision.lattice import FoundLattice
from larvasight.vision.lattice_by_hand import (
    Shift,
    found_between,
    laid,
    lattice_of,
    moved,
    placed_cells,
    placed_lattice,
    shift_between,
    within,
)
from larvasight.vision.scale import ScaleGuess

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import HandLattice

ByHandLattice: TypeAlias = tuple[LatticeByHand, FoundLattice]
Handles: TypeAlias = NDArray[np.float64]

MOVE, TURN, SLANT = range(3)
HANDLE_WORDS: Final = ("move", "turn and size", "slant")
# The two handles at the ends lie this part of the picture's smaller side away from the first.
_REACH_SHARE: Final = 0.46


def handles_of(lattice: FoundLattice, size_px: tuple[int, int]) -> Handles:
    """Return three places by which a lattice is moved, shape (3, 2), all on cells or near.

    The first lies on a cell in the middle, the second along its row, the third along the other
    direction of rows; all within the picture as far as there is room.
    """
    places = np.array([cell.centre_xy_px for cell in lattice.cells])
    middle = int(np.hypot(*(places - places.mean(axis=0)).T).argmin())
    steps = np.mean([cell.steps_xy_px for cell in lattice.cells], axis=0)
    first = places[middle]
    along = _end(first, steps[0], size_px)
    slant = _end(first, steps[1], size_px)
    return np.array([first, along, slant])


def dragged(handles: Handles, which: int, to_xy_px: tuple[float, float]) -> Handles:
    """Return where the handles lie once one of them was dragged.

    The first takes all along; the second turns and sizes them about the first; the third slants
    and stretches them and leaves the others.
    """
    after: Handles = handles.copy()
    to = np.array(to_xy_px)
    if which == MOVE:
        after += to - handles[MOVE]
    elif which == TURN:
        (x, y), (u, v) = handles[TURN] - handles[MOVE], to - handles[MOVE]
        size = max(float(x * x + y * y), 1e-9)
        # A complex quotient: how far the way to the handle was turned and drawn out.
        cos, sin = (u * x + v * y) / size, (v * x - u * y) / size
        turn = np.array([[cos, -sin], [sin, cos]])
        after[TURN] = to
        after[SLANT] = handles[MOVE] + turn @ (handles[SLANT] - handles[MOVE])
    else:
        after[SLANT] = to
    return after


def lattice_in(sheet: Sheet) -> FoundLattice:
    """Return the lattice of a sheet's cells.

    Raises
    ------
    LatticeUnusableError
        If it has too few cells.
    """
    return lattice_of(sheet.cells)


def moved_by(
    lattice: FoundLattice, before: Handles, after: Handles, size_px: tuple[int, int]
) -> FoundLattice:
    """Return a lattice as its handles were dragged.

    Raises
    ------
    LatticeUnusableError
        If no comb looks like that, or none of its cells is left in the picture.
    """
    after_it = moved(lattice, shift_of(before, after))
    within(after_it, size_px)
    return after_it


def shift_of(before: Handles, after: Handles) -> Shift:
    """Return what dragging the handles does to every place."""
    return shift_between(before, after)


def lay_cells(
    pixels: NDArray[np.uint8], clicks_xy_px: tuple[tuple[float, float], tuple[float, float]]
) -> ByHandLattice:
    """Return the lattice in which two places are neighbouring cells.

    The picture is searched once more with the cell size they tell; where that finds no comb about
    them, cells are laid evenly.

    Raises
    ------
    LatticeUnusableError
        If the places lie too close together.
    """
    first, second = clicks_xy_px
    found = found_between(pixels, first, second)
    if found is not None:
        return LatticeByHand.MOVED, found
    return LatticeByHand.LAID, laid(first, second, (pixels.shape[1], pixels.shape[0]))


def stored_lattice(store: "Store", sha256: str) -> ByHandLattice | None:
    """Return where a person laid the cells of a photo, None where nobody did."""
    kept = store.hand_lattice(sha256)
    if kept is None:
        return None
    return LatticeByHand(kept.kind), placed_lattice(kept.cells)


def to_be_stored(by_hand: ByHandLattice | None, now: datetime) -> "HandLattice | None":
    """Return where the cells of a photo lie as the records keep it; None is what is found."""
    from larvasight.records.types import HandLattice

    if by_hand is None:
        return None
    kind, lattice = by_hand
    return HandLattice(
        kind="moved" if kind is LatticeByHand.MOVED else "laid",
        cells=placed_cells(lattice),
        made_at_utc=now,
    )


def guess_of(scale: Scale) -> ScaleGuess:
    """Return the cell size and distance that a sheet was measured with."""
    return ScaleGuess(pitch_mm=scale.pitch_mm, distance_mm=scale.distance_mm, source=scale.source)


def _end(
    first: NDArray[np.float64], step: NDArray[np.float64], size_px: tuple[int, int]
) -> Handles:
    """Return the place some whole steps away that lies within the picture."""
    pitch_px = max(float(np.hypot(*step)), 1e-9)
    most = max(1, int(_REACH_SHARE * min(size_px) / pitch_px))
    last = np.array(size_px) - 1.0
    for n_steps in range(most, 0, -1):
        for sign in (1.0, -1.0):
            end: Handles = first + sign * n_steps * step
            if (end >= 0.0).all() and (end <= last).all():
                return end
    return np.asarray(first + step)
