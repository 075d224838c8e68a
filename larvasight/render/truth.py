"""What is true about a drawn comb, as the sheet that drawing and measuring share.

Lengths are measured on the drawn midline, never taken from the numbers it was drawn from.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import (
    axial_to_offset,
    fold_row_angle_deg,
    hexagon_corners,
    midline_length,
    swept_angle_deg,
)
from larvasight.growth import looks_age_h
from larvasight.render.bodies import BODY_SHAPES, Tube, larva_midline, tube_length_mm
from larvasight.render.brood import tube_of
from larvasight.render.cellshape import CellShape, make_cell_shape
from larvasight.render.comb import opening_share
from larvasight.render.scene import CombScene, SceneCell
from larvasight.render.tubefield import flat_midline, tube_field
from larvasight.render.view import View, cell_centre, lattice_basis, make_view
from larvasight.sheet import (
    Cell,
    Content,
    Flag,
    LatticeInfo,
    PhotoInfo,
    PointsXY,
    Scale,
    ScaleSource,
    Sheet,
)

Floats = NDArray[np.float64]

# A larva of which less is visible is not measured.
VISIBLE_LEAST = 0.8
# Comb photographed at more than this from the cells' axis counts as tilted.
TILT_MOST_DEG = 10.0
# Ends nearer to each other than this share of the width show no gap.
GAP_LEAST_WIDTHS = 0.3
CLOSED_FROM_DEG = 300.0
N_OUTLINE = 100
_N_LENGTH = 241
_GRID_SIDE = 96
_GRID_FINER = 4


@dataclass(frozen=True, slots=True)
class BodyTruth:
    """Outline and areas of one body; points in the cell's frame on the plane of its axis, mm."""

    outline_xy_mm: Floats
    area_mm2: float
    wall_share: float
    frame_share: float


def truth_sheet(scene: CombScene, *, name: str, sha256: str) -> Sheet:
    """Return what is true about a scene's picture.

    Parameters
    ----------
    scene : CombScene
        What was painted.
    name, sha256 : str
        File name and digest of the stored picture.

    Returns
    -------
    Sheet
        Every cell whose centre lies in the picture, row by row; ``visible_share`` is the
        seen share of the body's projected area.
    """
    view = make_view(scene.camera, scene.comb.pitch_mm)
    shape = make_cell_shape(scene.comb)
    cells = [
        _true_cell(scene, view, shape, cell)
        for cell in scene.cells
        if _in_picture(view, view.project(_on_rims(cell_centre(scene, cell.q, cell.r)))[0])
    ]
    cells.sort(key=lambda cell: (cell.row, cell.col))
    px_per_mm = view.px_per_mm_at(np.zeros(2))
    width_px, height_px = scene.camera.size_px
    row_px = view.jacobian_at(np.zeros(2)) @ lattice_basis(scene.comb)[0]
    return Sheet(
        truth=True,
        photo=PhotoInfo(name=name, width_px=width_px, height_px=height_px, sha256=sha256),
        scale=Scale(
            pitch_px=px_per_mm * scene.comb.pitch_mm,
            pitch_mm=scene.comb.pitch_mm,
            px_per_mm=px_per_mm,
            distance_mm=scene.camera.distance_mm,
            source=ScaleSource.GIVEN,
        ),
        lattice=LatticeInfo(
            row_angle_deg=fold_row_angle_deg(math.degrees(math.atan2(row_px[1], row_px[0]))),
            n_cells=len(cells),
            residual_px=0.0,
            flags=(Flag.TILTED,) if scene.camera.tilt_deg > TILT_MOST_DEG else (),
        ),
        cells=tuple(cells),
    )


def _on_rims(points_xy_mm: Floats) -> Floats:
    points = np.atleast_2d(points_xy_mm)
    return np.column_stack([points, np.zeros(len(points))])


def _in_picture(view: View, point_xy_px: Floats) -> bool:
    x, y = point_xy_px
    return bool(-0.5 <= x <= view.size_px[0] - 0.5 and -0.5 <= y <= view.size_px[1] - 0.5)


def _true_cell(scene: CombScene, view: View, shape: CellShape, cell: SceneCell) -> Cell:
    centre = cell_centre(scene, cell.q, cell.r)
    row, col = axial_to_offset(cell.q, cell.r)
    x, y = view.project(_on_rims(centre))[0]
    scale = shape.opening_mm / shape.half_pitch_mm
    corners = centre + hexagon_corners(scene.comb.pitch_mm * scale, scene.comb.row_angle_deg)
    cut = not all(_in_picture(view, corner) for corner in view.project(_on_rims(corners)))
    flags = (Flag.CUT_BY_FRAME,) if cut else ()
    open_cell = cell.content in (Content.EMPTY, Content.EGG, Content.LARVA)
    base = Cell(
        row=row,
        col=col,
        centre_xy_px=(float(x), float(y)),
        px_per_mm=view.px_per_mm_at(centre),
        content=cell.content,
        jelly=cell.pool.amount if open_cell else None,
        flags=flags,
    )
    if cell.larva is None and cell.egg is None:
        return base
    return _with_body(scene, view, shape, cell, base)


def _with_body(scene: CombScene, view: View, shape: CellShape, cell: SceneCell, base: Cell) -> Cell:
    centre = cell_centre(scene, cell.q, cell.r)
    tube = tube_of(scene, cell)
    body = body_truth(scene, view, shape, cell, tube)
    visible = body.wall_share * body.frame_share
    flags = [*base.flags]
    curl_deg: float | None = None
    looks_h: float | None = None
    if body.wall_share < VISIBLE_LEAST:
        flags.append(Flag.HIDDEN_BY_WALL)
    if cell.larva is not None:
        midline, _ = larva_midline(
            cell.larva, BODY_SHAPES[scene.body_look or scene.look], _N_LENGTH
        )
        length_mm, swept_deg = midline_length(midline), swept_angle_deg(midline)
        age_h, curl_deg, looks_h = cell.larva.age_h, swept_deg, looks_age_h(length_mm, swept_deg)
        if _is_closed(midline, swept_deg, 2.0 * float(tube.radius_mm.max())):
            flags.append(Flag.CLOSED)
    elif cell.egg is not None:
        length_mm, age_h = tube_length_mm(tube), cell.egg.age_h
    midline_mm = tube.midline_xyz_mm + np.array([*centre, 0.0])
    outline_mm = np.column_stack(
        [body.outline_xy_mm + centre, np.full(len(body.outline_xy_mm), tube.depth_mm)]
    )
    return Cell(
        row=base.row,
        col=base.col,
        centre_xy_px=base.centre_xy_px,
        px_per_mm=base.px_per_mm,
        content=base.content,
        jelly=base.jelly,
        visible_share=visible,
        length_mm=length_mm,
        width_mm=2.0 * float(tube.radius_mm.max()),
        area_mm2=body.area_mm2,
        curl_deg=curl_deg,
        midline_xy_px=_points(view.project(midline_mm)),
        outline_xy_px=_points(view.project(outline_mm)),
        age_h=age_h,
        looks_age_h=looks_h,
        flags=tuple(flags),
    )


def _points(points_px: Floats) -> PointsXY:
    return tuple((float(x), float(y)) for x, y in points_px)


def _is_closed(midline_mm: Floats, curl_deg: float, width_mm: float) -> bool:
    """Tell whether head and tail meet so closely that no gap shows between them."""
    if curl_deg < CLOSED_FROM_DEG:
        return False
    gap_mm = float(np.hypot(*(midline_mm[-1] - midline_mm[0])))
    return gap_mm < GAP_LEAST_WIDTHS * width_mm or curl_deg >= 360.0


def body_truth(
    scene: CombScene, view: View, shape: CellShape, cell: SceneCell, tube: Tube
) -> BodyTruth:
    """Return outline, area and visible shares of the body in a cell.

    Parameters
    ----------
    scene, view, shape : CombScene, View, CellShape
        The comb and how it is seen.
    cell : SceneCell
        A cell with a larva or an egg.
    tube : Tube
        Its body.
    """
    centre = cell_centre(scene, cell.q, cell.r)
    slope = view.slope_at(centre)
    middle = flat_midline(tube, slope)
    margin = 1.1 * float(tube.radius_mm.max()) + 0.05
    low, high = middle.min(axis=0) - margin, middle.max(axis=0) + margin
    step = float((high - low).max()) / (_GRID_SIDE - 1)
    x, y = np.meshgrid(
        (low[0] + step * np.arange(_GRID_SIDE)).astype(np.float32),
        (low[1] + step * np.arange(_GRID_SIDE)).astype(np.float32),
    )
    inside = tube_field(tube, x, y, slope).inside_mm
    outline = _outline(inside) * step + low
    # Every other point is enough for an area: points on the edge count by their share.
    wide = 2.0 * step
    flat = tube_field(tube, x[::2, ::2], y[::2, ::2], np.zeros(2)).inside_mm
    area_mm2 = float(np.clip(flat / wide + 0.5, 0.0, 1.0).sum()) * wide**2

    own = inside > 0.0
    points = np.column_stack(
        [x[own] + centre[0], y[own] + centre[1], np.full(int(own.sum()), tube.depth_mm)]
    )
    rim = view.rim_points(points)
    px = view.project(points)
    far_x, far_y = (rim[None, :, i].astype(np.float32).ravel() for i in (0, 1))
    near_x, near_y = far_x - np.float32(centre[0]), far_y - np.float32(centre[1])
    through = (
        opening_share(scene, shape, near_x, near_y, far_x, far_y, view.px_per_mm_at(np.zeros(2)))
        > 0.5
    )
    limit = np.array(view.size_px) - 0.5
    framed = ((px >= -0.5) & (px <= limit)).all(axis=1)
    seen = float(through.mean())
    both = float((through & framed).mean())
    return BodyTruth(
        outline_xy_mm=outline,
        area_mm2=area_mm2,
        wall_share=seen,
        frame_share=both / seen if seen > 0.0 else 0.0,
    )


def _outline(inside: NDArray[np.float32]) -> Floats:
    """Return the outer contour of a field's positive part in grid units, shape (N_OUTLINE, 2)."""
    side = (_GRID_SIDE - 1) * _GRID_FINER + 1
    at = (np.arange(side, dtype=np.float32) / _GRID_FINER)[None, :].repeat(side, axis=0)
    fine = cv2.remap(inside, at, np.ascontiguousarray(at.T), cv2.INTER_LINEAR)
    contours, _ = cv2.findContours(
        (fine > 0.0).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    if not contours:  # thinner than the grid: cannot happen for bodies a scene accepts
        return np.zeros((0, 2))
    longest = max(contours, key=len)[:, 0, :].astype(np.float64)
    # Pixel steps are smoothed over; the contour runs on the outermost inner samples, half a
    # sample inside of the true line, so it is moved out along its normal.
    padded = np.vstack([longest[-4:], longest, longest[:4]])
    kernel = np.array([1.0, 3.0, 6.0, 8.0, 9.0, 8.0, 6.0, 3.0, 1.0]) / 45.0
    smooth = np.column_stack([np.convolve(padded[:, i], kernel, mode="valid") for i in (0, 1)])
    tangent = np.roll(smooth, -2, axis=0) - np.roll(smooth, 2, axis=0)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    turn = 1.0 if cv2.contourArea(longest.astype(np.float32), oriented=True) > 0.0 else -1.0
    smooth = smooth + 0.5 * turn * np.column_stack([tangent[:, 1], -tangent[:, 0]])
    take = np.round(np.linspace(0, len(smooth), N_OUTLINE, endpoint=False)).astype(int)
    return np.asarray(smooth[take] / _GRID_FINER)
