"""Measure drawn combs and say how near the truth the measurement came.

python tools/judge.py --scenes 40 --look first --look second
"""

from __future__ import annotations

import argparse
import runpy
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from larvasight.grading import Limits, grade_sheet
from larvasight.growth import age_posterior
from larvasight.render import CombScene, Variation, paint, random_scene, truth_sheet
from larvasight.sheet import Cell, Content, Flag, ScaleSource, Sheet
from larvasight.vision.network import NetworkParser
from larvasight.vision.photo import Photo
from larvasight.vision.photo_cells import measure_photo
from larvasight.vision.scale import ScaleGuess
from larvasight.vision.trust import CURL_ERROR_DEG, LENGTH_ERROR_SHARE, VISIBLE_LEAST

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from numpy.typing import NDArray

    from larvasight.vision.parsed import CellParser

# Past this age rings close and curl says nothing more.
CURL_AGE_MOST_H = 45.0
CLOSED_FROM_DEG = 300.0
CLASSES = (Content.EMPTY, Content.EGG, Content.LARVA, Content.CAPPED, Content.STORES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """One cell: its truth and what was found at its place, None where nothing was."""

    true: Cell
    found: Cell | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """How near the truth a set of measured combs came; shares in 0-1, errors absolute."""

    n_cells: int
    n_larvae: int
    recall: dict[Content, float]
    false_larvae_per_100: float
    measured_share: float
    flagged_share: float
    length_bias: float
    length_median: float
    length_p90: float
    curl_median_deg: float
    curl_p90_deg: float
    n_spoiled: int
    spoiled_flagged_share: float
    band_holds_share: float
    band_width_ratio: float


def measure_scene(
    scene: CombScene,
    parser: CellParser,
    limits: Limits | None = None,
    camera: Callable[[NDArray[np.uint8]], NDArray[np.uint8]] | None = None,
) -> Sheet:
    """Paint a scene and measure the picture, with its cell size and camera distance known.

    ``camera`` tells what a camera makes of the picture.
    """
    pixels = paint(scene) if camera is None else camera(paint(scene))
    photo = Photo(
        pixels=pixels,
        name="drawn.png",
        sha256="",
        width_px=pixels.shape[1],
        height_px=pixels.shape[0],
        distance_mm=scene.camera.distance_mm,
    )
    guess = ScaleGuess(pitch_mm=scene.comb.pitch_mm, source=ScaleSource.GIVEN)
    return grade_sheet(measure_photo(photo, parser, guess), limits)


def pairs_of(scene: CombScene, parser: CellParser) -> list[Pair]:
    """Return every whole cell of a scene with what was found there."""
    truth = truth_sheet(scene, name="drawn.png", sha256="")
    return pair_cells(truth, measure_scene(scene, parser))


def pair_cells(truth: Sheet, measured: Sheet) -> list[Pair]:
    """Return each true cell not cut by the frame with the cell found nearest to it."""
    centres = np.array([cell.centre_xy_px for cell in measured.cells]).reshape(-1, 2)
    pairs = []
    for cell in truth.cells:
        if Flag.CUT_BY_FRAME in cell.flags:
            continue
        away_px = np.hypot(*(centres - np.array(cell.centre_xy_px)).T)
        near = int(np.argmin(away_px)) if len(away_px) else -1
        is_there = near >= 0 and away_px[near] < 0.35 * truth.scale.pitch_px
        pairs.append(Pair(true=cell, found=measured.cells[near] if is_there else None))
    return pairs


def figures(pairs: Sequence[Pair]) -> Figures:
    """Sum pairs up."""
    larvae = [p for p in pairs if p.true.content is Content.LARVA]
    in_view = [p for p in larvae if (p.true.visible_share or 0.0) >= VISIBLE_LEAST]
    sized = [p for p in in_view if p.found is not None and p.found.length_mm is not None]
    lengths = np.array([length_error(p) for p in sized])
    curls = np.array([curl_error_deg(p) for p in sized])
    young = np.array([(p.true.age_h or 0.0) < CURL_AGE_MOST_H for p in sized], dtype=bool)
    flagged = np.array([is_doubted(p) for p in sized], dtype=bool)
    spoiled = (np.abs(lengths) > LENGTH_ERROR_SHARE) | (young & (np.abs(curls) > CURL_ERROR_DEG))
    others = [p for p in pairs if p.true.content is not Content.LARVA]
    curl_young = np.abs(curls[young & np.isfinite(curls)])
    return Figures(
        n_cells=len(pairs),
        n_larvae=len(larvae),
        recall={c: _recall(pairs, c) for c in CLASSES},
        false_larvae_per_100=100.0 * _share([_is_larva(p) for p in others]),
        measured_share=len(sized) / max(len(in_view), 1),
        flagged_share=_share(flagged),
        length_bias=float(np.mean(lengths)),
        length_median=float(np.median(np.abs(lengths))),
        length_p90=float(np.percentile(np.abs(lengths), 90)),
        curl_median_deg=float(np.median(curl_young)),
        curl_p90_deg=float(np.percentile(curl_young, 90)),
        n_spoiled=int(spoiled.sum()),
        spoiled_flagged_share=_share(flagged[spoiled]) if spoiled.any() else 1.0,
        band_holds_share=_share([_band_holds(p) for p in sized]),
        band_width_ratio=_band_ratio(sized),
    )


def is_doubted(pair: Pair) -> bool:
    """Return whether a found cell carries a flag that its truth does not.

    ``closed`` means a curl of 300 degrees or more and is no doubt where that is true.
    """
    if pair.found is None:
        return False
    doubts = set(pair.found.flags) - set(pair.true.flags)
    if (pair.true.curl_deg or 0.0) >= CLOSED_FROM_DEG:
        doubts.discard(Flag.CLOSED)
    return bool(doubts)


def length_error(pair: Pair) -> float:
    """Return the share by which a found length is too long."""
    found = pair.found.length_mm if pair.found else None
    return (found or np.nan) / (pair.true.length_mm or np.nan) - 1.0


def curl_error_deg(pair: Pair) -> float:
    """Return found less true curl; NaN where there is none to compare.

    A disc called closed says 300 degrees or more: right from there on, short of it wrong.
    """
    true_deg, found = pair.true.curl_deg, pair.found
    if true_deg is None or found is None or found.length_mm is None:
        return np.nan
    if found.curl_deg is None:
        return np.nan if true_deg >= CLOSED_FROM_DEG else CLOSED_FROM_DEG - true_deg
    return found.curl_deg - true_deg


def _is_larva(pair: Pair) -> bool:
    return pair.found is not None and pair.found.content is Content.LARVA


def _recall(pairs: Sequence[Pair], content: Content) -> float:
    hits = [
        p.found is not None and p.found.content is content
        for p in pairs
        if p.true.content is content and (content is not Content.LARVA or _shows(p))
    ]
    return _share(hits)


def _shows(pair: Pair) -> bool:
    return (pair.true.visible_share or 0.0) >= VISIBLE_LEAST


def _band_holds(pair: Pair) -> bool:
    cell = pair.found
    if cell is None or cell.age_h_lo is None or cell.age_h_hi is None:
        return False
    return cell.age_h_lo <= (pair.true.age_h or 0.0) <= cell.age_h_hi


def _band_ratio(sized: Sequence[Pair]) -> float:
    """Return the median band width over that of the same larvae measured without error."""
    found, exact = [], []
    for pair in sized:
        cell, true = pair.found, pair.true
        if cell is None or cell.age_h_lo is None or cell.age_h_hi is None or not true.length_mm:
            continue
        found.append(cell.age_h_hi - cell.age_h_lo)
        low_h, high_h = age_posterior(true.length_mm, true.curl_deg).band_h()
        exact.append(high_h - low_h)
    return float(np.median(found) / np.median(exact)) if found else float("nan")


def _share(hits: Iterable[object]) -> float:
    values = np.array(list(hits), dtype=float)
    return float(values.mean()) if len(values) else float("nan")


def scenes_of(
    look: str,
    *,
    n: int,
    seed: int,
    pitch_px: float,
    tilt_most_deg: float,
    variation: Variation = "practice",
) -> list[CombScene]:
    """Return seeded scenes of one look."""
    return [
        scene_of(
            look,
            [seed, number],
            pitch_px=pitch_px,
            tilt_most_deg=tilt_most_deg,
            variation=variation,
        )
        for number in range(n)
    ]


def scene_of(
    look: str,
    seed: int | Sequence[int],
    *,
    pitch_px: float,
    tilt_most_deg: float,
    variation: Variation = "practice",
) -> CombScene:
    """Return one seeded scene of about 28 cells."""
    rng = np.random.default_rng(seed)
    return random_scene(
        rng,
        size_px=(round(6.2 * pitch_px), round(4.7 * pitch_px)),
        pitch_px=pitch_px,
        tilt_deg=float(rng.uniform(0.0, tilt_most_deg)),
        variation=variation,
        look=look,
    )


def accuracy_seeds(look: str) -> Sequence[int]:
    """Return the seeds that the accuracy tests judge a look on."""
    path = Path(__file__).resolve().parents[1] / "tests" / "accuracy" / "seeds.py"
    seeds: Sequence[int] = runpy.run_path(str(path))[f"ACCURACY_SEEDS_{look.upper()}"]
    return seeds


def main() -> None:
    """Print the figures of each look and of all together."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scenes", type=int, default=20, help="scenes of each look")
    parser.add_argument("--look", action="append", help="look of the scenes, repeatable")
    parser.add_argument("--seed", type=int, default=500)
    parser.add_argument("--accuracy", action="store_true", help="the scenes of tests/accuracy")
    parser.add_argument("--pitch-px", type=float, default=120.0)
    parser.add_argument("--tilt-deg", type=float, default=8.0)
    args = parser.parse_args()
    reader, together = NetworkParser(), []
    for look in args.look or ["first"]:
        pairs = []
        seeds = [[args.seed, number] for number in range(args.scenes)]
        for seed in accuracy_seeds(look) if args.accuracy else seeds:
            scene = scene_of(look, seed, pitch_px=args.pitch_px, tilt_most_deg=args.tilt_deg)
            pairs += pairs_of(scene, reader)
        print_figures(look, figures(pairs))
        together += pairs
    if len(args.look or []) > 1:
        print_figures("together", figures(together))


def print_figures(name: str, found: Figures) -> None:
    """Print figures, one to a line."""
    out = sys.stdout.write
    out(f"-- {name}: {found.n_cells} cells, {found.n_larvae} larvae\n")
    recalls = ", ".join(f"{c} {share:.3f}" for c, share in found.recall.items())
    out(f"recall {recalls}\nfalse larvae per 100 others {found.false_larvae_per_100:.2f}\n")
    out(f"measured {found.measured_share:.3f}, flagged {found.flagged_share:.3f}\n")
    out(
        f"length bias {found.length_bias:+.3f}, median {found.length_median:.3f}, "
        f"p90 {found.length_p90:.3f}\n"
    )
    out(f"curl median {found.curl_median_deg:.1f} deg, p90 {found.curl_p90_deg:.1f} deg\n")
    out(f"spoiled {found.n_spoiled}, of them flagged {found.spoiled_flagged_share:.3f}\n")
    out(f"band holds {found.band_holds_share:.3f}, width ratio {found.band_width_ratio:.2f}\n")


if __name__ == "__main__":
    main()
