"""Find the cells of changed pictures of comb and say how near their known places they came.

python tools/judge_lattice.py [--photos DIR --marks FILE] [--seed 1] [--only bees]

Drawn combs, painted and composed, are looked at aslant, bent, cut to a few cells, made small,
faded, shaded and covered with bees; with --photos also photographs with marks made by hand (the
format: see check_marks.py --help). Pictures of other regular things should be refused.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from comb_changes import CHANGES, Marked
from comb_marks import PlaceFigures, marks_of_centres, marks_of_sheet, place_figures
from hand_marks import read_marks
from larvasight.errors import LarvasightError
from larvasight.render import paint, random_scene, truth_sheet
from larvasight.render.composer import compose_patch
from larvasight.render.tiles import TileLibrary
from larvasight.vision.photo import load_photo
from larvasight.vision.photo_cells import find_comb
from larvasight.vision.rectify import Pyramid
from no_comb import NO_COMB

if TYPE_CHECKING:
    from collections.abc import Iterator

_NEAR_LEAST, _PITCH_MOST, _TURN_MOST_DEG = 0.95, 0.02, 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What became of one picture: figures, or the sentence with which it was refused."""

    figures: PlaceFigures | None
    refusal: str
    time_s: float

    @property
    def is_good(self) -> bool:
        """Whether nearly all cells were found and their steps are right."""
        found = self.figures
        return (
            found is not None
            and found.near_share >= _NEAR_LEAST
            and not abs(found.pitch_error) > _PITCH_MOST
            and not abs(found.turn_deg) > _TURN_MOST_DEG
        )


def judge(marked: Marked) -> Verdict:
    """Find the cells of a picture and compare them with its marks."""
    start = time.perf_counter()
    try:
        lattice = find_comb(Pyramid(marked.pixels))
    except LarvasightError as error:
        return Verdict(figures=None, refusal=str(error), time_s=time.perf_counter() - start)
    time_s = time.perf_counter() - start
    return Verdict(figures=place_figures(lattice, marked.marks), refusal="", time_s=time_s)


def drawn_combs(seed: int, n: int) -> Iterator[tuple[str, Marked]]:
    """Draw combs of both looks and composed ones, about 130 cells each."""
    library = TileLibrary.load()
    for number in range(n):
        for look in ("first", "second"):
            rng = np.random.default_rng([seed, number, len(look)])
            scene = random_scene(
                rng, size_px=(960, 720), pitch_px=78.0, tilt_deg=4.0, variation="wide", look=look
            )
            sheet = truth_sheet(scene, name="", sha256="")
            yield (
                f"painted {look} {number}",
                Marked(pixels=paint(scene), marks=marks_of_sheet(sheet)),
            )
        rng = np.random.default_rng([seed, number])
        setting = library.settings[number % len(library.settings)]
        comb = compose_patch(rng, library, size_px=(960, 720), n_cells=110, setting=setting)
        yield f"composed {setting}", Marked(pixels=comb.pixels, marks=marks_of_sheet(comb.sheet))


def photographs(folder: Path, marks_file: Path) -> Iterator[tuple[str, Marked]]:
    """Open the marked photographs, cut to where they are marked."""
    for one in read_marks(marks_file):
        photo = load_photo(folder / one.photo)
        left, top, right, bottom = one.region_xyxy or (0, 0, photo.width_px, photo.height_px)
        pixels = np.ascontiguousarray(photo.pixels[top:bottom, left:right])
        marks = marks_of_centres(one.centres_xy_px - [left, top], one.pitch_px)
        yield one.photo, Marked(pixels=pixels, marks=marks)


def main() -> None:
    """Print a line for each picture that was not found well, then shares for each change."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photos", type=Path, help="folder of marked photographs")
    parser.add_argument("--marks", type=Path, help="their marks")
    parser.add_argument("--combs", type=int, default=4, help="drawn combs of each kind")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--times", type=int, default=1, help="times each change is made")
    parser.add_argument("--only", help="changes whose name has this in it")
    args = parser.parse_args()
    combs = list(drawn_combs(args.seed, args.combs)) if args.combs else []
    report("drawn", combs, args)
    if args.photos and args.marks:
        report("photographs", list(photographs(args.photos, args.marks)), args)
    report_no_comb(args.seed)


def report(kind: str, combs: list[tuple[str, Marked]], args: argparse.Namespace) -> None:
    """Print how well each change of some combs was found."""
    for change, how in CHANGES.items():
        if args.only and args.only not in change:
            continue
        verdicts = []
        for name, marked in combs:
            for again in range(args.times):
                rng = np.random.default_rng([args.seed, again, len(name)])
                changed = how(marked, rng)
                verdict = judge(changed)
                verdicts.append(verdict)
                if not verdict.is_good:
                    say(f"    {change}, {name}, {again}: {describe(verdict)}")
        if verdicts:
            summarise(f"{kind}, {change}", verdicts)


def describe(verdict: Verdict) -> str:
    """Return the figures of one picture as text."""
    found = verdict.figures
    if found is None:
        return verdict.refusal
    return (
        f"{found.n_marks} marks, near {found.near_share:.3f}, nine in ten within "
        f"{found.far_pitch:.2f} pitch, pitch {found.pitch_error:+.1%}, "
        f"turn {found.turn_deg:+.1f} deg, stray {found.stray_share:.2f}"
    )


def summarise(name: str, verdicts: list[Verdict]) -> None:
    """Print the shares of one change."""
    found = [v.figures for v in verdicts if v.figures is not None]
    good = sum(v.is_good for v in verdicts)
    near = np.mean([f.near_share for f in found]) if found else 0.0
    pitch = np.median([abs(f.pitch_error) for f in found]) if found else 0.0
    seconds = np.median([v.time_s for v in verdicts])
    say(
        f"{name}: good {good}/{len(verdicts)}, refused {len(verdicts) - len(found)}, "
        f"near {near:.3f}, pitch {pitch:.2%}, {seconds:.2f} s"
    )


def report_no_comb(seed: int) -> None:
    """Print which pictures of other things were taken for comb."""
    for name, draw in NO_COMB.items():
        taken = 0
        for number in range(3):
            try:
                find_comb(Pyramid(draw(np.random.default_rng([seed, number]))))
            except LarvasightError:
                continue
            taken += 1
        say(f"no comb, {name}: taken for comb {taken}/3")


def say(text: str) -> None:
    """Print one line at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
