"""Lesson and result files: the same out and back, checked, and harmless whoever made them."""

import io
import json
import zipfile
from dataclasses import replace

import jsonschema
import numpy as np
import pytest
from lessons import LIMITS, answered, result, small_lesson
from PIL import Image

from larvasight.desk import homework_zip
from larvasight.desk import lesson_file as lesson_file_module
from larvasight.desk.lesson import comb_of, decoded, make_lesson
from larvasight.desk.lesson_file import lesson_bytes, read_lesson
from larvasight.desk.own_told import OwnTold
from larvasight.desk.result_file import read_result, result_bytes
from larvasight.desk.why import why_true
from larvasight.errors import HomeworkInvalidError
from larvasight.practice import PICK_FROM_PATCH, TAKE_OR_LEAVE, Answer
from larvasight.practice.drills import FIND_YOUR_EDGES
from larvasight.practice.scoring import outcome_of
from larvasight.sheet import Content

N_FUZZED = 200
N_FUZZED_LONG = 2000


@pytest.fixture(scope="module")
def lesson():
    return small_lesson()


@pytest.fixture(scope="module")
def lesson_file(lesson):
    return lesson_bytes(lesson)


@pytest.fixture(scope="module")
def result_file(lesson):
    return result_bytes(result(lesson, "Nele"))


def members_of(file):
    with zipfile.ZipFile(io.BytesIO(file)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def zipped(members):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return stream.getvalue()


def changed(file, main, **changes):
    """Return a file whose own JSON says something else."""
    members = members_of(file)
    members[main] = json.dumps(json.loads(members[main]) | changes).encode()
    return zipped(members)


def test_a_lesson_comes_back_as_it_went_out(lesson, lesson_file):
    again = read_lesson(lesson_file, "week.lvlesson")
    assert (again.id, again.title, again.made_by, again.note) == (
        lesson.id,
        "Week one",
        "Ilse",
        lesson.note,
    )
    assert (again.limits, again.made_at_utc) == (LIMITS, lesson.made_at_utc)
    for task, before in zip(again.tasks, lesson.tasks, strict=True):
        assert (task.drill, task.seed, task.places) == (before.drill, before.seed, before.places)
        assert task.picture == before.picture
        for place in task.places:
            found, was = task.sheet.cells[place], before.sheet.cells[place]
            assert found.content is was.content
            assert found.centre_xy_px == pytest.approx(was.centre_xy_px, abs=1e-3)
            if was.age_h is not None:
                assert found.age_h == pytest.approx(was.age_h, abs=1e-3)
    assert lesson_bytes(again) == lesson_file


def test_a_comb_of_a_lesson_is_the_picture_with_the_cells_asked(lesson):
    comb = comb_of(lesson, 1)
    assert comb.drill == TAKE_OR_LEAVE
    assert comb.pixels.shape == (320, 420, 3)
    assert len(comb.asked) == len(lesson.tasks[1].places)
    assert comb.recipe["lesson"] == str(lesson.id)
    assert comb.recipe["task"] == 1
    again = comb_of(lesson, 1)
    assert {cell.id for cell in comb.asked}.isdisjoint(cell.id for cell in again.asked)
    with pytest.raises(ValueError, match="at must be from 0 to 1, got 2"):
        comb_of(lesson, 2)


def test_what_is_known_of_an_own_photo_goes_with_it(lesson):
    task = lesson.tasks[0]
    larva = next(
        k for k, p in enumerate(task.places) if task.sheet.cells[p].content is Content.LARVA
    )
    known = [OwnTold(band_h=None, is_sure=True) for _ in task.places]
    known[larva] = OwnTold(
        band_h=(10.0, 14.0), known_h=(8.0, 20.0), is_sure=False, note="Checked by hand."
    )
    own = replace(lesson, tasks=(replace(task, own=tuple(known)),))
    again = read_lesson(lesson_bytes(own), "own.lvlesson")
    assert again.tasks[0].own == tuple(known)
    cell = comb_of(again, 0).asked[larva]
    assert cell.age_h == pytest.approx(12.0, abs=1e-9)
    assert not cell.is_plain


def test_a_lesson_is_made_of_fresh_combs_with_the_ages_that_are_wanted():
    told = []
    made = make_lesson(
        [(PICK_FROM_PATCH, 1), (TAKE_OR_LEAVE, 1)],
        title="  Week   two ",
        limits=LIMITS,
        now=small_lesson().made_at_utc,
        rng=np.random.default_rng(5),
        told=told.append,
    )
    assert made.title == "Week two"
    assert told == [1, 2]
    assert [task.drill.key for task in made.tasks] == ["pick-from-patch", "take-or-leave"]
    assert len(made.tasks[1].places) == TAKE_OR_LEAVE.n_asked
    again = read_lesson(lesson_bytes(made), "two.lvlesson")
    assert again.tasks[0].places == made.tasks[0].places


@pytest.mark.parametrize(
    ("title", "n"), [("", 1), ("  ", 1), ("x" * 81, 1), ("Week", 0), ("Week", 41)]
)
def test_a_lesson_without_title_or_combs_is_not_made(title, n):
    with pytest.raises(HomeworkInvalidError, match="A lesson needs"):
        make_lesson(
            [(FIND_YOUR_EDGES, n)],
            title=title,
            limits=LIMITS,
            now=small_lesson().made_at_utc,
            rng=np.random.default_rng(1),
        )


def test_a_result_comes_back_as_it_went_out(lesson):
    made = result(lesson, "Nele")
    gap = replace(made.rounds[1], answers=(*made.rounds[1].answers[:-1], None))
    made = replace(made, rounds=(made.rounds[0], gap))
    assert read_result(result_bytes(made), "nele.lvresult") == made


@pytest.mark.reference("JSON Schema 2020-12, by the jsonschema library's own check of schemas")
@pytest.mark.parametrize("what", ["lesson", "result"])
def test_the_published_schemas_are_schemas(what):
    jsonschema.Draft202012Validator.check_schema(homework_zip._schema(what).schema)


@pytest.mark.reference("WebP container specification: RIFF and WEBP in bytes 0-3 and 8-11")
def test_pictures_are_webp_files_and_nothing_of_them_is_lost_that_an_eye_sees(lesson):
    picture = lesson.tasks[0].picture
    assert (picture[:4], picture[8:12]) == (b"RIFF", b"WEBP")
    comb = comb_of(lesson, 0)
    assert decoded(picture).shape == comb.pixels.shape


@pytest.mark.parametrize("main", ["lesson.json", "result.json"])
def test_another_version_is_refused_and_says_what_to_do(lesson_file, result_file, main):
    file, read = (lesson_file, read_lesson) if main == "lesson.json" else (result_file, read_result)
    with pytest.raises(HomeworkInvalidError, match=r"newer version of larvasight.*install"):
        read(changed(file, main, version=2), "new.file")
    for version in (0, "1", None, True, 1.5):
        with pytest.raises(HomeworkInvalidError, match="does not follow the form"):
            read(changed(file, main, version=version), "odd.file")


def test_one_kind_of_file_is_not_taken_for_the_other(lesson_file, result_file):
    with pytest.raises(HomeworkInvalidError, match=r"a.file is no lesson of larvasight"):
        read_lesson(result_file, "a.file")
    with pytest.raises(HomeworkInvalidError, match=r"a.file is no result of larvasight"):
        read_result(lesson_file, "a.file")
    with pytest.raises(HomeworkInvalidError, match="damaged or no lesson"):
        read_lesson(b"no zip at all", "a.file")


@pytest.mark.parametrize(
    "changes",
    [
        {"id": "7D0A4F06"},
        {"title": ""},
        {"title": "\ud800 half"},
        {"title": "bell\a"},
        {"made_at_utc": "2026-13-41T18:00:00Z"},
        {"made_at_utc": "yesterday"},
        {"limits": {"young_h": 20, "best_young_h": 12, "best_old_h": 22, "old_h": 28}},
        {"limits": {"young_h": 1}},
        {"tasks": []},
        {"tasks": "many"},
    ],
    ids=str,
)
def test_a_lesson_that_says_what_cannot_be_is_refused(lesson_file, changes):
    with pytest.raises(HomeworkInvalidError, match="does not follow the form of a lesson"):
        read_lesson(changed(lesson_file, "lesson.json", **changes), "odd.lvlesson")


@pytest.mark.parametrize(
    "changes",
    [
        {"asked": [0, 0]},
        {"asked": [999]},
        {"asked": [-1]},
        {"drill": "screen-test"},
        {"picture": "../../combs/00.webp"},
        {"picture": "combs/77.webp"},
        {"cells": "combs/01.json"},
        {"seed": -1},
        {"known": [{"is_sure": True}]},
        {"known": [{"is_sure": True, "band_h": [30, 20]}]},
    ],
    ids=str,
)
def test_a_comb_that_cannot_be_is_refused(lesson, changes):
    odd = replace(lesson, tasks=(lesson.tasks[0], replace(lesson.tasks[1])))
    members = members_of(lesson_bytes(odd))
    about = json.loads(members["lesson.json"])
    if "cells" in changes:  # of a picture of another size
        cells = json.loads(members["combs/01.json"])
        cells["photo"]["width_px"] = 421
        members["combs/01.json"] = json.dumps(cells).encode()
    about["tasks"][0] |= changes
    members["lesson.json"] = json.dumps(about).encode()
    with pytest.raises(HomeworkInvalidError, match="does not follow the form of a lesson"):
        read_lesson(zipped(members), "odd.lvlesson")


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("../lesson.json", b"{}"),
        ("combs/00.exe", b"MZ"),
        ("/etc/passwd", b"x"),
        ("combs/02.webp", b"\0" * 40_000_000),
    ],
    ids=["parent folder", "program", "absolute path", "swells"],
)
def test_a_file_that_holds_what_none_holds_is_refused_unread(lesson_file, name, data):
    with pytest.raises(HomeworkInvalidError, match="holds what no lesson holds"):
        read_lesson(zipped(members_of(lesson_file) | {name: data}), "odd.lvlesson")


def test_a_picture_that_is_none_is_refused(lesson_file):
    members = members_of(lesson_file) | {"combs/00.webp": b"RIFF\x10\0\0\0WEBPVP8 no picture"}
    with pytest.raises(HomeworkInvalidError, match="holds a picture that is damaged"):
        read_lesson(zipped(members), "odd.lvlesson")


@pytest.mark.parametrize(
    "changes",
    [
        {"lesson": "none"},
        {"learner": {"id": "7d0a4f06-4b5e-4cf0-9a6f-0f5a4f2d9c11", "name": ""}},
        {"rounds": []},
        {"rounds": 3},
    ],
    ids=str,
)
def test_a_result_that_says_what_cannot_be_is_refused(result_file, changes):
    with pytest.raises(HomeworkInvalidError, match="does not follow the form of a result"):
        read_result(changed(result_file, "result.json", **changes), "odd.lvresult")


def test_a_comb_answered_twice_or_ended_before_it_began_is_refused(lesson):
    twice = result(lesson, "Nele", tasks=(0, 0))
    early = replace(answered(lesson, 0), shown_at_utc=answered(lesson, 1).ended_at_utc)
    first = answered(lesson, 0)
    alike = (first, replace(answered(lesson, 1), round_id=first.round_id))
    odd_rounds = ((early,), alike)
    for odd in (twice, *(result(lesson, "Nele", rounds=rounds) for rounds in odd_rounds)):
        with pytest.raises(HomeworkInvalidError, match="does not follow the form of a result"):
            read_result(result_bytes(odd), "odd.lvresult")


@pytest.mark.parametrize(
    "note",
    [
        "One.\n \nTwo.",
        "Good luck \U0001f469\u200d\U0001f3eb",
        "K\u00f6\u00adnigin\u200b \ufeffraising",
        "bell\a and half \ud800",
        "\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645",
    ],
    ids=["blank line", "joined sign", "unseen signs", "control codes", "Persian"],
)
def test_whatever_a_teacher_writes_can_be_read_by_students(note):
    made = make_lesson(
        [(PICK_FROM_PATCH, 1)],
        title="Week",
        limits=replace(LIMITS, by="A\u200b"),
        now=small_lesson().made_at_utc,
        rng=np.random.default_rng(5),
        made_by=note[:5],
        note=note,
    )
    again = read_lesson(lesson_bytes(made), "week.lvlesson")
    assert again.note
    assert "\u200b" not in again.note
    assert again.limits.by == "A"


def with_json(file, name, change):
    """Return a file one JSON member of which is changed as text."""
    members = members_of(file)
    members[name] = change(members[name].decode()).encode()
    return zipped(members)


@pytest.mark.parametrize("depth", [300, 900, 985, 990])
def test_lists_deep_in_lists_are_refused(lesson_file, result_file, depth):
    nested = "[" * depth + "]" * depth
    about = json.loads(members_of(lesson_file)["lesson.json"])
    about["tasks"][0]["asked"] = ["@", "@"]
    odd = json.dumps(about).replace('"@"', nested)
    with pytest.raises(HomeworkInvalidError):
        read_lesson(with_json(lesson_file, "lesson.json", lambda _text: odd), "odd.lvlesson")
    about = json.loads(members_of(result_file)["result.json"])
    about["learner"]["id"] = "@"
    odd = json.dumps(about).replace('"@"', nested)
    with pytest.raises(HomeworkInvalidError):
        read_result(with_json(result_file, "result.json", lambda _text: odd), "odd.lvresult")


def test_a_picture_that_unfolds_to_too_much_is_refused_by_its_head(lesson_file, monkeypatch):
    stream = io.BytesIO()
    Image.new("RGB", (6400, 300)).save(stream, "WEBP", lossless=True)
    members = members_of(lesson_file) | {"combs/00.webp": stream.getvalue()}
    cells = json.loads(members["combs/00.json"])
    cells["photo"] |= {"width_px": 6400, "height_px": 300}
    members["combs/00.json"] = json.dumps(cells).encode()
    opened = []
    monkeypatch.setattr(lesson_file_module, "decoded", opened.append)
    with pytest.raises(HomeworkInvalidError, match="does not follow the form of a lesson"):
        read_lesson(zipped(members), "odd.lvlesson")
    assert opened == []


@pytest.mark.parametrize(
    "cell",
    [
        {"age_h": 1e300},
        {"age_h": -5.0},
        {"age_h": None},
        {"looks_age_h": 1e300},
        {"length_mm": 0.0},
        {"curl_deg": 1e300},
        {"px_per_mm": 5000.0},
    ],
    ids=str,
)
def test_a_larva_that_cannot_be_told_is_refused(lesson, lesson_file, cell):
    task = lesson.tasks[0]
    place = next(p for p in task.places if task.sheet.cells[p].content is Content.LARVA)

    def change(text):
        cells = json.loads(text)
        cells["cells"][place] |= cell
        return json.dumps(cells)

    with pytest.raises(HomeworkInvalidError, match="does not follow the form of a lesson"):
        read_lesson(with_json(lesson_file, "combs/00.json", change), "odd.lvlesson")


def test_measuring_where_no_age_can_be_seen_is_refused(lesson_file):
    def empty(text):
        cells = json.loads(text)
        for cell in cells["cells"]:
            cell |= {"content": "empty", "age_h": None, "looks_age_h": None}
        return json.dumps(cells)

    def measure(text):
        return text.replace("take-or-leave", "find-your-edges")

    measured = with_json(lesson_file, "lesson.json", measure)
    assert read_lesson(measured, "line.lvlesson").tasks[1].drill == FIND_YOUR_EDGES
    with pytest.raises(HomeworkInvalidError, match="does not follow the form of a lesson"):
        read_lesson(with_json(measured, "combs/01.json", empty), "odd.lvlesson")


def _fuzzed(file, rng):
    """Return a file with bytes changed, cut, doubled, or JSON values put elsewhere."""
    kind = int(rng.integers(5))
    data = bytearray(file)
    if kind == 0:
        for at in rng.integers(0, len(data), int(rng.integers(1, 9))):
            data[at] = int(rng.integers(256))
    elif kind == 1:
        data = data[: int(rng.integers(len(data)))]
    elif kind == 2:
        at = int(rng.integers(len(data)))
        data[at:at] = bytes(rng.integers(0, 256, 20, dtype=np.uint8))
    else:
        members = members_of(file)
        name = [n for n in members if n.endswith(".json")][int(rng.integers(99)) % 2 - 1]
        members[name] = json.dumps(_shaken(json.loads(members[name]), rng)).encode()
        return zipped(members)
    return bytes(data)


_ODD = (None, True, -1, 1e300, 10**30, "", "x" * 5000, [], {}, float("1e-320"), "\ud800", 0)


def _shaken(value, rng, chance=0.06):
    if rng.random() < chance:
        return _ODD[int(rng.integers(len(_ODD)))]
    if isinstance(value, dict):
        return {key: _shaken(one, rng, chance / 2) for key, one in value.items()}
    if isinstance(value, list):
        return [_shaken(one, rng, chance / 2) for one in value]
    return value


def _survives(lesson_file, result_file, seeds):
    """Read changed files; return the sentences of those refused. Those read can be played."""
    refused = []
    for seed in seeds:
        rng = np.random.default_rng([seed, 77])
        file = (lesson_file, result_file)[seed % 2]
        try:
            if seed % 2 == 0:
                _play(read_lesson(_fuzzed(file, rng), "odd.file"))
            else:
                read_result(_fuzzed(file, rng), "odd.file")
        except HomeworkInvalidError as error:
            refused.append(str(error))
    return refused


def _play(lesson):
    for at in range(len(lesson.tasks)):
        comb = comb_of(lesson, at)
        for index, cell in enumerate(comb.asked):
            outcome_of(cell, Answer.TAKE, lesson.limits)
            why_true(comb.cell_of(index), comb.sheet, lesson.limits)


def test_files_changed_by_chance_are_read_or_refused_in_one_sentence(lesson_file, result_file):
    refused = _survives(lesson_file, result_file, range(N_FUZZED))
    assert 0.7 * N_FUZZED < len(refused) <= N_FUZZED
    assert all(said.endswith("so nothing was changed.") and "\n" not in said for said in refused)


@pytest.mark.long
def test_many_more_files_changed_by_chance(lesson_file, result_file):
    refused = _survives(lesson_file, result_file, range(N_FUZZED, N_FUZZED + N_FUZZED_LONG))
    assert 0.7 * N_FUZZED_LONG < len(refused) <= N_FUZZED_LONG
