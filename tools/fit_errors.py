"""Fit the error estimates of ``larvasight.vision.trust`` on drawn comb.

    python tools/fit_errors.py --scenes 96 --combs 96

Scenes of the first look, handsome and wide ones in turn, and combs composed from tiles set apart
for tests, with seeds that neither trained the parser nor serve the accuracy tests. The parser
knows all other tiles too well to show its errors on them. Prints the models to be put into
``trust.py``.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import astuple, fields
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from scipy.optimize import minimize

from judge import CURL_AGE_MOST_H, scenes_of
from larvasight.geometry import depth_scale
from larvasight.render import Variation, paint, truth_sheet
from larvasight.render.composer import SEEN_FROM_MM, compose_patch
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Cell, Content, Flag, Sheet
from larvasight.vision.looks import FIRST_LOOK, SECOND_LOOK, look_at, mean_of
from larvasight.vision.measures import TIMES_AS_LARGE, BodyMeasure, enlarged, measure_body
from larvasight.vision.network import NetworkParser
from larvasight.vision.rectify import CROP_PITCH_PX, Pyramid, crop_frame
from larvasight.vision.trust import VISIBLE_LEAST, Signs, signs_of
from parser_data import true_steps

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SEED = 40_000
_PITCHES_PX = (45.0, 65.0, 100.0, 160.0)
_VARIATIONS: tuple[Variation, Variation] = ("practice", "wide")
_SIGNS = tuple(field.name for field in fields(Signs))
# Errors have heavier tails than a normal law: Student's law with this many degrees of freedom.
_TAIL = 4.0


Row: TypeAlias = tuple[tuple[Cell, float], BodyMeasure, Signs]


def main() -> None:
    """Collect errors with their signs, fit and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scenes", type=int, default=96, help="painted")
    parser.add_argument("--combs", type=int, default=96, help="composed from tiles")
    args = parser.parse_args()
    rows = collect(args.scenes, args.combs)
    is_closed = np.array([body.is_closed for _, body, _ in rows])
    signs = np.array([astuple(sign) for _, _, sign in rows])
    lengths = np.array([body.length_px / _true_px(row) - 1.0 for row in rows for body in [row[1]]])
    is_young = np.array([(cell.age_h or 0.0) < CURL_AGE_MOST_H for (cell, _), _, _ in rows])
    curls = np.array([body.curl_deg - (cell.curl_deg or 0.0) for (cell, _), body, _ in rows])
    report("LENGTH_ERRORS", signs[~is_closed], lengths[~is_closed], 0.015)
    report("CLOSED_LENGTH_ERRORS", signs[is_closed], lengths[is_closed], 0.03)
    report("CURL_ERRORS", signs[~is_closed & is_young], curls[~is_closed & is_young], 4.0)


def _true_px(row: Row) -> float:
    (cell, mm_per_px), _, _ = row
    return (cell.length_mm or np.nan) / mm_per_px


def collect(n_scenes: int, n_combs: int) -> list[Row]:
    """Return measured larvae with their truth, mm per crop px and signs."""
    reader = NetworkParser()
    rows = []
    for number in range(n_scenes):
        (scene,) = scenes_of(
            "first",
            n=1,
            seed=_SEED + number,
            pitch_px=_PITCHES_PX[number // 2 % len(_PITCHES_PX)],
            tilt_most_deg=10.0,
            variation=_VARIATIONS[number % 2],
        )
        truth = truth_sheet(scene, name="", sha256="")
        rows += _measured(paint(scene), truth, scene.camera.distance_mm, reader)
    library = TileLibrary.load(for_tests=True)
    for number in range(n_combs):
        comb = compose_patch(
            np.random.default_rng([_SEED, number]),
            library,
            size_px=(744, 564),
            n_cells=28,
            setting=library.settings[number % len(library.settings)],
        )
        rows += _measured(comb.pixels, comb.sheet, SEEN_FROM_MM, reader)
    return rows


def _measured(
    pixels: NDArray[np.uint8], truth: Sheet, distance_mm: float, reader: NetworkParser
) -> list[Row]:
    pyramid, steps = Pyramid(pixels), true_steps(truth)
    cells = [c for c in truth.cells if _counts(c) and (c.row, c.col) in steps]
    crops = [pyramid.crop(crop_frame(c.centre_xy_px, steps[c.row, c.col])) for c in cells]
    looks = [look_at(reader, crops, look) for look in (FIRST_LOOK, SECOND_LOOK)]
    mm_per_px = truth.scale.pitch_mm / CROP_PITCH_PX * depth_scale(distance_mm)
    zoom = truth.scale.pitch_px / CROP_PITCH_PX
    rows = []
    for cell, both in zip(cells, zip(*looks, strict=True), strict=True):
        body = measure_body(mean_of(both))
        if body is not None:
            single = [measure_body(look) for look in both]
            signs = signs_of(body, single, px_per_crop_px=zoom)
            rows.append(((cell, mm_per_px), enlarged(body, TIMES_AS_LARGE), signs))
    return rows


def _counts(cell: Cell) -> bool:
    is_seen = (cell.visible_share or 0.0) >= VISIBLE_LEAST
    return cell.content is Content.LARVA and is_seen and Flag.CUT_BY_FRAME not in cell.flags


def fit(
    signs: NDArray[np.float64], errors: NDArray[np.float64], floor: float
) -> NDArray[np.float64]:
    """Return the floor and weights that make the errors likeliest, shape (1 + signs,)."""
    columns = np.column_stack([np.ones(len(signs)), signs])
    unit = np.maximum(np.percentile(columns, 95.0, axis=0), 1e-3)

    def cost(log_weights: NDArray[np.float64]) -> float:
        scale2 = ((np.exp(log_weights) / unit * columns) ** 2).sum(axis=1)
        tails = (_TAIL + 1.0) / 2.0 * np.log1p(errors**2 / (_TAIL * scale2))
        return float((tails + 0.5 * np.log(scale2)).sum())

    start = np.log(np.full(columns.shape[1], floor))
    bounds = [
        (np.log(0.5 * floor), np.log(4.0 * floor)),
        *[(np.log(1e-3 * floor), np.log(50.0 * floor))] * signs.shape[1],
    ]
    found = minimize(cost, start, method="L-BFGS-B", bounds=bounds)
    # The standard deviation of Student's law against its scale.
    weights: NDArray[np.float64] = np.exp(found.x) / unit * np.sqrt(_TAIL / (_TAIL - 2.0))
    return weights


def report(
    name: str, signs: NDArray[np.float64], errors: NDArray[np.float64], floor: float
) -> None:
    """Print a fitted model and how it tells good from spoiled measurements."""
    weights = fit(signs, errors, floor)
    sd = np.sqrt(((weights * np.column_stack([np.ones(len(signs)), signs])) ** 2).sum(axis=1))
    limit = 36.0 if name.startswith("CURL") else 0.15
    spoiled = np.abs(errors) > limit
    out = sys.stdout.write
    parts = ", ".join(f"per_{s}={w:.3g}" for s, w in zip(_SIGNS, weights[1:], strict=True))
    out(f"{name} = ErrorModel(floor={weights[0]:.3g}, {parts})\n")
    out(f"  {len(errors)} errors, {spoiled.sum()} spoiled, median sd {np.median(sd):.3g}\n")
    for share in (0.4, 0.5, 0.6, 0.7, 0.8, 1.0):
        flagged = sd > share * limit
        hit = flagged[spoiled].mean() if spoiled.any() else np.nan
        out(f"  sd > {share} limit: flags {flagged.mean():.3f}, of the spoiled {hit:.3f}\n")


if __name__ == "__main__":
    main()
