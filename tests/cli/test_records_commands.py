"""Records as a person or a script asks for them: what is printed, written and left alone."""

import csv
import os
import subprocess
import sys
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from larvasight.cli.main import run
from larvasight.records.store import Store

NOW = datetime(2026, 5, 20, 12, 0, tzinfo=UTC)
FULL = Path("/dev/full")


def names_at(folder):
    with Store.open(folder / "records.db", now=NOW) as store:
        return [learner.name for learner in store.learners()]


def fails_with_one_line(arguments, capsys, status=1):
    assert run([str(argument) for argument in arguments]) == status
    told = capsys.readouterr()
    assert told.out == ""
    assert "Traceback" not in told.err
    if status == 1:
        assert len(told.err.splitlines()) == 1
    return told.err


def test_learners_are_listed_with_cells_and_last_day(data, capsys):
    assert run(["learners"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines == ["Jon: 0 cells judged", "Mira Wabe: 1 cell judged, last on 2026-05-20"]
    assert [path.name for path in data.iterdir()] == ["records.db"]


def test_records_without_learners_say_so(tmp_path, capsys):
    Store.open(tmp_path / "records.db", now=NOW).close()
    assert run(["learners", "--data", str(tmp_path)]) == 0
    assert capsys.readouterr().out == "Nobody has practised yet.\n"


def test_the_teachers_table_has_rows_for_everybody(data, tmp_path, capsys):
    table = tmp_path / "table.csv"
    assert run(["learners", "--csv", str(table)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == f"The table is in {table}."
    rows = list(csv.DictReader(table.read_text(encoding="utf-8-sig").splitlines()))
    assert [(row["learner"], row["day"]) for row in rows] == [
        ("Jon", "all"),
        ("Mira Wabe", "2026-05-20"),
        ("Mira Wabe", "all"),
    ]
    assert {"d_prime", "criterion"} <= set(rows[0])


def test_a_report_is_written_for_a_name_in_any_case(data, tmp_path, capsys):
    out = tmp_path / "page.pdf"
    assert run(["report", "mira  WABE", "--out", str(out)]) == 0
    assert capsys.readouterr().out == f"{out}\n"
    assert out.read_bytes().startswith(b"%PDF-")


def test_a_report_of_nobody_is_one_line(data, tmp_path, capsys):
    out = tmp_path / "page.pdf"
    line = fails_with_one_line(["report", "Ada", "--out", out], capsys)
    assert line == 'No learner is called "Ada"; the records know Jon, Mira Wabe.\n'
    assert not out.exists()


@pytest.mark.parametrize("command", [["report", "Mira Wabe", "--out"], ["learners", "--csv"]])
def test_files_of_another_kind_are_not_overwritten(data, command, capsys):
    records = data / "records.db"
    before = records.read_bytes()
    assert "must end in" in fails_with_one_line([*command, records], capsys, status=2)
    assert records.read_bytes() == before


def test_a_file_that_cannot_be_written_is_one_line(data, tmp_path, capsys):
    nowhere = tmp_path / "nowhere"
    for command in (
        ["report", "Jon", "--out", nowhere / "page.pdf"],
        ["learners", "--csv", nowhere / "table.csv"],
        ["backup", nowhere / "all.larvabackup"],
    ):
        assert "cannot be written" in fails_with_one_line(command, capsys)
    assert not nowhere.exists()


@pytest.mark.parametrize(
    "command",
    [["report", "Mira", "--out", "a.pdf"], ["learners", "--csv", "a.csv"], ["backup", "a.zip"]],
    ids=lambda command: command[0],
)
def test_missing_records_are_one_line_and_none_are_made(tmp_path, monkeypatch, command, capsys):
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / "empty"
    line = fails_with_one_line([*command, "--data", folder], capsys)
    assert line.startswith(f"There are no records in {folder} yet")
    assert list(tmp_path.iterdir()) == []


def test_damaged_records_are_one_line(data, capsys):
    (data / "records.db").write_bytes(b"no records at all\n" * 99)
    assert "is damaged" in fails_with_one_line(["learners"], capsys)


def test_a_backup_brings_everybody_back(data, tmp_path, capsys):
    file, other = tmp_path / "all.larvabackup", tmp_path / "other"
    assert run(["backup", str(file)]) == 0
    assert capsys.readouterr().out == f"{file}\n"
    assert run(["backup", str(file)]) == 0  # an earlier backup may be replaced
    capsys.readouterr()
    assert run(["restore", str(file), "--data", str(other)]) == 0
    assert capsys.readouterr().out == f"Brought back 2 learners from {file}.\n"
    assert names_at(other) == ["Jon", "Mira Wabe"]


def test_restoring_keeps_what_was_there(data, tmp_path, capsys):
    file = tmp_path / "all.larvabackup"
    run(["backup", str(file)])
    with Store.open(data / "records.db", now=NOW) as store:
        store.add_learner("Ada", now=NOW)
    capsys.readouterr()
    assert run(["restore", str(file)]) == 0
    kept = Path(capsys.readouterr().out.splitlines()[1].split(" kept as ")[1].rstrip("."))
    assert names_at(data) == ["Jon", "Mira Wabe"]
    with Store.open(kept, now=NOW) as store:
        assert [learner.name for learner in store.learners()] == ["Ada", "Jon", "Mira Wabe"]


def test_photos_that_cannot_be_backed_up_are_named(data, tmp_path, capsys):
    with Store.open(data / "records.db", now=NOW) as store:
        store.add_photo("0" * 64, name="frame.jpg", suffix=".jpg", now=NOW)
    assert run(["backup", str(tmp_path / "all.larvabackup")]) == 0
    assert capsys.readouterr().err.startswith("frame.jpg was left out")


@pytest.mark.parametrize("name", ["records.db", "photo.jpg"])
def test_a_backup_never_replaces_anything_but_a_backup(data, name, capsys):
    file = data / name
    before = file.read_bytes() if file.exists() else b"a photo"
    file.write_bytes(before)
    assert "is no backup" in fails_with_one_line(["backup", file], capsys, status=2)
    assert file.read_bytes() == before


@pytest.mark.parametrize("content", [None, b"", b"no backup", "zip"])
def test_what_is_no_backup_changes_nothing(data, tmp_path, content, capsys):
    file = tmp_path / "all.larvabackup"
    if content == "zip":
        with zipfile.ZipFile(file, "w") as archive:
            archive.writestr("notes.txt", "no backup")
    elif content is not None:
        file.write_bytes(content)
    before = (data / "records.db").read_bytes()
    assert "nothing was changed" in fails_with_one_line(["restore", file], capsys)
    assert (data / "records.db").read_bytes() == before


def test_restoring_while_the_window_is_open_is_one_line(data, tmp_path, capsys):
    file = tmp_path / "all.larvabackup"
    run(["backup", str(file)])
    capsys.readouterr()
    with Store.open(data / "records.db", now=NOW) as window:
        window.learners()
        line = fails_with_one_line(["restore", file], capsys)
    assert "close that program" in line
    assert names_at(data) == ["Jon", "Mira Wabe"]


def larvasight(*arguments, **streams):
    command = [sys.executable, "-m", "larvasight", *arguments]
    return subprocess.run(command, check=False, text=True, timeout=60, **streams)


@pytest.mark.skipif(not FULL.exists(), reason="this system has no disk that is always full")
@pytest.mark.parametrize("arguments", [["learners"], ["--help"]])
def test_a_full_disk_under_the_output_is_one_line(data, arguments):
    with FULL.open("w") as full:
        result = larvasight(*arguments, stdout=full, stderr=subprocess.PIPE)
    assert result.returncode == 1
    assert result.stderr == "Writing failed: no space left on device.\n"


def test_names_are_spelt_out_where_there_are_no_letters_for_them(data):
    with Store.open(data / "records.db", now=NOW) as store:
        store.add_learner("Zo\u00eb", now=NOW)
    env = {**os.environ, "PYTHONIOENCODING": "cp437", "PYTHONUTF8": "0"}
    with Store.open(data / "records.db", now=NOW) as store:
        store.add_learner("\u0160\u00e1rka", now=NOW)
    result = larvasight("learners", env=env, stdout=subprocess.PIPE, encoding="cp437")
    assert result.returncode == 0
    assert "Zo\u00eb: 0 cells" in result.stdout
    assert "\\u0160\u00e1rka: 0 cells" in result.stdout
