"""Searching a side: what was in the field is judged, the rest never; larvae kept as they come."""

import importlib.util
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from uuid import UUID

import numpy as np
import pytest

from larvasight.desk.search_side import LEVEL_MARK, prepare_search
from larvasight.desk.searching import SearchSession, searches_of
from larvasight.grading import Limits
from larvasight.practice import Answer, Outcome
from larvasight.practice.drills import SEARCH_A_SIDE
from larvasight.practice.searching import N_CUPS, SearchLevel
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Content, Flag

BEGIN = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)
LEARNER = UUID(int=7)
FILES = Path(__file__).parents[1] / "render" / "tile_library.py"


def load(path):
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    return TileLibrary.load(load(FILES).write_library(tmp_path_factory.mktemp("tiles")))


@pytest.fixture(scope="module")
def side(library):
    return prepare_search(SearchLevel.BROAD, 3, limits=Limits(), library=library, n_cells=260)


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

    def keep(self, givens, *, now):
        del now
        self.calls.append(("keep", *givens))

    def end_round(self, round_id, givens, *, now):
        del now
        self.calls.append(("end", round_id, tuple(givens)))


class Clock:
    def __init__(self):
        self.at = BEGIN

    def __call__(self):
        return self.at

    def go_on_s(self, s):
        self.at += timedelta(seconds=s)


@pytest.fixture
def line():
    return Line()


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def session(side, line, clock):
    made = SearchSession(side, line, learner_id=LEARNER, limits=Limits(), now=clock)
    made.begin(2.5)
    return made


def nothing():
    return None


def of_kind(side, wanted):
    """Return cells whose taking would be of a kind."""
    session = SearchSession(side, Line(), learner_id=LEARNER, limits=Limits(), now=lambda: BEGIN)
    session.taken = list(range(len(side.comb.asked)))
    return [k for k in session.taken if session.outcome(k) is wanted]


@pytest.fixture(scope="module")
def laid(library):
    """Lay one side of each level, once for all tests."""
    return [
        prepare_search(level, 5, limits=Limits(), library=library, n_cells=600)
        for level in SearchLevel
    ]


@pytest.mark.parametrize("level", list(SearchLevel))
def test_a_side_has_more_to_take_than_there_are_cups(laid, level):
    made = laid[level]
    assert len(made.takeable) >= 2 * N_CUPS
    assert made.comb.recipe[LEVEL_MARK] == int(level)
    assert made.comb.drill is SEARCH_A_SIDE
    for index in made.takeable:
        cell = made.comb.asked[index]
        assert cell.content is Content.LARVA
        assert 6.0 <= cell.age_h <= 30.0
    whole = [
        Flag.CUT_BY_FRAME not in made.comb.cell_of(k).flags for k in range(len(made.comb.asked))
    ]
    assert all(whole)


def test_the_band_of_right_ages_narrows_and_lies_farther_off_with_each_level(laid):
    shares = [len(made.takeable) / len(made.comb.asked) for made in laid]
    ways = [made.middles_xy_px[list(made.takeable)] - made.begin_xy_px for made in laid]
    aways_mm = [
        np.hypot(*way.T).min() / made.comb.sheet.scale.px_per_mm
        for way, made in zip(ways, laid, strict=True)
    ]
    assert shares == sorted(shares, reverse=True)
    assert aways_mm == sorted(aways_mm)
    assert shares[0] > 2.0 * shares[-1]
    assert aways_mm[0] < 20.0
    assert aways_mm[-1] > 45.0


def test_the_same_seed_lays_the_same_side(library, side):
    again = prepare_search(SearchLevel.BROAD, 3, limits=Limits(), library=library, n_cells=260)
    np.testing.assert_array_equal(side.comb.pixels, again.comb.pixels)
    assert side.begin_xy_px == again.begin_xy_px


def test_what_is_taken_is_kept_at_once_and_can_be_put_back(session, line, clock, side):
    told = []
    clock.go_on_s(2.0)
    assert session.toggle(4, lambda: told.append("taken"))
    clock.go_on_s(1.5)
    assert session.take_back(lambda: told.append("back")) == 4
    assert session.take_back(nothing) is None
    assert told == []
    line.store_all()
    assert told == ["taken", "back"]
    (_, shown), (_, first), (_, second) = line.calls
    assert shown.recipe["magnification"] == 2.5
    assert len(shown.cells) == len(side.comb.asked)
    assert (first.answer, first.response_ms, first.is_final) == (Answer.TAKE, 2000, False)
    assert (second.answer, second.response_ms) == (None, 1500)


def test_cells_in_the_field_are_left_and_the_others_never_judged(session, line, side):
    in_field = np.zeros(len(side.comb.asked), dtype=bool)
    in_field[[1, 2, 3]] = True
    session.look((10.0, 10.0), in_field, 0.4)
    in_field[3] = False
    session.look((12.0, 10.0), in_field, 0.4)  # the fourth cell only flitted past
    session.toggle(2, nothing)
    session.toggle(9, nothing)
    session.end(nothing)
    line.store_all()
    _, round_id, givens = line.calls[-1]
    assert round_id == session.round_id
    judged = {given.cell_id: given.answer for given in givens}
    asked = side.comb.asked
    assert judged == {
        asked[1].id: Answer.LEAVE,
        asked[2].id: Answer.TAKE,
        asked[9].id: Answer.TAKE,
    }
    assert all(given.is_final for given in givens)


def test_a_full_bar_takes_no_more_and_an_ended_search_nothing(session, side):
    for index in range(N_CUPS):
        session.toggle(index, nothing)
    assert session.is_full
    with pytest.raises(ValueError, match="needs an empty cup"):
        session.toggle(N_CUPS, nothing)
    session.toggle(0, nothing)
    assert not session.is_full
    session.end(nothing)
    with pytest.raises(ValueError, match="search under way"):
        session.toggle(0, nothing)
    assert session.take_back(nothing) is None


def test_it_is_told_how_it_went(session, line, clock, side):
    right = of_kind(side, Outcome.RIGHT)[:6]
    old = of_kind(side, Outcome.TOO_OLD)[:2]
    eggs = of_kind(side, Outcome.EGG)[:1]
    young = of_kind(side, Outcome.VERY_YOUNG)[:1]
    past = of_kind(side, Outcome.JUST_PAST)[:1]
    for index in (*right, *old, *eggs, *young, *past):
        session.toggle(index, nothing)
    clock.go_on_s(120.0)
    session.end(nothing)
    clock.go_on_s(500.0)  # looked at for long afterwards
    told = session.told([], 50.0)
    assert (told.n_taken, told.n_too_old, told.n_egg, told.n_very_young, told.n_past) == (
        *(len(right) + len(old) + 1 + len(young) + len(past), len(old), 1, len(young), len(past)),
    )
    assert told.searched.n_right == len(right) + len(young)
    assert told.searched.n_picks == told.n_taken - len(past)
    assert told.searched.minutes == pytest.approx(2.0)
    assert told.searched.right_per_min == pytest.approx((len(right) + len(young)) / 2.0)
    assert told.vain_share is None
    assert told.n_dry == len(right) + len(young)  # the tiles of these tests have no jelly
    assert told.n_never_seen == len(side.takeable) - len(right)


def test_ground_in_vain_is_told_as_a_share_of_the_way(session, side):
    x, y = side.middles_xy_px[side.takeable[0]]
    none = np.zeros(len(side.comb.asked), dtype=bool)
    for at in (x - 4000.0, x - 2000.0, x - 1000.0, x):
        session.look((at, y), none, 0.1)
    told = session.told([], 20.0)
    # Middles of the steps lie 3000, 1500 and 500 px off: nothing within 20 px of any.
    assert told.vain_share == pytest.approx(1.0, abs=0.3)
    assert told.vain_share > 0.4


def kept_search(*, level=1, n_right=10, n_old=0, minutes=2.0, ended=True):
    def cell(age_h):
        return SimpleNamespace(
            content=Content.LARVA,
            age_h=age_h,
            looks_age_h=age_h,
            is_plain=True,
        )

    cells = tuple(cell(18.0) for _ in range(n_right)) + tuple(cell(60.0) for _ in range(n_old))
    givens = tuple(SimpleNamespace(response_ms=900) for _ in cells)
    return SimpleNamespace(
        recipe={LEVEL_MARK: level},
        limits=Limits(),
        shown_at_utc=BEGIN,
        ended_at_utc=BEGIN + timedelta(minutes=minutes) if ended else None,
        cells=cells,
        givens=givens,
        answers=tuple(Answer.TAKE for _ in cells),
    )


def store_of(*rounds):
    return SimpleNamespace(kept_rounds=lambda *_args, **_kwargs: list(rounds))


def test_earlier_searches_are_found_again():
    (found,) = searches_of(store_of(kept_search(n_right=9, n_old=3)), LEARNER)
    assert (found.level, found.n_picks, found.n_right) == (SearchLevel.SOME_WAY_OFF, 12, 9)
    assert found.minutes == pytest.approx(2.0)


@pytest.mark.parametrize(
    "strange",
    [
        kept_search(ended=False),
        kept_search(level="1"),
        kept_search(level=9),
        kept_search(n_right=0),
    ],
    ids=["never ended", "no number", "no level", "nothing taken"],
)
def test_searches_that_say_nothing_are_passed_over(strange):
    assert searches_of(store_of(strange), LEARNER) == []
