"""The whole loop in a real window: name, clicks on a comb, why, quit, come back, progress.

Xvfb is the screen and xdotool the hand; the rows in the records must equal the clicks.
"""

import contextlib
import json
import os
import queue
import shutil
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest

DRIVEN = Path(__file__).with_name("driven_window.py")
N_CLICKS = 24
LIMIT_S = 60.0

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux")
    or shutil.which("Xvfb") is None
    or shutil.which("xdotool") is None,
    reason="needs Xvfb and xdotool",
)


@pytest.fixture(scope="module")
def display():
    """Start a screen in memory on a number that the system chooses."""
    reading, writing = os.pipe()
    screen = subprocess.Popen(
        ["Xvfb", "-displayfd", str(writing), "-screen", "0", "1280x800x24", "-nolisten", "tcp"],
        pass_fds=(writing,),
        stderr=subprocess.DEVNULL,
    )
    os.close(writing)
    with os.fdopen(reading) as told:
        number = told.readline().strip()
    yield f":{number}"
    screen.terminate()
    screen.wait(10)


class DrivenWindow:
    """The program in a process of its own, and the hand that clicks on it."""

    def __init__(self, display, data):
        kept = {k: v for k, v in os.environ.items() if k != "QT_QPA_PLATFORM"}
        self.env = kept | {
            "DISPLAY": display,
            "LARVASIGHT_DATA": str(data),
            "QT_QPA_PLATFORM": "xcb",
        }
        self.process = subprocess.Popen(
            [sys.executable, str(DRIVEN)], env=self.env, stdout=subprocess.PIPE, text=True
        )
        self.lines = queue.Queue()
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def _read(self):
        for line in self.process.stdout:
            self.lines.put(line)

    def wait_for(self, holds):
        """Return the first thing told for which ``holds`` is true."""
        last = None
        while True:
            try:
                last = json.loads(self.lines.get(timeout=LIMIT_S))
            except queue.Empty:
                pytest.fail(f"not told in time; last was {last}")
            if holds(last):
                return last

    def hand(self, *arguments):
        subprocess.run(["xdotool", *map(str, arguments)], env=self.env, check=True)

    def focus(self):
        self.hand("search", "--sync", "--onlyvisible", "--name", "larvasight", "windowfocus")

    def click(self, at):
        self.hand("mousemove", *at, "click", 1)

    def quit(self):
        self.hand("key", "ctrl+q")
        assert self.process.wait(LIMIT_S) == 0

    def end(self):
        """End it however it stands, so that a test that failed leaves nothing behind."""
        self.process.kill()
        self.process.wait(LIMIT_S)
        self.reader.join(LIMIT_S)
        self.process.stdout.close()


@pytest.fixture
def open_window(display, tmp_path):
    """Open the program on the same records as often as asked; all are ended in the end."""
    with contextlib.ExitStack() as windows:

        def opened():
            window = DrivenWindow(display, tmp_path)
            windows.callback(window.end)
            return window

        yield opened


def answers(data):
    with sqlite3.connect(f"file:{data / 'records.db'}?mode=ro", uri=True) as records:
        rows = records.execute("SELECT id, answer, is_final, round_id FROM shown_cell").fetchall()
    records.close()
    return {row[0]: row[1:] for row in rows}


def is_asking(told):
    return told.get("state") == "asking"


def test_a_new_student_picks_sees_why_and_finds_the_progress_next_time(open_window, tmp_path):
    window = open_window()
    window.wait_for(lambda told: told["page"] == "Welcome")
    window.focus()
    window.hand("type", "Solveig")
    window.hand("key", "Return")
    start = window.wait_for(lambda told: told.get("state") == "start")
    assert start["learner"] == "Solveig"
    window.click(start["start_xy"])

    comb = window.wait_for(is_asking)
    assert len(comb["cells"]) >= N_CLICKS
    clicked = comb["cells"][:N_CLICKS]
    for n, cell in enumerate(clicked, 1):
        window.click(cell["xy"])
        window.wait_for(lambda told, n=n: [c["rim"] for c in told["cells"]].count("INK") == n)
    kept = answers(tmp_path)
    assert {k for k, row in kept.items() if row[0] == "take"} == {c["id"] for c in clicked}

    window.hand("key", "Return")
    told = window.wait_for(lambda told: told.get("state") == "told")
    assert "h old" in told["why"] or "egg" in told["why"] or "cell" in told["why"]
    window.quit()
    kept = answers(tmp_path)
    assert {k for k, row in kept.items() if row[0] == "take"} == {c["id"] for c in clicked}
    shown = {k for k, row in kept.items() if row[2] == told["round"]}
    assert shown == {c["id"] for c in told["cells"]}
    assert all(kept[k][1] == 1 and kept[k][0] in ("take", "leave") for k in shown)

    again = open_window()
    start = again.wait_for(lambda told: told.get("state") == "start")
    assert start["learner"] == "Solveig"
    again.focus()
    again.hand("key", "ctrl+3")
    progress = again.wait_for(lambda told: "n_answers" in told)
    assert progress["n_answers"] == len(shown)
    assert progress["n_picks"] <= N_CLICKS
    again.quit()
