"""The main job without a screen: draw, measure, grade and mark a comb; practise; report."""

from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

import numpy as np

from larvasight import __version__
from larvasight.desk.drawing import draw_comb, practice_scene
from larvasight.desk.files import make_folder, write_sheet
from larvasight.desk.measuring import Measurer
from larvasight.desk.practising import picture_size_px
from larvasight.desk.reporting import local_zone, progress_of, save_learner_report
from larvasight.desk.simulated import SimulatedEye, improving_eyes, responses_ms
from larvasight.errors import (
    OutputFolderError,
    StoreBusyError,
    StoreDamagedError,
    StoreTooNewError,
)
from larvasight.grading import Limits, is_just_past, true_grade
from larvasight.practice import (
    PICK_FROM_PATCH,
    TAKE_OR_LEAVE,
    Answer,
    Progress,
    Round,
    ShownCell,
    Shows,
    shown_cell,
)
from larvasight.practice.choosing import choose_cells
from larvasight.render import patch_scene, truth_sheet
from larvasight.sheet import Cell, Content, Flag, Grade, Sheet

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import ShownRound

DEMO_LEARNER = "Runa Wabenfeld (invented)"

# Invented evenings, so that each run tells the same story.
_FIRST_DAY = date(2026, 5, 4)
_DAYS_LATER = (0, 1, 2, 4, 5, 7, 8, 10, 12, 14)
_EVENING = time(19, 30)
# What is true of a comb takes long to compute, and a simulated learner remembers none.
_N_COMBS = 6
_COMB_SIZE_PX = picture_size_px(4.0 / 3.0)
_BETWEEN_ROUNDS = timedelta(minutes=2)


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoResult:
    """How the measured comb agrees with its truth, in numbers.

    ``n_agree`` of ``n_counted`` verdicts match the true age; ``length_error_share`` is the
    median error of length, None when no larva was measured.
    """

    n_cells: int
    n_eggs: int
    n_larvae: int
    n_measured: int
    n_counted: int
    n_agree: int
    length_error_share: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Demonstration:
    """What the demonstration did: a comb measured, and a simulated learner's practice."""

    measured: DemoResult
    practised: Progress


@dataclass(frozen=True, slots=True, kw_only=True)
class _Comb:
    """A comb to practise on, never painted: how to draw it, and its whole cells."""

    recipe: dict[str, Any]
    cells: tuple[Cell, ...]

    def shown(self) -> tuple[ShownCell, ...]:
        return tuple(shown_cell(cell, uuid4()) for cell in self.cells)


def run_demo(folder: Path, *, seed: int, tz: tzinfo | None = None) -> Demonstration:
    """Draw, measure, grade and mark one comb into ``folder``, and practise on others.

    Writes ``comb.png``, ``comb.json`` (truth), ``measured.json``, ``marked.png``, the practice of
    an invented, simulated learner as ``records.db`` and that learner's ``report.pdf``.

    Parameters
    ----------
    folder : Path
        Where everything goes; what an earlier demonstration left there is replaced.
    seed : int
        The same seed gives the same numbers.
    tz : tzinfo, optional
        Zone of the learner's days; this computer's without it.

    Raises
    ------
    LarvasightError
        If the folder cannot be written to or holds records of somebody else.
    """
    from larvasight.paper.marked import save_marked_picture  # Qt only when it is wanted

    make_folder(folder)
    _require_own(folder / "records.db")
    scene = practice_scene(np.random.default_rng(seed))
    drawn = draw_comb(scene, folder, "comb")
    photo, sheet = Measurer().measure(drawn.picture)
    write_sheet(folder / "measured.json", sheet)
    save_marked_picture(folder / "marked.png", photo.pixels, sheet)
    practised = _write_records(folder, np.random.default_rng([seed, 1]), tz or local_zone())
    return Demonstration(measured=compare(drawn.sheet, sheet), practised=practised)


def _require_own(path: Path) -> None:
    """Refuse to replace records other than an earlier demonstration's."""
    if not path.exists():
        return
    from larvasight.records.copies import COMPANIONS

    if not _is_own(path):
        msg = (
            f"{path.name} in {path.parent} is not of an earlier demonstration, so nothing was "
            "changed; choose another folder."
        )
        raise OutputFolderError(msg)
    # What SQLite keeps beside a file goes when the last one closes it.
    if any(path.with_name(path.name + end).exists() for end in COMPANIONS):
        msg = (
            f"Another program is using {path.name} in {path.parent}, so nothing was changed; "
            "close that program and try again."
        )
        raise StoreBusyError(msg)


def _is_own(path: Path) -> bool:
    """Return whether records hold the invented learner alone."""
    from larvasight.records.store import Store

    if path.stat().st_size == 0:  # opening it would make records of it
        return False
    try:
        with Store.open(path, now=datetime.now(UTC), wait_ms=0) as store:
            names = [learner.name for learner in store.learners()]
            return names == [DEMO_LEARNER] and not store.photos()
    except (StoreDamagedError, StoreTooNewError):
        return False


def _write_records(folder: Path, rng: np.random.Generator, tz: tzinfo) -> Progress:
    """Let the simulated learner practise, keep that as ``records.db`` and write the report."""
    from larvasight.records.copies import put_in_place, remove_with_companions
    from larvasight.records.failures import plain_errors
    from larvasight.records.store import Store

    path, part = folder / "records.db", folder / "records.db.part"
    days = [_FIRST_DAY + timedelta(days=later) for later in _DAYS_LATER]
    evenings = [datetime.combine(day, _EVENING, tzinfo=tz) for day in days]
    try:
        with plain_errors(path):
            remove_with_companions(part)
        with Store.open(part, now=evenings[0]) as store:
            learner = store.add_learner(DEMO_LEARNER, now=evenings[0])
            _practise(store, learner.id, evenings, rng)
            practised = progress_of(store, learner.id, tz)
            save_learner_report(
                store, learner, folder / "report.pdf", now=evenings[-1] + timedelta(hours=1), tz=tz
            )
        with plain_errors(path):
            put_in_place(part, path)
    except BaseException:
        with suppress(OSError):
            remove_with_companions(part)
        raise
    return practised


def _practise(
    store: "Store", learner_id: UUID, evenings: list[datetime], rng: np.random.Generator
) -> None:
    """Keep a patch of one comb and single cells of two others each evening."""
    from larvasight.records.types import ShownRound

    limits = store.limits(learner_id)
    combs = [_draw_comb(rng, PICK_FROM_PATCH.n_cells) for _ in range(_N_COMBS)]
    for k, (evening, eye) in enumerate(zip(evenings, improving_eyes(len(evenings)), strict=True)):
        patch, *others = (combs[(k + further) % _N_COMBS] for further in (0, 2, 4))
        asked = [(PICK_FROM_PATCH, patch, patch.shown())]
        for comb in others:
            cells = choose_cells(comb.shown(), TAKE_OR_LEAVE.n_asked or 1, limits, rng)
            asked.append((TAKE_OR_LEAVE, comb, cells))
        now = evening
        for drill, comb, cells in asked:
            shown = ShownRound(
                id=uuid4(),
                learner_id=learner_id,
                drill=drill,
                cells=cells,
                limits=limits,
                recipe=comb.recipe,
                kind="drawn",
                shown_at_utc=now.astimezone(UTC),
            )
            now = _sit(store, shown, eye, rng) + _BETWEEN_ROUNDS


def _sit(
    store: "Store", shown: "ShownRound", eye: SimulatedEye, rng: np.random.Generator
) -> datetime:
    """Keep one round as it is shown, each answer as it is given, and its end; return when."""
    sitting = Round(shown.drill, shown.cells)
    store.show_round(shown)
    answers = eye.answers(shown.cells, rng)
    now = shown.shown_at_utc
    for cell, answer, response_ms in zip(
        shown.cells, answers, responses_ms(len(answers), rng), strict=True
    ):
        at_once = shown.drill.shows is Shows.ONE_CELL
        if not at_once and answer is Answer.LEAVE:
            continue
        now += timedelta(milliseconds=response_ms)
        if at_once:
            given = sitting.answer(answer, response_ms=response_ms)
        else:
            given = sitting.toggle(cell.id, response_ms=response_ms)
        store.keep([given], now=now)
        if at_once:
            sitting.advance()
    store.end_round(shown.id, () if sitting.is_ended else sitting.enter(), now=now)
    return now


def _draw_comb(rng: np.random.Generator, n_cells: int) -> _Comb:
    """Return a comb of about so many whole cells, with what is true of them."""
    seed = int(rng.integers(1 << 31))
    scene = patch_scene(np.random.default_rng(seed), size_px=_COMB_SIZE_PX, n_cells=n_cells)
    sheet = truth_sheet(scene, name=f"drawn-{seed}", sha256="")
    return _Comb(
        recipe={"seed": seed, "size_px": list(_COMB_SIZE_PX), "drawn_by": __version__},
        cells=tuple(cell for cell in sheet.cells if Flag.CUT_BY_FRAME not in cell.flags),
    )


def compare(truth: Sheet, measured: Sheet, limits: Limits | None = None) -> DemoResult:
    """Return how a measured sheet agrees with the truth of the same picture."""
    spans = limits or Limits()
    pairs = match_cells(truth, measured)
    larvae = [(true, found) for true, found in pairs if true.content is Content.LARVA]
    sized = [(t, f) for t, f in larvae if f.length_mm is not None and t.length_mm is not None]
    graded = [
        (t.age_h, f.grade)
        for t, f in sized
        if t.age_h is not None and f.grade not in (None, Grade.UNSURE)
    ]
    counted = [(age_h, grade) for age_h, grade in graded if not is_just_past(age_h, spans)]
    errors = [abs((f.length_mm or 0.0) / t.length_mm - 1.0) for t, f in sized if t.length_mm]
    return DemoResult(
        n_cells=len(truth.cells),
        n_eggs=sum(cell.content is Content.EGG for cell in truth.cells),
        n_larvae=len(larvae),
        n_measured=len(sized),
        n_counted=len(counted),
        n_agree=sum(_agrees(age_h, grade, spans) for age_h, grade in counted),
        length_error_share=float(np.median(errors)) if errors else None,
    )


def match_cells(truth: Sheet, measured: Sheet) -> list[tuple[Cell, Cell]]:
    """Return pairs of the same cell: the nearest found centre within half a pitch."""
    if not measured.cells:
        return []
    centres = np.array([cell.centre_xy_px for cell in measured.cells])
    pairs = []
    for cell in truth.cells:
        away_px = np.hypot(*(centres - np.array(cell.centre_xy_px)).T)
        nearest = int(np.argmin(away_px))
        if away_px[nearest] < truth.scale.pitch_px / 2.0:
            pairs.append((cell, measured.cells[nearest]))
    return pairs


def _agrees(age_h: float, grade: Grade | None, limits: Limits) -> bool:
    usable = grade in (Grade.TAKE, Grade.VERY_YOUNG)
    if true_grade(age_h, limits) is Grade.TOO_OLD:
        return not usable
    return usable or grade is Grade.BORDERLINE
