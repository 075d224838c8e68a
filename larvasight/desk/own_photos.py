"""Own photos: copied in, measured, and remembered with their sheets."""

import math
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from larvasight.desk.cell_names import named_as
from larvasight.desk.files import make_folder
from larvasight.desk.hand_cells import (
    ByHandLattice,
    guess_of,
    lay_cells,
    stored_lattice,
    to_be_stored,
)
from larvasight.desk.measuring import Measurer
from larvasight.errors import LarvasightError, PhotoChangedError, SheetInvalidError
from larvasight.grading import Limits, grade_sheet
from larvasight.sheet import (
    Content,
    Flag,
    Grade,
    LatticeByHand,
    ScaleSource,
    Sheet,
    sheet_from_json,
    sheet_to_json,
    write_whole,
)
from larvasight.vision.photo import PHOTO_SUFFIXES, Photo, load_photo
from larvasight.vision.scale import ScaleGuess

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import Photo as KeptPhoto


_HOW: dict[LatticeByHand | None, str] = {
    None: "found",
    LatticeByHand.MOVED: "found, put right by hand",
    LatticeByHand.LAID: "laid by hand",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeasuredPhoto:
    """A photo, upright, ``pixels`` (H, W, 3) uint8 RGB, with its graded sheet."""

    pixels: NDArray[np.uint8]
    sheet: Sheet


def kept_path(data: Path, photo: "KeptPhoto") -> Path:
    """Return where a kept photo's file lies."""
    from larvasight.records.place import photos_folder

    return photos_folder(data) / f"{photo.sha256}{photo.suffix}"


def load_kept(data: Path, photo: "KeptPhoto") -> Photo:
    """Load a kept photo.

    Raises
    ------
    LarvasightError
        If its copy is gone, cannot be read or is not what was measured.
    """
    path = kept_path(data, photo)
    try:
        loaded = load_photo(path)
    except LarvasightError as error:
        # Nobody knows it by its checksum.
        raise type(error)(str(error).replace(path.name, photo.name)) from error
    if loaded.sha256 != photo.sha256:
        msg = f"The copy of {photo.name} was changed or damaged; open the photo itself once more."
        raise PhotoChangedError(msg)
    return loaded


def _always() -> bool:
    return True


def keep_photo(
    store: "Store",
    data: Path,
    path: Path,
    *,
    guess: ScaleGuess,
    limits: Limits,
    now: datetime,
    is_wanted: Callable[[], bool] = _always,
) -> MeasuredPhoto:
    """Measure a photo, copy it into the data folder and remember it with its sheet.

    The copy holds the bytes that were measured, whatever becomes of the file meanwhile; a copy
    that is there and was damaged is made anew. A photo without comb or one that cannot be read
    is not kept. Where it was opened before, its cells lie where a person laid them then, and a cell
    size that was told then counts if none is told now.

    ``is_wanted`` is asked before anything is stored: who stopped meanwhile finds all as it was.

    Raises
    ------
    LarvasightError
        If it cannot be read, measured or kept.
    """
    photo = load_photo(path)
    former = _former(store, photo.sha256)
    if guess.source is ScaleSource.COMB and former is not None:
        guess = guess_of(former.scale)
    measurer = Measurer(guess=guess, limits=limits)
    sheet = measurer.measure_loaded(photo, stored_lattice(store, photo.sha256))
    sheet = sheet if former is None else named_as(sheet, former)
    if is_wanted():
        _remember(store, data, photo, sheet, suffix=path.suffix, now=now)
    return MeasuredPhoto(pixels=photo.pixels, sheet=sheet)


def _former(store: "Store", sha256: str) -> Sheet | None:
    """Return the sheet that is kept of a photo, None where there is none that can be read."""
    if all(known.sha256 != sha256 for known in store.photos()):
        return None
    text = store.photo_sheet(sha256)
    with suppress(SheetInvalidError):
        return None if text is None else sheet_from_json(text)
    return None


def lay_by_hand(
    store: "Store",
    data: Path,
    path: Path,
    clicks_xy_px: tuple[tuple[float, float], tuple[float, float]],
    *,
    guess: ScaleGuess,
    limits: Limits,
    now: datetime,
    name: str | None = None,
    is_wanted: Callable[[], bool] = _always,
) -> MeasuredPhoto:
    """Keep a photo in which two neighbouring cells were pointed at, measured from these on.

    ``name`` is what the photo was called when it came, its file's name without it; ``is_wanted``
    as of ``keep_photo``.

    Raises
    ------
    LarvasightError
        If no lattice can be begun from them, or the photo cannot be read or kept.
    """
    photo = load_photo(path)
    by_hand = lay_cells(photo.pixels, clicks_xy_px)
    sheet = Measurer(guess=guess, limits=limits).measure_loaded(photo, by_hand)
    sheet = replace(sheet, photo=replace(sheet.photo, name=name or photo.name))
    former = _former(store, photo.sha256)
    sheet = sheet if former is None else named_as(sheet, former)
    if is_wanted():
        _remember(store, data, photo, sheet, suffix=path.suffix, now=now, by_hand=by_hand)
    return MeasuredPhoto(pixels=photo.pixels, sheet=sheet)


def move_cells(
    store: "Store",
    data: Path,
    photo: "KeptPhoto",
    by_hand: ByHandLattice | None,
    *,
    guess: ScaleGuess,
    limits: Limits,
    now: datetime,
    is_wanted: Callable[[], bool] = _always,
) -> MeasuredPhoto:
    """Measure a kept photo with its cells where a person says; None searches them again.

    ``is_wanted`` as of ``keep_photo``.

    Raises
    ------
    LarvasightError
        If its file is gone or was damaged, or no cells are found.
    """
    loaded = load_kept(data, photo)
    sheet = _measured(store, photo, loaded, by_hand, Measurer(guess=guess, limits=limits))
    if is_wanted():
        store.put_cells(photo.sha256, to_be_stored(by_hand, now), sheet_to_json(sheet))
    return MeasuredPhoto(pixels=loaded.pixels, sheet=sheet)


def _measured(
    store: "Store",
    photo: "KeptPhoto",
    loaded: Photo,
    by_hand: ByHandLattice | None,
    measurer: Measurer,
) -> Sheet:
    """Measure a kept photo; its cells keep their names."""
    found = measurer.measure_loaded(loaded, by_hand)
    sheet = replace(found, photo=replace(found.photo, name=photo.name))
    former = _former(store, photo.sha256)
    return sheet if former is None else named_as(sheet, former)


def _remember(
    store: "Store",
    data: Path,
    photo: Photo,
    sheet: Sheet,
    *,
    suffix: str,
    now: datetime,
    by_hand: ByHandLattice | None = None,
) -> None:
    """Copy a photo into the data folder and store it with its sheet.

    Without ``by_hand`` it stays kept where its cells were laid before.
    """
    from larvasight.records.copies import is_whole
    from larvasight.records.place import photos_folder

    folder = photos_folder(data)
    # The content decides how a photo is read, so any other ending may be left out.
    ending = suffix.lower()
    suffix = ending if ending in PHOTO_SUFFIXES else ".jpg"
    kept = next((known for known in store.photos() if known.sha256 == photo.sha256), None)
    copy = folder / f"{photo.sha256}{suffix}" if kept is None else kept_path(data, kept)
    if not is_whole(copy, photo.sha256):
        make_folder(folder)
        write_whole(copy, photo.data)
    store.add_photo(photo.sha256, name=_readable(photo.name), suffix=suffix, now=now)
    if by_hand is None:
        store.set_photo_sheet(photo.sha256, sheet_to_json(sheet))
    else:
        store.put_cells(photo.sha256, to_be_stored(by_hand, now), sheet_to_json(sheet))


def measure_again(
    store: "Store",
    data: Path,
    photo: "KeptPhoto",
    *,
    guess: ScaleGuess,
    limits: Limits,
    is_wanted: Callable[[], bool] = _always,
) -> MeasuredPhoto:
    """Measure a kept photo again, with another cell size, and remember the new sheet.

    ``is_wanted`` as of ``keep_photo``.
    """
    loaded, by_hand = load_kept(data, photo), stored_lattice(store, photo.sha256)
    sheet = _measured(store, photo, loaded, by_hand, Measurer(guess=guess, limits=limits))
    if is_wanted():
        store.set_photo_sheet(photo.sha256, sheet_to_json(sheet))
    return MeasuredPhoto(pixels=loaded.pixels, sheet=sheet)


def open_kept(store: "Store", data: Path, photo: "KeptPhoto", *, limits: Limits) -> MeasuredPhoto:
    """Open a kept photo with the sheet that was remembered, graded by the present spans.

    Raises
    ------
    LarvasightError
        If its file is gone or was damaged, or its sheet cannot be read.
    """
    loaded = load_kept(data, photo)
    text = store.photo_sheet(photo.sha256)
    if text is None:
        return measure_again(store, data, photo, guess=ScaleGuess(), limits=limits)
    return MeasuredPhoto(pixels=loaded.pixels, sheet=grade_sheet(sheet_from_json(text), limits))


def forget_photo(store: "Store", data: Path, photo: "KeptPhoto") -> None:
    """Remove a photo from the records and every copy of it from the data folder."""
    store.remove_photo(photo.sha256)
    kept = kept_path(data, photo)
    with suppress(OSError):
        for copy in kept.parent.glob(f"{kept.stem}.*"):
            copy.unlink(missing_ok=True)


def sum_up(sheet: Sheet) -> str:
    """Say in a few plain words what was found in a photo."""
    contents = [cell.content for cell in sheet.cells]
    grades = [cell.grade for cell in sheet.cells]
    n_larvae = contents.count(Content.LARVA)
    n_take = grades.count(Grade.TAKE) + grades.count(Grade.VERY_YOUNG)
    n_unclear = contents.count(Content.UNCLEAR)
    how = _HOW[sheet.lattice.by_hand]
    told = [f"{_many(len(contents), 'cell', 'cells')} {how}."]
    if n_larvae:
        others = (
            (grades.count(Grade.BORDERLINE), "borderline"),
            (grades.count(Grade.TOO_OLD), "too old"),
            (grades.count(Grade.UNSURE), "cannot be told"),
        )
        counts = "".join(f", {n} {words}" for n, words in others if n)
        told.append(f"{_many(n_larvae, 'larva', 'larvae')}: {n_take} young enough{counts}.")
        n_doubtful = sum(cell.is_doubtful for cell in sheet.cells)
        if n_doubtful:
            are = "is" if n_doubtful == 1 else "are"
            told.append(f"{n_doubtful} of these {are} not sure: the rim is dashed.")
    else:
        told.append("No larva could be told among them.")
    n_eggs = contents.count(Content.EGG)
    if n_eggs:
        told.append(f"{_many(n_eggs, 'egg', 'eggs')}.")
    if n_unclear:
        cells = _many(n_unclear, "cell", "cells")
        told.append(f"In {cells} it cannot be told what is there.")
    n_small = sum(Flag.TOO_SMALL in cell.flags for cell in sheet.cells)
    if 2 * n_small > len(sheet.cells):
        told.append("Most have too few picture points for it: take the photo from nearer.")
    without_brood = ((Content.STORES, "with pollen or nectar"), (Content.CAPPED, "capped"))
    rest = [f"{contents.count(what)} {words}" for what, words in without_brood if what in contents]
    if rest:
        told.append(f"{' and '.join(rest)}.")
    return " ".join(told)


def first_to_look_at(sheet: Sheet) -> int | None:
    """Return the first larva with an age, else the first larva, else the cell in the middle."""
    cells = sheet.cells
    larvae = [k for k, cell in enumerate(cells) if cell.content is Content.LARVA]
    aged = [k for k in larvae if cells[k].age_h is not None]
    if larvae:
        return (aged or larvae)[0]
    return nearest_cell(sheet, (sheet.photo.width_px / 2.0, sheet.photo.height_px / 2.0))


def nearest_cell(sheet: Sheet, place_xy_px: tuple[float, float]) -> int | None:
    """Return the cell whose middle lies next to a place, None without cells."""
    away = [math.dist(cell.centre_xy_px, place_xy_px) for cell in sheet.cells]
    return away.index(min(away)) if away else None


def _readable(name: str) -> str:
    """Return a file name as text that can be stored: names need not be UTF-8."""
    return name.encode("utf-8", "replace").decode("utf-8")


def _many(n: int, one: str, more: str) -> str:
    return f"{n} {one if n == 1 else more}"
