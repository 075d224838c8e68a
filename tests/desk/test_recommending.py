"""What is to be practised today, by what the records hold."""

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import pytest

from larvasight.desk.recommending import standing_of
from larvasight.grading import Limits
from larvasight.practice import (
    DRILLS,
    TAKE_OR_LEAVE,
    Answer,
    Given,
    ShownCell,
)
from larvasight.practice.drills import FIND_YOUR_EDGES, NAME_THE_STAGE
from larvasight.records.store import Store
from larvasight.records.types import ShownRound
from larvasight.sheet import Content

NOW = datetime(2026, 6, 1, 9, 0, tzinfo=UTC)
OLD_H = 28.0


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "records.db", now=NOW) as opened:
        yield opened


@pytest.fixture
def learner(store):
    return store.add_learner("Mira", now=NOW).id


def practise(store, learner, at, ages_h=tuple(range(0, 60, 2)), drill=TAKE_OR_LEAVE):
    """Take whatever looks at most 28 h old."""
    cells = tuple(
        ShownCell(
            id=uuid4(),
            row=0,
            col=k,
            content=Content.LARVA,
            age_h=float(age_h),
            looks_age_h=float(age_h),
            length_mm=None,
            curl_deg=None,
            jelly=None,
        )
        for k, age_h in enumerate(ages_h)
    )
    shown = ShownRound(
        id=uuid4(),
        learner_id=learner,
        drill=drill,
        cells=cells,
        limits=Limits(),
        recipe={},
        kind="drawn",
        shown_at_utc=at,
    )
    store.show_round(shown)
    givens = [
        Given(
            cell_id=cell.id,
            answer=Answer.TAKE if cell.age_h <= OLD_H else Answer.LEAVE,
            response_ms=900,
            is_final=True,
        )
        for cell in cells
    ]
    store.end_round(shown.id, givens, now=at)


def test_a_beginner_learns_the_names_first_and_then_takes_or_leaves(store, learner):
    standing = standing_of(store, learner, now=NOW)
    assert standing.edges is None
    assert standing.drills[:2] == (NAME_THE_STAGE, TAKE_OR_LEAVE)
    assert standing.why
    assert standing_of(store, UUID(int=3), now=NOW).drills == standing.drills


def test_every_drill_is_offered_once(store, learner):
    for days in range(3):
        practise(store, learner, NOW + timedelta(days=days))
        standing = standing_of(store, learner, now=NOW + timedelta(days=days))
        assert sorted(drill.key for drill in standing.drills) == sorted(d.key for d in DRILLS)


def test_whoever_did_not_practise_for_a_week_is_measured_first(store, learner):
    for minutes in range(2):
        practise(store, learner, NOW + timedelta(minutes=minutes), drill=FIND_YOUR_EDGES)
        practise(store, learner, NOW + timedelta(minutes=10 + minutes))
    tomorrow = standing_of(store, learner, now=NOW + timedelta(days=1))
    assert tomorrow.drills[0] != FIND_YOUR_EDGES
    later = standing_of(store, learner, now=NOW + timedelta(days=7))
    assert later.drills[0] == FIND_YOUR_EDGES
    assert "where you draw the line" in later.why


def test_combs_are_laid_by_the_latest_answers(store, learner):
    for days in range(4):
        practise(store, learner, NOW + timedelta(days=days))
    edges = standing_of(store, learner, now=NOW + timedelta(days=4)).edges
    assert edges.old_edge_h.value == pytest.approx(OLD_H + 1.0, rel=0, abs=2.0)
    assert edges.n_answers == 120
