"""The layers hold, and only the window and the paper need Qt."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "larvasight"
WITH_QT = {"app", "paper"}
LINES_MAX = 400

PARTS = sorted(
    path.stem
    for path in PACKAGE.iterdir()
    if (path.suffix == ".py" or (path / "__init__.py").exists()) and not path.stem.startswith("_")
)

IMPORT_ALL = """
import importlib, pkgutil, sys
for name in ("PySide6", "shiboken6"):
    sys.modules[name] = None
part = importlib.import_module("larvasight." + sys.argv[1])
for module in pkgutil.walk_packages(getattr(part, "__path__", []), part.__name__ + "."):
    importlib.import_module(module.name)
"""


def run_python(*arguments):
    return subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )


def test_imports_point_down_only():
    lint = "from importlinter.cli import lint_imports_command as lint; lint(['--no-cache'])"
    result = run_python("-c", lint)
    assert result.returncode == 0, result.stdout + result.stderr


@pytest.mark.parametrize("part", [part for part in PARTS if part not in WITH_QT])
def test_part_imports_without_qt(part):
    result = run_python("-W", "error", "-c", IMPORT_ALL, part)
    assert result.returncode == 0, result.stderr


@pytest.mark.parametrize("folder", ["larvasight", "tools"])
def test_modules_stay_short(folder):
    lines = {
        str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines())
        for path in (ROOT / folder).rglob("*.py")
    }
    assert {name: n for name, n in lines.items() if n > LINES_MAX} == {}
