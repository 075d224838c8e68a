"""Pages on records of their own: a learner, a look and a clock; nothing may be left behind."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from uuid import uuid4

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication

# Text drawn on paper needs less than a window does: what runs first would decide which
# application there is.
APP = QApplication.instance() or QApplication(["larvasight"])
APP.setQuitOnLastWindowClosed(False)

BEGIN = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)
SMALL_PX = (320, 240)
# Combs are drawn once for all tests; each seed becomes one of these.
N_SEEDS = 3


class Clock:
    """Stands still until it is moved on."""

    def __init__(self):
        self.at = BEGIN

    def __call__(self):
        return self.at

    def go_on_ms(self, ms):
        self.at += timedelta(milliseconds=ms)


@pytest.fixture(autouse=True)
def nothing_left_over(qapp):
    from larvasight.app.jobs import wait_for_jobs

    before = QApplication.topLevelWidgets()
    yield
    done = wait_for_jobs()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    qapp.processEvents()
    left = [widget for widget in QApplication.topLevelWidgets() if widget not in before]
    assert done
    assert left == []


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def data(tmp_path):
    return tmp_path / "data"


@pytest.fixture
def dressing(qapp):
    from larvasight.app.dressing import Dressing
    from larvasight.app.theme import Look

    return Dressing(qapp, Look.LIGHT, 18)


@pytest.fixture
def settings(tmp_path):
    from larvasight.app.settings import WindowSettings

    return WindowSettings(tmp_path / "settings")


@pytest.fixture
def store(data):
    from larvasight.records.store import Store

    with Store.open(data / "records.db", now=BEGIN, wait_ms=50) as opened:
        yield opened


@pytest.fixture
def learner(store):
    return store.add_learner("Mira", now=BEGIN)


@pytest.fixture
def context(store, learner, data, dressing, settings, clock, small_combs):
    from larvasight.app.context import Context

    made = Context(store, data, dressing, settings, np.random.default_rng(5))
    made.now = clock
    made.set_learner(learner)
    yield made
    made.close()


@pytest.fixture
def small_combs(monkeypatch):
    """Let combs be small, and draw each of a few only once."""
    from larvasight.app import comb_supply

    def prepare(drill, seed, *, size_px, limits):
        comb = drawn_once(drill, seed % N_SEEDS, size_px, limits)
        return replace(comb, asked=tuple(replace(cell, id=uuid4()) for cell in comb.asked))

    monkeypatch.setattr(comb_supply, "picture_size_px", lambda aspect: SMALL_PX)
    monkeypatch.setattr(comb_supply, "prepare_comb", prepare)


@cache
def drawn_once(drill, seed, size_px, limits):
    from larvasight.desk.practising import prepare_comb

    return prepare_comb(drill, seed, size_px=size_px, limits=limits)


@pytest.fixture
def rows(data):
    """Return a function that reads the cells in the records, by id, past the program."""

    def read(columns="answer, is_final, response_ms"):
        path = f"file:{data / 'records.db'}?mode=ro"
        with closing(sqlite3.connect(path, uri=True)) as records:
            found = records.execute(f"SELECT id, {columns} FROM shown_cell").fetchall()
        return {row[0]: row[1:] for row in found}

    return read
