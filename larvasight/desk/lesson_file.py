"""Lesson files: a lesson as one file that goes out, and back again. See docs/homework.md."""

import json
import unicodedata
from datetime import UTC, datetime
from typing import Any, Final
from uuid import UUID

import numpy as np

from larvasight import __version__
from larvasight.desk.homework_zip import VERSION, invalid, pack, read_json, unpack
from larvasight.desk.lesson import (
    Lesson,
    Task,
    asked_of,
    decoded,
    drill_in_lesson,
    size_px_of,
)
from larvasight.desk.own_told import OwnTold
from larvasight.errors import HomeworkInvalidError, SheetInvalidError
from larvasight.grading import Limits
from larvasight.practice.drills import FIND_YOUR_EDGES
from larvasight.practice.planning import seen_age_h
from larvasight.sheet import Cell, Content, Sheet, sheet_from_json, sheet_to_json

ENDING: Final = ".lvlesson"
MAIN: Final = "lesson.json"
_SIDE_MOST_PX = 6000
_CELLS_MOST = 1000
_POINTS_MOST = 2000
# Ages, h, lengths, mm, and curls, deg, of what is judged; eggs have ages below 0.
_AGE_MOST_H, _LENGTH_MOST_MM, _CURL_MOST_DEG = 96.0, 40.0, 400.0
# Signs that join others, as in Persian words; others that cannot be seen are left out.
_JOINERS = "\u200c\u200d"


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
            title=_title(about["title"]),
            made_by=_line(about.get("made_by", "")),
            note=_lines(about.get("note", "")),
            made_at_utc=time_of(about["made_at_utc"]),
            limits=_limits(about["limits"]),
            tasks=_tasks(about["tasks"], members, is_known),
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


def _title(text: str) -> str:
    clean = _line(text)
    if not any(sign.isprintable() for sign in clean):
        msg = "title must hold what can be read"
        raise ValueError(msg)
    return clean


def _line(text: str) -> str:
    """Return one line of words; ValueError where there are control codes or half characters."""
    words = " ".join(text.split())
    if {"Cc", "Cs"} & {unicodedata.category(sign) for sign in words}:
        msg = "text must hold no control codes"
        raise ValueError(msg)
    seen = "".join(sign for sign in words if sign.isprintable() or sign in _JOINERS)
    return " ".join(seen.split())


def _lines(text: str) -> str:
    return "\n".join(_line(line) for line in text.splitlines())


def _limits(told: dict[str, Any]) -> Limits:
    hours = {name: float(told[name]) for name in ("young_h", "best_young_h", "best_old_h", "old_h")}
    return Limits(**hours, by=_line(told.get("by", "")))


def _tasks(
    told: list[dict[str, Any]], members: dict[str, bytes], is_known: bool
) -> tuple[Task, ...]:
    # Many tasks may name one sheet or picture: each is read once.
    sheets = {name: _sheet(members[name]) for name in {one["cells"] for one in told}}
    tasks = tuple(_task(one, members[one["picture"]], sheets[one["cells"]]) for one in told)
    for name in () if is_known else dict.fromkeys(one["picture"] for one in told):
        decoded(members[name])
    return tasks


def _sheet(data: bytes) -> Sheet:
    return sheet_from_json(data.decode("utf-8"))


def _task(told: dict[str, Any], picture: bytes, sheet: Sheet) -> Task:
    places = tuple(int(place) for place in told["asked"])
    own = tuple(_own(one) for one in told.get("known", ()))
    # By its head alone: a small file may unfold to a picture too large for any memory.
    _require_usable(sheet, places, size_px_of(picture)[::-1])
    if own and len(own) != len(places):
        msg = "known must tell as many cells as are asked"
        raise ValueError(msg)
    task = Task(
        drill=drill_in_lesson(told["drill"]),
        seed=int(told["seed"]),
        picture=picture,
        sheet=sheet,
        places=places,
        own=own,
    )
    _require_askable(task)
    return task


def _require_askable(task: Task) -> None:
    """Raise ValueError where a cell cannot be told, or the drill would ask none."""
    cells = [task.sheet.cells[place] for place in task.places]
    if not task.own and any(c.content is Content.LARVA and c.age_h is None for c in cells):
        msg = "larvae of drawn comb must have an age"
        raise ValueError(msg)
    if task.drill != FIND_YOUR_EDGES:
        return
    if task.own or all(seen_age_h(cell) is None for cell in asked_of(task)):
        msg = "asked must hold a cell of drawn comb whose age can be seen"
        raise ValueError(msg)


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
        cell = sheet.cells[place] if place < len(sheet.cells) else None
        _require_in_picture(cell, shape, scale.pitch_mm)


def _require_in_picture(cell: Cell | None, shape: tuple[int, ...], pitch_mm: float) -> None:
    is_there = cell is not None and (
        0.0 <= cell.centre_xy_px[0] < shape[1]
        and 0.0 <= cell.centre_xy_px[1] < shape[0]
        and 0.0 < cell.px_per_mm * pitch_mm <= max(shape)
        and _can_be_told(cell)
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


def _can_be_told(cell: Cell) -> bool:
    """Return whether what is said of a larva or an egg can be judged and drawn."""
    if cell.content not in (Content.LARVA, Content.EGG):
        return True
    least_h = 0.0 if cell.content is Content.LARVA else -_AGE_MOST_H
    return (
        _is_within(cell.age_h, least_h, _AGE_MOST_H)
        and _is_within(cell.looks_age_h, -_AGE_MOST_H, _AGE_MOST_H)
        and (cell.length_mm is None or 0.0 < cell.length_mm <= _LENGTH_MOST_MM)
        and _is_within(cell.curl_deg, 0.0, _CURL_MOST_DEG)
    )


def _is_within(value: float | None, least: float, most: float) -> bool:
    return value is None or least <= value <= most


def _are_drawable(points: tuple[tuple[float, float], ...], side_px: int) -> bool:
    if not 2 <= len(points) <= _POINTS_MOST:
        return False
    return bool((np.abs(np.array(points)) <= 2.0 * side_px).all())
