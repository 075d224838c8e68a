"""Several batches: clashes are found, and only those; the season is laid out by days."""

from datetime import datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest

from larvasight.timetable import NamedPlan, Start
from larvasight.timetable.clashes import ClashKind, find_clashes
from larvasight.timetable.season import Phase, season_rows, season_span

BERLIN = ZoneInfo("Europe/Berlin")
FIRST = datetime(2027, 5, 14, 10, 0, tzinfo=BERLIN)


@pytest.fixture
def batch(plan_of):
    def make(name, days_later, **decided):
        plan = plan_of(anchor_at=FIRST + timedelta(days=days_later), **decided)
        return NamedPlan(id=uuid4(), name=name, plan=plan)

    return make


def kinds(batches):
    return [clash.kind for clash in find_clashes(batches)]


def test_batches_far_apart_do_not_clash(batch):
    assert kinds([batch("A", 0, starter="S", breeder="B"), batch("B", 40, starter="S")]) == []


def test_two_batches_want_the_same_nucs(batch):
    clashes = find_clashes([batch("A", 0, n_nucs=15), batch("B", 7, n_nucs=10)])
    assert [clash.kind for clash in clashes] == [ClashKind.NUCS]
    assert "25 nucs" in clashes[0].sentence
    assert "you have 20" in clashes[0].sentence
    # From the second batch's ripe cells to the first's last look for eggs.
    assert clashes[0].from_at.date() == (FIRST + timedelta(days=17)).date()
    assert clashes[0].to_at.date() == (FIRST + timedelta(days=28)).date()


def test_enough_nucs_are_no_clash(batch):
    many = {"n_nucs": 10, "n_nucs_owned": 20}
    assert kinds([batch("A", 0, **many), batch("B", 7, **many)]) == []


def test_one_batch_alone_can_want_too_many(batch):
    assert kinds([batch("A", 0, n_nucs=30, n_nucs_owned=20)]) == [ClashKind.NUCS]


def test_one_starter_cannot_raise_two_batches(batch):
    pair = [batch("A", 0, starter="Hive 4", n_nucs=0), batch("B", 2, starter=" hive  4", n_nucs=0)]
    (clash,) = find_clashes(pair)
    assert clash.kind is ClashKind.STARTER
    assert "Hive 4" in clash.sentence
    assert kinds([pair[0], batch("B", 2, starter="Hive 5", n_nucs=0)]) == []
    assert kinds([pair[0], batch("B", 4, starter="Hive 4", n_nucs=0)]) == []


def test_one_breeder_is_confined_once_at_a_time(batch):
    pair = [batch("A", 0, breeder="Alma", n_nucs=0), batch("B", 3, breeder="Alma", n_nucs=0)]
    assert kinds(pair) == [ClashKind.BREEDER]


def test_colonies_without_a_name_are_not_the_same(batch):
    assert kinds([batch("A", 0, n_nucs=0), batch("B", 2, n_nucs=0)]) == []


def test_grafting_on_the_day_ripe_cells_move_is_told(batch):
    (clash,) = find_clashes([batch("A", 0, n_nucs=0), batch("B", 10, n_nucs=0)])
    assert clash.kind is ClashKind.SAME_DAY
    assert clash.sentence.startswith("On Mon 24")
    assert "graft (B)" in clash.sentence


def test_a_season_has_a_row_for_each_batch_by_grafting(batch):
    rows = season_rows([batch("Late", 20), batch("Early", 0)])
    assert [row.name for row in rows] == ["Early", "Late"]
    for row in rows:
        comb, cells, nucs = row.bars
        assert [bar.phase for bar in row.bars] == list(Phase)
        assert comb.first < comb.last == cells.first == row.graft
        assert cells.last == nucs.first
        assert (nucs.first - row.graft).days == 10
        assert nucs.first < row.emergence[0] < row.eggs < nucs.last
    first, last = season_span(rows, FIRST.date() + timedelta(days=200))
    assert first == rows[0].bars[0].first
    assert last == FIRST.date() + timedelta(days=200)


def test_every_start_has_its_row(plan_of):
    for start in Start:
        named = NamedPlan(id=uuid4(), name="A", plan=plan_of(start))
        (row,) = season_rows([named])
        assert row.bars[0].first < row.graft
