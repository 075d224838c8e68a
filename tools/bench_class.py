"""Time of a class of 200 learners with 60,000 answers beside reading the same rows bare.

Called by bench.py.
"""

from __future__ import annotations

import sqlite3
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from bench_growth import fill
from bench_times import median_s
from larvasight.desk.class_view import class_of
from larvasight.desk.reporting import local_zone
from larvasight.records.store import Store

_LEARNERS, _CELLS = 200, 300
_DAY_CELLS = 60


def bench_class(repeats: int) -> str:
    """Return the line that is printed."""
    now = datetime.now(UTC)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "records.db"
        with Store.open(path, now=now) as store:
            learners = [store.add_learner(f"Bench {k}", now=now) for k in range(_LEARNERS)]
            lines_h = np.random.default_rng(5).uniform(24.0, 44.0, _LEARNERS).tolist()
            for who, (learner, old_h) in enumerate(zip(learners, lines_h, strict=True)):
                name, first = str(learner.id), who * _CELLS
                fill(path, name, _CELLS, now, first=first, old_h=old_h, day_cells=_DAY_CELLS)
            ours = median_s(lambda: class_of(store, now=now, tz=local_zone()), repeats)
        bare = median_s(lambda: _read_bare(path), repeats)
    return (
        f"class of {_LEARNERS}, {_LEARNERS * _CELLS:,} answers: {ours * 1e3:.0f} ms; "
        f"reading the same columns in bare SQLite {bare * 1e3:.0f} ms: {ours / bare:.1f} x"
    )


def _read_bare(path: Path) -> None:
    driver = sqlite3.connect(path)
    columns = "learner_id, answered_utc_ms, content, age_h, looks_age_h, answer, young_h, old_h"
    driver.execute(f"SELECT {columns} FROM shown_cell WHERE is_final = 1").fetchall()
    driver.close()
