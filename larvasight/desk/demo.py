"""The main job without a screen: draw a comb, measure it, grade it, mark it."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from larvasight.desk.drawing import draw_comb, practice_scene
from larvasight.desk.files import write_sheet
from larvasight.desk.measuring import Measurer
from larvasight.grading import Limits, is_just_past, true_grade
from larvasight.sheet import Cell, Content, Grade, Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoResult:
    """What the demonstration did, in numbers.

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


def run_demo(folder: Path, *, seed: int) -> DemoResult:
    """Draw, measure, grade and mark one comb into ``folder``.

    Writes ``comb.png``, ``comb.json`` (truth), ``measured.json`` and ``marked.png``.

    Raises
    ------
    LarvasightError
        If the folder cannot be written to.
    """
    from larvasight.paper import save_marked_picture  # Qt only when it is wanted

    scene = practice_scene(np.random.default_rng(seed))
    drawn = draw_comb(scene, folder, "comb")
    photo, sheet = Measurer().measure(drawn.picture)
    write_sheet(folder / "measured.json", sheet)
    save_marked_picture(folder / "marked.png", photo.pixels, sheet)
    return compare(drawn.sheet, sheet)


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
