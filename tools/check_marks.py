"""Compare what is measured on photographs with marks that somebody made on them by hand.

python tools/check_marks.py --photos DIR --marks FILE [--pitch-mm 5.3] [--distance-mm 200]
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np

from comb_marks import NEAR_PITCH, PlaceFigures, marks_of_centres, place_figures
from hand_marks import FORMAT, HandCell, HandMarks, content_of, read_marks
from larvasight.errors import LarvasightError
from larvasight.geometry import fold_row_angle_deg
from larvasight.sheet import Cell, ScaleSource
from larvasight.vision.network import NetworkParser
from larvasight.vision.photo import Photo, load_photo
from larvasight.vision.photo_cells import find_comb, measure_photo
from larvasight.vision.rectify import Pyramid
from larvasight.vision.scale import ScaleGuess

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from larvasight.vision.lattice import FoundLattice
    from larvasight.vision.parsed import CellParser

# A hand mark in a cell belongs to the found cell nearest to it, within this share of the pitch.
_SAME_PITCH = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedCell:
    """One marked cell and what was found there, None where no cell was.

    ``depth`` is how many times as long larvae are as they look beside the rims above them.
    """

    mark: HandCell
    cell: Cell | None
    pitch_px: float
    depth: float

    @property
    def is_right(self) -> bool | None:
        """Whether the content is the marked one; None where the mark's words name none."""
        content = content_of(self.mark.stage)
        if content is None:
            return None
        return self.cell is not None and self.cell.content is content

    @property
    def length_pitch(self) -> float | None:
        """Length found as it is seen in the picture, as a share of the pitch."""
        if self.cell is None or self.cell.length_mm is None:
            return None
        return self.cell.length_mm * self.cell.px_per_mm / self.pitch_px / self.depth

    @property
    def diameter_pitch(self) -> float | None:
        """Diameter of the smallest circle about the found outline, as a share of the pitch."""
        if self.cell is None or self.cell.outline_xy_px is None:
            return None
        outline = np.array(self.cell.outline_xy_px, dtype=np.float32)
        return 2.0 * float(cv2.minEnclosingCircle(outline)[1]) / self.pitch_px


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What came of one photograph.

    ``places`` compares the marked region with the marks' own steps; ``pitch_given_error`` (a share)
    and ``row_given_deg`` compare it with the pitch and row angle noted beside them.
    """

    photo: str
    places: PlaceFigures
    pitch_given_error: float
    row_given_deg: float | None
    cells: tuple[CheckedCell, ...]

    @property
    def right_share(self) -> float | None:
        """Share of the contents that are right; None without any marked."""
        told = [cell.is_right for cell in self.cells if cell.is_right is not None]
        return sum(told) / len(told) if told else None


def check(photo: Photo, marks: HandMarks, parser: CellParser, guess: ScaleGuess) -> Checked:
    """Measure a photo and compare it with its marks.

    Raises
    ------
    NoCombError
        If no comb is found in it.
    """
    sheet = measure_photo(photo, parser, guess)
    lattice = find_comb(Pyramid(photo.pixels))
    known = marks_of_centres(marks.centres_xy_px, marks.pitch_px)
    near = _steps_beside(lattice, marks)
    sides = np.concatenate([near, near[:, 1:] - near[:, :1]], axis=1)
    pitch_px = float(np.hypot(sides[..., 0], sides[..., 1]).mean())
    scale = ScaleGuess(pitch_mm=sheet.scale.pitch_mm, distance_mm=sheet.scale.distance_mm)
    checked = partial(_checked, cells=sheet.cells, pitch_px=pitch_px, depth=scale.length_factor())
    return Checked(
        photo=marks.photo,
        places=place_figures(lattice, known),
        pitch_given_error=pitch_px / marks.pitch_px - 1.0,
        row_given_deg=_row_error_deg(sides.mean(axis=0), marks.row_angle_deg),
        cells=tuple(checked(mark) for mark in marks.cells),
    )


def _steps_beside(lattice: FoundLattice, marks: HandMarks) -> NDArray[np.float64]:
    """Return the local steps (N, 2, 2) of the found cells nearest to the marks."""
    places = np.array([cell.centre_xy_px for cell in lattice.cells])
    apart = np.hypot(*np.moveaxis(places[None] - marks.centres_xy_px[:, None], -1, 0))
    nearest = np.unique(apart.argmin(axis=1))
    return np.array([lattice.cells[i].steps_xy_px for i in nearest])


def _row_error_deg(sides_px: NDArray[np.float64], marked_deg: float | None) -> float | None:
    """Return how the found row nearest to the marked one is turned against it, modulo 60."""
    if marked_deg is None:
        return None
    found_deg = np.degrees(np.arctan2(sides_px[:, 1], sides_px[:, 0]))
    turns = [fold_row_angle_deg(float(angle) - marked_deg) for angle in found_deg]
    return min(turns, key=abs)


def _checked(mark: HandCell, cells: Sequence[Cell], pitch_px: float, depth: float) -> CheckedCell:
    away_px = [np.hypot(*np.subtract(cell.centre_xy_px, mark.centre_xy_px)) for cell in cells]
    nearest = int(np.argmin(away_px))
    is_there = away_px[nearest] < _SAME_PITCH * pitch_px
    cell = cells[nearest] if is_there else None
    return CheckedCell(mark=mark, cell=cell, pitch_px=pitch_px, depth=depth)


def main() -> int:
    """Print the figures of each photograph, then a line for each marked cell."""
    parser = argparse.ArgumentParser(
        description=__doc__.splitlines()[0],
        epilog=FORMAT,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--photos", type=Path, required=True, help="folder of the photographs")
    parser.add_argument("--marks", type=Path, required=True, help="file of the marks")
    parser.add_argument("--pitch-mm", type=float, help="size of the cells, middle to middle")
    parser.add_argument("--distance-mm", type=float, help="camera to comb")
    args = parser.parse_args()
    guess = ScaleGuess(distance_mm=args.distance_mm)
    if args.pitch_mm is not None:
        guess = ScaleGuess(
            pitch_mm=args.pitch_mm, distance_mm=args.distance_mm, source=ScaleSource.GIVEN
        )
    reader, all_well = NetworkParser(), True
    try:
        for marks in read_marks(args.marks):
            all_well &= _report(args.photos, marks, reader, guess)
    except LarvasightError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    return 0 if all_well else 1


def _report(folder: Path, marks: HandMarks, reader: CellParser, guess: ScaleGuess) -> bool:
    """Print one photograph; False where it could not be measured."""
    try:
        print_checked(check(load_photo(folder / Path(marks.photo).name), marks, reader, guess))
    except LarvasightError as error:
        sys.stdout.write(f"{marks.photo}: {error}\n")
        return False
    return True


def print_checked(checked: Checked) -> None:
    """Print the figures of one photograph."""
    found, out = checked.places, sys.stdout.write
    out(f"{checked.photo}: {found.n_marks} marked cells\n")
    out(f"  within {NEAR_PITCH} of the cell size: {found.near_share:.1%}\n")
    out(f"  nine in ten within {found.far_pitch:.2f} of the cell size\n")
    out(f"  pitch {checked.pitch_given_error:+.1%} beside the noted one")
    out(f", {found.pitch_error:+.1%} beside the marks' own steps\n")
    row = "not noted" if checked.row_given_deg is None else f"{checked.row_given_deg:+.1f} deg"
    out(f"  row angle {row} beside the noted one, {found.turn_deg:+.1f} deg beside the marks\n")
    if checked.right_share is not None:
        out(f"  contents right: {checked.right_share:.1%}\n")
    for cell in checked.cells:
        out(f"    {describe(cell)}\n")


def describe(checked: CheckedCell) -> str:
    """Return one marked cell beside what was measured there, as text."""
    mark, cell = checked.mark, checked.cell
    x, y = mark.centre_xy_px
    words = f"({x:.0f}, {y:.0f}) {mark.stage or 'no word'}"
    if cell is None:
        return f"{words}: no cell found"
    words += f": {cell.content.value}"
    if mark.arc_deg is not None or cell.curl_deg is not None:
        words += f", arc {_beside(mark.arc_deg, cell.curl_deg, 0)} deg"
    if mark.length_pitch is not None or cell.length_mm is not None:
        words += f", length {_beside(mark.length_pitch, checked.length_pitch, 2)}"
    if mark.diameter_pitch is not None:
        words += f", across {_beside(mark.diameter_pitch, checked.diameter_pitch, 2)}"
    flags = " ".join(flag.value for flag in cell.flags)
    return f"{words}{' [' + flags + ']' if flags else ''}"


def _beside(marked: float | None, measured: float | None, digits: int) -> str:
    told = ["-" if v is None else f"{v:.{digits}f}" for v in (marked, measured)]
    return f"{told[0]} / {told[1]}"


if __name__ == "__main__":
    raise SystemExit(main())
