"""Plain triangle and quad meshes before they go to the renderer.

The frame has x to the right and y down in the plane of the rims, heights above that
plane counted positive, all in mm.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mesh:
    """Points of shape (N, 3), quads of shape (M, 4) and values at the points.

    ``colours`` of shape (N, 3) are linear; ``values`` hold one number a point by name.
    Seen from outside the corners of a quad run clockwise in the frame of this module.
    """

    points_mm: Floats
    quads: Ints
    colours: Floats
    values: dict[str, Floats] = field(default_factory=dict)


def join(meshes: list[Mesh]) -> Mesh | None:
    """Return one mesh of several, None for none; the values' names must agree."""
    if not meshes:
        return None
    starts = np.cumsum([0, *(len(mesh.points_mm) for mesh in meshes[:-1])])
    return Mesh(
        points_mm=np.vstack([mesh.points_mm for mesh in meshes]),
        quads=np.vstack([m.quads + start for m, start in zip(meshes, starts, strict=True)]),
        colours=np.vstack([mesh.colours for mesh in meshes]),
        values={
            name: np.concatenate([mesh.values[name] for mesh in meshes])
            for name in meshes[0].values
        },
    )


def grid_quads(n_rows: int, n_around: int, *, closed: bool = True) -> Ints:
    """Return quads between rows of points of a grid, ``closed`` around its second axis."""
    last = n_around if closed else n_around - 1
    row, col = np.meshgrid(np.arange(n_rows - 1), np.arange(last), indexing="ij")
    after = (col + 1) % n_around
    here, below = row * n_around, (row + 1) * n_around
    quads = np.stack([here + col, here + after, below + after, below + col], axis=-1)
    return np.asarray(quads.reshape(-1, 4), dtype=np.int64)


def weld(mesh: Mesh, at: Ints, *, step_mm: float = 2e-3) -> Mesh:
    """Return a mesh in which those of the points ``at`` that coincide are one point."""
    keys = np.round(mesh.points_mm[at] / step_mm).astype(np.int64)
    _, first, inverse = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    target = np.arange(len(mesh.points_mm))
    target[at] = at[first[inverse.ravel()]]
    return Mesh(
        points_mm=mesh.points_mm,
        quads=target[mesh.quads],
        colours=mesh.colours,
        values=mesh.values,
    )


def linear(rgb: tuple[float, float, float]) -> Floats:
    """Return sRGB 0-255 as linear light."""
    share = np.asarray(rgb, dtype=np.float64) / 255.0
    return np.asarray(np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4))
