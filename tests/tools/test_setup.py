"""The set-up does only what is needed, and says in plain words what is missing."""

import subprocess
import sys
from pathlib import Path

import pytest

import _setup
import check
import start


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Stand in for the repository; nothing outside is touched."""
    (tmp_path / "pyproject.toml").write_text("[project]", encoding="utf-8")
    monkeypatch.setattr(_setup, "ROOT", tmp_path)
    monkeypatch.setattr(_setup, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(_setup, "STAMP", tmp_path / ".venv" / "stamp.json")
    return tmp_path


@pytest.fixture
def commands(folder, monkeypatch):
    """Note the commands instead of running them; making an environment leaves its Python."""
    noted = []

    def note(command, _tell, env=None):
        noted.append(command)
        if "venv" in command:
            python = _setup.bin_path("python")
            python.parent.mkdir(parents=True, exist_ok=True)
            python.touch()
        return True

    monkeypatch.setattr(_setup, "run_telling", note)
    return noted


def test_prepare_makes_and_installs_once(commands):
    _setup.prepare([], {})
    assert [command[2] for command in commands] == ["venv", "pip"]
    _setup.prepare([], {})
    assert len(commands) == 2


def test_prepare_installs_again_when_pyproject_changes(commands, folder):
    _setup.prepare([], {})
    (folder / "pyproject.toml").write_text("[project]\n", encoding="utf-8")
    _setup.prepare([], {})
    assert [command[2] for command in commands] == ["venv", "pip", "pip"]


def test_prepare_makes_a_new_environment_for_another_python(commands, monkeypatch):
    _setup.prepare([], {})
    monkeypatch.setattr(sys, "version", "3.99.0 (another)")
    _setup.prepare([], {})
    assert [command[2] for command in commands] == ["venv", "pip"] * 2


def test_prepare_adds_extras_and_keeps_them(commands, folder):
    _setup.prepare([], {})
    _setup.prepare(["test"], {})
    _setup.prepare([], {})
    (folder / "pyproject.toml").write_text("[project]\n", encoding="utf-8")
    _setup.prepare([], {})
    targets = [command[-1] for command in commands if command[2] == "pip"]
    assert targets == [str(folder), f"{folder}[test]", f"{folder}[test]"]


def test_prepare_tries_again_after_a_failed_installation(commands, monkeypatch):
    monkeypatch.setattr(_setup, "run_telling", lambda command, _tell, env=None: "venv" in command)
    with pytest.raises(_setup.SetupError, match="network"):
        _setup.prepare([], {})
    assert not _setup.STAMP.exists()


def test_prepare_refuses_an_old_python(commands, monkeypatch):
    monkeypatch.setattr(_setup, "PYTHON_MIN", (4, 0))
    with pytest.raises(_setup.SetupError, match=r"needs Python 4\.0 or newer"):
        _setup.prepare([], {})
    assert commands == []


def test_missing_venv_module_without_root_is_one_command_to_run(commands, monkeypatch):
    monkeypatch.setattr(_setup, "find_spec", lambda name: None)
    monkeypatch.setattr(_setup, "can_use_apt", lambda: False)
    with pytest.raises(_setup.SetupError, match=r"sudo apt-get install python3\.\d+-venv$"):
        _setup.prepare([], {})


@pytest.fixture
def linux_without_a_library(folder, monkeypatch):
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(_setup, "_missing_library", lambda _plugin, _env: "libGL.so.1")


def test_missing_library_without_root_is_named_with_one_command(
    linux_without_a_library, monkeypatch
):
    monkeypatch.setattr(_setup, "can_use_apt", lambda: False)
    with pytest.raises(_setup.SetupError, match=r"libGL\.so\.1.*sudo apt-get install .*libgl1"):
        _setup.ensure_qt_libraries(screen=False, env={})


def test_missing_library_as_root_is_installed(linux_without_a_library, commands, monkeypatch):
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setattr(_setup, "can_use_apt", lambda: True)
    with pytest.raises(_setup.SetupError, match=r"libGL\.so\.1"):  # the pretended one stays away
        _setup.ensure_qt_libraries(screen=True, env={})
    assert [command[:2] for command in commands] == [["apt-get", "update"], ["apt-get", "install"]]
    assert set(_setup.APT_SCREEN) <= set(commands[1])


def test_wayland_without_x_needs_its_own_packages(linux_without_a_library, monkeypatch):
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.setattr(_setup, "can_use_apt", lambda: False)
    with pytest.raises(_setup.SetupError, match="libwayland-cursor0"):
        _setup.ensure_qt_libraries(screen=True, env={})


def test_probe_finds_nothing_missing_here():
    probe = [sys.executable, "-c", _setup._PROBE, "libqoffscreen.so"]
    if not sys.platform.startswith("linux"):
        pytest.skip("only Linux keeps these libraries outside of Qt")
    result = subprocess.run(probe, capture_output=True, text=True, check=False)
    assert (result.returncode, result.stdout) == (0, "")


def test_probe_names_what_does_not_load():
    probe = [sys.executable, "-c", _setup._PROBE, "libqnothing.so"]
    if not sys.platform.startswith("linux"):
        pytest.skip("only Linux keeps these libraries outside of Qt")
    result = subprocess.run(probe, capture_output=True, text=True, check=False)
    assert "libqnothing.so: cannot open shared object file" in result.stdout


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("Downloading scipy-1.17.1-cp311-x86_64.whl (35.1 MB)", "got scipy (35.1 MB)"),
        ("Using cached https://a.b/c/numpy-2.4.6-cp311.whl (16 MB)", "got numpy (16 MB)"),
        ("Downloading numpy-2.4.6-cp311.whl.metadata (6.6 kB)", None),
        (
            "Installing collected packages: a, b",
            "unpacking everything, which takes the longest ...",
        ),
        ("Collecting numpy", None),
        ("", None),
    ],
)
def test_tell_pip(line, sentence):
    assert _setup.tell_pip(line) == sentence


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("Setting up libgl1:amd64 (1.6.0-1) ...", "ready: libgl1"),
        ("Need to get 35.1 MB of archives.", "to download: 35.1 MB"),
        ("Reading package lists...", None),
    ],
)
def test_tell_apt(line, sentence):
    assert _setup.tell_apt(line) == sentence


def test_run_telling_shows_the_last_lines_of_a_failure(capsys):
    failing = [sys.executable, "-c", "print('no space left'); raise SystemExit(3)"]
    assert not _setup.run_telling(failing, lambda _line: None)
    assert "no space left" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("platform", "variables", "expected"),
    [
        ("linux", {}, False),
        ("linux", {"DISPLAY": ":0"}, True),
        ("linux", {"WAYLAND_DISPLAY": "wayland-0"}, True),
        ("darwin", {}, True),
        ("win32", {}, True),
    ],
)
def test_has_screen(monkeypatch, platform, variables, expected):
    monkeypatch.setattr(sys, "platform", platform)
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    assert _setup.has_screen() is expected


@pytest.mark.parametrize(
    ("arguments", "ours", "passed_on"),
    [
        ([], [], []),
        (["--setup-only"], ["--setup-only"], []),
        (["--", "measure", "--", "a.jpg"], [], ["measure", "--", "a.jpg"]),
    ],
)
def test_split_arguments(arguments, ours, passed_on):
    assert start.split_arguments(arguments) == (ours, passed_on)


@pytest.fixture
def started(monkeypatch):
    """Note what start.py would run."""
    noted = []

    def note(command, *, cwd, env, check):
        noted.append((command[3:], cwd))
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(start, "prepare", lambda _extras, _env: None)
    monkeypatch.setattr(start, "ensure_qt_libraries", lambda **_options: None)
    monkeypatch.setattr(subprocess, "run", note)
    return noted


def test_start_opens_the_window_where_there_is_a_screen(started, monkeypatch, capsys):
    monkeypatch.setattr(start, "has_screen", lambda: True)
    assert start.main([]) == 0
    assert started == [([], start.ROOT)]
    assert capsys.readouterr().out == ""


def test_start_says_in_one_sentence_why_it_runs_the_demonstration(started, monkeypatch, capsys):
    monkeypatch.setattr(start, "has_screen", lambda: False)
    assert start.main([]) == 0
    assert started == [(["demo", "--out", "larvasight-demo"], start.ROOT)]
    assert "no screen" in capsys.readouterr().out.splitlines()[0]


def test_start_passes_arguments_on_and_stays_in_the_folder(started):
    assert start.main(["--", "draw", "--out", "x"]) == 0
    assert started == [(["draw", "--out", "x"], None)]


def test_start_ends_with_the_sentence_of_a_failed_setup(monkeypatch, capsys):
    def fail(_extras, _env):
        raise _setup.SetupError("No network.")

    monkeypatch.setattr(start, "prepare", fail)
    assert start.main([]) == 1
    assert capsys.readouterr().out == "No network.\n"


@pytest.mark.parametrize(("failing", "status"), [([], 0), (["lint", "tests"], 1)])
def test_check_runs_every_step_and_fails_if_any_failed(monkeypatch, capsys, failing, status):
    ran = []

    def run_step(name, _command, _env):
        ran.append(name)
        return name not in failing

    for name in ("prepare", "ensure_qt_libraries", "ensure_test_programs"):
        monkeypatch.setattr(check, name, lambda *_positional, **_named: None)
    monkeypatch.setattr(check, "run_step", run_step)
    assert check.main([]) == status
    assert ran == ["format", "lint", "types", "imports", "tests"]
    assert (
        capsys.readouterr()
        .out.splitlines()[-1]
        .startswith(f"failed: {', '.join(failing)}" if failing else "all checks passed")
    )


def test_check_passes_long_on_to_the_tests_only():
    with_long = [name for name, command in check.steps(long=True).items() if "--long" in command]
    assert with_long == ["tests"]


def test_continuous_integration_runs_the_same_check():
    script = Path(_setup.__file__).parents[1] / ".ci" / "run"
    assert "exec python3 tools/check.py" in script.read_text(encoding="utf-8")
