"""Where the tool goes in: cells for each step, entries kept before they are told."""

import math
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from uuid import UUID

import cv2
import numpy as np
import pytest

from larvasight.desk.tool_entry import (
    ANSWERS,
    ToolBout,
    ToolCells,
    ToolStanding,
    standing_of,
    tool_cell,
    tool_picture,
)
from larvasight.errors import AssetMissingError
from larvasight.grading import Limits
from larvasight.practice import Answer
from larvasight.practice.tool_entry import Entry, EntryTool, Hand, Landing
from larvasight.practice.tool_steps import ToolCourse, ToolStep
from larvasight.render.tiles import Tile, TileLibrary
from larvasight.sheet import Content, Flag, Jelly

BEGIN = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)
LEARNER = UUID(int=7)
PITCH_PX, SIDE_PX, PITCH_MM = 96.0, 120, 5.3
PX_PER_MM = PITCH_PX / PITCH_MM


def arch(curl_deg, centre_mm=(0.0, 0.0), radius_mm=0.8):
    """Return an arch that is open below, px of a tile."""
    turns = np.radians(np.linspace(90.0 - curl_deg / 2.0, 90.0 + curl_deg / 2.0, 31))
    line = radius_mm * np.column_stack([np.cos(turns), -np.sin(turns)]) + centre_mm
    return tuple((float(x), float(y)) for x, y in line * PX_PER_MM)


def tile_of(name, *, setting="sun-new-floor", age_h=18.0, curl_deg=180.0, **changes):
    centre_mm = changes.pop("centre_mm", (0.0, 0.0))
    values = {
        "id": name,
        "file": "cell.png",
        "setting": setting,
        "is_test": False,
        "content": Content.LARVA,
        "stores": None,
        "age_h": age_h,
        "looks_age_h": age_h,
        "length_mm": 2.0,
        "width_mm": 0.4,
        "area_mm2": 0.7,
        "curl_deg": curl_deg,
        "jelly": Jelly.PLENTY,
        "visible_share": 1.0,
        "midline_xy_px": arch(curl_deg or 90.0, centre_mm),
        "outline_xy_px": None,
        "flags": (),
        "pitch_px": PITCH_PX,
        "pitch_mm": PITCH_MM,
        "side_px": SIDE_PX,
    }
    return Tile(**(values | changes))


TILES = (
    tile_of("wide", curl_deg=180.0),
    tile_of("straight", curl_deg=70.0),
    tile_of("walled", curl_deg=180.0, centre_mm=(0.0, -1.0)),
    tile_of("dim", setting="dim-yellow-floor"),
    tile_of("blurred", setting="headlamp-yellow-rim"),
    tile_of("old", age_h=50.0),
    tile_of("egg", content=Content.EGG, age_h=-20.0),
    tile_of("unbent", curl_deg=10.0),
    tile_of("closed", curl_deg=None),
    tile_of("hidden", flags=(Flag.HIDDEN_BY_WALL,)),
)


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tiles")
    cell = np.full((SIDE_PX, SIDE_PX, 3), 90, dtype=np.uint8)
    cell[:20, :20] = 255
    cv2.imwrite(str(folder / "cell.png"), cell)
    return TileLibrary(folder, TILES)


@pytest.fixture(scope="module")
def cells(library):
    return ToolCells(library, Limits())


class Line:
    """A keeper that keeps what it was handed until it is told to store it."""

    def __init__(self):
        self.calls, self._waiting = [], []

    def hand(self, write, stored, failed=None):
        del failed
        self._waiting.append((write, stored))

    def store_all(self):
        for write, stored in self._waiting:
            write(self)
            if stored is not None:
                stored()
        self._waiting.clear()

    def show_round(self, shown):
        self.calls.append(("show", shown))

    def end_round(self, round_id, givens, *, now):
        del now
        self.calls.append(("end", round_id, tuple(givens)))


class Clock:
    def __init__(self):
        self.at = BEGIN

    def __call__(self):
        return self.at


def bout_of(line, clock, course=None):
    return ToolBout(
        line,
        learner_id=LEARNER,
        limits=Limits(),
        now=clock,
        standing=ToolStanding(course=course or ToolCourse(), own_hand=Hand.LEFT),
    )


def behind(cell):
    """Return an entry straight behind the back of an arch that was turned."""
    turn = math.radians(cell.turn_deg)
    out = np.array([math.sin(turn), -math.cos(turn)])
    x, y = (float(v) for v in 1.15 * out + np.array(cell.floor.opening_xy_mm))
    return Entry(tool=EntryTool.FLEXIBLE, hand=Hand.LEFT, tip_xy_mm=(x, y))


def names(tiles):
    return {tile.id for tile in tiles}


def test_each_step_has_cells_such_as_it_wants(cells):
    assert names(cells.of(ToolStep.WIDE_CURVES)) == {"wide"}
    assert names(cells.of(ToolStep.NEARLY_STRAIGHT)) == {"straight"}
    assert names(cells.of(ToolStep.NEAR_A_WALL)) == {"walled"}
    assert names(cells.of(ToolStep.DIM_LIGHT)) == {"dim", "blurred"}
    every = {"wide", "straight", "walled", "dim", "blurred"}
    assert names(cells.of(ToolStep.OTHER_HAND)) == every


def test_a_cell_not_seen_before_comes_first(cells):
    rng = np.random.default_rng(1)
    chosen = [cells.choose(ToolStep.DIM_LIGHT, rng, frozenset({"dim"})) for _ in range(6)]
    assert {cell.tile.id for cell in chosen} == {"blurred"}
    assert len({cell.turn_deg for cell in chosen}) == 6
    seen = frozenset({"dim", "blurred"})
    assert cells.choose(ToolStep.DIM_LIGHT, rng, seen).tile.id in seen


def test_without_a_larva_to_lift_it_says_so(library):
    limits = Limits(young_h=90.0, best_young_h=91.0, best_old_h=92.0, old_h=93.0)
    with pytest.raises(AssetMissingError, match="larva that can be lifted"):
        ToolCells(library, limits)


def test_a_larva_lies_where_the_eye_sees_it_less_what_it_looks_aslant():
    straight = tool_cell(tile_of("a"), 0.0)
    np.testing.assert_allclose(straight.floor.line_xy_mm[15], (0.0, -0.8), atol=1e-9)
    # Ten mm deep, seen .1 mm aslant for each mm: the floor's middle is seen 1 mm to the left.
    aslant = tool_cell(tile_of("b", slope_xy=(0.1, 0.0)), 0.0)
    assert aslant.floor.opening_xy_mm == pytest.approx((1.0, 0.0))
    np.testing.assert_allclose(aslant.floor.line_xy_mm[15], (1.0, -0.8), atol=1e-9)


def test_a_quarter_turn_turns_the_larva_the_way_the_picture_turns(library):
    cell = tool_cell(TILES[0], 90.0)
    np.testing.assert_allclose(cell.floor.line_xy_mm[15], (0.8, 0.0), atol=1e-9)
    pixels = tool_picture(library, cell, np.random.default_rng(1))
    height_px, width_px = pixels.shape[:2]
    assert height_px % 2 == width_px % 2 == 1
    # The bright corner at the upper left of each tile is cut off by its rims; the rest is grey.
    assert pixels[height_px // 2, width_px // 2] == pytest.approx([90, 90, 90], abs=1)


def test_an_entry_is_told_only_once_it_is_stored(cells):
    line, clock = Line(), Clock()
    bout = bout_of(line, clock)
    cell = cells.choose(ToolStep.WIDE_CURVES, np.random.default_rng(2))
    bout.show(cell)
    clock.at += timedelta(milliseconds=1900)
    told = []
    bout.enter(behind(cell), told.append)
    assert told == []
    line.store_all()
    assert [one.landing for one in told] == [Landing.BEHIND]
    (_, shown), (_, round_id, (given,)) = line.calls
    assert shown.id == round_id
    assert shown.recipe["step"] == 0
    assert shown.recipe["own_hand"] == "left"
    assert shown.cells[0].tile_id == "wide"
    assert (given.cell_id, given.answer, given.response_ms) == (shown.cells[0].id, Answer.HIT, 1900)
    assert given.is_final
    assert bout.n_hits == 1
    assert not bout.is_open
    with pytest.raises(ValueError, match="waits for its entry"):
        bout.enter(behind(cell), told.append)


def test_a_cell_put_away_is_ended_without_an_answer(cells):
    line = Line()
    bout = bout_of(line, Clock())
    bout.show(cells.choose(ToolStep.WIDE_CURVES, np.random.default_rng(2)))
    bout.put_away()
    bout.put_away()
    line.store_all()
    assert [call[0] for call in line.calls] == ["show", "end"]
    assert line.calls[1][2] == ()


def test_hits_lead_on_to_other_cells(cells):
    line = Line()
    bout = bout_of(line, Clock())
    rng = np.random.default_rng(4)
    for _ in range(5):
        cell = cells.choose(bout.course.step, rng, bout.seen)
        bout.show(cell)
        bout.enter(behind(cell), lambda _judged: None)
    assert bout.course.step is ToolStep.NEARLY_STRAIGHT


def kept(step, answer, own_hand="right"):
    return SimpleNamespace(recipe={"step": step, "own_hand": own_hand}, answers=(answer,))


def store_of(*rounds):
    return SimpleNamespace(kept_rounds=lambda *_args, **_kwargs: list(rounds))


def test_how_far_one_came_is_found_again():
    hits = [kept(1, Answer.HIT)] * 4
    standing = standing_of(store_of(*hits, kept(1, Answer.WALL, own_hand="left")), LEARNER)
    assert standing.course.step is ToolStep.NEAR_A_WALL
    assert standing.own_hand is Hand.LEFT
    assert standing_of(store_of(), LEARNER) == ToolStanding(
        course=ToolCourse(), own_hand=Hand.RIGHT
    )


def test_rounds_that_say_nothing_are_passed_over():
    strange = [kept("2", Answer.HIT), kept(17, Answer.HIT), kept(0, None), kept(True, Answer.HIT)]
    assert standing_of(store_of(*strange), LEARNER).course == ToolCourse()


def test_every_landing_has_an_answer():
    assert set(ANSWERS) == set(Landing)
    assert [landing for landing, answer in ANSWERS.items() if answer is Answer.HIT] == [
        Landing.BEHIND
    ]
