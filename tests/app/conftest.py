"""Pages on records of their own: a learner, a look and a clock; nothing may be left behind."""

import os
import shutil
import sqlite3
import tempfile
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from uuid import UUID, uuid4

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel, QMenu

from larvasight.app import comb_supply
from larvasight.app.context import Context
from larvasight.app.dressing import Dressing
from larvasight.app.jobs import wait_for_jobs
from larvasight.app.settings import WindowSettings
from larvasight.app.theme import PAPER, Look
from larvasight.desk import broken_off
from larvasight.desk.practising import prepare_comb
from larvasight.practice import PICK_FROM_PATCH
from larvasight.records.store import Store

# Text drawn on paper needs less than a window does: what runs first would decide which
# application there is.
APP = QApplication.instance() or QApplication(["larvasight"])
APP.setQuitOnLastWindowClosed(False)

BEGIN = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)
SMALL_PX = (320, 240)
TEXT_PX = 18
MEMORY = Path("/dev/shm")


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
    before = QApplication.topLevelWidgets()
    yield
    done = wait_for_jobs()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    qapp.processEvents()
    left = [widget for widget in QApplication.topLevelWidgets() if widget not in before]
    assert done
    # A menu bar makes menus of its own when it needs them.
    assert [widget for widget in left if not isinstance(widget, QMenu)] == []


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def folder(tmp_path):
    """Return a folder that is in memory where that is offered, to wait for no disk."""
    if not (MEMORY.is_dir() and os.access(MEMORY, os.W_OK)):
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(prefix="larvasight-test-", dir=MEMORY) as made:
        yield Path(made)


@pytest.fixture
def data(folder):
    return folder / "data"


@pytest.fixture(scope="session")
def dressing_for_all(qapp):
    return Dressing(qapp, Look.LIGHT, TEXT_PX)


@pytest.fixture
def dressing(qapp, dressing_for_all):
    """Return the light look; putting it on takes long, so it is done only where it is off."""
    made = dressing_for_all
    if made.tones is not PAPER or made.text_px != TEXT_PX or PAPER.ground not in qapp.styleSheet():
        made.wear(look=Look.LIGHT, text_px=TEXT_PX)
    elif qapp.font().pixelSize() != TEXT_PX:
        made.apply()
    return made


@pytest.fixture
def settings(folder):
    return WindowSettings(folder / "settings")


@pytest.fixture(scope="session")
def new_records(tmp_path_factory):
    """Make records with one learner, once for all tests."""
    path = tmp_path_factory.mktemp("records") / "records.db"
    with Store.open(path, now=BEGIN) as store:
        store.add_learner("Mira", now=BEGIN)
    return path


@pytest.fixture
def open_context(data, new_records, dressing, settings, clock, small_combs):
    """Return a function that opens the records anew and lets the first learner practise."""
    opened = []
    data.mkdir()
    shutil.copy(new_records, data)

    def make():
        store = Store.open(data / "records.db", now=BEGIN, wait_ms=50)
        made = Context(store, data, dressing, settings, np.random.default_rng(5))
        opened.append(made)
        made.now = clock
        made.set_learner(store.learners()[0])
        return made

    yield make
    for made in opened:
        wait_for_jobs()
        made.close()


@pytest.fixture
def context(open_context):
    return open_context()


@pytest.fixture
def store(context):
    return context.store


class SmallCombs:
    """Which combs are drawn; each of them is drawn only once for all tests."""

    def __init__(self):
        self.seeds = (0, 1)

    def prepare(self, drill, seed, *, size_px, limits, **_from_tiles):
        comb = self._drawn(drill, self.seeds[seed % len(self.seeds)], size_px, limits)
        return replace(comb, asked=tuple(replace(cell, id=uuid4()) for cell in comb.asked))

    def prepare_again(self, drill, seed, *, size_px, limits, **_from_tiles):
        return self._drawn(drill, seed, size_px, limits)

    def _drawn(self, drill, seed, size_px, limits):
        is_large = drill.n_cells > PICK_FROM_PATCH.n_cells
        small = PICK_FROM_PATCH if is_large else drill
        return replace(drawn_once(small, seed, size_px, limits), drill=drill)


@cache
def drawn_once(drill, seed, size_px, limits):
    return prepare_comb(drill, seed, size_px=size_px, limits=limits)


@pytest.fixture
def small_combs(monkeypatch):
    combs = SmallCombs()
    monkeypatch.setattr(comb_supply, "picture_size_px", lambda _aspect: SMALL_PX)
    monkeypatch.setattr(comb_supply, "prepare_comb", combs.prepare)
    monkeypatch.setattr(broken_off, "prepare_comb", combs.prepare_again)
    return combs


@pytest.fixture
def rows(data):
    """Return a function that reads columns of the cells in the records, past the program."""

    def read(columns="answer, is_final, response_ms"):
        path = f"file:{data / 'records.db'}?mode=ro"
        with closing(sqlite3.connect(path, uri=True)) as records:
            found = records.execute(f"SELECT id, {columns} FROM shown_cell").fetchall()
        return {UUID(row[0]): row[1:] for row in found}

    return read


@pytest.fixture
def words_of():
    """Return a function that lists the words that can be read on a widget."""

    def words(widget):
        return [
            label.text()
            for label in widget.findChildren(QLabel)
            if label.text() and label.isVisibleTo(widget)
        ]

    return words


@pytest.fixture
def press(qtbot):
    """Return a function that presses the button with these words."""

    def _press(widget, words):
        found = [
            button
            for button in widget.findChildren(QAbstractButton)
            if button.text() == words and button.isVisible()
        ]
        assert len(found) == 1, (words, [button.text() for button in found])
        qtbot.mouseClick(found[0], Qt.MouseButton.LeftButton)

    return _press
