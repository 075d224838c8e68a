"""Own photos as practice: the cells that were checked, put before a learner as a comb."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias
from uuid import uuid4

import numpy as np
from numpy.typing import NDArray

from larvasight import __version__
from larvasight.desk.by_hand import ByHand
from larvasight.desk.known_age import KnownRange
from larvasight.desk.own_photos import load_kept
from larvasight.desk.own_told import OwnTold
from larvasight.desk.practising import PreparedComb
from larvasight.errors import LarvasightError, NoOwnCombError
from larvasight.grading import Limits
from larvasight.practice import Drill, ShownCell, Shows
from larvasight.practice.choosing import choose_cells
from larvasight.practice.drills import TEACHERS_LINE
from larvasight.practice.own_combs import HIDDEN, Half, age_band_h, half_of, is_sure
from larvasight.sheet import Cell, Content, Flag, PointsXY, Sheet, sheet_from_json

if TYPE_CHECKING:
    from datetime import datetime

    from larvasight.records.store import Store
    from larvasight.records.types import Photo as KeptPhoto

    _Usable: TypeAlias = tuple[KeptPhoto, ByHand, dict[int, ShownCell]]

# Fewer sure cells than these on one half of a photo are not worth a comb.
SURE_LEAST = 4
_ABOUT_PITCHES = 0.9
# A teacher's line is drawn by larvae whose age is known within so many hours.
_BAND_MOST_H = 30.0
# A picture of few px is drawn larger, so that it can be looked at closely.
_SIDE_LEAST_PX = 900


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnCells:
    """What of a photo can be practised on.

    ``cells`` are all whole cells with what is known of them, by the index in the sheet; those
    without a sure answer are not plain, and never scored. ``bands_h`` holds between which ages
    larvae lie, those of which that is known; ``to_take`` which of the plain ones are young enough.
    """

    cells: dict[int, ShownCell]
    checked: frozenset[int]
    bands_h: dict[int, tuple[float, float]]
    to_take: frozenset[int]

    @property
    def n_checked(self) -> int:
        """How many cells were checked."""
        return len(self.checked)

    def with_age(self, sheet: Sheet) -> dict[int, ShownCell]:
        """Return the checked eggs, and larvae whose age is known well, whatever is wanted."""
        return {
            index: replace(cell, is_plain=True)
            for index, cell in self.cells.items()
            if index in self.checked
            and not HIDDEN & set(sheet.cells[index].flags)
            and (cell.content is Content.EGG or self._is_age_known(index))
        }

    def _is_age_known(self, index: int) -> bool:
        lo_h, hi_h = self.bands_h.get(index, (0.0, math.inf))
        return hi_h - lo_h <= _BAND_MOST_H

    def of_half(self, half: Half, sha256: str) -> dict[int, ShownCell]:
        """Return the cells of one half."""
        return {
            index: cell
            for index, cell in self.cells.items()
            if half_of(sha256, cell.row, cell.col) is half
        }

    @property
    def n_sure(self) -> int:
        """How many cells have a sure answer."""
        return sum(cell.is_plain for cell in self.cells.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """How a photo is, or would be, used for practice."""

    cells: OwnCells
    sha256: str
    is_all_checked: bool

    def n_sure(self, half: Half) -> int:
        """Return how many cells of a half have a sure answer."""
        return sum(cell.is_plain for cell in self.cells.of_half(half, self.sha256).values())

    @property
    def has_larva_to_take(self) -> bool:
        """Whether there is anything to pick where it is practised on."""
        return any(k in self.cells.to_take for k in self.cells.of_half(Half.PRACTICE, self.sha256))

    @property
    def is_enough(self) -> bool:
        """Whether both halves have cells enough."""
        return all(self.n_sure(half) >= SURE_LEAST for half in Half)


def use_words(use: Use) -> str:
    """Say how many cells of a photo are practised on, and how many are kept apart."""
    n_cells, n_checked = len(use.cells.cells), use.cells.n_checked
    told = (
        f"{n_checked} of {n_cells} whole cells checked, {use.cells.n_sure} with a sure answer: "
        f"{use.n_sure(Half.PRACTICE)} to practise on, {use.n_sure(Half.TEST)} kept apart for a "
        "test."
    )
    if not use.is_enough or use.has_larva_to_take:
        return told
    return f"{told} No larva to practise on is young enough: there is only something to leave."


def own_cells(by_hand: ByHand, *, is_all_checked: bool, limits: Limits) -> OwnCells:
    """Return what of a photo can be practised on.

    Parameters
    ----------
    by_hand : ByHand
        The photo as put right by hand.
    is_all_checked : bool
        Whether a person looked at every cell, not only at those marked.
    limits : Limits
        The spans in force: they decide which larvae have a sure answer.
    """
    known = _known_h(by_hand.known_range)
    cells: dict[int, ShownCell] = {}
    checked: set[int] = set()
    bands_h: dict[int, tuple[float, float]] = {}
    for index, cell in enumerate(by_hand.sheet.cells):
        if Flag.CUT_BY_FRAME in cell.flags:
            continue
        is_checked = is_all_checked or index in by_hand.marks
        if is_checked:
            checked.add(index)
        band_h = age_band_h(cell, known) if cell.content is Content.LARVA else None
        if band_h is not None:
            bands_h[index] = band_h
        cells[index] = _shown(cell, band_h, is_checked=is_checked, limits=limits)
    young = {k for k, (_, hi_h) in bands_h.items() if cells[k].is_plain and hi_h <= limits.old_h}
    return OwnCells(
        cells=cells, checked=frozenset(checked), bands_h=bands_h, to_take=frozenset(young)
    )


def prepare_own_comb(
    drill: Drill,
    seed: int,
    *,
    store: "Store",
    data: Path,
    limits: Limits,
    now: "datetime",
) -> PreparedComb:
    """Take a part of an own photo for a drill.

    Parameters
    ----------
    drill : Drill
        What it is for; it says which half of the cells is asked. For the teacher's line all
        eggs and larvae of known age are.
    seed : int
        Source of chance.
    store, data : Store, Path
        The records, and where photos lie.
    limits : Limits
        The spans in force.
    now : datetime
        The time, UTC.

    Raises
    ------
    NoOwnCombError
        If no photo has enough cells with a sure answer.
    LarvasightError
        If no photo that has enough can be opened.
    """
    rng = np.random.default_rng(seed)
    half = drill.own or Half.PRACTICE
    kept = {photo.sha256: photo for photo in store.photos()}
    usable: list[_Usable] = []
    for made in store.practice_photos():
        found = _by_hand(store, made.sha256, limits, now)
        if found is None or made.sha256 not in kept:
            continue
        cells = own_cells(found, is_all_checked=made.is_all_checked, limits=limits)
        if drill.key == TEACHERS_LINE.key:
            of_half = cells.with_age(found.sheet)
        else:
            of_half = cells.of_half(half, made.sha256)
        if sum(cell.is_plain for cell in of_half.values()) >= SURE_LEAST:
            usable.append((kept[made.sha256], found, of_half))
    if not usable:
        msg = (
            f"None of your photos has {SURE_LEAST} cells with a sure answer here. Check more cells "
            "on My photos, then press Use for practice."
        )
        raise NoOwnCombError(msg)
    photo, by_hand, asked_of, pixels = _first_that_opens(usable, data, rng)
    asked = _asked(drill, asked_of, by_hand.sheet, limits, rng)
    crop, sheet, places = _cut_out(pixels, by_hand.sheet, asked)
    return PreparedComb(
        drill=drill,
        recipe={
            "photo": photo.sha256,
            "half": str(half),
            "seed": seed,
            "size_px": [crop.shape[1], crop.shape[0]],
            "measured_by": __version__,
        },
        pixels=crop,
        sheet=sheet,
        asked=tuple(replace(asked_of[index], id=uuid4()) for index in asked),
        places=tuple(places[index] for index in asked),
        own=tuple(_told(by_hand, index, asked_of[index]) for index in asked),
    )


def _first_that_opens(
    usable: "list[_Usable]", data: Path, rng: np.random.Generator
) -> "tuple[KeptPhoto, ByHand, dict[int, ShownCell], NDArray[np.uint8]]":
    """Return one of the photos by chance; those that are gone or damaged are passed over."""
    errors: list[LarvasightError] = []
    for k in rng.permutation(len(usable)):
        try:
            return *usable[k], load_kept(data, usable[k][0]).pixels
        except LarvasightError as error:
            errors.append(error)
    raise errors[0]


def has_own_combs(store: "Store") -> bool:
    """Return whether there is a photo that is practised on."""
    return bool(store.practice_photos())


def _by_hand(store: "Store", sha256: str, limits: Limits, now: "datetime") -> ByHand | None:
    text = store.photo_sheet(sha256)
    if text is None:
        return None
    return ByHand(store, sheet_from_json(text), limits, lambda: now)


def _known_h(known: KnownRange | None) -> tuple[float, float] | None:
    return None if known is None else (known.lo_h, known.hi_h)


def _shown(
    cell: Cell, band_h: tuple[float, float] | None, *, is_checked: bool, limits: Limits
) -> ShownCell:
    age_h = None if band_h is None else max(0.0, (band_h[0] + band_h[1]) / 2.0)
    return ShownCell(
        id=uuid4(),
        row=cell.row,
        col=cell.col,
        content=cell.content,
        age_h=age_h,
        looks_age_h=cell.age_h if cell.content is Content.LARVA else None,
        length_mm=cell.length_mm,
        curl_deg=cell.curl_deg,
        jelly=cell.jelly,
        is_plain=is_checked and is_sure(cell, band_h, limits),
    )


def _asked(
    drill: Drill,
    cells: dict[int, ShownCell],
    sheet: Sheet,
    limits: Limits,
    rng: np.random.Generator,
) -> list[int]:
    """Return which cells of the sheet are asked, in the order of asking."""
    if drill.key == TEACHERS_LINE.key:
        mixed = [list(cells)[int(k)] for k in rng.permutation(len(cells))]
        return mixed[: drill.n_asked]
    if drill.shows is Shows.ONE_CELL:
        index_of = {cell.id: index for index, cell in cells.items()}
        chosen = choose_cells(list(cells.values()), drill.n_asked or 10, limits, rng)
        # What lies together is cut out together: no more of the photo than that.
        return [index_of[cell.id] for cell in chosen]
    sure = [index for index, cell in cells.items() if cell.is_plain]
    middle = sheet.cells[sure[int(rng.integers(len(sure)))]].centre_xy_px
    nearest = sorted(cells, key=lambda index: math.dist(sheet.cells[index].centre_xy_px, middle))
    return sorted(nearest[: drill.n_cells])


def _cut_out(
    pixels: NDArray[np.uint8], sheet: Sheet, asked: Sequence[int]
) -> tuple[NDArray[np.uint8], Sheet, dict[int, int]]:
    """Return the part of a photo about some cells, its sheet, and where in it these cells are."""
    places = np.array([sheet.cells[index].centre_xy_px for index in asked])
    about = np.array([_ABOUT_PITCHES * sheet.cells[k].px_per_mm for k in asked]).max()
    about *= sheet.scale.pitch_mm
    last = np.array([sheet.photo.width_px, sheet.photo.height_px])
    left, top = np.floor(np.clip(places.min(axis=0) - about, 0, last)).astype(int).tolist()
    right, bottom = np.ceil(np.clip(places.max(axis=0) + about + 1.0, 0, last)).astype(int).tolist()
    crop = pixels[top:bottom, left:right].copy()
    zoom = _zoom(crop)
    if zoom > 1:
        import cv2

        size = (crop.shape[1] * zoom, crop.shape[0] * zoom)
        crop = np.asarray(cv2.resize(crop, size, interpolation=cv2.INTER_CUBIC), np.uint8)
    there = [
        index
        for index, cell in enumerate(sheet.cells)
        if left <= cell.centre_xy_px[0] < right and top <= cell.centre_xy_px[1] < bottom
    ]
    cells = tuple(_moved(sheet.cells[index], left, top, zoom) for index in there)
    scale = replace(
        sheet.scale,
        pitch_px=sheet.scale.pitch_px * zoom,
        px_per_mm=sheet.scale.px_per_mm * zoom,
    )
    photo = replace(sheet.photo, width_px=crop.shape[1], height_px=crop.shape[0])
    cut = replace(sheet, photo=photo, scale=scale, cells=cells)
    return crop, cut, {index: at for at, index in enumerate(there)}


def _zoom(crop: NDArray[np.uint8]) -> int:
    side_px = int(max(crop.shape[:2]))
    return max(1, math.ceil(_SIDE_LEAST_PX / side_px))


def _moved(cell: Cell, left: int, top: int, zoom: int) -> Cell:
    """Return a cell as it lies in the part that was cut out and enlarged."""

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return (point[0] - left + 0.5) * zoom - 0.5, (point[1] - top + 0.5) * zoom - 0.5

    def all_at(points: PointsXY | None) -> PointsXY | None:
        return None if points is None else tuple(at(point) for point in points)

    return replace(
        cell,
        centre_xy_px=at(cell.centre_xy_px),
        px_per_mm=cell.px_per_mm * zoom,
        midline_xy_px=all_at(cell.midline_xy_px),
        outline_xy_px=all_at(cell.outline_xy_px),
    )


def _told(by_hand: ByHand, index: int, shown: ShownCell) -> OwnTold:
    """Return what is told of a cell beside its measures."""
    known, cell = by_hand.known_range, by_hand.sheet.cells[index]
    note = "Checked by hand." if index in by_hand.marks else ""
    if cell.content is not Content.LARVA:
        return OwnTold(band_h=None, is_sure=shown.is_plain, note=note)
    known_h = _known_h(known)
    return OwnTold(
        band_h=age_band_h(cell, known_h), known_h=known_h, is_sure=shown.is_plain, note=note
    )
