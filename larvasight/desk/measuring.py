"""Measure photos: one photo to a graded sheet, many photos to files."""

import csv
import io
import os
from collections import Counter, deque
from collections.abc import Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from multiprocessing import get_context, parent_process
from pathlib import Path
from threading import Thread

from larvasight.desk.files import cell_text
from larvasight.errors import LarvasightError
from larvasight.grading import Limits, grade_sheet
from larvasight.sheet import (
    Cell,
    LatticeByHand,
    Sheet,
    sheet_to_dict,
    sheet_to_json,
    write_whole,
)
from larvasight.vision.lattice import FoundLattice
from larvasight.vision.network import NetworkParser
from larvasight.vision.parsed import CellParser
from larvasight.vision.photo import Photo, load_photo
from larvasight.vision.photo_cells import measure_photo
from larvasight.vision.scale import ScaleGuess


class SheetFormat(StrEnum):
    """How measured sheets are written."""

    JSON = "json"
    CSV = "csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureJob:
    """What to do with every photo; without ``out`` nothing is written."""

    guess: ScaleGuess
    out: Path | None = None
    sheet_format: SheetFormat = SheetFormat.JSON
    marked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one photo: its sheet as text, or ``error``, one sentence.

    ``written`` is the sheet's file, None where none was wanted.
    """

    photo: Path
    text: str = ""
    written: Path | None = None
    error: str | None = None


class Measurer:
    """Measures and grades photos with one parser, loaded once.

    Parameters
    ----------
    guess : ScaleGuess, optional
        Cell size and camera distance.
    limits : Limits, optional
        The teacher's spans.
    parser : CellParser, optional
        Reads cells; the network of the package without it.
    """

    def __init__(
        self,
        *,
        guess: ScaleGuess | None = None,
        limits: Limits | None = None,
        parser: CellParser | None = None,
    ) -> None:
        self._guess = guess or ScaleGuess()
        self._limits = limits or Limits()
        self._parser = parser or NetworkParser()

    def measure(self, path: Path) -> tuple[Photo, Sheet]:
        """Load, measure and grade the photo at ``path``.

        Raises
        ------
        LarvasightError
            If the file is no usable picture or shows no comb.
        """
        photo = load_photo(path)
        return photo, self.measure_loaded(photo)

    def measure_loaded(
        self, photo: Photo, by_hand: tuple[LatticeByHand, FoundLattice] | None = None
    ) -> Sheet:
        """Measure and grade a photo that is loaded, its cells where a person says if one did.

        Raises
        ------
        NoCombError
            If it shows no comb and nobody says where cells lie.
        """
        sheet = measure_photo(photo, self._parser, self._guess, by_hand)
        return grade_sheet(sheet, self._limits)


def measure_all(photos: list[Path], job: MeasureJob, *, n_jobs: int = 1) -> Iterator[Outcome]:
    """Measure photos one after the other, or several at once, in their given order.

    A photo that cannot be used never stops the others.

    Parameters
    ----------
    photos : list of Path
        Picture files.
    job : MeasureJob
        What to do with each.
    n_jobs : int
        Processes to use; 1 measures in this one.

    Yields
    ------
    Outcome
        One for each photo.
    """
    wanted = _wanted_of(photos)
    if n_jobs <= 1 or len(photos) < 2:
        measurer = Measurer(guess=job.guess)
        for one in wanted:
            yield _measure_one(measurer, one, job)
        return
    left = deque(wanted)
    while left:
        yield from _measure_together(left, job, n_jobs)
        # A process was ended from outside, as when memory runs out. Which photo it had is not
        # told, so those that may have been it are measured alone.
        for _ in range(min(2 * n_jobs, len(left))):
            yield _measure_alone(left.popleft(), job)


def _pool(n_jobs: int, job: MeasureJob) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(n_jobs, get_context("spawn"), _start_worker, (job,))


def _measure_together(left: "deque[_Wanted]", job: MeasureJob, n_jobs: int) -> Iterator[Outcome]:
    """Measure photos, several at once, and take them from ``left``; end where a process ended."""
    with _pool(n_jobs, job) as pool:
        waiting: deque[Future[Outcome]] = deque()
        try:
            while left:
                for one in list(left)[len(waiting) : 2 * n_jobs]:
                    waiting.append(pool.submit(_measure_in_worker, one, job))
                outcome = waiting.popleft().result()
                left.popleft()
                yield outcome
        except BrokenProcessPool:
            return


def _measure_alone(one: "_Wanted", job: MeasureJob) -> Outcome:
    with _pool(1, job) as pool:
        try:
            return pool.submit(_measure_in_worker, one, job).result()
        except BrokenProcessPool:
            msg = f"{one.label} could not be measured: the work was ended, perhaps for memory."
            return Outcome(photo=one.photo, error=msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """A photo, the name of its files without ending, and what it is called where it is told."""

    photo: Path
    name: str
    label: str


def _wanted_of(photos: list[Path]) -> list[_Wanted]:
    """Return photos with their names; those called alike are told with their folders."""
    n_called = Counter(photo.name for photo in photos)
    labels = [
        photo.name if n_called[photo.name] == 1 else f"{photo.parent.name}/{photo.name}"
        for photo in photos
    ]
    return [
        _Wanted(photo=photo, name=name, label=label)
        for photo, name, label in zip(photos, output_names(photos), labels, strict=True)
    ]


def output_names(photos: list[Path]) -> list[str]:
    """Return a name for each photo's files, without ending; photos of one name are told apart.

    So are names that differ in capitals alone: not every disk tells these apart.
    """
    taken: set[str] = set()
    counts: Counter[str] = Counter()
    names: list[str] = []
    for photo in photos:
        name, stem = photo.stem, photo.stem.casefold()
        while name.casefold() in taken:
            counts[stem] += 1
            name = f"{photo.stem}-{counts[stem] + 1}"
        taken.add(name.casefold())
        names.append(name)
    return names


def sheet_to_csv(sheet: Sheet) -> str:
    """Return a sheet's cells as CSV text with a header; points and unknown values are left out.

    A photo's name that a spreadsheet would take for a formula gets an apostrophe before it.
    """
    columns = [
        f.name for f in fields(Cell) if not f.name.endswith("_xy_px") and f.name != "looks_age_h"
    ]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    photo = cell_text(sheet.photo.name)
    writer.writerow(["photo", "centre_x_px", "centre_y_px", *columns])
    for cell in sheet_to_dict(sheet)["cells"]:
        cell["flags"] = " ".join(cell["flags"])
        writer.writerow([photo, *cell["centre_xy_px"], *(cell.get(c) for c in columns)])
    return text.getvalue()


_worker: list[Measurer] = []


def _start_worker(job: MeasureJob) -> None:
    import cv2

    Thread(target=_end_with_parent, daemon=True).start()
    cv2.setNumThreads(1)
    _worker.append(Measurer(guess=job.guess))


def _end_with_parent() -> None:
    """Wait for the end of the process that began this one, and end too, however it ended."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _measure_in_worker(one: _Wanted, job: MeasureJob) -> Outcome:
    return _measure_one(_worker[0], one, job)


def _measure_one(measurer: Measurer, one: _Wanted, job: MeasureJob) -> Outcome:
    path, name = one.photo, one.name
    try:
        photo, sheet = measurer.measure(path)
        if one.label != path.name:
            sheet = replace(sheet, photo=replace(sheet.photo, name=one.label))
        is_json = job.sheet_format is SheetFormat.JSON
        text = sheet_to_json(sheet) if is_json else sheet_to_csv(sheet)
        written = None
        if job.out is not None:
            written = job.out / f"{name}.{job.sheet_format}"
            # A name that is no text: JSON reads it back as it was, CSV spells it out. Spreadsheets
            # read a table as UTF-8 only where its first bytes say so.
            coding = "utf-8" if is_json else "utf-8-sig"
            write_whole(written, text.encode(coding, errors="backslashreplace"))
            if job.marked:
                from larvasight.paper.marked import save_marked_picture  # Qt only when it is wanted

                save_marked_picture(job.out / f"{name}-marked.png", photo.pixels, sheet)
    except LarvasightError as error:
        sentence = str(error)
        is_named = path.name in sentence
        told = sentence.replace(path.name, one.label) if is_named else f"{one.label}: {sentence}"
        return Outcome(photo=path, error=told)
    return Outcome(photo=path, text=text, written=written)
