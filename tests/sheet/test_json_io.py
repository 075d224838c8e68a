"""The JSON form of a sheet: documented keys, round trips, and refusing what is no sheet."""

import contextlib
import dataclasses
import json
import math
import re

import numpy as np
import pytest

from larvasight.errors import SheetInvalidError
from larvasight.sheet import (
    Cell,
    Content,
    Flag,
    Grade,
    Jelly,
    LatticeInfo,
    PhotoInfo,
    Scale,
    ScaleSource,
    Sheet,
    sheet_from_json,
    sheet_to_dict,
    sheet_to_json,
)


def keys(words):
    return set(words.split())


TOP_KEYS = keys("format version truth age_prior photo scale lattice cells")
PHOTO_KEYS = keys("name width_px height_px sha256")
SCALE_KEYS = keys("pitch_px pitch_mm px_per_mm distance_mm source")
LATTICE_KEYS = keys("row_angle_deg n_cells residual_px flags")
BOTH_KEYS = keys(
    "row col centre_xy_px px_per_mm residual_px confidence content visible_share jelly length_mm"
    " width_mm area_mm2 curl_deg midline_xy_px outline_xy_px age_h grade reason flags"
)
MEASURED_KEYS = BOTH_KEYS | keys("length_mm_sd curl_deg_sd age_h_lo age_h_hi")
TRUTH_KEYS = BOTH_KEYS | keys("looks_age_h")

# Half of the last kept decimal, whatever the unit of the number.
ROUNDING = 0.5e-4


def random_sheet(rng, *, truth, n_cells=None):
    """A sheet with random values of 4 decimals, so that rounding leaves them as they are."""

    def number(low, high):
        return round(float(rng.uniform(low, high)), 4)

    def maybe(value):
        return value if rng.random() < 0.7 else None

    def points():
        return tuple((number(-9, 4000), number(-9, 4000)) for _ in range(rng.integers(0, 5)))

    def flags():
        return tuple(Flag(f) for f in rng.permutation(list(Flag))[: rng.integers(0, 4)])

    def cell():
        spread = {
            "length_mm_sd": maybe(number(0, 1)),
            "curl_deg_sd": maybe(number(0, 40)),
            "age_h_lo": maybe(number(0, 96)),
            "age_h_hi": maybe(number(0, 96)),
        }
        return Cell(
            row=int(rng.integers(-50, 50)),
            col=int(rng.integers(-50, 50)),
            centre_xy_px=(number(-9, 4000), number(-9, 4000)),
            px_per_mm=number(1, 60),
            content=Content(rng.choice(list(Content))),
            residual_px=maybe(number(0, 3)),
            confidence=maybe(number(0, 1)),
            visible_share=maybe(number(0, 1)),
            jelly=maybe(Jelly(rng.choice(list(Jelly)))),
            length_mm=maybe(number(1, 14)),
            width_mm=maybe(number(0.2, 4)),
            area_mm2=maybe(number(0.2, 30)),
            curl_deg=maybe(number(0, 400)),
            midline_xy_px=maybe(points()),
            outline_xy_px=maybe(points()),
            age_h=maybe(number(-74, 96)),
            grade=maybe(Grade(rng.choice(list(Grade)))),
            reason=maybe('A "C", 2.1 mm\nlong \\ ümlaut 蜂 🐝.'),
            flags=flags(),
            **({"looks_age_h": maybe(number(0, 96))} if truth else spread),
        )

    return Sheet(
        truth=truth,
        photo=PhotoInfo(
            name=f"Wabe {rng.integers(9)} é.png", width_px=640, height_px=480, sha256="ab" * 32
        ),
        scale=Scale(
            pitch_px=number(10, 300),
            pitch_mm=number(4.6, 5.6),
            px_per_mm=number(2, 60),
            distance_mm=maybe(number(80, 400)),
            source=ScaleSource(rng.choice(list(ScaleSource))),
        ),
        lattice=LatticeInfo(
            row_angle_deg=number(-29, 30), n_cells=7, residual_px=number(0, 3), flags=flags()
        ),
        cells=tuple(cell() for _ in range(rng.integers(0, 6) if n_cells is None else n_cells)),
    )


@pytest.fixture
def measured():
    return random_sheet(np.random.default_rng(4), truth=False, n_cells=3)


@pytest.fixture
def data(measured):
    """A valid measured sheet as plain values, to be spoilt."""
    return json.loads(sheet_to_json(measured))


def refusal(text):
    """The message with which a text is refused; it must be one plain sentence."""
    with pytest.raises(SheetInvalidError) as refused:
        sheet_from_json(text)
    message = str(refused.value)
    assert message.endswith(".")
    assert not re.search(r"[.!?]\s|\n", message), f"not one sentence: {message}"
    assert len(message) < 120
    return message


@pytest.mark.parametrize(
    ("truth", "cell_keys"), [(False, MEASURED_KEYS), (True, TRUTH_KEYS)], ids=["measured", "truth"]
)
def test_sheet_to_dict_has_exactly_the_documented_keys(truth, cell_keys):
    plain = sheet_to_dict(random_sheet(np.random.default_rng(1), truth=truth, n_cells=5))
    assert set(plain) == TOP_KEYS
    assert set(plain["photo"]) == PHOTO_KEYS
    assert set(plain["scale"]) == SCALE_KEYS
    assert set(plain["lattice"]) == LATTICE_KEYS | (set() if truth else {"by_hand"})
    assert [set(cell) for cell in plain["cells"]] == [cell_keys] * 5


def test_truth_sheet_drops_spread_even_when_it_is_filled():
    cell = Cell(
        row=0,
        col=0,
        centre_xy_px=(0.0, 0.0),
        px_per_mm=20.0,
        content=Content.LARVA,
        length_mm_sd=0.1,
        curl_deg_sd=9.0,
        age_h_lo=3.0,
        age_h_hi=9.0,
    )
    sheet = random_sheet(np.random.default_rng(1), truth=True, n_cells=0)
    text = sheet_to_json(dataclasses.replace(sheet, cells=(cell,)))
    assert not re.search(r"_sd|_lo|_hi", text)


def test_sheet_to_json_head_names_format_version_and_prior(data):
    assert (data["format"], data["version"], data["truth"]) == ("larvasight.sheet", 1, False)
    assert data["age_prior"] == "flat 0-96 h"


@pytest.mark.parametrize("n_cells", [0, 1, 4])
def test_sheet_to_json_writes_one_cell_to_a_line(n_cells):
    text = sheet_to_json(random_sheet(np.random.default_rng(2), truth=False, n_cells=n_cells))
    assert text.endswith("}\n")
    lines = [line for line in text.splitlines() if line.startswith('  {"row"')]
    assert len(lines) == n_cells
    assert len(json.loads(text)["cells"]) == n_cells


@pytest.mark.parametrize("truth", [False, True], ids=["measured", "truth"])
@pytest.mark.parametrize("seed", range(40))
def test_random_sheets_survive_the_round_trip(seed, truth):
    sheet = random_sheet(np.random.default_rng(seed), truth=truth)
    assert sheet_from_json(sheet_to_json(sheet)) == sheet


def test_numbers_are_rounded_to_four_decimals(measured):
    exact = dataclasses.replace(measured.cells[0], length_mm=math.pi, centre_xy_px=(1 / 3, 2 / 3))
    back = sheet_from_json(sheet_to_json(dataclasses.replace(measured, cells=(exact,)))).cells[0]
    assert back.length_mm == pytest.approx(math.pi, rel=0, abs=ROUNDING)
    assert back.centre_xy_px == pytest.approx((1 / 3, 2 / 3), rel=0, abs=ROUNDING)
    assert back.length_mm == 3.1416


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("key", ["length_mm", "length_mm_sd", "curl_deg", "age_h", "confidence"])
def test_what_is_no_number_is_written_as_null_and_read_as_none(measured, key, value):
    cell = dataclasses.replace(measured.cells[0], **{key: value})
    text = sheet_to_json(dataclasses.replace(measured, cells=(cell,)))
    assert json.loads(text, parse_constant=pytest.fail)["cells"][0][key] is None
    assert getattr(sheet_from_json(text).cells[0], key) is None


def test_numpy_floats_are_written_as_numbers(measured):
    cell = dataclasses.replace(measured.cells[0], length_mm=np.float64(2.5), width_mm=np.float64(1))
    text = sheet_to_json(dataclasses.replace(measured, cells=(cell,)))
    assert json.loads(text)["cells"][0]["length_mm"] == 2.5


def test_age_of_an_egg_stays_negative_on_a_truth_sheet():
    sheet = random_sheet(np.random.default_rng(3), truth=True, n_cells=1)
    egg = dataclasses.replace(sheet.cells[0], content=Content.EGG, age_h=-31.5)
    assert sheet_from_json(sheet_to_json(dataclasses.replace(sheet, cells=(egg,)))).cells == (egg,)


def test_letters_of_any_language_stay_readable(measured):
    named = dataclasses.replace(
        measured, photo=dataclasses.replace(measured.photo, name="Bienenäußer 蜂")
    )
    assert "Bienenäußer 蜂" in sheet_to_json(named)


def test_a_file_name_that_is_no_utf8_can_be_written_and_read_back(measured):
    name = b"comb-\xff.png".decode("utf-8", "surrogateescape")
    named = dataclasses.replace(measured, photo=dataclasses.replace(measured.photo, name=name))
    stored = sheet_to_json(named).encode("utf-8")
    assert sheet_from_json(stored.decode("utf-8")) == named


def test_unknown_keys_are_ignored_everywhere(data, measured):
    for place in (data, data["photo"], data["scale"], data["lattice"], *data["cells"]):
        place["added_later"] = {"anything": [1, None]}
    assert sheet_from_json(json.dumps(data)) == measured


def test_missing_optional_keys_are_none(data):
    required = {"row", "col", "centre_xy_px", "px_per_mm", "content"}
    data["cells"] = [{key: data["cells"][0][key] for key in required}]
    cell = sheet_from_json(json.dumps(data)).cells[0]
    left = {f.name: getattr(cell, f.name) for f in dataclasses.fields(cell)}
    assert left.pop("flags") == ()
    assert {name for name, value in left.items() if value is not None} == required


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "not json",
        "\x89PNG\r\n\x1a\n\x00",
        "\ufeff{}",
        "[" * 100_000,
        '{"format": "larvasight.sheet", "version": 1, "n": ' + "9" * 5000 + "}",
        '{"format": "larvasight.sheet", "version": NaN}',
    ],
    ids=["empty", "cut off", "words", "picture", "byte mark", "deep", "long number", "nan"],
)
def test_what_is_not_json_is_refused(text):
    assert refusal(text) == "This file is not a larvasight sheet: it is not JSON."


@pytest.mark.parametrize("text", ["null", "3", "[]", '"larvasight.sheet"', "{}", '{"format": []}'])
def test_json_that_is_no_sheet_is_refused(text):
    assert refusal(text) == "This file is not a larvasight sheet."


@pytest.mark.parametrize(
    ("version", "told"),
    [
        (2, "2"),
        (0, "0"),
        (-1, "-1"),
        ("1", "unknown"),
        (True, "unknown"),
        (None, "unknown"),
        ([1], "unknown"),
        (1.5, "unknown"),
        (10**400, "unknown"),
    ],
)
def test_another_version_is_refused(data, version, told):
    data["version"] = version
    assert (
        refusal(json.dumps(data)) == f"The version of this sheet is {told}; version 1 can be read."
    )


@pytest.mark.parametrize(
    ("path", "value", "named"),
    [
        (("truth",), "yes", '"truth"'),
        (("truth",), None, '"truth"'),
        (("truth",), 1, '"truth"'),
        (("cells",), None, '"cells"'),
        (("cells",), {"0": {}}, '"cells"'),
        (("cells", 1), None, '"cells[1]"'),
        (("cells", 2), [], '"cells[2]"'),
        (("photo",), None, '"photo"'),
        (("scale",), [], '"scale"'),
        (("lattice",), "flat", '"lattice"'),
        (("photo", "name"), 5, '"photo.name"'),
        (("photo", "name"), None, '"photo.name"'),
        (("photo", "width_px"), 10.5, '"photo.width_px"'),
        (("photo", "width_px"), "10", '"photo.width_px"'),
        (("photo", "width_px"), True, '"photo.width_px"'),
        (("scale", "pitch_px"), None, '"scale.pitch_px"'),
        (("scale", "pitch_px"), False, '"scale.pitch_px"'),
        (("scale", "pitch_px"), 10**400, '"scale.pitch_px"'),
        (("scale", "distance_mm"), "far", '"scale.distance_mm"'),
        (("scale", "source"), "guess", '"scale.source"'),
        (("scale", "source"), None, '"scale.source"'),
        (("lattice", "n_cells"), 3.0, '"lattice.n_cells"'),
        (("lattice", "flags"), None, '"lattice.flags"'),
        (("lattice", "flags"), "tilted", '"lattice.flags"'),
        (("lattice", "flags"), ["wobbly"], '"lattice.flags"'),
        (("cells", 0, "row"), 1.5, '"cells[0].row"'),
        (("cells", 0, "content"), "bee", '"cells[0].content"'),
        (("cells", 0, "content"), ["larva"], '"cells[0].content"'),
        (("cells", 0, "content"), {}, '"cells[0].content"'),
        (("cells", 0, "content"), None, '"cells[0].content"'),
        (("cells", 0, "jelly"), "some", '"cells[0].jelly"'),
        (("cells", 0, "grade"), "good", '"cells[0].grade"'),
        (("cells", 0, "reason"), 4, '"cells[0].reason"'),
        (("cells", 0, "length_mm"), "2.1", '"cells[0].length_mm"'),
        (("cells", 0, "length_mm"), [2.1], '"cells[0].length_mm"'),
        (("cells", 0, "centre_xy_px"), [1.0], '"cells[0].centre_xy_px"'),
        (("cells", 0, "centre_xy_px"), [1.0, 2.0, 3.0], '"cells[0].centre_xy_px"'),
        (("cells", 0, "centre_xy_px"), "12", '"cells[0].centre_xy_px"'),
        (("cells", 0, "centre_xy_px"), {"x": 1.0, "y": 2.0}, '"cells[0].centre_xy_px"'),
        (("cells", 0, "midline_xy_px"), [[1.0]], '"cells[0].midline_xy_px"'),
        (("cells", 0, "midline_xy_px"), [1.0, 2.0], '"cells[0].midline_xy_px"'),
        (("cells", 0, "outline_xy_px"), [[1.0, None]], '"cells[0].outline_xy_px"'),
        (("cells", 0, "flags"), [3], '"cells[0].flags"'),
    ],
    ids=lambda value: ".".join(map(str, value)) if isinstance(value, tuple) else None,
)
def test_a_value_of_the_wrong_kind_is_refused_by_its_name(data, path, value, named):
    place = data
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    assert named in refusal(json.dumps(data))


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_numbers_that_are_none_are_refused(data, number):
    data["scale"]["pitch_px"] = "HERE"
    refusal(json.dumps(data).replace('"HERE"', number))


@pytest.mark.parametrize(
    ("where", "key"),
    [("photo", "sha256"), ("scale", "pitch_mm"), ("scale", "distance_mm"), ("lattice", "n_cells")],
)
def test_a_missing_required_key_is_refused(data, where, key):
    del data[where][key]
    assert refusal(json.dumps(data)) == f'A required key is missing in "{where}" of this sheet.'


def _leaves(value, path=()):
    if isinstance(value, dict | list) and value:
        items = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in items:
            yield from _leaves(inner, (*path, key))
    yield path


STRANGE = [None, True, -1, 0, 1e308, 10**400, "", "x" * 9, [], {}, [[]], [None], {"row": 1}, "🐝"]


@pytest.mark.parametrize("seed", range(8))
def test_any_spoilt_value_is_read_or_refused_but_never_crashes(seed):
    rng = np.random.default_rng(seed)
    whole = json.loads(sheet_to_json(random_sheet(rng, truth=bool(seed % 2), n_cells=2)))
    paths = [path for path in _leaves(whole) if path]
    n_refused = 0
    for path in paths:
        spoilt = json.loads(json.dumps(whole))
        place = spoilt
        for key in path[:-1]:
            place = place[key]
        place[path[-1]] = STRANGE[rng.integers(len(STRANGE))]
        try:
            assert isinstance(sheet_from_json(json.dumps(spoilt)), Sheet)
        except SheetInvalidError:
            n_refused += 1
    assert n_refused > len(paths) / 3


@pytest.mark.parametrize("seed", range(4))
def test_text_cut_or_altered_anywhere_is_read_or_refused_but_never_crashes(seed):
    rng = np.random.default_rng(100 + seed)
    text = sheet_to_json(random_sheet(rng, truth=False, n_cells=2))
    for _ in range(150):
        at = int(rng.integers(len(text) - 2))
        refusal(text[:at])
        altered = text[:at] + chr(rng.integers(1, 0x250)) + text[at + 1 :]
        with contextlib.suppress(SheetInvalidError):
            assert isinstance(sheet_from_json(altered), Sheet)
