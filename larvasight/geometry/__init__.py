"""Shapes of comb and body that drawing and measuring share."""

from larvasight.geometry import cell, loupe
from larvasight.geometry.cell import (
    CELL_DEPTH_MM,
    LARVA_DEPTH_MM,
    PITCH_DEFAULT_MM,
    PITCH_MAX_MM,
    PITCH_MIN_MM,
    depth_scale,
    rhombus_floor_z,
)
from larvasight.geometry.curve import fit_circle, midline_length, resample, swept_angle_deg
from larvasight.geometry.facts import Fact
from larvasight.geometry.lattice import (
    NEIGHBOUR_STEPS_QR,
    axial_to_offset,
    cells_per_dm2,
    fold_row_angle_deg,
    hexagon_corners,
    lattice_vectors,
    offset_to_axial,
)

FACTS: tuple[Fact, ...] = (*cell.FACTS, *loupe.FACTS)

__all__ = [
    "CELL_DEPTH_MM",
    "FACTS",
    "LARVA_DEPTH_MM",
    "NEIGHBOUR_STEPS_QR",
    "PITCH_DEFAULT_MM",
    "PITCH_MAX_MM",
    "PITCH_MIN_MM",
    "axial_to_offset",
    "cells_per_dm2",
    "depth_scale",
    "fit_circle",
    "fold_row_angle_deg",
    "hexagon_corners",
    "lattice_vectors",
    "midline_length",
    "offset_to_axial",
    "resample",
    "rhombus_floor_z",
    "swept_angle_deg",
]
