"""A data folder with one learner's practice in it."""

from datetime import UTC, datetime
from uuid import uuid4

import pytest

from larvasight.grading import Limits
from larvasight.practice import TAKE_OR_LEAVE, Answer, Given, ShownCell
from larvasight.records.store import ShownRound, Store
from larvasight.sheet import Content

NOW = datetime(2026, 5, 20, 12, 0, tzinfo=UTC)


@pytest.fixture
def data(tmp_path, monkeypatch):
    """Make records of Mira, who judged one cell, and of Jon; the program finds them by itself."""
    folder = tmp_path / "data"
    with Store.open(folder / "records.db", now=NOW) as store:
        _judge_one(store, store.add_learner("Mira Wabe", now=NOW).id)
        store.add_learner("Jon", now=NOW)
    monkeypatch.setenv("LARVASIGHT_DATA", str(folder))
    monkeypatch.setattr("larvasight.desk.reporting.local_zone", lambda: UTC)
    return folder


def _judge_one(store, learner_id):
    cell = ShownCell(
        id=uuid4(),
        row=0,
        col=0,
        content=Content.LARVA,
        age_h=20.0,
        looks_age_h=21.0,
        length_mm=2.3,
        curl_deg=150.0,
        jelly=None,
    )
    shown = ShownRound(
        id=uuid4(),
        learner_id=learner_id,
        drill=TAKE_OR_LEAVE,
        cells=(cell,),
        limits=Limits(),
        recipe={},
        kind="drawn",
        shown_at_utc=NOW,
    )
    store.show_round(shown)
    given = Given(cell_id=cell.id, answer=Answer.TAKE, response_ms=900, is_final=True)
    store.end_round(shown.id, [given], now=NOW)
