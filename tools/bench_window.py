"""Times of the window: start, a click's mark, an answer stored, the next comb, Progress.

Called by bench.py; runs without a screen.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

import numpy as np

from larvasight.desk.reporting import local_zone, told_of
from larvasight.grading import Limits
from larvasight.practice import PICK_FROM_PATCH, Answer, Given, ShownCell, shown_cell
from larvasight.records.store import Learner, ShownRound, Store
from larvasight.render import patch_scene, truth_sheet
from larvasight.sheet import Flag

if TYPE_CHECKING:
    from collections.abc import Callable

    from larvasight.app.practise_page import PractisePage
    from larvasight.app.window import Window

_BARE = """
import os, sys
from PySide6.QtWidgets import QApplication, QLabel, QMainWindow
class Window(QMainWindow):
    def paintEvent(self, event):
        super().paintEvent(event)
        os._exit(0)
app = QApplication([])
window = Window()
window.resize(1280, 800)
window.setCentralWidget(QLabel("bare"))
window.show()
app.exec()
"""
_OURS = """
import os
import larvasight.app.window as own
painted = own.Window.paintEvent
def paint(self, event):
    painted(self, event)
    os._exit(0)
own.Window.paintEvent = paint
from larvasight.app.main import run_window
run_window(["larvasight"])
"""
_N_ROWS = 100_000
_LIMIT_S = 30.0


def bench_window(repeats: int) -> list[str]:
    """Return one line for each time of the window."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["LARVASIGHT_DATA"] = folder
        return [_start(max(repeats, 5)), *_clicks(Path(folder)), _progress(Path(folder), repeats)]


def _start(repeats: int) -> str:
    times: dict[str, list[float]] = {_OURS: [], _BARE: []}
    for _ in range(repeats):
        for program, found in times.items():
            begun = time.perf_counter()
            subprocess.run([sys.executable, "-c", program], check=True, capture_output=True)
            found.append(time.perf_counter() - begun)
    ours, bare = (statistics.median(found) * 1e3 for found in times.values())
    ratio = ours / bare
    return f"window, start to first paint {ours:.0f} ms; bare window {bare:.0f} ms: {ratio:.2f} x"


def _clicks(folder: Path) -> list[str]:
    """Time real clicks on combs: until the mark is painted, until it is stored, the next comb."""
    window, page = _open_window(folder)
    painted = _watch_marks()
    marks_ms, stored_ms, next_ms = [], [], []
    supply = window.context.supply if window.context else None
    for _ in range(3):
        for index in range(page.comb.n_cells):
            mark_ms, ink_ms = _click(page, index, painted)
            marks_ms.append(mark_ms)
            stored_ms.append(ink_ms)
        page.enter()
        _until(lambda: page.is_told)
        _until(lambda: supply is not None and supply.n_ready(PICK_FROM_PATCH) > 0)
        begun = time.perf_counter()
        page.go_on()
        _until(lambda: page.session is not None and not page.is_told)
        next_ms.append((time.perf_counter() - begun) * 1e3)
    window.close()
    return [
        f"click to painted mark: {_spread(marks_ms)}",
        f"click to stored answer shown as stored: {_spread(stored_ms)}",
        f"Enter to next comb: {_spread(next_ms)}",
    ]


def _click(page: PractisePage, index: int, painted: dict[int, float]) -> tuple[float, float]:
    """Return the times until a cell's mark is painted and until it is shown as stored, ms."""
    from PySide6.QtCore import Qt
    from PySide6.QtTest import QTest

    painted.clear()
    at = page.comb.centre_on_screen(index)
    left, plain = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    begun = time.perf_counter()
    QTest.mouseClick(page.comb.viewport(), left, plain, at)
    _until(lambda: index in painted)
    _until(lambda: page.comb.face_of(index).rim.name == "INK")
    return (painted[index] - begun) * 1e3, (time.perf_counter() - begun) * 1e3


def _spread(times_ms: list[float]) -> str:
    middle, late = np.percentile(times_ms, (50, 95))
    return f"median {middle:.1f} ms, 95 % within {late:.1f}, latest {max(times_ms):.1f}"


def _open_window(folder: Path) -> tuple[Window, PractisePage]:
    from typing import cast

    from PySide6.QtWidgets import QApplication

    from larvasight.app.dressing import Dressing
    from larvasight.app.settings import WindowSettings
    from larvasight.app.window import Window

    app = QApplication.instance() or QApplication([])
    with Store.open(folder / "records.db", now=datetime.now(UTC)) as store:
        store.add_learner("Bench", now=datetime.now(UTC))
    settings = WindowSettings(folder)
    dressing = Dressing(cast("QApplication", app), settings.look, settings.text_px)
    window = Window(dressing, settings)
    window.resize(1280, 800)
    window.show()
    _until(lambda: window.context is not None and window.context.learner is not None)
    page = cast("PractisePage", window.place("practise"))
    page.begin(PICK_FROM_PATCH)
    _until(lambda: page.session is not None)
    return window, page


def _watch_marks() -> dict[int, float]:
    """Note when each mark is painted."""
    from larvasight.app.cell_item import CellItem

    painted: dict[int, float] = {}
    paint = CellItem.paint

    def noting(item: CellItem, *arguments: object) -> None:
        paint(item, *arguments)  # type: ignore[arg-type]
        if item.face.rim.name in ("PENCIL", "INK"):
            painted.setdefault(item.index, time.perf_counter())

    CellItem.paint = noting  # type: ignore[assignment, method-assign]
    return painted


def _until(holds: Callable[[], bool]) -> None:
    from PySide6.QtWidgets import QApplication

    end = time.perf_counter() + _LIMIT_S
    while not holds():
        QApplication.processEvents()
        if time.perf_counter() > end:
            msg = "the window did not answer in time"
            raise TimeoutError(msg)


def _progress(folder: Path, repeats: int) -> str:
    """Time reading and summing up 100,000 answers, beside counting them in bare SQLite."""
    import sqlite3

    path = folder / "many.db"
    now = datetime.now(UTC)
    with Store.open(path, now=now) as store:
        learner = store.add_learner("Bench", now=now)
        _fill(store, learner, now)
        zone = local_zone()
        ours = min(
            _timed(lambda: told_of(store, learner.id, now=now, tz=zone)) for _ in range(repeats)
        )
    bare = sqlite3.connect(path)
    base = min(
        _timed(lambda: bare.execute("SELECT sum(age_h) FROM shown_cell").fetchall())
        for _ in range(repeats)
    )
    bare.close()
    return (
        f"Progress with {_N_ROWS} answers: {ours * 1e3:.0f} ms best of {repeats}; "
        f"summing one column in bare SQLite {base * 1e3:.0f} ms"
    )


def _fill(store: Store, learner: Learner, now: datetime) -> None:
    rng = np.random.default_rng(5)
    sheet = truth_sheet(patch_scene(rng), name="bench", sha256="")
    cells = [shown_cell(c, uuid4()) for c in sheet.cells if Flag.CUT_BY_FRAME not in c.flags]
    many = [cells[k % len(cells)] for k in range(1000)]
    for day in range(_N_ROWS // len(many)):
        _show_and_end(store, learner, many, now - timedelta(days=day), rng)


def _show_and_end(
    store: Store,
    learner: Learner,
    cells: list[ShownCell],
    at: datetime,
    rng: np.random.Generator,
) -> None:
    fresh = tuple(replace(cell, id=uuid4()) for cell in cells)
    shown = ShownRound(
        id=uuid4(),
        learner_id=learner.id,
        drill=PICK_FROM_PATCH,
        cells=fresh,
        limits=Limits(),
        recipe={},
        kind="drawn",
        shown_at_utc=at,
    )
    store.show_round(shown)
    taken = rng.random(len(fresh)) < 0.3
    givens = [
        Given(
            cell_id=cell.id,
            answer=Answer.TAKE if is_taken else Answer.LEAVE,
            response_ms=1500 if is_taken else None,
            is_final=True,
        )
        for cell, is_taken in zip(fresh, taken, strict=True)
    ]
    store.end_round(shown.id, givens, now=at)


def _timed(call: Callable[[], object]) -> float:
    begun = time.perf_counter()
    call()
    return time.perf_counter() - begun
