"""The window shows itself first: what is imported by then, in a process of its own."""

import os
import subprocess
import sys

PROGRAM = """
import sys
import larvasight.app.window as own
# Called as soon as the window was painted.
own.Window._begin = lambda window: (print(*sys.modules, flush=True), window.close())
from larvasight.app.main import run_window
run_window(["larvasight"])
"""
OWN = ("dressing", "icon", "main", "parts", "rail", "settings", "theme", "trouble", "window")
HEAVY = {"numpy", "scipy", "cv2", "sqlalchemy", "alembic", "PIL", "skimage"}


def test_nothing_is_imported_before_the_first_paint_but_what_it_needs(tmp_path):
    env = os.environ | {"QT_QPA_PLATFORM": "offscreen", "LARVASIGHT_DATA": str(tmp_path)}
    found = subprocess.run(
        [sys.executable, "-c", PROGRAM],
        env=env,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    modules = set(found.stdout.split())
    own = {name for name in modules if name.startswith("larvasight.")}
    wanted = {f"larvasight.app.{name}" for name in OWN}
    assert own == wanted | {
        *("larvasight.app", "larvasight.errors", "larvasight.paper", "larvasight.paper.qt")
    }
    assert not modules & HEAVY
    assert list(tmp_path.glob("*.db")) == []  # records are opened later
