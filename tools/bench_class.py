"""Time of a class of 200 learners with 60,000 answers beside reading the same rows bare.

Called by bench.py.
"""

from __future__ import annotations

import sqlite3
import statistics
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import UUID

import numpy as np

from larvasight.desk.class_view import class_of
from larvasight.desk.reporting import local_zone
from larvasight.records.store import Store

if TYPE_CHECKING:
    from collections.abc import Callable

_LEARNERS, _CELLS = 200, 300
_ROUND_CELLS, _DAY_CELLS = 30, 60


def bench_class(repeats: int) -> str:
    """Return the line that is printed."""
    now = datetime.now(UTC)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "records.db"
        with Store.open(path, now=now) as store:
            learners = [store.add_learner(f"Bench {k}", now=now) for k in range(_LEARNERS)]
            _fill(path, [str(learner.id) for learner in learners], now)
            ours = _median_s(lambda: class_of(store, now=now, tz=local_zone()), repeats)
        bare = _median_s(lambda: _read_bare(path), repeats)
    return (
        f"class of {_LEARNERS}, {_LEARNERS * _CELLS:,} answers: {ours * 1e3:.0f} ms; "
        f"reading the same columns in bare SQLite {bare * 1e3:.0f} ms: {ours / bare:.1f} x"
    )


def _fill(path: Path, learner_ids: list[str], now: datetime) -> None:
    """Put answers straight into the file: 60 a day, lines from 24 to 44 h."""
    rng = np.random.default_rng(5)
    rounds, cells = [], []
    for who, learner_id in enumerate(learner_ids):
        old_h, ages_h = rng.uniform(24.0, 44.0), rng.uniform(0.0, 60.0, _CELLS)
        taken = rng.random(_CELLS) < 1.0 / (1.0 + np.exp((ages_h - old_h) / 2.0))
        for k, (age_h, is_taken) in enumerate(zip(ages_h.tolist(), taken.tolist(), strict=True)):
            number = who * _CELLS + k
            days_ago = (_CELLS - 1 - k) // _DAY_CELLS
            at = now - timedelta(days=days_ago, seconds=3 * (_DAY_CELLS - k % _DAY_CELLS))
            ms = int(at.timestamp() * 1000.0)
            round_id = str(UUID(int=number // _ROUND_CELLS + 1))
            if k % _ROUND_CELLS == 0:
                kind = ("take-or-leave", "after-each", "drawn", "{}")
                rounds.append((round_id, learner_id, *kind, ms, ms + 90_000))
            place = (round_id, learner_id, "take-or-leave", 1, 1, k % _ROUND_CELLS, None)
            answer = ("take" if is_taken else "leave", 900, 1, "after-each")
            told = ("larva", age_h, age_h, 2.0, 150.0, "plenty", 1, *answer)
            limits = (6.0, 12.0, 24.0, 30.0, "0", None)
            cells.append((str(UUID(int=(1 << 64) + number)), *place, *told, *limits, ms, ms))
    driver = sqlite3.connect(path)
    with driver:
        driver.executemany(f"INSERT INTO comb_round VALUES ({_marks(8)})", rounds)
        driver.executemany(f"INSERT INTO shown_cell VALUES ({_marks(27)})", cells)
    driver.close()


def _marks(n: int) -> str:
    return ", ".join("?" * n)


def _read_bare(path: Path) -> None:
    driver = sqlite3.connect(path)
    columns = "learner_id, answered_utc_ms, content, age_h, looks_age_h, answer, young_h, old_h"
    driver.execute(f"SELECT {columns} FROM shown_cell WHERE is_final = 1").fetchall()
    driver.close()


def _median_s(call: Callable[[], object], repeats: int) -> float:
    call()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return statistics.median(times)
