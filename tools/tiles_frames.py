"""One frame of comb: which cells it has, what they hold, and their meshes."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import hexagon_corners, lattice_vectors, offset_to_axial
from larvasight.growth import EGG_STAGE_H
from larvasight.render import FIRST_LOOK, SceneCell, StoresKind
from larvasight.render.sampling import Colony, sample_colony, with_egg, with_larva, with_stores
from larvasight.sheet import Content
from tiles_bodies import Body, egg_body, larva_body
from tiles_cups import N_AROUND, Cup, cup_mesh, make_cup
from tiles_fillings import cap_mesh, crumb_meshes, nectar_mesh, pollen_mesh, pool_mesh
from tiles_mesh import Mesh, join, weld
from tiles_settings import PITCH_MM, Setting

if TYPE_CHECKING:
    from collections.abc import Iterable

Floats = NDArray[np.float64]

# Frames of a setting that together hold its larvae at every age.
FRAMES_PER_SETTING = 4
# Ages of larvae in shares of a frame's cells: hatching, the span that is picked from, later.
_SHARES: Final = {
    "picked": 35.0,
    "hatched": 4.0,
    "older": 9.0,
    "egg": 7.0,
    "empty": 3.0,
    "pollen": 2.0,
    "nectar": 1.0,
    "capped": 2.0,
}
_SPANS_H: Final = {
    "picked": (4.0, 36.0),
    "hatched": (0.0, 4.0),
    "older": (36.0, 96.0),
    "egg": (-EGG_STAGE_H.value, 0.0),
}
# Between three rhombi food stands this much deeper than in a bowl.
_SHARP_DEEPER = 0.95
_ROCK_SHARES: Final = {"picked": 22.0, "hatched": 4.0, "older": 2.0, "egg": 8.0}
_ROCK_SPANS_H: Final = {**_SPANS_H, "older": (36.0, 40.0)}
# For training: more of what is mistaken for each other.
_WILD_SHARES: Final = {**_SHARES, "picked": 24.0, "older": 14.0, "egg": 11.0, "empty": 4.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameCell:
    """One cell of a frame, its place and parts; ``shown`` unless it is only margin.

    ``food`` is the surface of brood food about the cell's axis, None without any.
    """

    row: int
    col: int
    centre_xy_mm: Floats
    cell: SceneCell
    shown: bool
    cup: Cup
    body: Body | None
    food: Mesh | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """A frame: its cells and one mesh for each kind of matter; ``rocking`` if seen many times."""

    setting: Setting
    number: int
    seed: int
    n_cols: int
    n_rows: int
    rocking: bool
    cells: tuple[FrameCell, ...]
    meshes: dict[str, Mesh]


def frame_seed(seed: int, name: str, number: int) -> int:
    """Return the seed of one frame of one setting."""
    return zlib.crc32(f"{seed}/{name}/{number}".encode()) & 0x7FFFFFFF


def make_frame(
    setting: Setting, number: int, *, seed: int, n_cols: int, n_rows: int, rocking: bool = False
) -> Frame:
    """Return a frame; the same arguments always give the same one."""
    own_seed = frame_seed(seed, setting.name + ("/rock" if rocking else ""), number)
    rng = np.random.default_rng(own_seed)
    colony = sample_colony(rng, wide=False)
    shares = _WILD_SHARES if setting.light == "wild" else _SHARES
    kinds = _kinds(
        rng,
        n_cols * n_rows,
        number,
        _ROCK_SHARES if rocking else shares,
        _ROCK_SPANS_H if rocking else _SPANS_H,
    )
    cells = []
    for row in range(-1, n_rows + 1):
        for col in range(-1, n_cols + 1):
            shown = 0 <= row < n_rows and 0 <= col < n_cols
            kind, age_h = kinds[row * n_cols + col] if shown else ("empty", 0.0)
            q, r = offset_to_axial(row, col)
            cell = SceneCell(q=q, r=r, seed=int(rng.integers(1 << 31)))
            cell = _deepen(_fill(cell, kind, age_h, rng, colony), setting)
            cells.append(_frame_cell(setting, row, col, cell, own_seed, shown=shown))
    return Frame(
        setting=setting,
        number=number,
        seed=own_seed,
        n_cols=n_cols,
        n_rows=n_rows,
        rocking=rocking,
        cells=tuple(cells),
        meshes=_meshes(setting, cells, own_seed),
    )


def _kinds(
    rng: np.random.Generator,
    n_cells: int,
    number: int,
    shares: dict[str, float],
    spans_h: dict[str, tuple[float, float]],
) -> list[tuple[str, float]]:
    """Return kind and age of every cell, in random order; ages are spread evenly."""
    wanted = np.array(list(shares.values())) * n_cells / sum(shares.values())
    counts = np.floor(wanted).astype(int)
    for k in np.argsort(counts - wanted)[: n_cells - counts.sum()]:
        counts[k] += 1
    cells: list[tuple[str, float]] = []
    for kind, count in zip(shares, counts, strict=True):
        low, high = spans_h.get(kind, (0.0, 0.0))
        # Frames of one setting interleave: each takes its own part of every stratum.
        part = (number % FRAMES_PER_SETTING + rng.random(count)) / FRAMES_PER_SETTING
        ages = low + (high - low) * (np.arange(count) + part) / max(count, 1)
        cells += [(kind, float(age)) for age in ages]
    return [cells[k] for k in rng.permutation(len(cells))]


def _fill(
    cell: SceneCell, kind: str, age_h: float, rng: np.random.Generator, colony: Colony
) -> SceneCell:
    if kind in ("picked", "hatched", "older"):
        return with_larva(
            cell, age_h, rng, colony=colony, pitch_mm=PITCH_MM, look=FIRST_LOOK, wide=False
        )
    if kind == "egg":
        return with_egg(cell, age_h, rng, pitch_mm=PITCH_MM)
    if kind in ("pollen", "nectar"):
        return with_stores(cell, rng, pollen_chance=1.0 if kind == "pollen" else 0.0)
    if kind == "capped":
        return replace(cell, content=Content.CAPPED)
    return cell


def _deepen(cell: SceneCell, setting: Setting) -> SceneCell:
    """Return a cell with food as deep as it takes to cover as much of a sharp floor as a bowl's."""
    deeper = cell.pool.level_mm * (1.0 + _SHARP_DEEPER * (1.0 - setting.wax.cocoon))
    pool = replace(cell.pool, level_mm=min(deeper, 3.0))
    if cell.larva is None or deeper <= 0.0:
        return replace(cell, pool=pool)
    # Bodies float where their food is, in the middle of the floor.
    x, y = cell.larva.offset_xy_mm
    near = min(1.0, deeper)
    return replace(cell, pool=pool, larva=replace(cell.larva, offset_xy_mm=(near * x, near * y)))


def _frame_cell(
    setting: Setting, row: int, col: int, cell: SceneCell, seed: int, *, shown: bool
) -> FrameCell:
    centre = np.array([cell.q, cell.r], dtype=np.float64) @ lattice_vectors(PITCH_MM)
    body = None
    if cell.larva is not None:
        body = larva_body(cell.larva, cell.pool, setting.wax, cell.seed)
    elif cell.egg is not None:
        body = egg_body(cell.egg, setting.wax, cell.seed)
    cup = make_cup(setting.wax, centre, seed)
    food = None
    if cell.pool.level_mm > 0.0:
        food = pool_mesh(setting.wax, cup, cell.pool, body, cell.seed)
    return FrameCell(
        row=row,
        col=col,
        centre_xy_mm=centre,
        cell=cell,
        shown=shown,
        cup=cup,
        body=body,
        food=food,
    )


def _meshes(setting: Setting, cells: list[FrameCell], seed: int) -> dict[str, Mesh]:
    parts: dict[str, list[Mesh]] = {k: [] for k in ("wax", "jelly", "nectar", "stuff", "body")}
    rims, start = [], 0
    for at in cells:
        wax = setting.wax
        mesh = cup_mesh(wax, at.cup, at.centre_xy_mm, seed, at.cell.seed)
        parts["wax"].append(mesh)
        rims.append(start + np.arange(N_AROUND))
        start += len(mesh.points_mm)
        parts["stuff"] += _stuff(setting, at, seed)
        if at.food is not None:
            parts["jelly"].append(_moved(at.food, at.centre_xy_mm))
        if at.cell.stores is not None and at.cell.stores.kind is StoresKind.NECTAR:
            parts["nectar"].append(
                nectar_mesh(at.cup, at.cell.stores, at.centre_xy_mm, at.cell.seed)
            )
        if at.body is not None:
            parts["body"].append(_moved(at.body.skin, at.centre_xy_mm))
    joined = {name: join(meshes) for name, meshes in parts.items()}
    found = {name: mesh for name, mesh in joined.items() if mesh is not None}
    found["wax"] = weld(found["wax"], np.concatenate(rims))
    return found


def _stuff(setting: Setting, at: FrameCell, seed: int) -> Iterable[Mesh]:
    if at.cell.content is Content.CAPPED:
        return [cap_mesh(setting.wax, at.centre_xy_mm, seed, at.cell.seed)]
    if at.cell.stores is not None and at.cell.stores.kind is StoresKind.POLLEN:
        return [pollen_mesh(at.cup, at.cell.stores, at.centre_xy_mm, at.cell.seed)]
    return crumb_meshes(setting.wax, at.cup, at.centre_xy_mm, at.cell.seed)


def _moved(mesh: Mesh, centre_xy_mm: Floats) -> Mesh:
    return replace(mesh, points_mm=mesh.points_mm + np.array([*centre_xy_mm, 0.0]))


def frame_bounds_mm(frame: Frame) -> tuple[Floats, Floats]:
    """Return the corners of the rectangle of rim plane that the frame's tiles need."""
    centres = np.array([at.centre_xy_mm for at in frame.cells if at.shown])
    reach = float(np.abs(hexagon_corners(PITCH_MM)).max()) + 0.12 * PITCH_MM
    return centres.min(axis=0) - reach, centres.max(axis=0) + reach
