"""A lesson: combs that a teacher puts together once, the same for every student."""

import unicodedata
from collections.abc import Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from io import BytesIO
from typing import TYPE_CHECKING, Any, Final
from uuid import UUID, uuid4

import numpy as np
from numpy.typing import NDArray

from larvasight.desk.own_told import OwnTold
from larvasight.desk.practising import PreparedComb, new_seed, prepare_comb, shipped_tiles
from larvasight.desk.recipes import LESSON_MARK, TASK_MARK
from larvasight.errors import HomeworkInvalidError
from larvasight.grading import Limits
from larvasight.practice import Drill, ShownCell, shown_cell
from larvasight.practice.drills import (
    FIND_YOUR_EDGES,
    PICK_FROM_PATCH,
    TAKE_OR_LEAVE,
)
from larvasight.practice.planning import plan_ages
from larvasight.sheet import Content, Sheet

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from PIL.Image import Image

TITLE_CHARS_MAX: Final = 80
NOTE_CHARS_MAX: Final = 1000
TASKS_MAX: Final = 40
# Drills whose combs can go into a lesson: those that show one comb picture.
LESSON_DRILLS: Final = (PICK_FROM_PATCH, TAKE_OR_LEAVE, FIND_YOUR_EDGES)

_SIZE_PX = (1360, 1016)
# A comb of many cells gets a larger picture, so that its cells stay as large.
_LARGE_SIZE_PX = (1880, 1408)
_MANY_CELLS = 40
_WEBP_QUALITY = 88


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One comb of a lesson.

    ``picture`` is a WebP file, ``sheet`` what is true of its cells; ``places`` are the cells
    asked by their index in the sheet, in the order of asking. ``seed`` decides by chance where
    the drill leaves something to it. ``own`` says of each cell asked of the teacher's own photo
    what is known of it; empty for drawn comb.
    """

    drill: Drill
    seed: int
    picture: bytes
    sheet: Sheet
    places: tuple[int, ...]
    own: tuple[OwnTold, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """A lesson as it goes out; ``made_by`` and ``note`` are the teacher's words, or empty."""

    id: UUID
    title: str
    made_by: str
    note: str
    made_at_utc: datetime
    limits: Limits
    tasks: tuple[Task, ...]


def make_lesson(
    parts: Sequence[tuple[Drill, int]],
    *,
    title: str,
    limits: Limits,
    now: datetime,
    rng: np.random.Generator,
    made_by: str = "",
    note: str = "",
    take_own: "Callable[[Drill, int, Limits], PreparedComb] | None" = None,
    told: "Callable[[int], object] | None" = None,
) -> Lesson:
    """Put a lesson together from combs that nobody has seen.

    Parameters
    ----------
    parts : sequence of (Drill, int)
        Drills in their order, and how many combs of each.
    title, made_by, note : str
        What students read.
    limits : Limits
        The wanted ages, by which all students' answers are judged.
    now : datetime
        When it is made, UTC.
    rng : numpy.random.Generator
        Source of chance.
    take_own : callable, optional
        Takes a comb from own photos by its drill, a seed and the limits.
    told : callable, optional
        Gets how many combs are ready after each.

    Raises
    ------
    HomeworkInvalidError
        If there is no title or no comb, or too many of them.
    LarvasightError
        If a comb cannot be drawn, or there is no own photo to take it from.
    """
    drills = [drill for drill, n in parts for _ in range(n)]
    clean = " ".join(title.split())
    if not 1 <= len(clean) <= TITLE_CHARS_MAX or not clean.isprintable():
        msg = f"A lesson needs a title of 1 to {TITLE_CHARS_MAX} characters; type another."
        raise HomeworkInvalidError(msg)
    if not 1 <= len(drills) <= TASKS_MAX:
        msg = f"A lesson needs 1 to {TASKS_MAX} combs; choose how many of each kind."
        raise HomeworkInvalidError(msg)
    tasks: list[Task] = []
    seen: set[str] = set()
    for drill in drills:
        seed = new_seed(rng)
        if drill.own is not None and take_own is not None:
            comb = take_own(drill, seed, limits)
        else:
            comb = _drawn(drill, seed, limits, frozenset(seen))
            seen.update(comb.recipe.get("tiles", ()))
        tasks.append(_task_of(comb, seed))
        if told is not None:
            told(len(tasks))
    return Lesson(
        id=uuid4(),
        title=clean,
        made_by=" ".join(_written(made_by).split())[:60],
        note=_written(note).strip()[:NOTE_CHARS_MAX],
        made_at_utc=now,
        limits=limits,
        tasks=tuple(tasks),
    )


def _written(text: str) -> str:
    """Return a text without control codes and half characters, which no lesson may hold."""
    kinds = ("Cc", "Cs")
    return "".join(c for c in text if c.isspace() or unicodedata.category(c) not in kinds)


def comb_of(lesson: Lesson, at: int) -> PreparedComb:
    """Return the comb of a task, to be put before a learner.

    Raises
    ------
    ValueError
        If the lesson has no such task.
    HomeworkInvalidError
        If the picture cannot be read.
    """
    if not 0 <= at < len(lesson.tasks):
        msg = f"at must be from 0 to {len(lesson.tasks) - 1}, got {at}"
        raise ValueError(msg)
    task = lesson.tasks[at]
    pixels = decoded(task.picture)
    recipe: dict[str, Any] = {
        LESSON_MARK: str(lesson.id),
        TASK_MARK: at,
        "seed": task.seed,
        "size_px": [pixels.shape[1], pixels.shape[0]],
    }
    return PreparedComb(
        drill=task.drill,
        recipe=recipe,
        pixels=pixels,
        sheet=task.sheet,
        asked=asked_of(task),
        places=task.places,
        own=task.own,
    )


def drill_in_lesson(key: str) -> Drill:
    """Return the drill of this key as lessons have it; ValueError when none does."""
    for drill in LESSON_DRILLS:
        if drill.key == key:
            return drill
    msg = f"key must be one of {[drill.key for drill in LESSON_DRILLS]}, got {key!r}"
    raise ValueError(msg)


def asked_of(task: Task) -> tuple[ShownCell, ...]:
    """Return the cells of a task as they are put before a learner, under new ids."""
    cells = [shown_cell(task.sheet.cells[place], uuid4()) for place in task.places]
    if not task.own:
        return tuple(cells)
    return tuple(_as_known(*pair) for pair in zip(cells, task.own, strict=True))


def _as_known(cell: ShownCell, told: OwnTold) -> ShownCell:
    """Return a cell of a photo by all that is known of it, not only what was measured."""
    band_h = told.band_h if cell.content is Content.LARVA else None
    age_h = None if band_h is None else max(0.0, (band_h[0] + band_h[1]) / 2.0)
    looks_age_h = cell.age_h if cell.content is Content.LARVA else None
    return replace(cell, age_h=age_h, looks_age_h=looks_age_h, is_plain=told.is_sure)


def decoded(picture: bytes) -> NDArray[np.uint8]:
    """Return the pixels of a WebP file, (H, W, 3) RGB."""
    with _opened(picture) as image:
        return np.asarray(image.convert("RGB"), np.uint8)


def size_px_of(picture: bytes) -> tuple[int, int]:
    """Return width and height of a WebP file, read from its head alone."""
    with _opened(picture) as image:
        return image.size


@contextmanager
def _opened(picture: bytes) -> "Iterator[Image]":
    from PIL import Image

    try:
        with Image.open(BytesIO(picture), formats=["WEBP"]) as image:
            yield image
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        msg = "A picture of this lesson is damaged; ask for the file once more."
        raise HomeworkInvalidError(msg) from error


def encoded(pixels: NDArray[np.uint8]) -> bytes:
    """Return pixels, (H, W, 3) RGB, as a WebP file."""
    from PIL import Image

    stream = BytesIO()
    Image.fromarray(pixels).save(stream, "WEBP", quality=_WEBP_QUALITY, method=4)
    return stream.getvalue()


def _drawn(drill: Drill, seed: int, limits: Limits, avoid: frozenset[str]) -> PreparedComb:
    return prepare_comb(
        drill,
        seed,
        size_px=_SIZE_PX if drill.n_cells <= _MANY_CELLS else _LARGE_SIZE_PX,
        limits=limits,
        library=shipped_tiles(),
        avoid=avoid,
        ages_h=plan_ages(drill, None, limits, np.random.default_rng([seed, 3])),
    )


def _task_of(comb: PreparedComb, seed: int) -> Task:
    return Task(
        drill=drill_in_lesson(comb.drill.key),
        seed=seed,
        picture=encoded(comb.pixels),
        sheet=_nameless(comb.sheet) if comb.own else comb.sheet,
        places=comb.places,
        own=comb.own,
    )


def _nameless(sheet: Sheet) -> Sheet:
    """Return the sheet of a photo without the file's name, which is nobody else's business."""
    return replace(sheet, photo=replace(sheet.photo, name="photo", sha256=""))
