"""Every constant taken from biology or practice is listed, labelled and has its source."""

import ast
import importlib
import importlib.util
import inspect
import pkgutil
import re
from numbers import Real

import numpy as np
import pytest

import larvasight
import sources
from larvasight import geometry, grading, growth, timetable
from larvasight.geometry.facts import Fact, Label

PACKAGES = (geometry, growth, grading, timetable)
UNITS = {"mm", "mg", "h", "1/h", "d", "deg", "degC", "mg/mm3", "share", "ratio"}

# Numbers that are decisions of the method, not taken from bees: what each is for.
TECHNICAL = {
    "geometry.curves.CURL_MAX_DEG": "where the swept angle stops being counted",
    "geometry.curves._DISTANCE_LEAST": "limits of the fitting of circles",
    "geometry.curves._FLAT_SHARE2": "limits of the fitting of circles",
    "geometry.curves._RADIUS_MOST": "limits of the fitting of circles",
    "geometry.curves._ROUNDS_MOST": "limits of the fitting of circles",
    "geometry.curves._STEP_HOLD": "limits of the fitting of circles",
    "geometry.curves._STEP_LEAST": "limits of the fitting of circles",
    "geometry.curves._SWEEP_POINTS": "fineness of the angle",
    "geometry.lattice.NEIGHBOUR_STEPS_QR": "names of neighbours",
    "geometry.lattice.SQRT3": "geometry",
    "growth.curve.AGE_MAX_H": "where the model ends",
    "growth.curve._GRID_STEP_H": "fineness of the table",
    "growth.egg._UPRIGHT_TO_DEG": "which of two spreads an egg's lean has",
    "growth.inverse.BAND_SHARE": "what an age band is defined to hold",
    "growth.inverse._GRID_STEP_H": "fineness of the table",
    "growth.inverse._RATES_SD": "fineness of the table",
    "grading.grade._DOUBT": "where a verdict is defined to become doubtful",
    "grading.grade._PAST": "where a verdict is defined to turn",
    "grading.grade._SURE": "where a doubtful outline is defined to be good enough",
    "timetable.expected.CAGED_TRIED_H": "which confinements are compared",
    "timetable.expected.LATE_TRIED_H": "which hours early and late are told",
    "timetable.expected._EGG_STAGES_H": "between which the published egg stage lies",
    "timetable.expected._LEAD_STEP_H": "fineness of the search",
    "timetable.reading.EMERGED_SPAN_D": "what may be typed",
    "timetable.spec.BARS_SPAN": "what may be typed",
    "timetable.spec.CAGED_SPAN_H": "what may be typed",
    "timetable.spec.CUPS_SPAN": "what may be typed",
    "timetable.spec.DAY_H": "hours of a day",
    "timetable.spec.LEAD_SPANS_H": "what may be typed",
    "timetable.spec.NAME_CHARS_MAX": "what may be typed",
    "timetable.spec.NUCS_SPAN": "what may be typed",
    "timetable.spec.QUEENS_SPAN": "what may be typed",
    "timetable.spec.RATE_SPAN": "what may be typed",
    "timetable.spec.SEALED_SPAN_C": "what may be typed",
    "timetable.spec.SETTLE_SPAN_H": "what may be typed",
    "timetable.spec.USUAL_LEAD_H": "made of facts",
    "timetable.spec.USUAL_SETTLE_H": "made of facts",
    "timetable.spec.YEARS_SPAN": "what may be typed",
    "timetable.spec_json._VERSION": "of the file format",
    "timetable.spread._HALVINGS": "fineness of the search",
    "timetable.spread._SEARCH_SD": "width of the search",
}

FACTS = [fact for _, fact in sources.all_facts()]


def modules():
    for package in PACKAGES:
        for found in pkgutil.iter_modules(package.__path__, f"{package.__name__}."):
            yield importlib.import_module(found.name)


def constants():
    """Name and value of each UPPER_CASE constant where it is defined, without the first package."""
    for module in modules():
        for node in ast.parse(inspect.getsource(module)).body:
            targets = node.targets if isinstance(node, ast.Assign) else []
            targets = [node.target] if isinstance(node, ast.AnnAssign) else targets
            for target in targets:
                if isinstance(target, ast.Name) and re.fullmatch(r"_?[A-Z][A-Z0-9_]*", target.id):
                    name = f"{module.__name__.removeprefix('larvasight.')}.{target.id}"
                    yield name, getattr(module, target.id)


def source_of(found):
    return importlib.util.find_spec(found.name).loader.get_source(found.name)


def parts(value):
    """What a constant is made of, looked for inside tuples and mappings."""
    if isinstance(value, dict):
        value = (*value.keys(), *value.values())
    if isinstance(value, tuple | list | np.ndarray):
        for inner in value:
            yield from parts(inner)
    else:
        yield value


def holds(kind, value):
    return any(isinstance(part, kind) for part in parts(value))


CONSTANTS = dict(constants())
NUMBERS = {
    name: value
    for name, value in CONSTANTS.items()
    if holds(Real, value) and not holds(Fact, value)
}


# Modules of any package in which a fact is made.
MAKING_FACTS = [
    found.name
    for found in pkgutil.walk_packages(larvasight.__path__, "larvasight.")
    if found.name.rpartition(".")[2] != "__main__" and "= Fact(" in source_of(found)
]


def test_constants_are_found_at_all():
    assert {"geometry.cell.PITCH_DEFAULT_MM", "growth.curve.MASS_KNOTS"} <= set(CONSTANTS)
    assert "geometry.cell.PITCH_DEFAULT_MM" in NUMBERS
    assert "growth.curve.MASS_KNOTS" not in NUMBERS
    assert len(NUMBERS) > 10


@pytest.mark.parametrize("name", [name for name in NUMBERS if name not in TECHNICAL])
def test_each_number_from_bees_or_practice_is_a_listed_fact(name):
    stem, _, unit = name.rpartition("_")
    fact = CONSTANTS.get(stem)
    assert isinstance(fact, Fact), f"{name} needs a fact {stem} or a place among the technical ones"
    assert fact in FACTS
    assert fact.value == NUMBERS[name]
    assert fact.unit == unit.lower()


@pytest.mark.parametrize("name", [n for n, value in CONSTANTS.items() if holds(Fact, value)])
def test_each_fact_in_the_code_is_listed(name):
    for part in parts(CONSTANTS[name]):
        assert not isinstance(part, Fact) or part in FACTS


@pytest.mark.parametrize("name", MAKING_FACTS)
def test_each_fact_made_anywhere_in_the_package_is_listed(name):
    made = [value for value in vars(importlib.import_module(name)).values() if holds(Fact, value)]
    assert made
    assert all(part in FACTS for value in made for part in parts(value) if isinstance(part, Fact))


@pytest.mark.parametrize("name", list(TECHNICAL))
def test_each_technical_constant_still_exists(name):
    assert name in NUMBERS


@pytest.mark.parametrize("fact", FACTS, ids=lambda fact: fact.name)
def test_each_fact_has_a_known_unit_and_a_source_that_suits_its_label(fact):
    assert fact.unit in UNITS
    assert np.isfinite(fact.value)
    if fact.label is Label.COMMON_PRACTICE:
        assert fact.source == ""
    elif fact.label is Label.PUBLISHED:
        # Who: a year of publication, or where a quoted author was read.
        assert re.search(r"[A-Z]\w+.*(\b(18|19|20)\d\d\b|as quoted (by|on|in) \w+)", fact.source)
        assert not re.search("memory|judgement", fact.source)
    else:
        assert len(fact.source) >= len("judgement")


def test_names_of_facts_are_not_given_twice():
    names = [fact.name for fact in FACTS]
    assert len(set(names)) == len(names)


def test_plain_table_has_one_aligned_line_for_each_fact(capsys):
    assert sources.main([]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 1 + len(FACTS)
    starts = [lines[0].index(heading) for heading in sources.HEADINGS]
    for line, (package, fact) in zip(lines[1:], sources.all_facts(), strict=True):
        assert line.startswith(package)
        assert all(line[start - 1] == " " and line[start] != " " for start in starts[1:])
        cells = [line[a:b].strip() for a, b in zip(starts, [*starts[1:], None], strict=True)]
        assert cells[1:5] == [fact.name, f"{fact.value:.4g}", fact.unit, fact.label.value]
        assert cells[5] == fact.source or fact.label is Label.COMMON_PRACTICE


def test_markdown_table_has_as_many_cells_in_every_line(capsys):
    assert sources.main(["--markdown"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[1] == "| --- | --- | --- | --- | --- | --- |"
    assert len(lines) == 2 + len(FACTS)
    for line in lines:
        assert len(re.findall(r"(?<!\\)\|", line)) == len(sources.HEADINGS) + 1


def test_common_practice_says_that_it_has_no_source():
    rows = [row for row in sources.table_rows() if row[4] == "common practice"]
    assert len(rows) >= 4
    assert all(row[5].startswith("none: ") for row in rows)


def test_unknown_option_is_refused(capsys):
    with pytest.raises(SystemExit) as stopped:
        sources.main(["--html"])
    assert stopped.value.code == 2
    assert "--html" in capsys.readouterr().err
