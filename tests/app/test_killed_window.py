"""Killed at any moment of a drill, the window loses no answer that it showed as given."""

import json
import os
import sqlite3
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from larvasight.records.store import Store

DRIVEN = Path(__file__).with_name("driven_window.py")
LIMIT_S = 120.0


def run_and_kill(data, seed, n_lines, command=(str(DRIVEN), "--click"), limit_s=LIMIT_S):
    """Let the window answer by itself and kill it once it has said ``n_lines`` answers.

    It is killed after ``limit_s`` at the latest, so that nobody waits for a window that hangs.
    """
    env = os.environ | {"LARVASIGHT_DATA": str(data), "QT_QPA_PLATFORM": "offscreen"}
    said = []
    with subprocess.Popen(
        [sys.executable, *command, str(seed)],
        env=env,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    ) as window:
        watchdog = threading.Timer(limit_s, window.kill)
        watchdog.start()
        try:
            for line in window.stdout:
                said.append(line)
                if len(said) >= n_lines:
                    break
            window.kill()
            said += window.stdout.readlines()
        finally:
            watchdog.cancel()
    assert len(said) >= n_lines, f"only {len(said)} answers within {limit_s} s"
    # The last line may be cut off by the kill.
    return [json.loads(line) for line in said if line.endswith("\n")]


def test_a_window_that_hangs_is_not_waited_for(tmp_path):
    silent = ("-c", "print('{}', flush=True); import time; time.sleep(600)")
    begun_s = time.monotonic()
    with pytest.raises(AssertionError, match="only 1 answers within 1"):
        run_and_kill(tmp_path, 0, 2, silent, 1.5)
    assert time.monotonic() - begun_s < 60.0


def check_kept(data, said):
    records = sqlite3.connect(data / "records.db")
    kept = {
        cell_id: (answer, is_final)
        for cell_id, answer, is_final in records.execute(
            "SELECT id, answer, is_final FROM shown_cell"
        )
    }
    assert records.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    records.close()
    for answer in said:
        found, is_final = kept[answer["id"]]
        assert found == answer["answer"]
        assert is_final or not answer["is_told"]


def kill_often(data, n_kills):
    with Store.open(data / "records.db", now=datetime.now(UTC)) as store:
        store.add_learner("Solveig", now=datetime.now(UTC))
    rng = np.random.default_rng(7)
    n_said = 0
    for seed in range(n_kills):
        said = run_and_kill(data, seed, int(rng.integers(1, 90)))
        check_kept(data, said)
        n_said += len(said)
    assert n_said >= n_kills


def test_three_kills_lose_nothing(tmp_path):
    kill_often(tmp_path, 3)


@pytest.mark.long
def test_thirty_kills_lose_nothing(tmp_path):
    kill_often(tmp_path, 30)
