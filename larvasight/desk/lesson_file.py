"""Lesson files: a lesson as one file that goes out, and back again. See docs/homework.md."""

import json
from datetime import UTC, datetime
from typing import Any, Final
from uuid import UUID

import numpy as np

from larvasight import __version__
from larvasight.desk.homework_zip import VERSION, invalid, pack, read_json, unpack
from larvasight.desk.lesson import Lesson, Task, decoded, drill_in_lesson, size_px_of
from larvasight.desk.own_told import OwnTold
from larvasight.errors import HomeworkInvalidError, SheetInvalidError
from larvasight.grading import Limits
from larvasight.sheet import Cell, Sheet, sheet_from_json, sheet_to_json

ENDING: Final = ".lvlesson"
MAIN: Final = "lesson.json"
_SIDE_MOST_PX = 6000
_CELLS_MOST = 1000
_POINTS_MOST = 2000


def lesson_bytes(lesson: Lesson) -> bytes:
    """Return a lesson as the content of a file."""
    members: dict[str, bytes] = {}
    tasks = []
    for at, task in enumerate(lesson.tasks):
        picture, cells = f"combs/{at:02d}.webp", f"combs/{at:02d}.json"
        members[picture] = task.picture
        members[cells] = sheet_to_json(task.sheet).encode()
        told: dict[str, Any] = {
            "drill": task.drill.key,
            "seed": task.seed,
            "picture": picture,
            "cells": cells,
            "asked": list(task.places),
        }
        if task.own:
            told["known"] = [_known(one) for one in task.own]
        tasks.append(told)
    limits = lesson.limits
    about = {
        "format": "larvasight.lesson",
        "version": VERSION,
        "id": str(lesson.id),
        "title": lesson.title,
        "made_by": lesson.made_by,
        "note": lesson.note,
        "made_at_utc": time_text(lesson.made_at_utc),
        "program_version": __version__,
        "limits": {
            "young_h": limits.young_h,
            "best_young_h": limits.best_young_h,
            "best_old_h": limits.best_old_h,
            "old_h": limits.old_h,
            "by": limits.by,
        },
        "tasks": tasks,
    }
    return pack({MAIN: _json_bytes(about), **members}, lesson.made_at_utc)


def read_lesson(data: bytes, name: str, *, is_known: bool = False) -> Lesson:
    """Read a lesson, whoever made the file.

    Parameters
    ----------
    data : bytes
        Content of the file.
    name : str
        Its name, to tell the person.
    is_known : bool
        Whether it was read whole before: then its pictures are left for later.

    Returns
    -------
    Lesson
        Every picture of it can be read, and every cell asked lies in its picture.

    Raises
    ------
    HomeworkInvalidError
        If it is no lesson, is damaged or of a newer version.
    """
    members = unpack(data, name, MAIN)
    about = read_json(members[MAIN], name, "lesson")
    try:
        return Lesson(
            id=UUID(about["id"]),
            title=_line(about["title"]),
            made_by=_line(about.get("made_by", "")),
            note=_lines(about.get("note", "")),
            made_at_utc=time_of(about["made_at_utc"]),
            limits=_limits(about["limits"]),
            tasks=tuple(_task(told, members, is_known) for told in about["tasks"]),
        )
    except HomeworkInvalidError as error:
        raise invalid(name, "holds a picture that is damaged") from error
    except (KeyError, ValueError, OverflowError, SheetInvalidError) as error:
        raise invalid(name, "does not follow the form of a lesson") from error


def time_text(at_utc: datetime) -> str:
    """Return a moment as lesson and result files write it: ISO 8601, UTC."""
    return at_utc.astimezone(UTC).isoformat(timespec="milliseconds")


def time_of(text: str) -> datetime:
    """Return the moment of a text that follows the schema; ValueError where there is none."""
    return datetime.fromisoformat(text).astimezone(UTC)


def _json_bytes(value: object) -> bytes:
    return json.dumps(value, indent=1).encode()


def _known(told: OwnTold) -> dict[str, Any]:
    return {
        "is_sure": told.is_sure,
        "band_h": None if told.band_h is None else list(told.band_h),
        "known_h": None if told.known_h is None else list(told.known_h),
        "note": told.note,
    }


def _line(text: str) -> str:
    """Return one line of words; ValueError where there are signs that nobody can read."""
    clean = " ".join(text.split())
    if not clean.isprintable() or (text and not clean):
        msg = "not printable"
        raise ValueError(msg)
    return clean


def _lines(text: str) -> str:
    return "\n".join(_line(line) for line in text.splitlines())


def _limits(told: dict[str, Any]) -> Limits:
    hours = {name: float(told[name]) for name in ("young_h", "best_young_h", "best_old_h", "old_h")}
    return Limits(**hours, by=_line(told.get("by", "")))


def _task(told: dict[str, Any], members: dict[str, bytes], is_known: bool) -> Task:
    picture = members[told["picture"]]
    sheet = sheet_from_json(members[told["cells"]].decode("utf-8"))
    places = tuple(int(place) for place in told["asked"])
    own = tuple(_own(one) for one in told.get("known", ()))
    shape = size_px_of(picture)[::-1] if is_known else decoded(picture).shape[:2]
    _require_usable(sheet, places, shape)
    if own and len(own) != len(places):
        msg = "known must tell as many cells as are asked"
        raise ValueError(msg)
    return Task(
        drill=drill_in_lesson(told["drill"]),
        seed=int(told["seed"]),
        picture=picture,
        sheet=sheet,
        places=places,
        own=own,
    )


def _own(told: dict[str, Any]) -> OwnTold:
    return OwnTold(
        is_sure=told["is_sure"],
        band_h=_band(told.get("band_h")),
        known_h=_band(told.get("known_h")),
        note=_line(told.get("note", "")),
    )


def _band(told: list[float] | None) -> tuple[float, float] | None:
    if told is None:
        return None
    lo_h, hi_h = float(told[0]), float(told[1])
    if lo_h > hi_h:
        msg = "a band must begin before it ends"
        raise ValueError(msg)
    return lo_h, hi_h


def _require_usable(sheet: Sheet, places: tuple[int, ...], shape: tuple[int, ...]) -> None:
    """Raise ValueError unless the cells asked lie in the picture, and all can be drawn."""
    height_px, width_px = shape
    is_alike = (sheet.photo.height_px, sheet.photo.width_px) == (height_px, width_px)
    if not is_alike or max(shape) > _SIDE_MOST_PX or len(sheet.cells) > _CELLS_MOST:
        msg = "sheet and picture must be of one size"
        raise ValueError(msg)
    scale = sheet.scale
    if not (0.0 < scale.px_per_mm < _SIDE_MOST_PX and 1.0 < scale.pitch_mm < 20.0):
        msg = "scale must be that of a comb"
        raise ValueError(msg)
    for place in places:
        _require_in_picture(sheet.cells[place] if place < len(sheet.cells) else None, shape)


def _require_in_picture(cell: Cell | None, shape: tuple[int, ...]) -> None:
    is_there = cell is not None and (
        0.0 <= cell.centre_xy_px[0] < shape[1]
        and 0.0 <= cell.centre_xy_px[1] < shape[0]
        and 0.0 < cell.px_per_mm < _SIDE_MOST_PX
        and abs(cell.row) < _CELLS_MOST
        and abs(cell.col) < _CELLS_MOST
    )
    if cell is None or not is_there:
        msg = "asked must be cells of the sheet that lie in the picture"
        raise ValueError(msg)
    for points in (cell.midline_xy_px, cell.outline_xy_px):
        if points is not None and not _are_drawable(points, max(shape)):
            msg = "lines must lie about the picture"
            raise ValueError(msg)


def _are_drawable(points: tuple[tuple[float, float], ...], side_px: int) -> bool:
    if not 2 <= len(points) <= _POINTS_MOST:
        return False
    return bool((np.abs(np.array(points)) <= 2.0 * side_px).all())
