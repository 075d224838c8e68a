"""Measure combs composed of tiles that never trained the parser, and print how near it came.

python tools/judge_composed.py --combs 2

Told for each setting; for larvae without food, with some and with plenty; and for the more lit and
the more shaded half of bodies.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

import cv2
import numpy as np

from judge import Pair, figures, pair_cells, print_figures
from larvasight.grading import grade_sheet
from larvasight.render.composer import SEEN_FROM_MM, ComposedComb, compose_patch
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Cell, Content, Jelly, ScaleSource, Sheet
from larvasight.vision.network import NetworkParser
from larvasight.vision.photo import Photo
from larvasight.vision.photo_cells import measure_photo
from larvasight.vision.scale import ScaleGuess

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from larvasight.vision.parsed import CellParser

SIZE_PX = (744, 564)
N_CELLS = 28  # about 120 px a pitch
_SEED = 4242


def main() -> None:
    """Compose, measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--combs", type=int, default=2, help="for each setting")
    n_combs = parser.parse_args().combs
    library, reader = TileLibrary.load(for_tests=True), NetworkParser()
    pairs: list[Pair] = []
    lumas: list[float] = []
    for number, setting in enumerate(library.settings):
        own: list[Pair] = []
        for k in range(n_combs):
            comb = composed(library, setting, [_SEED, number, k])
            found = pair_cells(comb.sheet, measured(comb, reader))
            own += found
            lumas += [body_luma(comb.pixels, pair.true) for pair in found]
        print_figures(setting, figures(own))
        pairs += own
    print_figures("all", figures(pairs))
    larvae = [(p, luma) for p, luma in zip(pairs, lumas, strict=True) if _is_larva(p)]
    for jelly in Jelly:
        print_figures(f"food: {jelly}", figures([p for p, _ in larvae if p.true.jelly is jelly]))
    middle = float(np.median([luma for _, luma in larvae]))
    print_figures("lit", figures([p for p, luma in larvae if luma >= middle]))
    print_figures("shaded", figures([p for p, luma in larvae if luma < middle]))


def composed(library: TileLibrary, setting: str, seed: list[int]) -> ComposedComb:
    """Return a comb of one setting."""
    rng = np.random.default_rng(seed)
    return compose_patch(rng, library, size_px=SIZE_PX, n_cells=N_CELLS, setting=setting)


def measured(comb: ComposedComb, reader: CellParser) -> Sheet:
    """Measure a comb as a photo whose cell size and distance are known."""
    photo = Photo(
        pixels=comb.pixels,
        name="composed.png",
        sha256="",
        width_px=comb.pixels.shape[1],
        height_px=comb.pixels.shape[0],
        distance_mm=SEEN_FROM_MM,
    )
    guess = ScaleGuess(pitch_mm=comb.sheet.scale.pitch_mm, source=ScaleSource.GIVEN)
    return grade_sheet(measure_photo(photo, reader, guess), None)


def body_luma(pixels: NDArray[np.uint8], cell: Cell) -> float:
    """Return the median luma of a body, 0-255; NaN without one."""
    if cell.outline_xy_px is None:
        return float("nan")
    mask = np.zeros(pixels.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(np.array(cell.outline_xy_px)).astype(np.int32)], 1)
    if not mask.any():
        return float("nan")
    return float(np.median(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)[mask > 0]))


def _is_larva(pair: Pair) -> bool:
    return pair.true.content is Content.LARVA


if __name__ == "__main__":
    main()
