"""Teaching a group: for each cell how many hands went up, and how many of them were right."""

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from larvasight.desk.cell_sheet import CellSheet, key_words
from larvasight.grading import Limits
from larvasight.practice import Answer
from larvasight.practice.scoring import Outcome, outcome_of
from larvasight.sheet import write_whole

COLUMNS = ("sheet", "cell", "key", "people", "hands", "hands_right")
_TAKEN_WRONG = frozenset({Outcome.TOO_OLD, Outcome.EGG, Outcome.NO_LARVA})


def right_hands(
    sheet: CellSheet, index: int, hands: int | None, n_people: int, limits: Limits
) -> int | None:
    """Return how many were right about a cell; None where it counts neither way.

    Very young ones may be taken or left, and those just past the limit are not counted.

    Parameters
    ----------
    sheet : CellSheet
        What was shown.
    index : int
        The cell, counted from 0.
    hands : int or None
        How many would take it, 0 to ``n_people``; None where they were not counted.
    n_people : int
        How many looked.
    limits : Limits
        The ages wanted.

    Raises
    ------
    ValueError
        If more hands went up than there are people.
    """
    if hands is None:
        return None
    if not 0 <= hands <= n_people:
        msg = f"hands must be from 0 to {n_people}, got {hands}"
        raise ValueError(msg)
    taken = outcome_of(sheet.comb.asked[index], Answer.TAKE, limits)
    if taken is Outcome.RIGHT:
        return hands
    return n_people - hands if taken in _TAKEN_WRONG else None


def group_table(
    sheet: CellSheet, hands: Sequence[int | None], n_people: int, limits: Limits
) -> str:
    """Return what a group said of all cells as CSV text."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for index, count in enumerate(hands):
        right = right_hands(sheet, index, count, n_people, limits)
        told = "" if right is None else right
        key = key_words(sheet, index, limits)
        writer.writerow(
            [sheet.number, index + 1, key, n_people, "" if count is None else count, told]
        )
    return text.getvalue()


def save_group_table(
    path: Path, sheet: CellSheet, hands: Sequence[int | None], n_people: int, limits: Limits
) -> None:
    """Write the table; OutputFolderError if it cannot be written."""
    write_whole(path, group_table(sheet, hands, n_people, limits).encode("utf-8-sig"))
