"""Cells of composed comb with their truth maps, for training the parser on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from larvasight.render.composer import compose
from larvasight.render.lens import Lens
from larvasight.render.patch import patch_scene
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Content
from parser_data import CellSamples, cut_cells, joined, true_steps

if TYPE_CHECKING:
    from pathlib import Path

    from larvasight.render.tiles import Tile

# Tiles keep which share of a body is hidden, not which part: here the whole of it shows.
_WHOLE = 0.97
# Contents by how often a cell of a training comb holds them.
_WANTED = {
    Content.LARVA: 0.58,
    Content.EGG: 0.2,
    Content.EMPTY: 0.1,
    Content.STORES: 0.07,
    Content.CAPPED: 0.05,
}


def compose_samples(
    seed: int, n_combs: int, folders: tuple[Path, ...], *, for_tests: bool = False
) -> CellSamples:
    """Compose combs and cut their cells out with jitter.

    Parameters
    ----------
    seed : int
        Seed of everything.
    n_combs : int
        Number of combs, about 14 whole cells each.
    folders : tuple of Path
        Where tiles lie; each comb is of one setting of one folder.
    for_tests : bool
        Use the tiles set apart for tests instead of all others.
    """
    rng = np.random.default_rng(seed)
    libraries = [TileLibrary.load(folder, for_tests=for_tests) for folder in folders]
    settings = [(library, name) for library in libraries for name in library.settings]
    picks = rng.integers(len(settings), size=n_combs)
    return joined([comb_samples(rng, *settings[int(pick)]) for pick in picks])


def comb_samples(rng: np.random.Generator, library: TileLibrary, setting: str) -> CellSamples:
    """Compose one comb of a setting and cut its cells out with jitter."""
    pitch_px = float(np.exp(rng.uniform(np.log(50.0), np.log(170.0))))
    size_px = (round(5.2 * pitch_px), round(4.4 * pitch_px))
    scene = patch_scene(rng, size_px=size_px, n_cells=14, tilt_deg=0.0)
    tiles = _tiles(rng, library.of(setting), len(scene.cells))
    comb = compose(library, scene, tiles, lens=_lens(rng, pitch_px))
    steps = true_steps(comb.sheet)
    cells = [cell for cell in comb.sheet.cells if (cell.row, cell.col) in steps]
    return cut_cells(
        rng,
        comb.pixels,
        [(cell, steps[cell.row, cell.col], None) for cell in cells],
        whole_from=_WHOLE,
    )


def _tiles(rng: np.random.Generator, tiles: tuple[Tile, ...], n_cells: int) -> list[Tile]:
    """Return tiles at random: contents by their wanted share, larvae of every age alike."""
    kinds = {kind: [t for t in tiles if t.content is kind] for kind in _WANTED}
    there = [kind for kind in _WANTED if kinds[kind]]
    shares = np.array([_WANTED[kind] for kind in there])
    drawn = rng.choice(len(there), size=n_cells, p=shares / shares.sum())
    return [kinds[there[k]][int(rng.integers(len(kinds[there[k]])))] for k in drawn]


def _lens(rng: np.random.Generator, pitch_px: float) -> Lens:
    """Return a camera, better or worse than those that practice combs are shown through."""
    warmth = float(rng.normal(0.0, 0.06))
    exposure = float(np.exp(rng.normal(0.0, 0.2)))
    is_soft = rng.random() < 0.3
    return Lens(
        gains_rgb=(exposure * (1.0 + warmth), exposure, exposure * (1.0 - warmth)),
        vignetting=float(rng.uniform(0.0, 0.4)),
        blur_px=float(rng.uniform(0.3, 0.016 * pitch_px)) if is_soft else 0.0,
        noise_sd=float(6.0 * rng.random() ** 3),
        jpeg_quality=int(rng.integers(55, 97)),
        seed=int(rng.integers(1 << 31)),
    )
