"""Rows of marks by hand on the cells of photos."""

import json
import math
from collections.abc import Iterable
from typing import Final
from uuid import UUID

from sqlalchemy import Connection, delete, select
from sqlalchemy.dialects.sqlite import insert

from larvasight.records.clock import at_utc, utc_ms
from larvasight.records.schema import hand_mark, photo
from larvasight.records.types import HandMark
from larvasight.sheet import Content, PointsXY

LINE_POINTS_LEAST: Final = 3
LINE_POINTS_MOST: Final = 64
OUTLINE_CORNERS_MOST: Final = 400


def of_photo(connection: Connection, sha256: str) -> list[HandMark]:
    """Return the marks on the cells of a photo, by row, column and time."""
    rows = connection.execute(
        select(hand_mark)
        .where(hand_mark.c.photo_sha256 == sha256)
        .order_by(hand_mark.c.row, hand_mark.c.col, hand_mark.c.made_utc_ms)
    )
    return [
        HandMark(
            id=UUID(row.id),
            row=row.row,
            col=row.col,
            centre_xy_px=(row.centre_x_px, row.centre_y_px),
            content=None if row.content is None else Content(row.content),
            line_xy_px=_read("line", row.line, LINE_POINTS_MOST),
            outline_xy_px=_read("outline", row.outline, OUTLINE_CORNERS_MOST),
            made_at_utc=at_utc(row.made_utc_ms),
        )
        for row in rows
    ]


def put(connection: Connection, sha256: str, mark: HandMark) -> None:
    """Store a mark."""
    known = connection.execute(select(photo.c.sha256).where(photo.c.sha256 == sha256)).first()
    if known is None:
        msg = f"sha256 must be a known photo's, got {sha256!r}"
        raise ValueError(msg)
    x_px, y_px = mark.centre_xy_px
    connection.execute(
        insert(hand_mark).values(
            id=str(mark.id),
            photo_sha256=sha256,
            row=mark.row,
            col=mark.col,
            centre_x_px=x_px,
            centre_y_px=y_px,
            content=None if mark.content is None else str(mark.content),
            line=_written("line", mark.line_xy_px, LINE_POINTS_MOST),
            outline=_written("outline", mark.outline_xy_px, OUTLINE_CORNERS_MOST),
            made_utc_ms=utc_ms("made_at_utc", mark.made_at_utc),
        )
    )


def remove(connection: Connection, sha256: str, ids: Iterable[UUID]) -> None:
    """Take marks back; those that are not there do not matter."""
    names = [str(one) for one in ids]
    is_it = (hand_mark.c.photo_sha256 == sha256) & hand_mark.c.id.in_(names)
    connection.execute(delete(hand_mark).where(is_it))


def _read(name: str, text: str | None, most: int) -> PointsXY | None:
    return None if text is None else _points(name, json.loads(text), most)


def _written(name: str, points: PointsXY | None, most: int) -> str | None:
    return None if points is None else json.dumps(_points(name, points, most))


def _points(name: str, values: Iterable[Iterable[float]], most: int) -> PointsXY:
    """Return points of a line or an outline; ValueError for what is none."""
    points = tuple((float(x), float(y)) for x, y in values)
    n = len(points)
    if not LINE_POINTS_LEAST <= n <= most:
        msg = f"{name} must have {LINE_POINTS_LEAST} to {most} points, got {n}"
        raise ValueError(msg)
    if not all(math.isfinite(value) for point in points for value in point):
        msg = f"{name} must have finite points"
        raise ValueError(msg)
    return points
