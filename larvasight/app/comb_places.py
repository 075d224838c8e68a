"""Where cells lie in a picture of comb, and which of them is next."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainterPath, QPolygonF

from larvasight.app.cell_item import CellItem
from larvasight.geometry import hexagon_corners
from larvasight.sheet import PointsXY, Sheet

# The rim of a cell is drawn on this share of its hexagon.
_RIM_SHARE = 0.92
# The veil over cells at the edge begins this far out, against that rim.
_VEIL_FROM = 1.1


@dataclass(frozen=True, slots=True, kw_only=True)
class CellPlace:
    """Where a cell lies in the picture, and the body found in it; points as in a sheet."""

    centre_xy_px: tuple[float, float]
    pitch_px: float
    outline_xy_px: PointsXY | None = None
    midline_xy_px: PointsXY | None = None


def places_of(sheet: Sheet) -> list[CellPlace]:
    """Return where the cells of a sheet lie, with the bodies found in them."""
    return [
        CellPlace(
            centre_xy_px=cell.centre_xy_px,
            pitch_px=cell.px_per_mm * sheet.scale.pitch_mm,
            outline_xy_px=cell.outline_xy_px,
            midline_xy_px=cell.midline_xy_px,
        )
        for cell in sheet.cells
    ]


def item_of(index: int, cell: CellPlace, row_angle_deg: float) -> CellItem:
    """Return the hexagon over a cell."""
    centre = shown(cell.centre_xy_px)
    corners = hexagon_corners(cell.pitch_px * _RIM_SHARE, row_angle_deg)
    hexagon = QPolygonF([centre + QPointF(float(x), float(y)) for x, y in corners])
    return CellItem(
        index,
        hexagon,
        cell.pitch_px,
        polygon_of(cell.outline_xy_px),
        polygon_of(cell.midline_xy_px),
    )


def outside_of(items: Sequence[CellItem], picture: QRectF) -> QPainterPath:
    """Return what of a picture belongs to no cell."""
    asked = QPainterPath()
    asked.setFillRule(Qt.FillRule.WindingFill)
    for item in items:
        middle = item.centre
        grown = [middle + (corner - middle) * _VEIL_FROM for corner in item.hexagon.toList()]
        asked.addPolygon(QPolygonF([*grown, grown[0]]))
    rest = QPainterPath()
    rest.addRect(picture)
    return rest.subtracted(asked.simplified())


def nearest_to(items: Sequence[CellItem], point: QPointF) -> int:
    """Return the cell nearest to a point of the picture."""
    return min(items, key=lambda item: _away(item.centre - point)).index


def next_cell(items: Sequence[CellItem], at: int, direction: tuple[float, float]) -> int | None:
    """Return the nearest cell in a direction, the further aside the dearer.

    A neighbour 30 degrees aside still comes before the cell straight behind two of them.
    """
    best, best_cost = None, math.inf
    for item in items:
        way = item.centre - items[at].centre
        away = _away(way)
        along = way.x() * direction[0] + way.y() * direction[1]
        if item.index != at and along > 0.2 * away and away * away / along < best_cost:
            best, best_cost = item.index, away * away / along
    return best


def shown(point_xy_px: tuple[float, float]) -> QPointF:
    """Return where a picture point lies; picture points count from pixel centres."""
    return QPointF(point_xy_px[0] + 0.5, point_xy_px[1] + 0.5)


def polygon_of(points: PointsXY | None) -> QPolygonF | None:
    """Return where points of a picture lie, None for none."""
    return None if points is None else QPolygonF([shown(point) for point in points])


def _away(way: QPointF) -> float:
    return math.hypot(way.x(), way.y())
