"""What is installed elsewhere works there: one OpenCV, and a wheel with all its files."""

import importlib.metadata
import json
import os
import subprocess
import sys
import sysconfig
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
OPENCV = [
    "opencv-python",
    "opencv-python-headless",
    "opencv-contrib-python",
    "opencv-contrib-python-headless",
]


def is_installed(name):
    try:
        importlib.metadata.distribution(name)
    except importlib.metadata.PackageNotFoundError:
        return False
    return True


def test_only_the_headless_opencv_is_installed():
    # Two of them overwrite each other's files without a word, and removing one guts the other.
    assert [name for name in OPENCV if is_installed(name)] == ["opencv-python-headless"]


def run(*command, cwd):
    left_out = {"PYTHONPATH", "PYTHONHOME", "DISPLAY", "WAYLAND_DISPLAY"}
    env = {name: value for name, value in os.environ.items() if name not in left_out}
    result = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env=env,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 0, result.stdout + result.stderr
    return result.stdout


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """Install the wheel beside the packages already here; return the folder of programs."""
    folder = tmp_path_factory.mktemp("installed")
    build = ["-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT]
    run(sys.executable, *build, cwd=folder)
    (wheel,) = folder.glob("*.whl")
    venv.create(folder / "env", symlinks=os.name != "nt")
    programs = folder / "env" / ("Scripts" if os.name == "nt" else "bin")
    pip = ["-m", "pip", "--python", programs / "python"]
    run(sys.executable, *pip, "install", "--no-deps", "--no-index", wheel, cwd=folder)
    packages = "import sysconfig; print(sysconfig.get_path('purelib'))"
    own = Path(run(programs / "python", "-c", packages, cwd=folder).strip())
    (own / "packages_already_here.pth").write_text(sysconfig.get_path("purelib"), encoding="utf-8")
    return programs


def test_wheel_brings_its_data(installed, tmp_path):
    where = "from larvasight.render.assets import assets_dir; print(assets_dir())"
    assets = Path(run(installed / "python", "-c", where, cwd=tmp_path).strip())
    assert assets.is_relative_to(installed.parent)
    missing = [
        path.relative_to(ROOT)
        for path in (ROOT / "assets" / "synthetic").rglob("*")
        if path.is_file() and not (assets / path.relative_to(ROOT / "assets/synthetic")).is_file()
    ]
    assert missing == []
    package = assets.parent.parent
    data = [*ROOT.glob("larvasight/**/*.onnx"), *ROOT.glob("larvasight/**/*.json")]
    names = [path.relative_to(ROOT / "larvasight") for path in data]
    assert [name for name in [*names, Path("py.typed")] if not (package / name).is_file()] == []


def test_demo_runs_from_the_wheel(installed, tmp_path):
    run(installed / "larvasight", "demo", "--out", tmp_path / "demo", cwd=tmp_path)
    sheet = json.loads((tmp_path / "demo" / "comb.json").read_text(encoding="utf-8"))
    assert sheet["format"] == "larvasight.sheet"
    assert (tmp_path / "demo" / "comb.png").stat().st_size > 0
