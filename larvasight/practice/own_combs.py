"""Own combs as practice: which cells have a sure answer, and which half each belongs to."""

import hashlib
from enum import StrEnum

from larvasight.grading import Limits
from larvasight.sheet import Cell, Content, Flag


class Half(StrEnum):
    """What a cell of an own comb is for: it is practised on, or kept apart to test with."""

    PRACTICE = "practice"
    TEST = "test"


# What an eye cannot say yes or no to.
_NO_ANSWER = frozenset({Content.UNCLEAR, Content.COVERED})
HIDDEN = frozenset({Flag.HIDDEN_BY_WALL, Flag.CUT_BY_FRAME})


def half_of(sha256: str, row: int, col: int) -> Half:
    """Return which half a cell belongs to; of one photo the same cell always to the same.

    Parameters
    ----------
    sha256 : str
        Checksum of the photo, hex.
    row, col : int
        Name of the cell.
    """
    told = hashlib.sha256(f"{sha256}:{row}:{col}".encode()).digest()
    return Half.PRACTICE if told[0] % 2 == 0 else Half.TEST


def age_band_h(cell: Cell, known_h: tuple[float, float] | None) -> tuple[float, float] | None:
    """Return the ages between which a larva's lies by all that is known of it.

    Parameters
    ----------
    cell : Cell
        A measured and graded cell, as put right by hand.
    known_h : tuple of float or None
        Ages that larvae of the comb can have where that is known.

    Returns
    -------
    tuple of float or None
        None where nothing tells the age, or what was measured contradicts what is known.
    """
    measured = None
    if cell.age_h_lo is not None and cell.age_h_hi is not None:
        measured = (cell.age_h_lo, cell.age_h_hi)
    is_doubtful = Flag.OUTLINE_UNCERTAIN in cell.flags
    if known_h is None:
        return None if is_doubtful else measured
    if measured is None:
        return known_h
    lo_h, hi_h = max(known_h[0], measured[0]), min(known_h[1], measured[1])
    if lo_h > hi_h:
        return None
    return known_h if is_doubtful else (lo_h, hi_h)


def is_sure(cell: Cell, band_h: tuple[float, float] | None, limits: Limits) -> bool:
    """Return whether a cell has an answer that nobody can doubt.

    A larva has one only where its whole band lies within the usable span, or beside it.

    Parameters
    ----------
    cell : Cell
        A cell whose content was checked.
    band_h : tuple of float or None
        As of ``age_band_h``.
    limits : Limits
        The spans in force.
    """
    if cell.content in _NO_ANSWER or HIDDEN & set(cell.flags):
        return False
    if cell.content is not Content.LARVA:
        return True
    if band_h is None or band_h[1] < 0.0:
        return False
    lo_h, hi_h = band_h
    is_within = limits.young_h <= lo_h and hi_h <= limits.old_h
    return is_within or lo_h > limits.old_h or hi_h < limits.young_h
