"""Practising: the same seed is the same comb, and a pace counts from the answer before."""

import importlib.util
import json
import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from uuid import UUID, uuid4

import numpy as np
import pytest

from larvasight.desk import broken_off
from larvasight.desk.broken_off import open_round, prepare_again
from larvasight.desk.practising import (
    Session,
    new_seed,
    picture_size_px,
    prepare_comb,
)
from larvasight.desk.why import why_true
from larvasight.errors import AssetMissingError
from larvasight.grading import Limits
from larvasight.practice import (
    PICK_FROM_PATCH,
    PICK_FROM_SIDE,
    TAKE_OR_LEAVE,
    Answer,
    Given,
    outcome_of,
)
from larvasight.practice.scoring import Outcome
from larvasight.records.types import UnfinishedRound
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Content, Flag

SIZE_PX = (320, 240)
BEGIN = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)
LEARNER = UUID(int=7)
NARROW = Limits(young_h=0.0, best_young_h=0.0, best_old_h=1.0, old_h=2.0)


@cache
def drawn_once(drill, seed, size_px, limits):
    return prepare_comb(drill, seed, size_px=size_px, limits=limits)


def drawn(drill=PICK_FROM_PATCH, seed=4, limits=None):
    """Return a small comb, drawn once for all tests."""
    return drawn_once(drill, seed, SIZE_PX, limits or Limits())


@pytest.fixture(autouse=True)
def draw_again_once(monkeypatch):
    """Let what is drawn again be drawn once, too: that it is the same has a test of its own."""

    def draw(drill, seed, *, size_px, limits, **_from_tiles):
        return drawn_once(drill, seed, size_px, limits)

    monkeypatch.setattr(broken_off, "prepare_comb", draw)


def named(comb):
    return [(cell.row, cell.col) for cell in comb.asked]


def unfinished_of(comb, *, givens=(), **changes):
    values = {
        "id": uuid4(),
        "learner_id": LEARNER,
        "drill": comb.drill.key,
        "cells": comb.asked,
        "givens": givens,
        "limits": Limits(),
        "recipe": json.loads(json.dumps(comb.recipe)),
        "kind": "drawn",
        "shown_at_utc": BEGIN,
        "model_version": None,
    }
    return UnfinishedRound(**(values | changes))


def given_for(cell, answer=Answer.TAKE, *, response_ms=800, is_final=False):
    return Given(cell_id=cell.id, answer=answer, response_ms=response_ms, is_final=is_final)


class Clock:
    def __init__(self):
        self.at = BEGIN

    def __call__(self):
        return self.at

    def go_on_ms(self, ms):
        self.at += timedelta(milliseconds=ms)


class Line:
    """Takes what is handed to a keeper and does it when it is told to."""

    def __init__(self):
        self.waiting = []
        self.failed = []

    def hand(self, write, stored, failed=None):
        self.waiting.append((write, stored))
        self.failed.append(failed)

    def store_all(self):
        """Write all that waits; return the calls that the store got."""
        calls = []
        for write, stored in self.waiting:
            write(Calls(calls))
            if stored is not None:
                stored()
        self.waiting.clear()
        return calls


class Calls:
    """A store that only remembers what it was asked to do."""

    def __init__(self, calls):
        self._calls = calls

    def __getattr__(self, name):
        return lambda *args, **kwargs: self._calls.append((name, args, kwargs))


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def line():
    return Line()


@pytest.fixture
def begin(clock, line):
    def _begin(comb, limits=None):
        session = Session(comb, line, learner_id=LEARNER, limits=limits or Limits(), now=clock)
        session.begin()
        return session

    return _begin


def nothing():
    return None


# Combs.


@pytest.mark.parametrize("aspect", [0.2, 0.75, 1.0, 1.37, 2.0, 7.0])
def test_pictures_have_one_size_whatever_the_shape_of_the_view(aspect):
    width_px, height_px = picture_size_px(aspect)
    assert width_px % 8 == height_px % 8 == 0
    assert width_px * height_px == pytest.approx(1_920_000, rel=0.02)
    held = min(max(aspect, 0.75), 2.0)
    assert width_px / height_px == pytest.approx(held, abs=0.02)


def test_seeds_come_from_the_generator_and_fit_into_json():
    seeds = [new_seed(np.random.default_rng(5)) for _ in range(2)]
    assert seeds[0] == seeds[1]
    rng = np.random.default_rng(6)
    many = {new_seed(rng) for _ in range(200)}
    assert len(many) == 200
    # JSON readers in other languages hold whole numbers exactly up to here.
    assert all(isinstance(seed, int) and 0 <= seed < 2**53 for seed in many)


@pytest.mark.parametrize("drill", [PICK_FROM_PATCH, TAKE_OR_LEAVE])
def test_the_same_seed_is_the_same_comb_with_the_same_cells(drill):
    few = replace(drill, n_cells=12)
    one, other = (prepare_comb(few, 4, size_px=SIZE_PX, limits=Limits()) for _ in range(2))
    assert np.array_equal(one.pixels, other.pixels)
    assert one.sheet == other.sheet
    assert one.places == other.places
    assert named(one) == named(other)
    assert one.recipe == other.recipe
    # Shown again it is another round: no cell is taken for one shown before.
    assert not {cell.id for cell in one.asked} & {cell.id for cell in other.asked}


def test_another_seed_is_another_comb():
    few = replace(PICK_FROM_PATCH, n_cells=6)
    one, other = (prepare_comb(few, seed, size_px=SIZE_PX, limits=Limits()) for seed in (4, 5))
    assert not np.array_equal(one.pixels, other.pixels)


def test_every_whole_cell_of_a_patch_is_asked():
    comb = drawn()
    whole = [k for k, cell in enumerate(comb.sheet.cells) if Flag.CUT_BY_FRAME not in cell.flags]
    assert sorted(comb.places) == whole
    assert len(comb.asked) >= 20
    assert comb.pixels.shape == (SIZE_PX[1], SIZE_PX[0], 3)


@pytest.mark.parametrize("drill", [PICK_FROM_PATCH, TAKE_OR_LEAVE])
def test_what_is_asked_is_what_the_truth_says(drill):
    comb = drawn(drill)
    for index, asked in enumerate(comb.asked):
        cell = comb.cell_of(index)
        assert (cell.row, cell.col, cell.content) == (asked.row, asked.col, asked.content)
        assert (cell.age_h, cell.length_mm) == (asked.age_h, asked.length_mm)


def test_one_at_a_time_a_few_plain_cells_are_asked():
    comb = drawn(TAKE_OR_LEAVE)
    assert len(comb.asked) == TAKE_OR_LEAVE.n_asked
    assert len(set(named(comb))) == len(comb.asked)
    assert all(cell.is_plain for cell in comb.asked)


def test_a_recipe_passes_through_json():
    recipe = drawn().recipe
    assert json.loads(json.dumps(recipe)) == recipe


# A whole comb side.

SMALL_SIDE = replace(PICK_FROM_SIDE, n_cells=120)
TILES = Path(__file__).parents[1] / "render" / "tile_library.py"


@pytest.fixture
def tiles(tmp_path):
    spec = importlib.util.spec_from_file_location("tile_library", TILES)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return TileLibrary.load(module.write_library(tmp_path / "tiles"))


def prepared_side(tiles, seed=4):
    return prepare_comb(SMALL_SIDE, seed, size_px=SIZE_PX, limits=Limits(), library=tiles)


def test_a_whole_side_asks_every_whole_cell_and_names_its_tiles(tiles):
    comb = prepared_side(tiles)
    assert len(comb.asked) == pytest.approx(120, rel=0.15)
    assert all(tiles.has([cell.tile_id]) for cell in comb.asked)
    assert len(comb.recipe["tiles"]) > len(comb.asked)
    assert comb.recipe["size_px"] == [comb.pixels.shape[1], comb.pixels.shape[0]]
    assert json.loads(json.dumps(comb.recipe)) == comb.recipe
    assert comb.drill.key == PICK_FROM_PATCH.key


def test_a_side_broken_off_is_composed_again(monkeypatch, tiles):
    monkeypatch.setattr(broken_off, "prepare_comb", prepare_comb)
    monkeypatch.setattr(broken_off, "PICK_FROM_SIDE", SMALL_SIDE)
    comb = prepared_side(tiles)
    again = prepare_again(unfinished_of(comb), tiles)
    assert again.drill.is_side
    assert again.asked == comb.asked
    assert np.array_equal(again.pixels, comb.pixels)
    assert prepare_again(unfinished_of(comb), None) is None
    bare = {key: value for key, value in comb.recipe.items() if key != "tiles"}
    assert prepare_again(unfinished_of(comb, recipe=bare), tiles) is None


def test_a_side_is_not_painted_where_its_pictures_are_missing():
    with pytest.raises(AssetMissingError, match="pictures for a whole comb side are missing"):
        prepare_comb(PICK_FROM_SIDE, 4, size_px=SIZE_PX, limits=Limits())


# Combs that were broken off.


@pytest.mark.parametrize("drill", [PICK_FROM_PATCH, TAKE_OR_LEAVE])
def test_a_comb_is_drawn_again_with_its_cells_under_their_names(drill):
    comb = drawn(drill)
    named_then = tuple(replace(cell, id=uuid4()) for cell in comb.asked)
    again = prepare_again(unfinished_of(comb, cells=named_then))
    assert again.asked == named_then
    assert again.places == comb.places
    assert np.array_equal(again.pixels, comb.pixels)
    assert again.drill == drill


def test_a_comb_is_drawn_again_by_the_ages_wanted_then():
    comb = drawn(TAKE_OR_LEAVE, limits=NARROW)
    assert named(comb) != named(drawn(TAKE_OR_LEAVE))
    again = prepare_again(unfinished_of(comb, limits=NARROW))
    assert again.asked == comb.asked
    # By other ages other cells would be asked: such a comb is not the same.
    assert prepare_again(unfinished_of(comb, limits=Limits())) is None


@pytest.mark.parametrize(
    "change",
    [
        {"drawn_by": "0.0.0"},
        {"drawn_by": None},
        {"seed": "4"},
        {"seed": None},
        {"seed": -1},
        {"seed": 2**70},
        {"seed": True},
        {"size_px": None},
        {"size_px": [320]},
        {"size_px": [320.0, 240.0]},
        {"size_px": [-320, -240]},
        {"size_px": [100_000, 100_000]},
    ],
)
def test_a_comb_that_cannot_be_drawn_alike_is_not_drawn(change):
    comb = drawn()
    assert prepare_again(unfinished_of(comb, recipe=comb.recipe | change)) is None
    assert prepare_again(unfinished_of(comb, recipe={})) is None


@pytest.mark.parametrize("tiles", [7, "tile-1", [["tile-1"]], {"tile-1": 1}])
def test_a_comb_of_no_tiles_is_not_drawn(tiles):
    comb = drawn()
    known = SimpleNamespace(has=lambda tile_ids: {"tile-1"}.issuperset(tile_ids))
    unfinished = unfinished_of(comb, recipe=comb.recipe | {"tiles": ["tile-1"]})
    assert prepare_again(unfinished, known) is not None
    unfinished = unfinished_of(comb, recipe=comb.recipe | {"tiles": tiles})
    assert prepare_again(unfinished, known) is None


def test_a_comb_with_other_cells_is_not_gone_on_with():
    comb = drawn()
    swapped = (comb.asked[1], comb.asked[0], *comb.asked[2:])
    assert prepare_again(unfinished_of(comb, cells=swapped)) is None
    assert prepare_again(unfinished_of(comb, cells=comb.asked[:-1])) is None


def changed_at(comb, index, **changes):
    cells = list(comb.asked)
    cells[index] = replace(cells[index], **changes)
    return unfinished_of(comb, cells=tuple(cells))


def test_a_comb_whose_cells_hold_something_else_is_not_gone_on_with():
    comb = drawn()
    larva = next(k for k, cell in enumerate(comb.asked) if cell.content is Content.LARVA)
    age_h = comb.asked[larva].age_h
    for changes in ({"content": Content.EMPTY}, {"age_h": age_h + 2e-6}, {"age_h": None}):
        assert prepare_again(changed_at(comb, larva, **changes)) is None, changes
    # No more than the last digit of a number may differ.
    assert prepare_again(changed_at(comb, larva, age_h=age_h - 5e-7)) is not None


class OpenRound:
    """A store with one round that was not ended."""

    def __init__(self, unfinished):
        self.unfinished = unfinished
        self.ended = []

    def unfinished_round(self, learner_id):
        assert learner_id == LEARNER
        return self.unfinished

    def end_round(self, round_id, givens, *, now):
        self.ended.append((round_id, tuple(givens), now))


def open_in(unfinished):
    store = OpenRound(unfinished)
    return open_round(store, LEARNER, now=BEGIN + timedelta(minutes=5)), store


def test_a_touched_comb_is_offered():
    comb = drawn()
    unfinished = unfinished_of(comb, givens=(given_for(comb.asked[0]),))
    found, store = open_in(unfinished)
    assert found is unfinished
    assert store.ended == []


def test_without_an_open_comb_there_is_nothing_to_offer():
    found, store = open_in(None)
    assert found is None
    assert store.ended == []


@pytest.mark.parametrize(
    "why", ["untouched", "taken back", "all answered", "another version", "unknown drill"]
)
def test_a_comb_with_nothing_to_go_on_with_is_put_away(why):
    comb = drawn(TAKE_OR_LEAVE)
    givens = [given_for(cell, is_final=True) for cell in comb.asked]
    unfinished = {
        "untouched": unfinished_of(comb),
        "taken back": unfinished_of(drawn(), givens=(given_for(drawn().asked[0], None),)),
        "all answered": unfinished_of(comb, givens=tuple(givens)),
        "another version": unfinished_of(
            comb, givens=tuple(givens[:2]), recipe=comb.recipe | {"drawn_by": "0.0.0"}
        ),
        "unknown drill": unfinished_of(comb, givens=tuple(givens[:2]), drill="weigh-honey"),
    }[why]
    found, store = open_in(unfinished)
    assert found is None
    assert store.ended == [(unfinished.id, (), BEGIN + timedelta(minutes=5))]


def test_a_patch_with_every_cell_marked_is_still_open():
    comb = drawn()
    givens = tuple(given_for(cell) for cell in comb.asked)
    found, store = open_in(unfinished_of(comb, givens=givens))
    assert found is not None
    assert store.ended == []


# One comb in front of one learner.


def test_a_comb_is_stored_as_shown_before_any_answer(begin, line):
    comb = drawn()
    session = begin(comb)
    session.toggle(0, nothing)
    (name, (shown,), _), (second, _, _) = line.store_all()
    assert (name, second) == ("show_round", "keep")
    assert shown.id == session.round_id
    assert shown.cells == comb.asked
    assert (shown.learner_id, shown.limits, shown.recipe) == (LEARNER, Limits(), comb.recipe)
    assert shown.shown_at_utc == BEGIN


def test_the_loupe_in_hand_is_kept_with_the_comb(begin, line):
    comb = drawn()
    begin(comb).begin(2.5)
    shown = [args[0] for name, args, _ in line.store_all() if name == "show_round"][-1]
    assert shown.recipe == comb.recipe | {"magnification": 2.5}
    assert "magnification" not in comb.recipe


def test_a_pace_counts_from_the_answer_before(begin, clock):
    session = begin(drawn())
    found = []
    for ms, index in ((1500, 0), (400, 3), (900, 0), (250, 0)):
        clock.go_on_ms(ms)
        found.append(session.toggle(index, nothing))
    assert [given.response_ms for given in found] == [1500, 400, 900, 250]
    assert [given.answer for given in found] == [Answer.TAKE, Answer.TAKE, None, Answer.TAKE]
    assert not any(given.is_final for given in found)


def test_a_clock_set_back_gives_no_negative_pace(begin, clock):
    session = begin(drawn())
    clock.go_on_ms(-3_600_000)
    assert session.toggle(0, nothing).response_ms == 0
    clock.go_on_ms(700)
    assert session.toggle(1, nothing).response_ms == 700


def test_answers_are_kept_with_the_time_they_were_given(begin, clock, line):
    session = begin(drawn())
    line.store_all()
    clock.go_on_ms(1500)
    given = session.toggle(2, nothing)
    clock.go_on_ms(60_000)  # the disk is slow
    ((name, (givens,), kwargs),) = line.store_all()
    assert name == "keep"
    assert givens == [given]
    assert kwargs == {"now": BEGIN + timedelta(milliseconds=1500)}


def test_nothing_is_told_stored_before_it_is(begin, line):
    session = begin(drawn())
    told = []
    session.toggle(1, lambda: told.append("mark"))
    session.enter(lambda: told.append("end"))
    assert told == []
    line.store_all()
    assert told == ["mark", "end"]


@pytest.mark.parametrize("drill", [PICK_FROM_PATCH, TAKE_OR_LEAVE])
def test_whatever_of_a_comb_is_given_up_is_told(clock, line, drill):
    heard = []
    session = Session(
        drawn(drill), line, learner_id=LEARNER, limits=Limits(), now=clock, failed=heard.append
    )
    session.begin()
    if drill is PICK_FROM_PATCH:
        session.toggle(1, nothing)
        session.take_back(nothing)
        session.enter(nothing)
    else:
        for _ in session.comb.asked:
            session.answer(Answer.LEAVE, nothing)
            session.advance()
    assert len(line.failed) == len(line.waiting) > 3
    for failed in line.failed:
        failed("It could not be stored.")
    assert heard == ["It could not be stored."] * len(line.failed)


def test_the_latest_mark_is_taken_back_first(begin, line):
    session = begin(drawn())
    for index in (4, 1, 6, 1):
        session.toggle(index, nothing)
    assert session.take_back(nothing) == 6
    assert session.take_back(nothing) == 4
    assert session.take_back(nothing) is None
    assert session.round.n_marked == 0
    assert len(line.store_all()) == 1 + 4 + 2


def test_enter_ends_a_patch_with_an_answer_for_each_cell(begin, line, clock):
    session = begin(drawn())
    clock.go_on_ms(1000)
    session.toggle(2, nothing)
    line.store_all()
    clock.go_on_ms(500)
    session.enter(nothing)
    ((name, (round_id, givens), kwargs),) = line.store_all()
    assert (name, round_id) == ("end_round", session.round_id)
    assert kwargs == {"now": BEGIN + timedelta(milliseconds=1500)}
    assert [given.cell_id for given in givens] == [cell.id for cell in session.comb.asked]
    assert all(given.is_final for given in givens)
    taken = [k for k, given in enumerate(givens) if given.answer is Answer.TAKE]
    assert taken == [2]
    assert [given.response_ms for given in givens if given.response_ms is not None] == [1000]


def test_one_cell_after_the_other_is_asked_and_looking_costs_no_time(begin, clock, line):
    comb = drawn(TAKE_OR_LEAVE)
    session = begin(comb)
    line.store_all()
    asked, calls = [], []
    for at in range(len(comb.asked)):
        asked.append(session.current_index)
        clock.go_on_ms(600 + at)
        session.answer(Answer.TAKE if at % 2 else Answer.LEAVE, nothing)
        calls += line.store_all()
        clock.go_on_ms(9000)  # the reason is read
        is_last = session.advance() is None
        assert is_last == (at + 1 == len(comb.asked))
    ends = line.store_all()
    assert asked == list(range(len(comb.asked)))
    givens = [args[0][0] for name, args, _ in calls if name == "keep"]
    assert [given.response_ms for given in givens] == [600 + k for k in range(len(asked))]
    assert all(given.is_final for given in givens)
    assert [name for name, _, _ in ends] == ["end_round"]
    assert session.current_index is None


def test_a_round_goes_on_under_its_name_with_its_marks(clock, line):
    comb = drawn()
    givens = (given_for(comb.asked[1]), given_for(comb.asked[5], None), given_for(comb.asked[3]))
    unfinished = unfinished_of(comb, givens=givens)
    session = Session(comb, line, learner_id=LEARNER, limits=Limits(), now=clock)
    clock.go_on_ms(5000)
    session.go_on(unfinished)
    assert session.round_id == unfinished.id
    assert line.waiting == []  # it is in the records already
    assert session.round.n_marked == 2
    clock.go_on_ms(300)
    assert session.toggle(1, nothing).answer is None
    assert session.round.n_marked == 1


def test_one_cell_goes_on_at_the_first_without_an_answer(clock, line):
    comb = drawn(TAKE_OR_LEAVE)
    givens = tuple(given_for(cell, is_final=True) for cell in comb.asked[:3])
    session = Session(comb, line, learner_id=LEARNER, limits=Limits(), now=clock)
    session.go_on(unfinished_of(comb, givens=givens))
    assert session.current_index == 3


@pytest.mark.parametrize("limits", [Limits(), NARROW])
def test_outcomes_and_score_are_by_the_ages_wanted(begin, limits):
    comb = drawn()
    session = begin(comb, limits)
    taken = range(0, len(comb.asked), 2)
    for index in taken:
        session.toggle(index, nothing)
    session.enter(nothing)
    found = [session.outcome(index) for index in range(len(comb.asked))]
    assert found == [
        outcome_of(cell, Answer.TAKE if index in taken else Answer.LEAVE, limits)
        for index, cell in enumerate(comb.asked)
    ]
    score = session.score()
    assert score.n_answers == len(comb.asked)
    assert score.n_right == found.count(Outcome.RIGHT) + found.count(Outcome.VERY_YOUNG)
    assert score.n_missed == found.count(Outcome.MISSED)


def test_the_reason_is_of_the_cell_asked(begin):
    comb = drawn()
    session = begin(comb)
    for index in range(0, len(comb.asked), 5):
        assert session.why(index) == why_true(comb.cell_of(index), comb.sheet, Limits())


def test_the_pace_of_a_comb_is_the_median_of_what_was_touched(begin, clock):
    session = begin(drawn())
    for ms, index in ((1000, 0), (3000, 1), (2000, 2)):
        clock.go_on_ms(ms)
        session.toggle(index, nothing)
    session.enter(nothing)
    assert session.score().pace_ms == pytest.approx(2000.0, abs=1e-9)


# Combs laid by ages wanted.

WANTED_H = (4.0, -1.0, 27.0, 20.0)


@pytest.mark.parametrize("has_tiles", [False, True])
def test_a_comb_laid_by_ages_asks_those_and_is_drawn_again(monkeypatch, tiles, has_tiles):
    monkeypatch.setattr(broken_off, "prepare_comb", prepare_comb)
    library = tiles if has_tiles else None
    comb = prepare_comb(
        *(TAKE_OR_LEAVE, 4),
        size_px=SIZE_PX,
        limits=Limits(),
        library=library,
        ages_h=WANTED_H,
    )
    assert len(comb.asked) == len(WANTED_H)
    assert {cell.content for cell in comb.asked} <= {Content.EGG, Content.LARVA}
    recipe = json.loads(json.dumps(comb.recipe))
    assert recipe["ages_h"] == list(WANTED_H)
    again = prepare_again(unfinished_of(comb, recipe=recipe), library)
    assert again.asked == comb.asked
    assert np.array_equal(again.pixels, comb.pixels)


@pytest.mark.parametrize("ages_h", ["12", [1.0] * 101, [math.inf], [None], {"a": 1.0}])
def test_a_recipe_with_ages_that_cannot_be_draws_nothing(ages_h):
    comb = drawn(TAKE_OR_LEAVE)
    recipe = {**comb.recipe, "ages_h": ages_h}
    assert prepare_again(unfinished_of(comb, recipe=recipe)) is None
