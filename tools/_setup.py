"""What start.py and check.py share: the environment, the installation, Qt's libraries.

Standard library only, because it runs before anything is installed.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections import deque
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMP = VENV / "larvasight-installed.json"
PYTHON_MIN = (3, 11)

# Debian's names for what PySide6-Essentials loads from the system, found by adding one
# package at a time to a bare Debian 12.
APT_OFFSCREEN = (
    "libglib2.0-0",
    "libgl1",
    "libegl1",
    "libxkbcommon0",
    "libfontconfig1",
    "libdbus-1-3",
)
APT_SCREEN = (
    *APT_OFFSCREEN,
    "libxcb-cursor0",
    "libxcb-icccm4",
    "libxcb-keysyms1",
    "libxkbcommon-x11-0",
    "libxcb-shape0",
)
APT_WAYLAND = (*APT_OFFSCREEN, "libwayland-client0", "libwayland-cursor0")

# Prints nothing when Qt's libraries load, else the system's message naming the missing one.
_PROBE = """
import ctypes, importlib.util, pathlib, sys
qt = pathlib.Path(importlib.util.find_spec("PySide6").submodule_search_locations[0]) / "Qt"
try:
    for part in ("lib/libQt6Widgets.so.6", "plugins/platforms/" + sys.argv[1]):
        for library in sorted(qt.glob(part)) or [qt / part]:
            ctypes.CDLL(str(library))
except OSError as error:
    print(error)
"""


class SetupError(Exception):
    """The set-up cannot go on; the message is what to tell the person."""


def say(sentence: str) -> None:
    """Print one line at once, also into a pipe."""
    print(sentence, flush=True)


def bin_path(name: str) -> Path:
    """Return where the environment keeps the program ``name`` on this system."""
    if os.name == "nt":
        return VENV / "Scripts" / f"{name}.exe"
    return VENV / "bin" / name


def has_screen() -> bool:
    """Tell whether a window could be shown."""
    if not sys.platform.startswith("linux"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def child_environment() -> dict[str, str]:
    """Return the environment for the installed Python, without other Pythons' paths."""
    kept_out = {"PYTHONHOME", "PYTHONPATH", "__PYVENV_LAUNCHER__"}
    return {name: value for name, value in os.environ.items() if name not in kept_out}


def run_telling(
    command: Sequence[str], tell: Callable[[str], str | None], env: dict[str, str] | None = None
) -> bool:
    """Run a command, print what ``tell`` makes of each line, and its last lines if it fails.

    Parameters
    ----------
    command : sequence of str
        Program and arguments.
    tell : callable
        Gets one line of output, returns the sentence to print or None.
    env : dict, optional
        Environment of the command; ours without it.

    Returns
    -------
    bool
        True when the command exited with status 0.
    """
    last_lines: deque[str] = deque(maxlen=15)
    with subprocess.Popen(
        list(command),
        env=env,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        errors="replace",
    ) as process:
        for line in process.stdout or ():
            last_lines.append(line.rstrip())
            sentence = tell(line.strip())
            if sentence:
                say(f"  {sentence}")
    if process.returncode != 0:
        say("The last lines it said:")
        for line in last_lines:
            say(f"    {line}")
    return process.returncode == 0


def prepare(extras: Sequence[str], env: dict[str, str]) -> None:
    """Make the environment and install larvasight into it, unless that is already done.

    Parameters
    ----------
    extras : sequence of str
        Extras of pyproject.toml that are needed; those installed earlier stay.
    env : dict
        Environment for the commands.

    Raises
    ------
    SetupError
        When something is missing that cannot be installed from here.
    """
    if sys.version_info < PYTHON_MIN:
        raise SetupError(
            f"larvasight needs Python {PYTHON_MIN[0]}.{PYTHON_MIN[1]} or newer; "
            f"this is {sys.version.split()[0]}."
        )
    key = _installation_key()
    installed_key, installed_extras = _read_stamp()
    if installed_key == key and set(extras) <= installed_extras and bin_path("python").exists():
        return
    wanted = sorted({*extras, *installed_extras})
    if _venv_key() != key.split("-")[0] or not bin_path("python").exists():
        _make_venv(env)
    _install(wanted, env)
    STAMP.write_text(json.dumps({"key": key, "extras": wanted}), encoding="utf-8")


def _environment_key() -> str:
    """Say which Python made the environment and where it lies: it works only there."""
    identity = f"{sys.version}|{sys.platform}|{VENV}"
    return hashlib.sha256(identity.encode()).hexdigest()[:16]


def _installation_key() -> str:
    wishes = (ROOT / "pyproject.toml").read_bytes()
    return f"{_environment_key()}-{hashlib.sha256(wishes).hexdigest()[:16]}"


def _read_stamp() -> tuple[str, set[str]]:
    try:
        stamp = json.loads(STAMP.read_text(encoding="utf-8"))
        return str(stamp["key"]), {str(extra) for extra in stamp["extras"]}
    except (OSError, ValueError, KeyError, TypeError):
        return "", set()


def _venv_key() -> str:
    return _read_stamp()[0].split("-")[0]


def _make_venv(env: dict[str, str]) -> None:
    if find_spec("ensurepip") is None or find_spec("venv") is None:
        _add_venv_module()
    say("Making an environment for larvasight in .venv ...")
    made = run_telling(
        [sys.executable, "-m", "venv", "--clear", str(VENV)], lambda _line: None, env=env
    )
    if not made:
        raise SetupError("The environment could not be made; see the lines above.")


def _add_venv_module() -> None:
    """Add the part of Python that Debian ships apart."""
    package = f"python{sys.version_info.major}.{sys.version_info.minor}-venv"
    if not can_use_apt():
        raise SetupError(
            "This Python cannot make environments. "
            f"On Debian and Ubuntu run: sudo apt-get install {package}"
        )
    apt_install([package])


def _install(extras: Sequence[str], env: dict[str, str]) -> None:
    say("Installing larvasight and what it needs: 1 to 5 minutes, about 1 GB on disk ...")
    target = f"{ROOT}[{','.join(extras)}]" if extras else str(ROOT)
    python = str(bin_path("python"))
    options = ["--disable-pip-version-check", "--no-input", "--progress-bar", "off"]
    done = run_telling(
        [python, "-m", "pip", "install", *options, "--editable", target], tell_pip, env=env
    )
    if not done:
        raise SetupError("The installation did not finish; is there a network connection?")


def tell_pip(line: str) -> str | None:
    """Put one line of pip's output into plain words, or None when it says nothing new."""
    words = line.split()
    if line.startswith(("Downloading ", "Using cached ")) and len(words) > 1:
        name = words[2] if words[0] == "Using" else words[1]
        name = name.rsplit("/", 1)[-1]
        if name.endswith(".metadata"):
            return None
        size = line[line.index("(") :] if "(" in line else ""
        return f"got {name.split('-')[0]} {size}".rstrip()
    if line.startswith("Installing collected packages"):
        return "unpacking everything, which takes the longest ..."
    return None


def can_use_apt() -> bool:
    """Tell whether Debian packages may be installed here without asking for a password."""
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    return is_root and shutil.which("apt-get") is not None


def apt_install(packages: Sequence[str]) -> None:
    """Install Debian packages as root, saying which ones.

    Raises
    ------
    SetupError
        When apt-get fails.
    """
    say(f"Installing system packages: {' '.join(packages)}")
    env = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    update = ["apt-get", "update"]
    install = ["apt-get", "install", "--yes", "--no-install-recommends", *packages]
    for command in (update, install):
        if not run_telling(command, tell_apt, env=env):
            raise SetupError(f"`{' '.join(command[:2])}` failed; see the lines above.")


def tell_apt(line: str) -> str | None:
    """Put one line of apt-get's output into plain words, or None when it says nothing new."""
    words = line.split()
    if line.startswith("Setting up ") and len(words) > 2:
        return f"ready: {words[2].split(':')[0]}"
    if line.startswith("Need to get "):
        return f"to download: {line.removeprefix('Need to get ').split(' of ')[0]}"
    return None


def ensure_qt_libraries(*, screen: bool, env: dict[str, str]) -> None:
    """Make sure that Qt finds its libraries, which would otherwise end the program.

    Parameters
    ----------
    screen : bool
        True to test for windows, False for drawing in memory only.
    env : dict
        Environment for the test.

    Raises
    ------
    SetupError
        Naming the library that is missing and what to run.
    """
    if not sys.platform.startswith("linux"):
        return
    plugin, packages = _platform(screen=screen)
    missing = _missing_library(plugin, env)
    if missing and can_use_apt():
        say(f"A system library is missing ({missing}).")
        apt_install(packages)
        missing = _missing_library(plugin, env)
    if missing:
        raise SetupError(
            f"A system library is missing ({missing}). On Debian and Ubuntu run: "
            f"sudo apt-get install --no-install-recommends {' '.join(packages)}"
        )


def _platform(*, screen: bool) -> tuple[str, tuple[str, ...]]:
    """Return the file of Qt's plugin for this kind of screen, and the packages it needs."""
    if not screen:
        return "libqoffscreen.so", APT_OFFSCREEN
    if os.environ.get("WAYLAND_DISPLAY") and not os.environ.get("DISPLAY"):
        return "libqwayland*.so", APT_WAYLAND  # more than one file before Qt 6.10
    return "libqxcb.so", APT_SCREEN


def _missing_library(plugin: str, env: dict[str, str]) -> str:
    """Return the library that keeps Qt from loading, or nothing."""
    command = [str(bin_path("python")), "-c", _PROBE, plugin]
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise SetupError("Qt is not installed completely: delete the folder .venv, start again.")
    return done.stdout.strip().split(":")[0]
