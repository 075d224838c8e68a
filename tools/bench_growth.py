"""How Progress grows with the records: its time at 1,000 to 1,000,000 answers.

python tools/bench_growth.py
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import numpy as np

from larvasight.desk.reporting import local_zone, told_of
from larvasight.records.store import Store

_SIZES = (1_000, 10_000, 100_000, 1_000_000)
_ROUND_CELLS = 30
_DAY_CELLS = 300


def main() -> None:
    """Fill records and print a line for each size."""
    now = datetime.now(UTC)
    for n in _SIZES:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "records.db"
            with Store.open(path, now=now) as store:
                learner = store.add_learner("Bench", now=now)
            fill(path, str(learner.id), n, now)
            with Store.open(path, now=now) as store:
                ours = min(_timed(store, learner.id, now) for _ in range(3))
            bare = _bare_s(path)
        sys.stdout.write(
            f"{n:9,d} answers: Progress {ours * 1e3:6.0f} ms; "
            f"summing one column in bare SQLite {bare * 1e3:6.1f} ms\n"
        )


def fill(
    path: Path,
    learner_id: str,
    n: int,
    now: datetime,
    *,
    first: int = 0,
    old_h: float = 30.0,
    day_cells: int = _DAY_CELLS,
) -> None:
    """Put answers of combs of 30 cells straight into the file, those of a day one after the other.

    ``first`` numbers the cells, whole combs apart from those that are there; ``old_h`` is the
    oldest age taken half of the time.
    """
    rng = np.random.default_rng([5, first])
    ages_h = rng.uniform(0.0, 60.0, n)
    taken = rng.random(n) < 1.0 / (1.0 + np.exp((ages_h - old_h) / 3.0))
    begin = now - timedelta(days=n // day_cells + 1)
    driver = sqlite3.connect(path)
    rounds, cells = [], []
    for k in range(n):
        at = begin + timedelta(days=k // day_cells, seconds=3 * (k % day_cells))
        ms = int(at.timestamp() * 1000.0)
        round_id = str(UUID(int=(first + k) // _ROUND_CELLS + 1))
        if k % _ROUND_CELLS == 0:
            kind = ("take-or-leave", "after-each", "drawn", "{}")
            rounds.append((round_id, learner_id, *kind, ms, ms + 90_000))
        age_h, answer = float(ages_h[k]), "take" if taken[k] else "leave"
        told = ("larva", age_h, age_h, 2.0, 150.0, "plenty", 1, answer, 900, 1, "after-each")
        place = (round_id, learner_id, "take-or-leave", k % 6, k % 5, k % _ROUND_CELLS, None)
        limits = (6.0, 12.0, 24.0, 30.0)
        cells.append(
            (str(UUID(int=(1 << 64) + first + k)), *place, *told, *limits, "0", None, ms, ms)
        )
    with driver:
        driver.executemany(f"INSERT INTO comb_round VALUES ({_marks(8)})", rounds)
        driver.executemany(f"INSERT INTO shown_cell VALUES ({_marks(27)})", cells)
    driver.close()


def _marks(n: int) -> str:
    return ", ".join("?" * n)


def _timed(store: Store, learner_id: UUID, now: datetime) -> float:
    begun = time.perf_counter()
    told_of(store, learner_id, now=now, tz=local_zone())
    return time.perf_counter() - begun


def _bare_s(path: Path) -> float:
    driver = sqlite3.connect(path)
    begun = time.perf_counter()
    driver.execute("SELECT sum(age_h) FROM shown_cell").fetchall()
    spent = time.perf_counter() - begun
    driver.close()
    return spent


if __name__ == "__main__":
    main()
