"""A printed sheet of 24 cells: made from its number alone, and its ticks stored afterwards.

The ages that were wanted when it was printed are kept: its ticks are scored by them, as its key
says, whatever is wanted by then.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import UUID, uuid4

import numpy as np
from numpy.typing import NDArray

from larvasight import __version__
from larvasight.desk.cut_cell import cut_cell
from larvasight.desk.practising import PreparedComb, prepare_comb, shipped_tiles
from larvasight.errors import AssetMissingError, SheetChangedError
from larvasight.grading import Limits, age_words
from larvasight.practice import Answer, Given
from larvasight.practice.drills import PRINTED_SHEET
from larvasight.practice.scoring import OUTCOME_WORDS, Outcome, Score, outcome_of, score
from larvasight.sheet import Cell, Content, write_whole

if TYPE_CHECKING:
    from larvasight.records.store import Store

N_CELLS = 24
NUMBER_MOST = 999_999
_SIZE_PX = (1480, 1110)
_TOLD_OUTCOMES = (
    Outcome.TOO_OLD,
    Outcome.EGG,
    Outcome.NO_LARVA,
    Outcome.MISSED,
    Outcome.JUST_PAST,
)
# Ages, h, that cells look, and how many of each: eggs, very young, right, about the limit, old.
_MIX = (
    ((-70.0, -1.0), 4),
    ((0.5, 5.0), 2),
    ((7.0, 28.0), 10),
    ((28.0, 36.0), 3),
    ((36.0, 70.0), 5),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CellSheet:
    """A sheet: its number, the comb it was cut from, a picture (side, side, 3) of each cell."""

    number: int
    comb: PreparedComb
    pictures: tuple[NDArray[np.uint8], ...]

    def cell(self, index: int) -> Cell:
        """Return what is true of a cell, counted from 0."""
        return self.comb.cell_of(index)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetTold:
    """What the ticks of a sheet came to.

    ``outcomes`` has one for each cell. ``limits`` are those it was scored by: with ``is_printed``
    those of its key, else those in force, since it was not printed with these records.
    """

    outcomes: tuple[Outcome, ...]
    score: Score
    limits: Limits
    is_printed: bool

    def sentence(self) -> str:
        """Return the result in words, numbers of cells as on the paper."""
        parts = [f"{self.score.n_right} of {self.score.n_picks} picks were right."]
        for outcome in _TOLD_OUTCOMES:
            numbers = [str(k + 1) for k, one in enumerate(self.outcomes) if one is outcome]
            if numbers:
                parts.append(f"{OUTCOME_WORDS[outcome].capitalize()}: {', '.join(numbers)}.")
        ages = f"{self.limits.young_h:g}\N{EN DASH}{self.limits.old_h:g} hours"
        if self.is_printed:
            parts.append(f"Wanted were {ages}, as the key on paper says.")
        else:
            parts.append(
                f"This sheet was not printed with these records, so {ages} are taken as wanted, as "
                "they are now; see whether its key says the same."
            )
        return " ".join(parts)


def new_number(rng: np.random.Generator) -> int:
    """Return the number of a sheet that nobody has seen."""
    return int(rng.integers(100_000, NUMBER_MOST + 1))


def make_sheet(number: int, limits: Limits) -> CellSheet:
    """Return the sheet of a number; the same number and version give the same sheet.

    Raises
    ------
    ValueError
        If there is no such number.
    AssetMissingError
        If the pictures of cells are missing.
    """
    if not 1 <= number <= NUMBER_MOST:
        msg = f"number must be from 1 to {NUMBER_MOST}, got {number}"
        raise ValueError(msg)
    library = shipped_tiles()
    if library is None:
        msg = "The pictures of cells are missing; install larvasight again."
        raise AssetMissingError(msg)
    rng = np.random.default_rng([number, 1])
    comb = prepare_comb(
        PRINTED_SHEET,
        number,
        size_px=_SIZE_PX,
        limits=limits,
        library=library,
        ages_h=_ages_h(rng),
    )
    comb = _mixed(comb, rng)
    return CellSheet(
        number=number,
        comb=comb,
        pictures=tuple(_cut(comb, index) for index in range(len(comb.asked))),
    )


def _ages_h(rng: np.random.Generator) -> tuple[float, ...]:
    """Return ages of 24 cells, whatever ages are wanted: some of each kind on every sheet."""
    spans = [span_h for span_h, n in _MIX for _ in range(n)]
    ages_h = [float(rng.uniform(*span_h)) for span_h in spans]
    return tuple(float(age_h) for age_h in rng.permutation(ages_h))


def _mixed(comb: PreparedComb, rng: np.random.Generator) -> PreparedComb:
    """Return a comb whose cells are asked in any order."""
    order = rng.permutation(len(comb.asked)).tolist()
    return replace(
        comb,
        asked=tuple(comb.asked[k] for k in order),
        places=tuple(comb.places[k] for k in order),
    )


def _cut(comb: PreparedComb, index: int) -> NDArray[np.uint8]:
    return cut_cell(comb.pixels, comb.cell_of(index).centre_xy_px, comb.sheet.scale.pitch_px)


def key_words(sheet: CellSheet, index: int, limits: Limits, *, is_short: bool = False) -> str:
    """Return what the key says of a cell: its age and whether it would be taken.

    Where there is little room ``is_short`` leaves out what is said of the verdict.
    """
    cell = sheet.cell(index)
    if cell.content is not Content.LARVA or cell.age_h is None:
        return str(cell.content)
    taken = outcome_of(sheet.comb.asked[index], Answer.TAKE, limits)
    verdict = {Outcome.RIGHT: "take", Outcome.VERY_YOUNG: "very young: good, hard to lift"}
    words = verdict.get(taken, OUTCOME_WORDS[taken])
    if is_short:
        words = words.partition(":")[0]
    return f"{age_words(cell.age_h, limits)}: {words}"


def save_sheet(
    sheet: CellSheet, path: Path, *, limits: Limits, today: datetime, is_letter: bool = False
) -> None:
    """Write the sheet and its key as a PDF; OutputFolderError if it cannot be written."""
    from larvasight.paper.cell_sheet import sheet_pdf  # Qt only when it is wanted

    keys = [key_words(sheet, index, limits) for index in range(len(sheet.pictures))]
    pdf = sheet_pdf(
        sheet.pictures,
        keys,
        number=sheet.number,
        limits=limits,
        made_on=today.date(),
        program_version=__version__,
        is_letter=is_letter,
    )
    write_whole(path, pdf)


def keep_key(store: "Store", sheet: CellSheet, limits: Limits) -> None:
    """Keep what a sheet is scored by, before it is printed; LarvasightError if it cannot be."""
    from larvasight.records.types import PrintedKey

    store.put_printed_key(sheet.number, PrintedKey(limits=limits, cells=_cells_check(sheet)))


def _cells_check(sheet: CellSheet) -> str:
    """Return a few signs that differ where the cells of a number come to differ."""
    told = [(str(cell.content), cell.age_h, cell.is_plain) for cell in sheet.comb.asked]
    return hashlib.sha256(repr(told).encode()).hexdigest()[:16]


def is_entered(store: "Store", learner_id: UUID, number: int) -> bool:
    """Return whether somebody's ticks of a sheet are stored already."""
    kept = store.kept_rounds(learner_id, [PRINTED_SHEET.key])
    return any(one.recipe.get("sheet") == number for one in kept)


def keep_ticks(
    store: "Store",
    learner_id: UUID,
    sheet: CellSheet,
    ticked: Sequence[int],
    *,
    limits: Limits,
    now: datetime,
) -> SheetTold:
    """Store what somebody ticked on a sheet.

    Parameters
    ----------
    store : Store
        Where to.
    learner_id : UUID
        Who ticked.
    sheet : CellSheet
        The sheet of that number.
    ticked : sequence of int
        Numbers as on the paper, from 1.
    limits : Limits
        The ages wanted now: they count only if the sheet was not printed with these records.
    now : datetime
        When it is entered, UTC.

    Raises
    ------
    ValueError
        If a number is not on the sheet.
    SheetChangedError
        If the paper shows other cells; nothing is stored.
    LarvasightError
        If it cannot be stored.
    """
    from larvasight.records.types import ShownRound

    wrong = [number for number in ticked if not 1 <= number <= len(sheet.pictures)]
    if wrong:
        msg = f"ticked must hold numbers from 1 to {len(sheet.pictures)}, got {wrong[0]}"
        raise ValueError(msg)
    printed = store.printed_key(sheet.number)
    if printed is not None and printed.cells != _cells_check(sheet):
        msg = (
            f"Sheet {sheet.number} was printed by another version of larvasight, which drew other "
            "cells, so nothing was stored; use the key on its page two."
        )
        raise SheetChangedError(msg)
    limits = limits if printed is None else printed.limits
    cells = tuple(replace(cell, id=uuid4()) for cell in sheet.comb.asked)
    answers = [Answer.TAKE if k in set(ticked) else Answer.LEAVE for k in range(1, len(cells) + 1)]
    shown = ShownRound(
        id=uuid4(),
        learner_id=learner_id,
        drill=PRINTED_SHEET,
        cells=cells,
        limits=limits,
        recipe={**sheet.comb.recipe, "sheet": sheet.number},
        kind="drawn",
        shown_at_utc=now,
    )
    givens = tuple(
        Given(cell_id=cell.id, answer=answer, response_ms=None, is_final=True)
        for cell, answer in zip(cells, answers, strict=True)
    )
    store.put_round(shown, givens, now=now)
    found = tuple(outcome_of(*pair, limits) for pair in zip(cells, answers, strict=True))
    none = np.full(len(found), np.nan)
    return SheetTold(
        outcomes=found,
        score=score(np.array(found, dtype=np.int8), none),
        limits=limits,
        is_printed=printed is not None,
    )
