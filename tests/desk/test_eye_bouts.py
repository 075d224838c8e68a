"""Name the stage, Younger of two, Put in order: kept before told, adapted, resumed."""

import itertools
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from larvasight.desk import pair_bout, row_bout, stage_bout
from larvasight.desk.eye_bouts import Sitting
from larvasight.desk.eye_cells import EyeCells
from larvasight.desk.pair_bout import PairBout
from larvasight.desk.row_bout import RowBout
from larvasight.desk.stage_bout import StageBout, stage_table_of, stages_named
from larvasight.grading import Limits
from larvasight.practice import Answer
from larvasight.practice.drills import NAME_THE_STAGE, PUT_IN_ORDER, YOUNGER_OF_TWO
from larvasight.practice.ordering import N_ROWS
from larvasight.practice.stages import N_CELLS, Stage, StageCourse, stage_of
from larvasight.practice.staircase import N_PAIRS
from larvasight.records.store import Store
from larvasight.render.tiles import TileLibrary

BEGIN = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)
LIMITS = Limits()


class Line:
    """A keeper that stores at once, or keeps waiting what it was handed."""

    def __init__(self, store):
        self._store, self.is_slow, self._waiting = store, False, []

    def hand(self, write, stored, failed=None):
        del failed
        self._waiting.append((write, stored))
        if not self.is_slow:
            self.store_all()

    def store_all(self):
        while self._waiting:
            write, stored = self._waiting.pop(0)
            write(self._store)
            if stored is not None:
                stored()


class Clock:
    def __init__(self):
        self.at = BEGIN

    def __call__(self):
        self.at += timedelta(milliseconds=1500)
        return self.at


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "records.db", now=BEGIN) as opened:
        yield opened


@pytest.fixture
def learner_id(store):
    return store.add_learner("Mira", now=BEGIN).id


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def keeper(store):
    return Line(store)


@pytest.fixture
def sitting(tmp_path, eye_tiles, keeper, clock, learner_id):
    return Sitting(
        cells=EyeCells.of(TileLibrary(tmp_path, eye_tiles)),
        keeper=keeper,
        learner_id=learner_id,
        limits=LIMITS,
        now=clock,
        rng=np.random.default_rng(1),
        seen=set(),
    )


@pytest.fixture
def stages(sitting, store, learner_id, clock):
    """Return a function that begins to name stages, or goes on."""
    return lambda: StageBout(sitting, stage_bout.standing_of(store, learner_id, now=clock.at))


@pytest.fixture
def pairs(sitting, store, learner_id, clock):
    return lambda: PairBout(sitting, pair_bout.standing_of(store, learner_id, now=clock.at))


@pytest.fixture
def rows(sitting, store, learner_id, clock):
    return lambda: RowBout(sitting, row_bout.standing_of(store, learner_id, now=clock.at))


def true_stage(bout):
    return stage_of(bout.tiles[0].age_h, LIMITS)


def name(bout, *, rightly=True):
    told = []
    bout.ask()
    true = true_stage(bout)
    bout.name(true if rightly else Stage((true + 1) % len(Stage)), told.append)
    return told[0]


def choose(bout, *, rightly=True):
    told = []
    bout.ask()
    younger = int(bout.tiles[0].age_h > bout.tiles[1].age_h)
    bout.choose(younger if rightly else 1 - younger, told.append)
    return told[0]


def true_order(bout):
    return sorted(range(5), key=lambda k: bout.tiles[k].age_h)


def put(bout, arrange=lambda order: order):
    told = []
    bout.ask()
    bout.put(arrange(true_order(bout)), told.append)
    return told[0]


def swapped(order):
    return [order[1], order[0], *order[2:]]


# What is kept.


def test_a_name_is_told_only_once_it_is_kept(stages, keeper, store, learner_id):
    bout, told = stages(), []
    bout.ask()
    keeper.is_slow = True
    bout.name(Stage.EGG, told.append)
    assert told == []
    assert store.named_answers(learner_id, NAME_THE_STAGE.key) == []
    keeper.store_all()
    assert told[0].named is Stage.EGG
    (kept,) = store.named_answers(learner_id, NAME_THE_STAGE.key)
    assert (kept.answer, kept.age_h) == (Answer.EGG, bout.tiles[0].age_h)
    assert kept.response_ms > 0
    assert kept.limits == LIMITS


def test_every_cell_shown_has_a_row_with_its_tile(stages, pairs, rows, store, learner_id):
    shown = []
    for bout, answer in ((stages(), name), (pairs(), choose), (rows(), put)):
        answer(bout)
        shown.append([tile.id for tile in bout.tiles])
    kept = store.kept_rounds(learner_id, [NAME_THE_STAGE.key, YOUNGER_OF_TWO.key, PUT_IN_ORDER.key])
    assert [[cell.tile_id for cell in one.cells] for one in kept] == shown
    assert [one.recipe["tiles"] for one in kept] == shown
    assert {one.recipe["turn_deg"] % 60.0 for one in kept} == {0.0}


def test_a_pair_keeps_which_was_called_younger(pairs, store, learner_id):
    bout = pairs()
    choose(bout)
    (kept,) = store.kept_rounds(learner_id, [YOUNGER_OF_TWO.key])
    ages_h = {answer: cell.age_h for answer, cell in zip(kept.answers, kept.cells, strict=True)}
    assert ages_h[Answer.YOUNGER] < ages_h[Answer.OLDER]


def test_a_row_keeps_the_place_of_each_cell(rows, store, learner_id):
    put(rows())
    (kept,) = store.kept_rounds(learner_id, [PUT_IN_ORDER.key])
    by_place = sorted(zip(kept.answers, kept.cells, strict=True), key=lambda each: each[0].value)
    assert [place.value for place, _ in by_place] == [f"place-{k}" for k in range(1, 6)]
    ages_h = [cell.age_h for _, cell in by_place]
    assert ages_h == sorted(ages_h)


def test_none_of_these_answers_counts_as_a_pick(stages, pairs, rows, store, learner_id):
    name(stages())
    choose(pairs())
    put(rows())
    assert len(store.answers(learner_id)) == 0


def test_a_question_put_away_leaves_no_answer_and_is_not_open(stages, store, learner_id):
    bout = stages()
    bout.ask()
    assert bout.is_open
    bout.put_away()
    assert not bout.is_open
    assert store.unfinished_round(learner_id) is None
    assert store.named_answers(learner_id, NAME_THE_STAGE.key) == []
    with pytest.raises(ValueError, match="a question that waits"):
        bout.name(Stage.EGG, lambda _: None)


# How it adapts.


def test_stages_come_in_blocks_until_all_are_known_and_one_joins_at_eight_of_ten(stages):
    bout = stages()
    assert bout.course == StageCourse()
    for _ in range(10):
        told = name(bout)
        assert told.is_right
        assert told.true in (Stage.RIGHT_AGE, Stage.CLOSED_C)
    assert told.after.stages == (Stage.JUST_HATCHED, Stage.RIGHT_AGE, Stage.CLOSED_C)
    found = [name(bout).true for _ in range(8)]
    assert set(found) <= set(told.after.stages)
    blocks = [len(list(same)) for _, same in itertools.groupby(found)]
    assert max(blocks) <= 4
    assert len(blocks) < len(found)


def test_once_mixed_what_was_confused_the_day_before_comes_more_often(stages, clock):
    bout = stages()
    bout.course = StageCourse(stages=tuple(Stage))
    for _ in range(N_CELLS):
        bout.ask()
        true = true_stage(bout)
        is_old = true is Stage.TOO_OLD
        bout.name(Stage.CLOSED_C if is_old else true, lambda _: None)
    clock.at += timedelta(days=1)
    again = stages()
    assert again.course.is_mixed
    drawn = []
    for _ in range(100):
        again.ask()
        drawn.append(true_stage(again))
    confused = (Stage.TOO_OLD, Stage.CLOSED_C)
    assert sum(stage in confused for stage in drawn) > 50


def test_two_right_bring_a_pair_closer_and_one_wrong_moves_it_apart(pairs):
    bout = pairs()
    gaps_h = []
    for is_right in (True, True, True, True, False):
        told = choose(bout, rightly=is_right)
        assert told.is_right is is_right
        younger, older = sorted(told.tiles, key=lambda tile: tile.looks_age_h)
        assert older.looks_age_h - younger.looks_age_h == pytest.approx(told.before.gap_h, abs=1.5)
        gaps_h.append(told.after.gap_h)
    assert gaps_h == [12.0, 8.0, 8.0, 6.0, 8.0]


def test_rows_get_closer_when_in_order_and_wider_when_turned_round(rows):
    bout = rows()
    steps = [put(bout).after, put(bout).after]
    steps.append(put(bout, lambda order: order[::-1]).after)
    assert steps == [1, 2, 1]


@pytest.mark.reference("Kendall 1938, Biometrika 30:81-93: pairs that stand the right way round")
@pytest.mark.parametrize(
    ("arrange", "n_right"),
    [
        (lambda order: order, 10),
        (swapped, 9),
        (lambda order: order[::-1], 0),
        (lambda order: [*order[1:], order[0]], 6),
    ],
)
def test_a_row_is_told_in_pairs_that_stand_the_right_way_round(rows, arrange, n_right):
    told = put(rows(), arrange)
    pairs_of = itertools.combinations(told.places, 2)
    assert told.n_right == n_right == sum(a < b for a, b in pairs_of)
    assert told.is_right is (n_right == 10)
    ages_h = [tile.age_h for tile in told.tiles]
    assert ages_h == sorted(ages_h)


def test_a_row_never_begins_in_the_right_order_and_needs_each_cell_once(rows):
    bout = rows()
    for _ in range(3):
        bout.ask()
        assert true_order(bout) != list(range(5))
    with pytest.raises(ValueError, match="each cell once"):
        bout.put([0, 0, 1, 2, 3], lambda _: None)


# What is gone on with.


def test_a_bout_broken_off_goes_on_where_it_stopped(stages, pairs, rows):
    for begin, answer, n in ((stages, name, 3), (pairs, choose, 3), (rows, put, 2)):
        bout = begin()
        for _ in range(n):
            answer(bout)
        bout.ask()
        bout.put_away()
        again = begin()
        assert again.n_done == n
        assert not again.is_done
    assert [again.n_rights, pairs().rights] == [[10, 10], [True] * 3]
    assert len(stages().named) == 3


def test_a_bout_that_is_done_or_a_day_old_begins_anew(stages, pairs, rows, clock):
    for begin, answer, n in (
        (stages, name, N_CELLS),
        (pairs, choose, N_PAIRS),
        (rows, put, N_ROWS),
    ):
        bout = begin()
        for _ in range(n):
            answer(bout)
        assert bout.is_done
        assert begin().n_done == 0
        answer(begin())
        clock.at += timedelta(days=1)
        assert begin().n_done == 0


def test_the_next_day_goes_on_with_the_stages_reached(stages, clock):
    bout = stages()
    for k in range(13):
        name(bout, rightly=k != 4)
    clock.at += timedelta(days=1)
    course = stages().course
    assert course == bout.course
    assert len(course.stages) == 3
    assert course.last_right == (True,) * len(course.last_right)


def test_pairs_begin_a_step_easier_the_next_day(pairs, clock):
    bout = pairs()
    for _ in range(N_PAIRS):
        choose(bout)
    assert bout.stairs.step == 4
    clock.at += timedelta(days=1)
    assert pairs().stairs.step == 3


def test_rows_begin_with_the_step_reached(rows, clock):
    bout = rows()
    for _ in range(N_ROWS):
        put(bout)
    clock.at += timedelta(days=1)
    assert rows().step == bout.step == 2


def test_a_recipe_of_something_else_is_no_standing(stages, store, sitting, learner_id, clock):
    bout = stages()
    bout.course = StageCourse(stages=(Stage.EGG, Stage.JUST_HATCHED))
    name(bout)
    assert stages().course.stages == (Stage.EGG, Stage.JUST_HATCHED)
    for broken in ([0, 2], [9], "all", None):
        bout._show([bout.tiles[0]], {"stages": broken})
        bout._answer([Answer.EGG], lambda: None)
        assert stage_bout.standing_of(store, learner_id, now=clock.at).course == StageCourse()


# What is told later.


def test_stages_confused_are_counted_from_the_latest_cells(stages, store, learner_id):
    bout = stages()
    for k in range(12):
        name(bout, rightly=k % 4 != 0)
    table = stage_table_of(store, learner_id)
    assert table.counts.sum() == 12
    assert table.counts.trace() == 9
    found = stages_named(store, learner_id, n_latest=5)
    assert found == tuple(bout.named[-5:])
    assert stages_named(store, learner_id, before=BEGIN) == ()
